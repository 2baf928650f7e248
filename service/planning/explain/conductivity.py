"""The working of a conductivity: what each ion carries at 25 °C, and their sum."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.activity import debye_hueckel_b, relative_permittivity_bradley_pitzer_1979
from service.chemistry.conductivity import (
    AVOGADRO,
    BOLTZMANN,
    COEFFICIENTS,
    DIVALENT_SIZE,
    ELEMENTARY_CHARGE,
    ION_SIZE_GROWTH,
    LIMITING,
    SIZE,
    VACUUM_PERMITTIVITY,
    water_viscosity,
)
from service.chemistry.density import water_density
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED, speciate
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.chemistry.species import SPECIES_CHARGES, SPECIES_COUNT
from service.chemistry.workspace import IONIC_STRENGTH, MOLALITY, workspace
from service.planning.explain.speciation import MOLAL
from service.planning.explain.species_names import species_name
from service.planning.explain.working import NUMBER, Working

FloatArray = NDArray[np.float64]

LEAST_CARRIED: Final = 1e-7
"""Share of the conductance under which an ion is left out."""

KOHLRAUSCH: Final = "onsager-1927"
FINITE_IONS: Final = "falkenhagen-1971"


def explain_conductivity(
    working: Working,
    molal: FloatArray,
    name: str,
    value: float,
    water_content: float | None = None,
    pressure: float = CLOSED,
) -> str:
    """
    Show what every ion of a composition carries at 25 °C.

    Parameters
    ----------
    working : Working
        Receives the lines.
    molal : ndarray, shape (n_components,)
        Amounts per mass of water [mol/kg].
    name : str
        Name of the conductivity.
    value : float
        The finished conductivity of the ions [mS/cm].
    water_content : float, optional
        Mass of water in a litre, by default the density of water [kg/L].
    pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].

    Returns
    -------
    str
        The name.
    """
    if working.brief:
        return working.known(name, value, "sum over all ions at 25 °C", KOHLRAUSCH)
    constants = constants_array()
    fill_constants(REFERENCE_TEMPERATURE, constants)
    work = workspace()
    if speciate(molal, constants, pressure, math.nan, False, work) >= NOT_CONVERGED:
        return working.known(name, value, "sum over all ions", KOHLRAUSCH)
    amounts = work[MOLALITY : MOLALITY + SPECIES_COUNT]
    charges = np.array(SPECIES_CHARGES, dtype=np.float64)
    carried = amounts * np.abs(charges) * COEFFICIENTS[:, LIMITING]
    ions = [
        index
        for index in range(SPECIES_COUNT)
        if charges[index] != 0.0 and carried[index] > LEAST_CARRIED * carried.sum()
    ]
    cations = [index for index in ions if charges[index] > 0.0]
    anions = [index for index in ions if charges[index] < 0.0]
    if not cations or not anions:
        return working.known(name, value, "sum over all ions", KOHLRAUSCH)
    for index in ions:
        working.solved(
            _ion(name, index),
            amounts[index],
            "free ion at 25 °C, after ion pairing",
            "parkhurst-appelo-2013",
            MOLAL,
        )
    _slowing_lines(working, name, work[IONIC_STRENGTH], cations, anions)
    for index in ions:
        opposite = "anion" if charges[index] > 0.0 else "cation"
        row = COEFFICIENTS[index]
        number = abs(SPECIES_CHARGES[index])
        size = "size"
        extra: dict[str, float] = {}
        if row[DIVALENT_SIZE] != 0.0:
            size = f"(size + growth * max({name}_{opposite}_charge - 1, 0))"
            extra["growth"] = float(row[DIVALENT_SIZE])
        shield = f"(1 + {name}_inverse_length * {size})"
        working.computed(
            f"{name}_by_{species_name(index)}",
            f"{_ion(name, index)} * {number} * (limiting - {name}_electrophoresis * {number}"
            f" / {shield}) * (1 - {name}_relaxation / {shield} ** 2)",
            unit="S cm²/kg",
            source="mccleskey-2012",
            where={"limiting": float(row[LIMITING]), "size": float(row[SIZE]), **extra},
        )
    content = water_density(REFERENCE_TEMPERATURE) if water_content is None else water_content
    total = " + ".join(f"{name}_by_{species_name(index)}" for index in ions)
    return working.computed(
        name, f"water_content * ({total})", value, "mS/cm", KOHLRAUSCH, {"water_content": content}
    )


def _ion(name: str, index: int) -> str:
    return f"{name}_{species_name(index)}"


def _slowing_lines(
    working: Working, name: str, strength: float, cations: list[int], anions: list[int]
) -> None:
    """Add what slows the ions: relaxation and electrophoresis, with the mean charges they need."""
    for kind, ions in (("cation", cations), ("anion", anions)):
        amount = " + ".join(_ion(name, index) for index in ions)
        charge = " + ".join(
            f"{abs(SPECIES_CHARGES[index])} * {_ion(name, index)}" for index in ions
        )
        mobility = " + ".join(
            f"limiting_{species_name(index)} * {_ion(name, index)}" for index in ions
        )
        working.computed(f"{name}_{kind}_charge", f"({charge}) / ({amount})", None, NUMBER)
        working.computed(
            f"{name}_{kind}_mobility",
            f"({mobility}) / ({amount})",
            None,
            "S cm²/mol",
            "mccleskey-2012",
            {
                f"limiting_{species_name(index)}": float(COEFFICIENTS[index, LIMITING])
                for index in ions
            },
        )
    share = working.computed(
        f"{name}_cation_share",
        f"{name}_cation_mobility / ({name}_cation_mobility + {name}_anion_mobility)",
        None,
        NUMBER,
    )
    q = working.computed(
        f"{name}_q",
        f"1 / (({share} / {name}_cation_charge + (1 - {share}) / {name}_anion_charge)"
        f" * ({name}_cation_charge + {name}_anion_charge))",
        None,
        NUMBER,
        KOHLRAUSCH,
    )
    ionic_strength = working.solved(
        f"{name}_ionic_strength",
        strength,
        "half the sum of charge squared times molality at 25 °C",
        "parkhurst-appelo-2013",
        MOLAL,
    )
    debye = debye_hueckel_b(REFERENCE_TEMPERATURE)
    permittivity = VACUUM_PERMITTIVITY * relative_permittivity_bradley_pitzer_1979(
        REFERENCE_TEMPERATURE
    )
    scale = 1e10 * ELEMENTARY_CHARGE**2 / (6.0 * math.pi) * debye
    working.computed(
        f"{name}_relaxation",
        f"constant * {name}_cation_charge * {name}_anion_charge * {q} / (1 + {q} ** 0.5)"
        f" * {ionic_strength} ** 0.5",
        None,
        NUMBER,
        FINITE_IONS,
        {"constant": scale / (2.0 * permittivity * BOLTZMANN * REFERENCE_TEMPERATURE)},
    )
    working.computed(
        f"{name}_electrophoresis",
        f"constant * {ionic_strength} ** 0.5",
        None,
        "S cm²/mol",
        FINITE_IONS,
        {"constant": 1e7 * scale * AVOGADRO / water_viscosity(REFERENCE_TEMPERATURE)},
    )
    working.computed(
        f"{name}_inverse_length",
        f"debye * {ionic_strength} ** 0.5 * (1 + {ION_SIZE_GROWTH:g} * {ionic_strength})",
        None,
        "1/Å",
        FINITE_IONS,
        {"debye": debye},
    )
