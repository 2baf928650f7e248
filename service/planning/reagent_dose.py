"""
How much of an acid or base brings a can to its target, and how that is measured out.

The volume is that of the finished solution: what is poured takes the place of water.
"""

from typing import Final

import numpy as np

from service.chemistry.acidification import reagent_for_alkalinity, reagent_for_ph
from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.density import reagent_density
from service.chemistry.equilibrium import NO_SOLUTION, NOT_CONVERGED, OK
from service.chemistry.kernel import kernel
from service.chemistry.solution import (
    STATE_PH,
    constants_of,
    density_of,
    molal_composition,
    predicted_state,
    set_temperature,
    speciation_of,
)
from service.planning import reagents
from service.planning.acid_dose import ACID_TEMPERATURE, PRE_DILUTIONS
from service.planning.cautions import problem_number
from service.planning.instruments import (
    HANDY_SHARE,
    TRUSTED_STEPS,
    pre_solution_strength,
    rounded_amount,
)
from service.planning.ph_target import counted_feed, pressure_of
from service.planning.water import FREEZING_POINT, TEMPERATURE
from service.reference.components import COMPONENT_COUNT
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

DISPLACEMENT_ROUNDS: Final = 30
DISPLACEMENT_TOLERANCE: Final = 1e-10
DISPLACEMENT_NOISE: Final = 1e-12
"""Change of an amount at which displacement is settled [relative, mmol/L]."""

CANNOT_REACH: Final = problem_number("acid_cannot_reach")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")


@kernel
def bottle_mass(kind: int, percent: float, amount: float) -> float:
    """
    Return the mass of what is in the bottle that holds an amount of acid or base.

    Parameters
    ----------
    kind : int
        Position in `reagents.KINDS`.
    percent : float
        Strength of the bottle [percent by mass].
    amount : float
        Acid or base [mmol].

    Returns
    -------
    float
        Mass [g].
    """
    return float(amount * reagents.MOLAR_MASS[kind] / (10.0 * percent))


@kernel
def bottle_density(kind: int, percent: float) -> float:
    """
    Return the density of a bottle at the temperature at which it is measured out.

    Parameters
    ----------
    kind : int
        Position in `reagents.KINDS`.
    percent : float
        Strength of the bottle [percent by mass].

    Returns
    -------
    float
        Density; NaN for what is sold as a solid at this strength [kg/L].
    """
    return float(reagent_density(reagents.DENSITY_NUMBER[kind], percent / 100.0, ACID_TEMPERATURE))


@kernel
def needed_amount(
    row: np.void,
    water: np.ndarray,
    counted: np.ndarray,
    litres_per_mmol: float,
    scratch: np.ndarray,
    work: np.ndarray,
) -> tuple[int, float]:
    """
    Return the amount that brings a water with its feed to the target.

    What is poured displaces its own volume of water, so the amount is found again with less water
    until it stays.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.
    water : ndarray, shape (n_components,)
        Composition of the water [mmol/L].
    counted : ndarray, shape (n_components,)
        Feed that the acid meets, from `counted_feed` [mmol/L].
    litres_per_mmol : float
        Volume that is poured for each millimole, 0 to leave it out [L/mmol].
    scratch : ndarray, shape (3, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    status, amount : tuple of int and float
        Status of `service.chemistry.acidification`; amount, 0 when the target is met already and
        NaN unless computed [mmol/L].
    """
    total, molal, mixture = scratch[0], scratch[1], scratch[2]
    kind = row["acid_kind"]
    reagent = reagents.COMPOSITION[kind]
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    set_temperature(temperature, work)
    density = density_of(work)
    target = row["target_ph"]
    wanted = row["target_alkalinity_mg_per_l_caco3"] / CALCIUM_CARBONATE_MG_PER_MEQ
    by_ph = np.isnan(wanted)
    for component in range(COMPONENT_COUNT):
        total[component] = water[component] + counted[component]
    if by_ph:
        status = predicted_state(total, temperature, pressure_of(row), False, work, mixture)
        if status >= NOT_CONVERGED:
            return status, np.nan
        met = mixture[STATE_PH] >= target if reagents.IS_BASE[kind] else mixture[STATE_PH] <= target
    else:
        present = alkalinity_of_composition(total)
        met = present >= wanted if reagents.IS_BASE[kind] else present <= wanted
    if met:
        return OK, 0.0
    amount = 0.0
    damping = 0.0
    for turn in range(DISPLACEMENT_ROUNDS):
        share = 1.0 - litres_per_mmol * amount
        if share <= 0.0:
            return NO_SOLUTION, np.nan
        for component in range(COMPONENT_COUNT):
            total[component] = share * water[component] + counted[component]
        molal_composition(total, density, molal)
        if by_ph:
            status, found = reagent_for_ph(
                molal,
                reagent,
                target,
                constants_of(work),
                pressure_of(row),
                speciation_of(work),
                mixture[:COMPONENT_COUNT],
            )
        else:
            status, found = reagent_for_alkalinity(
                molal, reagent, wanted / density, mixture[:COMPONENT_COUNT]
            )
        if status >= NOT_CONVERGED:
            return status, np.nan
        found = 1000.0 * found * density
        if turn == 0:
            # The amount falls about linearly with the water that is displaced, by this slope.
            damping = litres_per_mmol * found
        if abs(found - amount) <= DISPLACEMENT_TOLERANCE * found + DISPLACEMENT_NOISE:
            return status, found
        amount = (found + damping * amount) / (1.0 + damping)
    return NOT_CONVERGED, np.nan


