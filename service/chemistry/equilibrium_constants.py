"""
Equilibrium constants of the dissolved species as functions of temperature.

The table gives each reaction as its source printed it. At import every species is rewritten once
as a sum of master species (free metal ions, fully deprotonated ligands, H+ and water), with one
temperature function; `fill_constants` evaluates all of them, so that a batch at one temperature
pays once.
"""

import math
import re
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from service.chemistry import species
from service.chemistry.activity import CLASS_COUNT, fill_activity_parameters
from service.chemistry.constant_arrays import constant_array
from service.chemistry.kernel import kernel
from service.chemistry.species import SPECIES_COUNT, SPECIES_NAMES
from service.reference.equilibrium_tables import ReactionRow, load_equilibrium_constants

FloatArray = npt.NDArray[np.float64]


GAS_CONSTANT: Final = 8.314462618
REFERENCE_TEMPERATURE: Final = 298.15
_GREATEST_POWER: Final = 700.0
"""Powers of e beyond this are no numbers; constants far outside 0 to 40 degC reach it."""

CENTRAL_IONS: Final = (
    species.CALCIUM_ION,
    species.MAGNESIUM_ION,
    species.POTASSIUM_ION,
    species.SODIUM_ION,
    species.AMMONIUM_ION,
    species.BORIC_ACID,
    species.SILICIC_ACID,
    species.FLUORIDE_ION,
)
"""Masters that never meet each other in a species: each is found exactly from the ligands."""

LIGANDS: Final = (
    species.SULFATE_ION,
    species.PHOSPHATE_ION,
    species.CARBONATE_ION,
    species.CITRATE_ION,
)
"""Masters that share central ions and therefore have to be found together."""

CENTRAL_COUNT: Final = len(CENTRAL_IONS)
LIGAND_COUNT: Final = len(LIGANDS)
PHOSPHATE_LIGAND: Final = LIGANDS.index(species.PHOSPHATE_ION)
CARBONATE_LIGAND: Final = LIGANDS.index(species.CARBONATE_ION)

CARBON_DIOXIDE_SOLUBILITY: Final = SPECIES_COUNT
"""Place of the solubility of carbon dioxide [mol/kg/atm] in an array of constants."""

TEMPERATURE: Final = SPECIES_COUNT + 1
"""Place of the temperature [K] in an array of constants."""

ACTIVITY_SLOPE: Final = SPECIES_COUNT + 2
ACTIVITY_SIZE: Final = ACTIVITY_SLOPE + CLASS_COUNT
ACTIVITY_LINEAR: Final = ACTIVITY_SIZE + CLASS_COUNT
CONSTANT_COUNT: Final = ACTIVITY_LINEAR + CLASS_COUNT
"""Length of an array of constants."""

_TOKEN: Final = re.compile(r"(?:(\d+) )?(\S+)")
_WATER: Final = "H2O"
_PROTON: Final = "H+"


class Formation(NamedTuple):
    """A species as powers of the activities of masters, with the function of its constant."""

    powers: dict[str, int]
    coefficients: npt.NDArray[np.float64]


def reaction_side(text: str) -> dict[str, int]:
    """
    Return the stoichiometric numbers of one side of a reaction.

    Parameters
    ----------
    text : str
        One side in the spelling of PHREEQC, such as ``Ca+2 + 2 H+``.

    Returns
    -------
    dict of str to int
        Stoichiometric number of each species.

    Raises
    ------
    ValueError
        If a term cannot be read.
    """
    side: dict[str, int] = {}
    for term in text.split(" + "):
        match = _TOKEN.fullmatch(term.strip())
        if match is None:
            message = f"cannot read {term!r} in {text!r}"
            raise ValueError(message)
        side[match[2]] = side.get(match[2], 0) + int(match[1] or 1)
    return side


