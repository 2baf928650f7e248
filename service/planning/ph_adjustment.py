"""
Acid or base for a pH or for a residual alkalinity: how much, between which bounds, and what then.

The dose goes against alkalinity, with the feed in or without it as the caller mixes. The volume is
that of the finished solution: what is poured from the bottle takes the place of water.
"""

from typing import Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition, carbonate_alkalinity
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.kernel import kernel
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.saturation import SOLID_NAMES
from service.chemistry.solution import (
    STATE_COUNT,
    STATE_PH,
    STATE_SATURATION,
    predicted_state,
    speciation_of,
    workspace,
)
from service.planning import ph_adjustment_rows as ph_rows
from service.planning import products, profiles, reagents, rows
from service.planning.acid_dose import LARGEST_NEUTRALISED_SHARE, LOWEST_TARGET
from service.planning.can_cautions import (
    LARGE_ACID_SHARE,
    PH_DRIFT_NAMED,
    PH_FAR,
    SPREAD_NAMED,
    reads_like_degrees,
)
from service.planning.catalogue import Catalogue
from service.planning.cautions import caution_bit, problem_number
from service.planning.defaults import fill_can_defaults
from service.planning.ph_adjustment_rows import own_caution
from service.planning.ph_range import fill_range
from service.planning.ph_target import counted_feed, fill_feed, fill_start, pressure_of
from service.planning.reagent_dose import fill_dose
from service.planning.strength import element_mass
from service.planning.water import (
    FREEZING_POINT,
    TEMPERATURE,
    stated_alkalinity,
    water_row,
)
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

STATUS_OK: Final = rows.STATUSES.index("ok")
INFEASIBLE: Final = rows.STATUSES.index("infeasible")
PH_REJECTED: Final = rows.STATUSES.index("rejected")
BEFORE_FEED: Final = ph_rows.ACID_PLACES.index("before_feed")
PHOSPHORUS: Final = ELEMENT_NAMES.index("phosphorus")
SOLIDS: Final = np.array([SOLID_NAMES.index(name) for name in rows.SOLIDS_IN_ANSWERS])

EDGE_NAMED: Final = 1e-4
"""Distance from the plant's window, beyond that of a target met, from which a pH is at its edge."""

HIGHEST_PH: Final = 9.0
"""pH above which a base is refused; common practice."""

FORWARD_PH: Final = 0.01
FORWARD_ALKALINITY: Final = 1e-6
"""Distance from the target, computed again, at which no answer is given [pH, meq/L]."""

SCRATCH_ROWS: Final = 8
ACID_HANDLING: Final = caution_bit("acid_handling")
BASE_HANDLING: Final = caution_bit("base_handling")
CAUSTIC: Final = own_caution("base_is_caustic")
STORAGE: Final = own_caution("acid_storage")
RESTRICTED: Final = own_caution("acid_restricted")
NOT_NEEDED: Final = own_caution("no_acid_needed")
CITRIC_FADES: Final = own_caution("citric_does_not_last")
BY_ALKALINITY: Final = own_caution("reservoir_by_alkalinity")
PHOSPHORUS_HIGH: Final = own_caution("acid_phosphorus_high")
ACID_FIRST: Final = own_caution("acid_before_feed")
PRE_DILUTION: Final = caution_bit("acid_pre_dilution")
PRE_STOCK: Final = caution_bit("pre_stock")
NOTHING_TO_MEASURE: Final = caution_bit("nothing_to_measure")
PH_OUTSIDE: Final = caution_bit("ph_outside_window")
PH_AT_EDGE: Final = caution_bit("ph_at_edge_of_window")
MAY_BE_DEGREES: Final = caution_bit("alkalinity_may_be_degrees")
ACID_LARGE: Final = caution_bit("acid_share_large")
PH_DRIFTS: Final = caution_bit("ph_drifts_in_air")
PH_UNCERTAIN: Final = caution_bit("ph_uncertain")
FORMS_UNKNOWN: Final = caution_bit("forms_of_nitrogen_unknown")
FIRST_SOLID: Final = caution_bit("gypsum_may_form")
FIRST_SOLID_OPEN: Final = caution_bit("gypsum_may_form_open")
TOO_LOW: Final = problem_number("acid_target_too_low")
ALKALINITY_MISSING: Final = problem_number("acid_alkalinity_unknown")
TOO_MUCH: Final = problem_number("acid_neutralises_too_much")
RAISES_TOO_FAR: Final = problem_number("base_raises_too_far")
OVERSHOOTS: Final = problem_number("acid_overshoots_with_feed")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")
FORWARD_CHECK_FAILED: Final = problem_number("forward_check_failed")


