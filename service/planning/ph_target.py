"""Where a can stands before acid or base: its feed, its pH, the target and the reagent."""

from typing import Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.kernel import kernel
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.solution import STATE_PH, predicted_state
from service.planning import ph_adjustment_rows as ph_rows
from service.planning import products, profiles, reagents, rows
from service.planning.acid_dose import DEFAULT_ACID, LARGEST_ACID_PHOSPHORUS, LOWEST_TARGET
from service.planning.can import mix
from service.planning.cautions import assumption_bit, problem_number
from service.planning.ph_adjustment_rows import own_assumption
from service.planning.water import FREEZING_POINT, TEMPERATURE
from service.reference.components import COMPONENT_COUNT
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

AFTER_FEED: Final = ph_rows.ACID_PLACES.index("after_feed")
OPEN: Final = ph_rows.CARBON_DIOXIDE.index("open")
AS_MIXED: Final = ph_rows.CARBON_DIOXIDE.index("closed")
DEFAULT_ACID_PHOSPHORUS: Final = LARGEST_ACID_PHOSPHORUS
"""Most phosphorus from an acid where the caller sets no limit [mg/L]; common practice."""

RESERVOIR_ALKALINITY: Final = 40.0
"""Alkalinity that holds the pH of a standing reservoir [mg/L CaCO3]; common practice."""

ACID_ASSUMED: Final = assumption_bit("acid_assumed")
RESERVOIR_ACID_ASSUMED: Final = own_assumption("acid_assumed_for_reservoir")
BASE_ASSUMED: Final = own_assumption("base_assumed")
STRENGTH_ASSUMED: Final = assumption_bit("acid_strength_assumed")
TARGET_FROM_WINDOW: Final = assumption_bit("target_ph_from_window")
TARGET_FROM_LOW_END: Final = own_assumption("target_ph_from_window_low")
TARGET_FOR_RESERVOIR: Final = own_assumption("target_alkalinity_for_reservoir")
AFTER_FEED_ASSUMED: Final = own_assumption("acid_goes_after_feed")
CLOSED_ASSUMED: Final = own_assumption("carbon_dioxide_closed")
TOO_LOW: Final = problem_number("acid_target_too_low")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")
DENSITY_NEEDED: Final = problem_number("density_needed")
SOLID_BY_VOLUME: Final = problem_number("volume_of_a_solid")


@kernel
def fill_feed(row: np.void, product_table: np.ndarray, result: np.void, scratch: np.ndarray) -> int:
    """
    Fill in the feed's amounts and composition, without the water.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request; overwritten where it is silent.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Holds what is known so far and receives the rest.
    scratch : ndarray, shape (8, n_components)
        Overwritten.

    Returns
    -------
    int
        A problem number, 0 when the row goes on.
    """
    count = row["product_count"]
    for slot in range(count):
        product = product_table[row["product"][slot]]
        liquid = product[products.IS_LIQUID] == 1.0
        amount = row["addition_per_l"][slot]
        if row["addition_by_volume"][slot] == 1:
            if not liquid:
                return SOLID_BY_VOLUME
        elif liquid:
            if not product[products.DENSITY] > 0.0:
                return DENSITY_NEEDED
            amount = amount / product[products.DENSITY]
        result["amount_per_l"][slot] = amount
    for component in range(COMPONENT_COUNT):
        scratch[0, component] = 0.0
    mix(
        scratch[0],
        row["product"][:count],
        product_table,
        result["amount_per_l"][:count],
        1.0,
        result["feed_composition_mmol_per_l"],
        scratch[1],
    )
    if count > 0 and row["acid_goes"] == rows.ABSENT:
        result["own_assumptions"] = result["own_assumptions"] | AFTER_FEED_ASSUMED
    if row["acid_goes"] == rows.ABSENT:
        row["acid_goes"] = AFTER_FEED
    return 0


@kernel
def counted_feed(row: np.void, result: np.void, counted: np.ndarray) -> None:
    """
    Fill in the feed that the acid meets: all of it, or none where the acid goes first.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Holds what is known so far and receives the rest.
    counted : ndarray, shape (n_components,)
        Receives the feed that the acid meets [mmol/L].
    """
    for component in range(COMPONENT_COUNT):
        counted[component] = 0.0
        if row["acid_goes"] == AFTER_FEED:
            counted[component] = result["feed_composition_mmol_per_l"][component]


