"""
The solids that a concentrate can throw out, and how near each of them is.

A salt with an adopted solubility gets its constant from that solubility and the same activity
model, at every temperature, so that the salt alone dissolves as the handbook says. The sparingly
soluble minerals of nutrient solutions keep their published constants.
"""

import math
import re
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry import concentrate_ions as ions
from service.chemistry import species
from service.chemistry.concentrate_species import (
    LN_GAMMA,
    LN_WATER_ACTIVITY,
    MOLALITY,
    OK,
    PH,
    STATE_SIZE,
    dissolve,
)
from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium_constants import (
    FORMATIONS,
    Formation,
    formation_from_masters,
    log10_equilibrium_constant,
)
from service.chemistry.kernel import kernel
from service.chemistry.salt_solubility import SALT_NAMES, pure_salt_solubility
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES
from service.reference.concentrate_tables import SolidRow, solid_rows
from service.reference.equilibrium_tables import ReactionRow, load_saturation_constants

FloatArray = npt.NDArray[np.float64]

MINERALS: Final = ("brushite", "newberyite", "struvite", "calcite")
"""Solids whose constants stand in the table of nutrient solutions."""

_NUMBER: Final = re.compile(r"(?:(\d+(?:\.\d+)?) )?(\S+)")
_LEAST: Final = 1e-12
"""Molality under which an ion counts as absent [mol/kg]."""


_COMPONENT_OF: Final = {
    "Na+": "sodium",
    "K+": "potassium",
    "NH4+": "ammonium",
    "Mg+2": "magnesium",
    "Ca+2": "calcium",
    "Mn+2": "manganese",
    "Fe+2": "iron",
    "Zn+2": "zinc",
    "Cu+2": "copper",
    "Cl-": "chloride",
    "NO3-": "nitrate",
    "H2PO4-": "phosphate",
    "HPO4-2": "phosphate",
    "PO4-3": "phosphate",
    "HCO3-": "carbonate",
    "CO3-2": "carbonate",
    "SO4-2": "sulfate",
    "MoO4-2": "molybdate",
    "B(OH)4-": "borate",
    "B(OH)3": "borate",
    "H3Cit": "citrate",
    "Urea": "urea",
}
"""The conserved component in each ion and molecule of a solid."""


def _right_side(reaction: str) -> dict[str, float]:
    """
    Return what a solid dissolves into.

    Parameters
    ----------
    reaction : str
        For instance ``K2SO4 = 2 K+ + SO4-2``.

    Returns
    -------
    dict of str to float
        Stoichiometric numbers.
    """
    found = [_NUMBER.fullmatch(term) for term in reaction.split(" = ")[1].split(" + ")]
    return {match[2]: float(match[1] or 1) for match in found if match}


def _mineral(row: ReactionRow) -> Formation:
    """
    Return the ion product of a mineral in terms of free masters.

    Parameters
    ----------
    row : ReactionRow
        Its reaction.

    Returns
    -------
    Formation
        Powers, and the function of the constant with its sign turned.
    """
    return formation_from_masters(row, row.reaction.split(" = ")[0], FORMATIONS)


def _published(row: SolidRow) -> ReactionRow:
    """
    Return the reaction of a solid with a constant at 25 degrees Celsius.

    Parameters
    ----------
    row : SolidRow
        A row of the table of solids.

    Returns
    -------
    ReactionRow
        The same as a reaction.
    """
    zeros = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return ReactionRow(
        row.solid, row.reaction, row.log10_k_25_celsius, zeros, 0.0, 0.0, row.source, ""
    )


_ROWS: Final = solid_rows()
_KNOWN: Final = {row.name: row for row in load_saturation_constants()}

SOLID_NAMES: Final = (*(row.solid for row in _ROWS), *MINERALS)
SOLID_COUNT: Final = len(SOLID_NAMES)