@kernel
def ph_adjustment_row(
    row: np.void,
    product_table: np.ndarray,
    plant_profiles: np.ndarray,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """
    Plan one adjustment.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request; defaults are filled in where it is silent.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Receives the plan and its intermediates.
    scratch : ndarray, shape (8, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number, 0 when the row has an answer.
    """
    fill_can_defaults(row, result)
    profile = plant_profiles[row["profile"]]
    if np.isnan(stated_alkalinity(row["water"])):
        return ALKALINITY_MISSING
    problem = water_row(row, profile, result, scratch, work)
    if problem != 0:
        return problem
    problem = fill_feed(row, product_table, result, scratch)
    if problem != 0:
        return problem
    return adjusted_solution(row, product_table, profile, result, scratch, work)


@kernel
def adjusted_solution(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """
    Plan the adjustment of a solution whose water and feed are known as components.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request; defaults are filled in where it is silent.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Holds the compositions of water and feed; receives the plan and its intermediates.
    scratch : ndarray, shape (8, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number, 0 when the row has an answer.
    """
    problem = fill_start(row, profile, result, scratch, work)
    if problem != 0:
        return problem
    problem = fill_dose(row, result, scratch, work)
    if problem != 0:
        return problem
    problem = _finish(row, profile, result, scratch, work)
    if problem != 0:
        return problem
    fill_range(row, result, scratch, work)
    _cautions(row, product_table, profile, result)
    return 0


@kernel
def _finish(
    row: np.void, profile: np.ndarray, result: np.void, scratch: np.ndarray, work: np.ndarray
) -> int:
    """Compute the can with the acid in, refuse what is unsafe, and check the target again."""
    kind = row["acid_kind"]
    amount = result["acid_mmol_per_l"]
    composition = result["composition_mmol_per_l"]
    state, carbonate = scratch[0], 0.0
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    before = scratch[1]
    counted_feed(row, result, before)
    for component in range(COMPONENT_COUNT):
        before[component] += result["water_composition_mmol_per_l"][component]
    if predicted_state(before, temperature, CLOSED, False, work, state) >= NOT_CONVERGED:
        return NOT_SOLVABLE
    carbonate = carbonate_alkalinity(speciation_of(work))
    if predicted_state(composition, temperature, CLOSED, False, work, state) >= NOT_CONVERGED:
        return NOT_SOLVABLE
    result["ph_after_acid"] = state[STATE_PH]
    start = result["starting_alkalinity_meq_per_l"]
    if not reagents.IS_BASE[kind]:
        # What a product brings or takes counts too: silicate adds alkalinity, an acid salt took it.
        held = max(start, stated_alkalinity(row["water"]))
        left = start + alkalinity_of_composition(reagents.COMPOSITION[kind]) * amount
        share = 0.0
        if amount > 0.0:
            share = 1.0 - left / held if held > 0.0 else 1.0
        if kind == reagents.CITRIC and amount > 0.0 and carbonate > 0.0:
            # Citrate counts as alkalinity in a titration, but it does not last.
            share = 1.0 - carbonate_alkalinity(speciation_of(work)) / carbonate
        result["neutralised_percent"] = 100.0 * share
        if share > LARGEST_NEUTRALISED_SHARE * (1.0 + 1e-9):
            return TOO_MUCH
        if amount > 0.0 and result["ph_after_acid"] < LOWEST_TARGET - FORWARD_PH:
            return TOO_LOW
    elif amount > 0.0 and result["ph_after_acid"] > HIGHEST_PH + FORWARD_PH:
        return RAISES_TOO_FAR
    problem = _forward_check(row, result, state, scratch, work)
    if problem != 0:
        return problem
    if row["acid_goes"] == BEFORE_FEED:
        for component in range(COMPONENT_COUNT):
            composition[component] += result["feed_composition_mmol_per_l"][component]
    result["residual_alkalinity_meq_per_l"] = alkalinity_of_composition(composition)
    for element in range(len(ELEMENT_NAMES)):
        result["added_mg_per_l"][element] = amount * element_mass(
            reagents.COMPOSITION[kind], element
        )
    result["acid_phosphorus_brought_mg_per_l"] = result["added_mg_per_l"][PHOSPHORUS]
    if predicted_state(composition, temperature, CLOSED, False, work, state) >= NOT_CONVERGED:
        return NOT_SOLVABLE
    result["predicted_ph"] = state[STATE_PH]
    for solid in range(SOLIDS.size):
        result["saturation"][solid] = state[STATE_SATURATION + SOLIDS[solid]]
    if (
        amount > 0.0
        and not reagents.IS_BASE[kind]
        and result["predicted_ph"] < LOWEST_TARGET - FORWARD_PH
    ):
        return OVERSHOOTS
    status = predicted_state(
        composition, temperature, ATMOSPHERIC_CARBON_DIOXIDE, False, work, state
    )
    if status >= NOT_CONVERGED:
        return NOT_SOLVABLE
    result["predicted_ph_open"] = state[STATE_PH]
    for solid in range(SOLIDS.size):
        result["saturation_open"][solid] = state[STATE_SATURATION + SOLIDS[solid]]
    return 0


@kernel
def _forward_check(
    row: np.void, result: np.void, state: np.ndarray, scratch: np.ndarray, work: np.ndarray
) -> int:
    """Compare the acidified solution with the target; a plan that misses it is not given."""
    if not result["acid_mmol_per_l"] > 0.0:
        return 0
    composition = result["composition_mmol_per_l"]
    wanted = row["target_alkalinity_mg_per_l_caco3"] / CALCIUM_CARBONATE_MG_PER_MEQ
    if not np.isnan(wanted):
        difference = alkalinity_of_composition(composition) - wanted
        return 0 if abs(difference) < FORWARD_ALKALINITY * (1.0 + wanted) else FORWARD_CHECK_FAILED
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    if (
        predicted_state(composition, temperature, pressure_of(row), False, work, state)
        >= NOT_CONVERGED
    ):
        return NOT_SOLVABLE
    difference = state[STATE_PH] - row["target_ph"]
    return 0 if abs(difference) < FORWARD_PH else FORWARD_CHECK_FAILED


@kernel
def _cautions(
    row: np.void, product_table: np.ndarray, profile: np.ndarray, result: np.void
) -> None:
    """Set the cautions, and the status where the acid brings too much phosphorus."""
    bits = result["cautions"]
    own = result["own_cautions"]
    kind = row["acid_kind"]
    amount = result["acid_mmol_per_l"]
    result["status"] = STATUS_OK
    if amount > 0.0:
        own |= STORAGE
        if reagents.IS_BASE[kind]:
            bits |= BASE_HANDLING
            own |= CAUSTIC
        else:
            bits |= ACID_HANDLING
        if row["acid_percent"] > reagents.RESTRICTED_ABOVE[kind]:
            own |= RESTRICTED
        if result["acid_dilution_factor"] > 1.0:
            bits |= PRE_DILUTION
        if result["pre_solution_g_per_l"] > 0.0:
            bits |= PRE_STOCK
        if not (result["dose_volume_ml"] > 0.0 or result["dose_mass_g"] > 0.0):
            bits |= NOTHING_TO_MEASURE
        if kind == reagents.CITRIC and row["reservoir"] == 1:
            own |= CITRIC_FADES
        if row["acid_goes"] == BEFORE_FEED and row["product_count"] > 0:
            own |= ACID_FIRST
    else:
        own |= NOT_NEEDED
    if row["reservoir"] == 1 and np.isnan(row["target_alkalinity_mg_per_l_caco3"]):
        own |= BY_ALKALINITY
    if result["acid_phosphorus_brought_mg_per_l"] > row["acid_phosphorus_mg_per_l"]:
        # Nothing of it is to be poured, so nothing is said of how to measure it.
        own |= PHOSPHORUS_HIGH
        bits &= ~(PRE_DILUTION | PRE_STOCK | NOTHING_TO_MEASURE)
        result["status"] = INFEASIBLE
    for solid in range(len(rows.SOLIDS_IN_ANSWERS)):
        if result["saturation"][solid] > 0.0:
            bits |= FIRST_SOLID << np.uint64(solid)
        elif result["saturation_open"][solid] > 0.0:
            bits |= FIRST_SOLID_OPEN << np.uint64(solid)
    for slot in range(row["product_count"]):
        if product_table[row["product"][slot]][products.FORMS_UNKNOWN] == 1.0:
            bits |= FORMS_UNKNOWN
    ph = result["predicted_ph"]
    beyond = max(profile[profiles.PH_LOW] - ph, ph - profile[profiles.PH_HIGH])
    if beyond > PH_FAR:
        bits |= PH_OUTSIDE
    elif beyond > EDGE_NAMED:
        bits |= PH_AT_EDGE
    if abs(result["predicted_ph_open"] - ph) > PH_DRIFT_NAMED:
        bits |= PH_DRIFTS
    if result["ph_spread"] > SPREAD_NAMED:
        bits |= PH_UNCERTAIN
    if reads_like_degrees(row["water"], result):
        bits |= MAY_BE_DEGREES
    if result["acid_volume_ml"] > LARGE_ACID_SHARE * 1000.0 * row["volume_l"]:
        bits |= ACID_LARGE
    result["cautions"] = bits
    result["own_cautions"] = own


@kernel
def adjust_rows(
    requests: np.ndarray,
    product_table: np.ndarray,
    plant_profiles: np.ndarray,
    results: np.ndarray,
    work: np.ndarray,
) -> None:
    """
    Plan many adjustments, each on its own; a row without an answer disturbs no other.

    Parameters
    ----------
    requests : ndarray of `ph_adjustment_rows.PH_REQUEST`, shape (n_rows,)
        The requests; defaults are filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    results : ndarray of `ph_adjustment_rows.PH_RESULT`, shape (n_rows,)
        Receives the plans.
    work : ndarray
        Workspace of `service.chemistry.solution`, one per thread.
    """
    scratch = np.empty((SCRATCH_ROWS, max(COMPONENT_COUNT, STATE_COUNT)))
    for index in range(requests.size):
        result = results[index]
        problem = ph_adjustment_row(
            requests[index], product_table, plant_profiles, result, scratch, work
        )
        result["problem"] = problem
        if problem != 0:
            result["status"] = PH_REJECTED


def adjust(requests: np.ndarray, results: np.ndarray, catalogue: Catalogue) -> None:
    """
    Plan adjustments on the calling thread.

    Parameters
    ----------
    requests : ndarray of `ph_adjustment_rows.PH_REQUEST`, shape (n_rows,)
        The requests; defaults are filled in.
    results : ndarray of `ph_adjustment_rows.PH_RESULT`, shape (n_rows,)
        Receives the plans; assumption and caution bits that are set stay set.
    catalogue : Catalogue
        Knows the products and profiles that the rows name.
    """
    adjust_rows(requests, catalogue.product_table, catalogue.profile_table, results, workspace())