@kernel
def fill_start(
    row: np.void, profile: np.ndarray, result: np.void, scratch: np.ndarray, work: np.ndarray
) -> int:
    """
    Find where the can stands without acid, and fill in target and reagent.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request; overwritten where it is silent.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
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
    if row["carbon_dioxide"] == rows.ABSENT:
        row["carbon_dioxide"] = AS_MIXED
        if np.isnan(row["target_alkalinity_mg_per_l_caco3"]):
            result["own_assumptions"] = result["own_assumptions"] | CLOSED_ASSUMED
    counted, total, state = scratch[0], scratch[1], scratch[2]
    counted_feed(row, result, counted)
    for component in range(COMPONENT_COUNT):
        total[component] = result["water_composition_mmol_per_l"][component] + counted[component]
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    if predicted_state(total, temperature, pressure_of(row), False, work, state) >= NOT_CONVERGED:
        return NOT_SOLVABLE
    ph = state[STATE_PH]
    result["starting_ph"] = ph
    result["starting_alkalinity_meq_per_l"] = alkalinity_of_composition(total)
    kind = row["acid_kind"]
    target = row["target_ph"]
    alkalinity = row["target_alkalinity_mg_per_l_caco3"]
    stated = not (np.isnan(target) and np.isnan(alkalinity))
    too_acid = kind == rows.ABSENT and ph < profile[profiles.PH_LOW]
    if not stated and row["reservoir"] == 1 and not too_acid:
        row["target_alkalinity_mg_per_l_caco3"] = RESERVOIR_ALKALINITY
        alkalinity = RESERVOIR_ALKALINITY
        result["own_assumptions"] = result["own_assumptions"] | TARGET_FOR_RESERVOIR
    if np.isnan(target) and np.isnan(alkalinity):
        if too_acid or (kind != rows.ABSENT and reagents.IS_BASE[kind]):
            row["target_ph"] = max(profile[profiles.PH_LOW], LOWEST_TARGET)
            result["own_assumptions"] = result["own_assumptions"] | TARGET_FROM_LOW_END
        else:
            row["target_ph"] = profile[profiles.PH_HIGH]
            result["assumptions"] = result["assumptions"] | TARGET_FROM_WINDOW
        target = row["target_ph"]
    if target < LOWEST_TARGET:
        return TOO_LOW
    if kind == rows.ABSENT:
        below = ph < target
        if np.isnan(target):
            below = (
                result["starting_alkalinity_meq_per_l"] < alkalinity / CALCIUM_CARBONATE_MG_PER_MEQ
            )
        # Within the window, or below the alkalinity of a reservoir, nothing is raised unasked.
        if below and (stated or too_acid):
            row["acid_kind"] = reagents.POTASSIUM_BICARBONATE
            result["own_assumptions"] = result["own_assumptions"] | BASE_ASSUMED
        elif row["reservoir"] == 1:
            row["acid_kind"] = reagents.PHOSPHORIC
            result["own_assumptions"] = result["own_assumptions"] | RESERVOIR_ACID_ASSUMED
        else:
            row["acid_kind"] = DEFAULT_ACID
            result["assumptions"] = result["assumptions"] | ACID_ASSUMED
    if np.isnan(row["acid_percent"]):
        row["acid_percent"] = reagents.USUAL_PERCENT[row["acid_kind"]]
        result["assumptions"] = result["assumptions"] | STRENGTH_ASSUMED
    if np.isnan(row["acid_phosphorus_mg_per_l"]):
        row["acid_phosphorus_mg_per_l"] = DEFAULT_ACID_PHOSPHORUS
    return 0


@kernel
def pressure_of(row: np.void) -> float:
    """
    Pressure of carbon dioxide at which the target holds [bar], or `CLOSED`.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request.

    Returns
    -------
    float
        Partial pressure [bar], or `CLOSED`.
    """
    return ATMOSPHERIC_CARBON_DIOXIDE if row["carbon_dioxide"] == OPEN else CLOSED