@kernel
def fill_dose(row: np.void, result: np.void, scratch: np.ndarray, work: np.ndarray) -> int:
    """
    Fill in the dose and how it is measured.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Holds what is known so far and receives the rest.
    scratch : ndarray, shape (8, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number, 0 when the row goes on.
    """
    kind = row["acid_kind"]
    volume = row["volume_l"]
    counted = scratch[3]
    counted_feed(row, result, counted)
    water = result["water_composition_mmol_per_l"]
    density = bottle_density(kind, row["acid_percent"])
    per_mmol = 0.0
    if not np.isnan(density):
        per_mmol = 0.001 * bottle_mass(kind, row["acid_percent"], 1.0) / density
    result["acid_dilution_factor"] = 1.0
    result["pre_solution_g_per_l"] = 0.0
    amount = 0.0
    for pre_diluted in range(2):
        status, amount = needed_amount(row, water, counted, per_mmol, scratch, work)
        if status == NO_SOLUTION:
            return CANNOT_REACH
        if status >= NOT_CONVERGED:
            return NOT_SOLVABLE
        mass = bottle_mass(kind, row["acid_percent"], amount) * volume
        result["acid_mmol_per_l"] = amount
        result["acid_mass_g"] = mass
        result["acid_volume_ml"] = mass / density
        if pre_diluted == 0:
            _measure(row, result)
            # What is poured is then the weaker solution, which displaces more water.
            if result["pre_solution_g_per_l"] > 0.0:
                per_mmol = (
                    bottle_mass(kind, row["acid_percent"], 1.0) / result["pre_solution_g_per_l"]
                )
            elif result["acid_dilution_factor"] > 1.0:
                per_mmol *= result["acid_dilution_factor"]
            else:
                break
    _round(row, result)
    for component in range(COMPONENT_COUNT):
        result["composition_mmol_per_l"][component] = (
            (1.0 - per_mmol * amount) * water[component]
            + counted[component]
            + amount * reagents.COMPOSITION[kind, component]
        )
    return 0


@kernel
def _measure(row: np.void, result: np.void) -> None:
    """Choose a pre-dilution, or a pre-solution of a solid, where the dose is too small."""
    if not result["acid_mmol_per_l"] > 0.0:
        return
    least = TRUSTED_STEPS * row["syringe_resolution_ml"]
    most = 1000.0 * HANDY_SHARE * row["volume_l"]
    if np.isnan(result["acid_volume_ml"]):
        result["pre_solution_g_per_l"] = pre_solution_strength(
            result["acid_mass_g"],
            row["balance_resolution_g"],
            row["syringe_resolution_ml"],
            row["volume_l"],
        )
        return
    for dilution in PRE_DILUTIONS:
        # More than a tenth of the can as pure water would thin the can itself.
        if dilution > 1.0 and result["acid_volume_ml"] * dilution > most:
            break
        result["acid_dilution_factor"] = dilution
        if result["acid_volume_ml"] * dilution >= least:
            break


@kernel
def _round(row: np.void, result: np.void) -> None:
    """Fill in what the syringe or the balance shows, never more than the dose."""
    syringe, balance = row["syringe_resolution_ml"], row["balance_resolution_g"]
    strength = result["pre_solution_g_per_l"]
    if strength > 0.0:
        taken = 1000.0 * result["acid_mass_g"] / strength
        result["dose_volume_ml"] = rounded_amount(taken, syringe, True)
    elif np.isnan(result["acid_volume_ml"]):
        result["dose_mass_g"] = rounded_amount(result["acid_mass_g"], balance, True)
    else:
        taken = result["acid_volume_ml"] * result["acid_dilution_factor"]
        result["dose_volume_ml"] = rounded_amount(taken, syringe, True)
