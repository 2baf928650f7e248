"""
A pH that can be checked: the species at that pH, and the balances that they must keep.

The pH is found by iteration. What is shown is its result: for every species the law of mass action
with its constant, for every component the sum of its species, and the sum of all charges, which is
nothing at the right pH. All amounts are per kilogram of water.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.activity import (
    DAVIES_LINEAR,
    SPECIES_CLASS,
    WATER_ACTIVITY_SLOPE,
    debye_hueckel_a,
    debye_hueckel_b,
)
from service.chemistry.density import water_density
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED, speciate
from service.chemistry.equilibrium_constants import (
    ACTIVITY_LINEAR,
    ACTIVITY_SIZE,
    ACTIVITY_SLOPE,
    CARBON_DIOXIDE_SOLUBILITY,
    FORMATIONS,
    MASTER_NAMES,
    constants_array,
    fill_constants,
)
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.species import (
    CARBON_DIOXIDE,
    HYDROGEN_ION,
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    SPECIES_NAMES,
)
from service.chemistry.workspace import (
    ACTIVITY_COEFFICIENT,
    IONIC_STRENGTH,
    MOLALITY,
    PH,
    WATER_ACTIVITY,
    workspace,
)
from service.planning.explain.species_names import gamma_name, species_name
from service.planning.explain.working import NUMBER, Working, signed_sum, signed_term
from service.planning.water import FREEZING_POINT
from service.reference.components import CARBONATE, COMPONENT_COUNT, COMPONENT_NAMES
from service.reference.equilibrium_tables import (
    load_equilibrium_constants,
)

FloatArray = NDArray[np.float64]

LEAST_SHOWN: Final = 1e-6
"""Share of the ionic strength under which a species is left out unless others are built from it."""

MOLAL: Final = "mol/kg"
LEFT_OUT: Final = (
    "the pH at which all charges balance; the species stand in `/v1/doses/explain` of this can"
)
SPECIATION: Final = "parkhurst-appelo-2013"
DEBYE_HUECKEL: Final = "truesdell-jones-1974"
ATMOSPHERE_IN_BAR: Final = 1.01325
_CONSTANT_SOURCES: Final = {row.name: row.source for row in load_equilibrium_constants()}


@dataclass(frozen=True, eq=False)
class Solution:
    """
    A composition whose pH is known.

    Attributes
    ----------
    molal : ndarray, shape (n_components,)
        Amounts of the components per mass of water [mol/kg].
    temperature : float
        Temperature [K].
    ph : float
        The pH that is to be checked; NaN finds it, where no answer states it.
    pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    least : float or None
        Molality from which a species is shown; None for `LEAST_SHOWN` [mol/kg].
    """

    molal: FloatArray
    temperature: float
    ph: float
    pressure: float = CLOSED
    least: float | None = None


def explain_ph(working: Working, solution: Solution, prefix: str = "") -> None:
    """
    Show the species of a solution at its pH, and what their charges and amounts add up to.

    Parameters
    ----------
    working : Working
        Receives the lines.
    solution : Solution
        The solution; its pH is added as ``{prefix}ph``.
    prefix : str
        Put before every name, so that two solutions can stand in one working.
    """
    if working.brief:
        if np.isfinite(solution.ph):
            working.solved(f"{prefix}ph", solution.ph, LEFT_OUT, SPECIATION, NUMBER)
        return
    constants = constants_array()
    fill_constants(solution.temperature, constants)
    work = workspace()
    status = speciate(solution.molal, constants, solution.pressure, solution.ph, False, work)
    if status >= NOT_CONVERGED:
        if np.isfinite(solution.ph):
            working.solved(f"{prefix}ph", solution.ph, "found by iteration", SPECIATION, NUMBER)
        return
    working.solved(
        f"{prefix}ph",
        float(work[PH]),
        "the pH at which all charges balance; found by iteration, checked by the balances below",
        SPECIATION,
        NUMBER,
    )
    shown = _shown(work, solution.least)
    _total_lines(working, solution, prefix)
    _activity_lines(working, work, constants, shown, solution.temperature, prefix)
    _species_lines(working, work, constants, shown, prefix)
    _open_line(working, solution, constants, prefix)
    _balance_lines(working, solution, shown, prefix)


def _shown(work: FloatArray, least: float | None) -> list[int]:
    """Return the species that a reader needs: those that count, and what they are built from."""
    least = LEAST_SHOWN * work[IONIC_STRENGTH] if least is None else least
    needed = {
        index
        for index in range(SPECIES_COUNT)
        if work[MOLALITY + index] > least or index == HYDROGEN_ION
    }
    for index in tuple(needed):
        formation = FORMATIONS.get(SPECIES_NAMES[index])
        if formation is not None:
            needed |= {
                SPECIES_NAMES.index(name) for name in formation.powers if name not in ("H2O",)
            }
    return sorted(needed)


def _total_lines(working: Working, solution: Solution, prefix: str) -> None:
    """Add the amounts per kilogram of water, unless they stand there already."""
    for component in range(COMPONENT_COUNT):
        amount = float(solution.molal[component])
        name = f"{prefix}{COMPONENT_NAMES[component]}_total"
        if amount != 0.0 and not working.knows(name):
            working.known(name, amount, "amount for each kilogram of water", None, MOLAL)


def _activity_lines(
    working: Working,
    work: FloatArray,
    constants: FloatArray,
    shown: list[int],
    temperature: float,
    prefix: str,
) -> None:
    """Add the ionic strength, the activity coefficients and the activity of water."""
    strength = working.solved(
        f"{prefix}ionic_strength",
        work[IONIC_STRENGTH],
        "half the sum of charge squared times molality over all ions; checked below",
        SPECIATION,
        MOLAL,
    )
    parameter_a = working.known(
        f"{prefix}debye_hueckel_a",
        debye_hueckel_a(temperature),
        "Debye-Hückel parameter A of water at this temperature, in (kg/mol)^0.5",
        "bradley-pitzer-1979",
        NUMBER,
    )
    parameter_b = working.known(
        f"{prefix}debye_hueckel_b",
        debye_hueckel_b(temperature),
        "Debye-Hückel parameter B of water, in (kg/mol)^0.5 for each ångström",
        "bradley-pitzer-1979",
        NUMBER,
    )
    for place in dict.fromkeys(int(SPECIES_CLASS[index]) for index in shown):
        slope, size, linear = (
            float(constants[start + place])
            for start in (ACTIVITY_SLOPE, ACTIVITY_SIZE, ACTIVITY_LINEAR)
        )
        davies = slope < 0.0 and size == 1.0 and linear == -DAVIES_LINEAR * slope
        index = next(each for each in shown if int(SPECIES_CLASS[each]) == place)
        name = gamma_name(index, prefix)
        value = float(work[ACTIVITY_COEFFICIENT + index])
        source = "davies-1962" if davies else DEBYE_HUECKEL
        if slope == 0.0:
            working.computed(
                name, f"10 ** (linear * {strength})", value, NUMBER, source, {"linear": linear}
            )
            continue
        coefficients = {"charge": float(SPECIES_CHARGES[index])}
        root, slowed = f"{strength} ** 0.5", f"-{parameter_a} * charge ** 2"
        if davies:
            formula = f"{root} / (1 + {root}) - {DAVIES_LINEAR:g} * {strength}"
            formula = f"10 ** ({slowed} * ({formula}))"
        else:
            coefficients |= {"ion_size": size / working.value(parameter_b), "linear": linear}
            formula = f"{slowed} * {root} / (1 + {parameter_b} * ion_size * {root})"
            formula = f"10 ** ({formula} + linear * {strength})"
        working.computed(name, formula, value, NUMBER, source, coefficients)
    solutes = float(work[MOLALITY : MOLALITY + SPECIES_COUNT].sum())
    working.computed(
        f"{prefix}water_activity",
        f"1 - {WATER_ACTIVITY_SLOPE} * sum_of_the_species_below",
        work[WATER_ACTIVITY],
        NUMBER,
        "garrels-christ-1965",
        {"sum_of_the_species_below": solutes},
    )


def _species_lines(
    working: Working, work: FloatArray, constants: FloatArray, shown: list[int], prefix: str
) -> None:
    """Add the molality of every species: masters as they were found, the others by mass action."""
    ph = f"{prefix}ph"
    hydrogen = prefix + species_name(HYDROGEN_ION)
    working.computed(
        hydrogen,
        f"10 ** (-{ph}) / {gamma_name(HYDROGEN_ION, prefix)}",
        work[MOLALITY + HYDROGEN_ION],
        MOLAL,
    )
    masters = [i for i in shown if SPECIES_NAMES[i] not in FORMATIONS and i != HYDROGEN_ION]
    for index in masters:
        total = _whole_of(index)
        if total is not None:
            working.computed(
                prefix + species_name(index),
                total.replace("{}", prefix),
                work[MOLALITY + index],
                MOLAL,
            )
            continue
        working.solved(
            prefix + species_name(index),
            work[MOLALITY + index],
            "what its component leaves free; found with all others at this pH, checked below",
            SPECIATION,
            MOLAL,
        )
    for index in shown:
        formation = FORMATIONS.get(SPECIES_NAMES[index])
        if formation is None:
            continue
        log10_k = float(np.log10(constants[index]))
        parts = []
        for name, power in formation.powers.items():
            if name == "H+":
                parts.append(f"10 ** ({-power} * {ph})")
            elif name == "H2O":
                parts.append(_power(f"{prefix}water_activity", power))
            else:
                place = SPECIES_NAMES.index(name)
                activity = f"({gamma_name(place, prefix)} * {prefix}{species_name(place)})"
                parts.append(_power(activity, power))
        working.computed(
            prefix + species_name(index),
            f"10 ** log10_k * {' * '.join(parts)} / {gamma_name(index, prefix)}",
            work[MOLALITY + index],
            MOLAL,
            _CONSTANT_SOURCES[SPECIES_NAMES[index]],
            {"log10_k": log10_k},
        )


def _whole_of(index: int) -> str | None:
    """Return the total that a species is alone, as a formula with a place for the prefix."""
    if SPECIES_NAMES[index] in MASTER_NAMES:
        return None
    component = int(np.flatnonzero(SPECIES_COMPOSITION[index])[0])
    sign = "-" if SPECIES_COMPOSITION[index, component] < 0.0 else ""
    return f"{sign}{{}}{COMPONENT_NAMES[component]}_total"


def _power(text: str, power: int) -> str:
    return text if power == 1 else f"{text} ** ({power})"


def _open_line(working: Working, solution: Solution, constants: FloatArray, prefix: str) -> None:
    """Add what the air keeps dissolved, for a solution that stands open."""
    name = prefix + species_name(CARBON_DIOXIDE)
    if not solution.pressure > 0.0 or not working.knows(name):
        return
    share = "427 ppm of the air" if solution.pressure == ATMOSPHERIC_CARBON_DIOXIDE else "the air"
    working.known(
        f"{prefix}carbon_dioxide_pressure_atm",
        solution.pressure / ATMOSPHERE_IN_BAR,
        f"partial pressure of carbon dioxide, {share}",
        None,
        "atm",
    )
    working.check(
        f"{prefix}carbon_dioxide_balance",
        f"{name} * {gamma_name(CARBON_DIOXIDE, prefix)}"
        f" - solubility * {prefix}carbon_dioxide_pressure_atm",
        MOLAL,
        where={"solubility": float(constants[CARBON_DIOXIDE_SOLUBILITY])},
        source=_CONSTANT_SOURCES["CO2(g)"],
    )


_UNREACTIVE: Final = frozenset(
    int(np.flatnonzero(SPECIES_COMPOSITION[index])[0])
    for index in range(SPECIES_COUNT)
    if index != HYDROGEN_ION and SPECIES_NAMES[index] not in FORMATIONS and _whole_of(index)
)
"""Components that are one species whatever the pH."""


def _balance_lines(working: Working, solution: Solution, shown: list[int], prefix: str) -> None:
    """Add what must come to nothing: each component, the charges, the ionic strength."""
    for component in range(COMPONENT_COUNT):
        name = f"{prefix}{COMPONENT_NAMES[component]}_total"
        held = component == CARBONATE and solution.pressure > 0.0
        if solution.molal[component] == 0.0 or held or component in _UNREACTIVE:
            continue
        terms = [
            signed_term(-float(SPECIES_COMPOSITION[index, component]), prefix + species_name(index))
            for index in shown
            if SPECIES_COMPOSITION[index, component] != 0.0
        ]
        if terms:
            working.check(
                f"{prefix}{COMPONENT_NAMES[component]}_balance", name + "".join(terms), MOLAL
            )
    charges = [
        signed_term(float(SPECIES_CHARGES[index]), prefix + species_name(index))
        for index in shown
        if SPECIES_CHARGES[index] != 0
    ]
    working.check(f"{prefix}charge_balance", signed_sum(charges), MOLAL)
    squares = [
        signed_term(0.5 * SPECIES_CHARGES[index] ** 2, prefix + species_name(index))
        for index in shown
        if SPECIES_CHARGES[index] != 0
    ]
    working.check(
        f"{prefix}ionic_strength_balance",
        signed_sum(squares) + f" - {prefix}ionic_strength",
        MOLAL,
    )


def molal_of(total: FloatArray, temperature: float) -> FloatArray:
    """
    Return a dilute composition per mass of water, as the planners of cans do.

    Parameters
    ----------
    total : ndarray, shape (n_components,)
        Amounts [mmol/L].
    temperature : float
        Temperature [K].

    Returns
    -------
    ndarray, shape (n_components,)
        Amounts [mol/kg].
    """
    result: FloatArray = 0.001 * np.asarray(total) / water_density(temperature)
    return result


def molal_lines(working: Working, names: dict[int, str], celsius: float, prefix: str = "") -> None:
    """
    Add the amounts per kilogram of water of a can whose amounts per litre stand in the working.

    Parameters
    ----------
    working : Working
        Receives the lines.
    names : dict of int to str
        Name of the amount per litre of each component [mmol/L].
    celsius : float
        Temperature [degC].
    prefix : str
        As in `explain_ph`.
    """
    if working.brief:
        return
    density = working.known(
        f"{prefix}water_density",
        water_density(celsius + FREEZING_POINT),
        f"density of water at {celsius:g} °C",
        "kell-1975",
        "kg/L",
    )
    for component, name in names.items():
        total = f"{prefix}{COMPONENT_NAMES[component]}_total"
        working.computed(total, f"0.001 * {name} / {density}", None, MOLAL)