def _arrays() -> tuple[
    FloatArray, FloatArray, FloatArray, npt.NDArray[np.int64], FloatArray, FloatArray
]:
    """
    Return the stoichiometry and the constants of all solids.

    Returns
    -------
    powers : ndarray, shape (SOLID_COUNT, SPECIES_COUNT)
        Powers of the activities of species; of the hydrogen ion as well.
    phosphate : ndarray, shape (SOLID_COUNT,)
        Power of PO4-3, which is no species of concentrates.
    water : ndarray, shape (SOLID_COUNT,)
        Power of the activity of water.
    salt : ndarray, shape (SOLID_COUNT,)
        Position of the salt whose solubility fixes the constant, -1 for a published constant.
    functions : ndarray, shape (SOLID_COUNT, 6)
        Coefficients of published constants.
    compositions : ndarray, shape (SOLID_COUNT, n_components)
        Components in one formula unit.
    """
    powers = np.zeros((SOLID_COUNT, ions.SPECIES_COUNT))
    phosphate, water = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    salt = np.full(SOLID_COUNT, -1, dtype=np.int64)
    functions = np.zeros((SOLID_COUNT, 6))
    compositions = np.zeros((SOLID_COUNT, COMPONENT_COUNT))
    for place, name in enumerate(SOLID_NAMES):
        row = next((row for row in _ROWS if row.solid == name), None)
        if row is not None and row.salt:
            parts = _right_side(row.reaction)
            salt[place] = SALT_NAMES.index(row.salt)
        else:
            mineral = _mineral(_published(row) if row is not None else _KNOWN[name])
            parts = {part: float(power) for part, power in mineral.powers.items()}
            functions[place] = -mineral.coefficients
        for part, power in parts.items():
            if part in _COMPONENT_OF:
                compositions[place, COMPONENT_NAMES.index(_COMPONENT_OF[part])] += power
            if part == "H2O":
                water[place] = power
            elif part == "PO4-3":
                phosphate[place] = power
            else:
                powers[place, ions.SPECIES.index(part)] = power
    return powers, phosphate, water, salt, functions, compositions


_ARRAYS: Final = _arrays()
POWERS: Final = constant_array(_ARRAYS[0], np.float64)
PHOSPHATE_POWERS: Final = constant_array(_ARRAYS[1], np.float64)
WATER_POWERS: Final = constant_array(_ARRAYS[2], np.float64)
SALT_OF_SOLID: Final = constant_array(_ARRAYS[3], np.int64)
_FUNCTIONS: Final = constant_array(_ARRAYS[4], np.float64)
COMPOSITIONS: Final = constant_array(_ARRAYS[5], np.float64)


@kernel
def _ln_ion_product(solid: int, state: FloatArray, constants: FloatArray) -> float:
    """
    Return the logarithm of the ion product of a solid.

    Parameters
    ----------
    solid : int
        Position in `SOLID_NAMES` [dimensionless].
    state : ndarray, shape (STATE_SIZE,)
        A dissolved concentrate [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].

    Returns
    -------
    float
        Natural logarithm; NaN where an ion is absent [dimensionless].
    """
    hydrogen = -math.log(10.0) * state[PH]
    total = WATER_POWERS[solid] * state[LN_WATER_ACTIVITY]
    if PHOSPHATE_POWERS[solid] != 0.0:
        if not state[MOLALITY + ions.HYDROGEN_PHOSPHATE] > _LEAST:
            return math.nan
        total += PHOSPHATE_POWERS[solid] * (
            math.log(state[MOLALITY + ions.HYDROGEN_PHOSPHATE])
            + state[LN_GAMMA + ions.HYDROGEN_PHOSPHATE]
            - math.log(constants[species.HYDROGEN_PHOSPHATE_ION])
            - hydrogen
        )
    for place in range(ions.SPECIES_COUNT):
        power = POWERS[solid, place]
        if power == 0.0:
            continue
        if place == ions.HYDROGEN:
            total += power * hydrogen
        elif state[MOLALITY + place] > _LEAST:
            total += power * (math.log(state[MOLALITY + place]) + state[LN_GAMMA + place])
        else:
            return math.nan
    return float(total)