def temperature_function(row: ReactionRow) -> npt.NDArray[np.float64]:
    r"""
    Return the six coefficients of log10 K of a reaction.

    Parameters
    ----------
    row : ReactionRow
        A row of a table of reactions.

    Returns
    -------
    ndarray, shape (6,)
        Coefficients of 1, T, 1/T, log10 T, 1/T^2 and T^2 with T in kelvin [dimensionless].

    Notes
    -----
    A constant with enthalpy and constant heat capacity is the integrated van 't Hoff equation

    .. math:: \lg K = \lg K_0 - \frac{\Delta H}{R \ln 10} \left(\frac{1}{T} - \frac{1}{T_0}\right)
       + \frac{\Delta C_p}{R \ln 10} \left(\frac{T_0}{T} - 1 + \ln \frac{T}{T_0}\right)

    References
    ----------
    .. [1] R. N. Goldberg, N. Kishore and R. M. Lennen, J. Phys. Chem. Ref. Data 31, 231-370,
       2002, sec. 2. Source key: ``goldberg-kishore-lennen-2002``.
    """
    if row.analytic:
        return np.array(row.coefficients)
    enthalpy = 1000.0 * row.enthalpy_kj_per_mol / (GAS_CONSTANT * math.log(10.0))
    heat_capacity = row.heat_capacity_j_per_mol_k / (GAS_CONSTANT * math.log(10.0))
    return np.array(
        [
            row.log10_k_25_celsius
            + enthalpy / REFERENCE_TEMPERATURE
            - heat_capacity * (1.0 + math.log(REFERENCE_TEMPERATURE)),
            0.0,
            -enthalpy + heat_capacity * REFERENCE_TEMPERATURE,
            heat_capacity * math.log(10.0),
            0.0,
            0.0,
        ]
    )


def formation_from_masters(
    row: ReactionRow, product: str, known: dict[str, Formation]
) -> Formation:
    """
    Return a species or an ion activity product in terms of master species.

    Parameters
    ----------
    row : ReactionRow
        The reaction as printed.
    product : str
        The species to express; any other species of the reaction is a master or known.
    known : dict of str to Formation
        Species expressed before.

    Returns
    -------
    Formation
        Powers of the master activities and the temperature function of the constant.
    """
    left_text, right_text = row.reaction.split(" = ")
    left, right = reaction_side(left_text), reaction_side(right_text)
    sign = 1 if product in right else -1
    coefficients = sign * temperature_function(row)
    powers: dict[str, int] = {}
    for side, direction in ((left, sign), (right, -sign)):
        for name, number in side.items():
            if name == product:
                continue
            formation = known.get(name)
            parts = formation.powers if formation else {name: 1}
            if formation:
                coefficients = coefficients + direction * number * formation.coefficients
            for master, power in parts.items():
                powers[master] = powers.get(master, 0) + direction * number * power
    return Formation({name: power for name, power in powers.items() if power}, coefficients)


def _formations() -> dict[str, Formation]:
    """
    Return every species of the table in terms of masters.

    Returns
    -------
    dict of str to Formation
        By name of the species, gases left out.
    """
    known: dict[str, Formation] = {}
    for row in load_equilibrium_constants():
        if row.name != "CO2(g)":
            known[row.name] = formation_from_masters(row, row.name, known)
    return known


FORMATIONS: Final = _formations()
"""Every species that is not a master, in terms of masters."""

MASTER_NAMES: Final = tuple(SPECIES_NAMES[index] for index in (*CENTRAL_IONS, *LIGANDS))


def _member(index: int, members: tuple[int, ...]) -> int:
    """
    Return the place of the master that a species contains.

    Parameters
    ----------
    index : int
        The species.
    members : tuple of int
        Masters of one kind.

    Returns
    -------
    int
        Place in `members`, or its length where the species contains none of them.
    """
    name = SPECIES_NAMES[index]
    names = [SPECIES_NAMES[member] for member in members]
    if name in names:
        return names.index(name)
    powers = FORMATIONS[name].powers if name in FORMATIONS else {}
    found = [place for place, master in enumerate(names) if powers.get(master)]
    return found[0] if found else len(names)


def _power(index: int, master: str) -> int:
    """
    Return the power of a master in a species.

    Parameters
    ----------
    index : int
        The species.
    master : str
        Name of the master.

    Returns
    -------
    int
        Power, 0 where the species does not contain it.
    """
    name = SPECIES_NAMES[index]
    if name == master:
        return 1
    return FORMATIONS[name].powers.get(master, 0) if name in FORMATIONS else 0


def _pair_of(index: int) -> tuple[int, int]:
    """
    Return where a species stands among the pairs of central ion and ligand.

    Parameters
    ----------
    index : int
        The species.

    Returns
    -------
    tuple of int
        Places of its central ion and of its ligand.
    """
    return _member(index, CENTRAL_IONS), _member(index, LIGANDS)


REACTING: Final = constant_array(
    sorted(
        (
            index
            for index, name in enumerate(SPECIES_NAMES)
            if name in FORMATIONS or name in MASTER_NAMES or name == _PROTON
        ),
        key=_pair_of,
    ),
    np.uint32,
)
"""
Species whose molality depends on pH or on other components, shape (n_reacting,); those of one
central ion, and of one ligand within it, stand together.
"""

REACTING_COUNT: Final = len(REACTING)