@kernel
def fill_solid_constants(
    temperature: float,
    constants: FloatArray,
    slope: float,
    salts: FloatArray,
    pairs: FloatArray,
    triplets: FloatArray,
    solid_constants: FloatArray,
) -> None:
    r"""
    Fill in the constants of the solids at a temperature.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    slope : float
        Debye-Hueckel slope of the osmotic coefficient at the temperature [kg^0.5/mol^0.5].
    salts : ndarray
        Coefficients of single salts [kg/mol and powers of it].
    pairs : ndarray
        Coefficients of two ions of like sign [kg/mol].
    triplets : ndarray
        Coefficients of three ions [kg^2/mol^2].
    solid_constants : ndarray, shape (SOLID_COUNT,)
        Receives natural logarithms of the constants [dimensionless].

    Notes
    -----
    .. math:: \ln K = \sum_j \nu_j \ln(m_j \gamma_j) + \nu_w \ln a_w

    in the solution of the salt alone at its adopted solubility, hydrolysis included.

    References
    ----------
    .. [1] C. E. Harvie, N. Moller and J. H. Weare, Geochim. Cosmochim. Acta 48, 723-751, 1984.
       Source key: ``harvie-moller-weare-1984``.
    """
    state = np.zeros(STATE_SIZE)
    composition = np.zeros(COMPONENT_COUNT)
    for solid in range(SOLID_COUNT):
        salt = SALT_OF_SOLID[solid]
        if salt < 0:
            solid_constants[solid] = math.log(10.0) * log10_equilibrium_constant(
                _FUNCTIONS[solid, 0],
                _FUNCTIONS[solid, 1],
                _FUNCTIONS[solid, 2],
                _FUNCTIONS[solid, 3],
                _FUNCTIONS[solid, 4],
                _FUNCTIONS[solid, 5],
                temperature,
            )
            continue
        saturated = pure_salt_solubility(salt, temperature)
        if not math.isfinite(saturated):
            solid_constants[solid] = math.nan
            continue
        for component in range(COMPONENT_COUNT):
            composition[component] = COMPOSITIONS[solid, component] * saturated
        status = dissolve(composition, constants, slope, salts, pairs, triplets, state)
        product = _ln_ion_product(solid, state, constants)
        solid_constants[solid] = product if status == OK else math.nan


@kernel
def fill_saturation(
    state: FloatArray, constants: FloatArray, solid_constants: FloatArray, indices: FloatArray
) -> None:
    r"""
    Compute the saturation index of every solid of a concentrate.

    Parameters
    ----------
    state : ndarray, shape (STATE_SIZE,)
        A dissolved concentrate, from `concentrate_species.dissolve` [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    solid_constants : ndarray, shape (SOLID_COUNT,)
        Constants of the solids at the temperature [dimensionless].
    indices : ndarray, shape (SOLID_COUNT,)
        Receives decadic logarithms of the ion product over the constant; NaN where an ion is
        absent [dimensionless].

    Notes
    -----
    .. math:: SI = \lg \prod_j a_j^{\nu_j} - \lg K

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 7.
       Source key: ``stumm-morgan-1996``.
    """
    for solid in range(SOLID_COUNT):
        product = _ln_ion_product(solid, state, constants)
        indices[solid] = (product - solid_constants[solid]) / math.log(10.0)


def formula_ions(solid: int) -> float:
    """
    Return how many ions a solid dissolves into.

    Parameters
    ----------
    solid : int
        Position in `SOLID_NAMES` [dimensionless].

    Returns
    -------
    float
        Its ions and molecules, water and the ions of water aside [dimensionless].
    """
    powers = np.abs(POWERS[solid]).copy()
    powers[ions.HYDROGEN] = 0.0
    return float(powers.sum() + PHOSPHATE_POWERS[solid])