CENTRAL_OF: Final = constant_array([_member(int(i), CENTRAL_IONS) for i in REACTING], np.uint32)
"""Central ion of each reacting species, CENTRAL_COUNT for none, shape (n_reacting,)."""

LIGAND_OF: Final = constant_array([_member(int(i), LIGANDS) for i in REACTING], np.uint32)
"""Ligand of each reacting species, LIGAND_COUNT for none, shape (n_reacting,)."""

PROTON_POWER: Final = constant_array([_power(int(i), _PROTON) for i in REACTING], np.int64)
"""Power of the hydrogen ion activity in each reacting species, shape (n_reacting,)."""

WATER_POWER: Final = constant_array([_power(int(i), _WATER) for i in REACTING], np.int64)
"""Power of the water activity in each reacting species, shape (n_reacting,)."""

LOWEST_PROTON_POWER: Final = int(PROTON_POWER.min())
HIGHEST_PROTON_POWER: Final = int(PROTON_POWER.max())

_FUNCTION_PLACE: Final = constant_array(
    [*(index for index, name in enumerate(SPECIES_NAMES) if name in FORMATIONS), SPECIES_COUNT],
    np.uint32,
)
_FUNCTIONS: Final = constant_array(
    [
        *(FORMATIONS[name].coefficients for name in SPECIES_NAMES if name in FORMATIONS),
        *(temperature_function(r) for r in load_equilibrium_constants() if r.name == "CO2(g)"),
    ],
    np.float64,
)


@kernel
def log10_equilibrium_constant(
    a1: float, a2: float, a3: float, a4: float, a5: float, a6: float, temperature: float
) -> float:
    r"""
    Return a decadic logarithm of an equilibrium constant at a temperature.

    Parameters
    ----------
    a1 : float
        Constant term [dimensionless].
    a2 : float
        Coefficient of T [1/K].
    a3 : float
        Coefficient of 1/T [K].
    a4 : float
        Coefficient of log10 T [dimensionless].
    a5 : float
        Coefficient of 1/T^2 [K^2].
    a6 : float
        Coefficient of T^2 [1/K^2].
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Decadic logarithm of the constant; NaN unless the temperature is above 0 [dimensionless].

    Notes
    -----
    .. math:: \lg K = a_1 + a_2 T + a_3 / T + a_4 \lg T + a_5 / T^2 + a_6 T^2

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013, SOLUTION_SPECIES.
       Source key: ``parkhurst-appelo-2013``.
    """
    if not temperature > 0.0:
        return math.nan
    inverse = 1.0 / temperature
    return (
        a1
        + (a2 + a6 * temperature) * temperature
        + (a3 + a5 * inverse) * inverse
        + a4 * math.log10(temperature)
    )


@kernel
def fill_constants(temperature: float, constants: FloatArray) -> None:
    """
    Fill in everything that depends on temperature alone.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15; NaN makes every constant NaN [K].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Receives formation constants by species, the solubility of carbon dioxide, the temperature
        and the activity parameters [dimensionless].

    Notes
    -----
    Allocate the array once with `constants_array` and use it for all rows at one temperature.

    References
    ----------
    .. [1] L. N. Plummer and E. Busenberg, Geochim. Cosmochim. Acta 46, 1011-1040, 1982.
       Source key: ``plummer-busenberg-1982``; the other sources stand in the table.
    """
    constants[:SPECIES_COUNT] = 1.0
    for row in range(_FUNCTIONS.shape[0]):
        exponent = log10_equilibrium_constant(
            _FUNCTIONS[row, 0],
            _FUNCTIONS[row, 1],
            _FUNCTIONS[row, 2],
            _FUNCTIONS[row, 3],
            _FUNCTIONS[row, 4],
            _FUNCTIONS[row, 5],
            temperature,
        )
        power = math.log(10.0) * exponent
        constants[_FUNCTION_PLACE[row]] = math.exp(power) if power < _GREATEST_POWER else power
    constants[TEMPERATURE] = temperature
    fill_activity_parameters(
        temperature if temperature > 0.0 else math.nan,
        constants[ACTIVITY_SLOPE:ACTIVITY_SIZE],
        constants[ACTIVITY_SIZE:ACTIVITY_LINEAR],
        constants[ACTIVITY_LINEAR:CONSTANT_COUNT],
    )


def constants_array() -> FloatArray:
    """
    Return an empty array for `fill_constants`.

    Returns
    -------
    ndarray, shape (CONSTANT_COUNT,)
        Zeros [dimensionless].
    """
    return np.zeros(CONSTANT_COUNT)
