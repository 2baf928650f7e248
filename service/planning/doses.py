"""
The mixing card of one row: water, ceilings, amounts, acid and what the can will be.

`plan_rows` is the whole plan of doses and dilutions as one compiled kernel. It lets go of the
interpreter, so that a batch runs on several threads.
"""

import threading
import time
from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.chemistry.solution import (
    STATE_COUNT,
    conductivity_of_total,
    workspace,
)
from service.planning import products, rows
from service.planning.acid_dose import acid_is_wanted, acid_row
from service.planning.air_cautions import air_cautions
from service.planning.can import mix
from service.planning.can_cautions import can_cautions
from service.planning.catalogue import Catalogue
from service.planning.cautions import assumption_bit, caution_bit, problem_number
from service.planning.ceilings import (
    BY_RATE,
    BY_REQUEST,
    feasible_water_share,
    share_within_ceilings,
)
from service.planning.defaults import fill_can_defaults, fill_plant_defaults
from service.planning.finished_can import FORWARD_CHECK_FAILED, finish_can
from service.planning.measuring import measure_amounts
from service.planning.strength import requested_amounts
from service.planning.targets import (
    TARGET_OK,
    apply_application,
    humidity_is_a_fraction,
    target_row,
)
from service.planning.volumes import fill_volume
from service.planning.watching import report
from service.planning.water import water_row
from service.reference.components import COMPONENT_COUNT

OK: Final = rows.STATUSES.index("ok")
INFEASIBLE: Final = rows.STATUSES.index("infeasible")
REJECTED: Final = rows.STATUSES.index("rejected")

FEED: Final = rows.APPLICATIONS.index("feed")
SUPPLEMENT: Final = rows.APPLICATIONS.index("supplement")
STIMULANT: Final = rows.APPLICATIONS.index("stimulant")
FLUSH: Final = rows.APPLICATIONS.index("flush")
AUTO: Final = rows.APPLICATIONS.index("auto")


LEAST_ACID_PASSES: Final = 2
MOST_ACID_PASSES: Final = 12
SETTLED: Final = 1e-4
SETTLED_STRENGTH: Final = 1e-3
"""
Rounds of amounts and acid until the amounts settle, as a share of them: acid or base depends on
the feed, and what it brings takes its part of the ceilings and of a strength of the whole can.
A strength asked for is kept to the second, a tenth of what `forward_check` allows.
"""

MOST_FITS: Final = 2
"""Times that the amounts are fitted to an acid or base that is weighed in whole steps."""

ROUNDING: Final = 1e-12
"""Share of an amount below which a difference of amounts is none."""

SCRATCH_ROWS: Final = 6


AIR_OUT_OF_RANGE: Final = problem_number("air_out_of_range")
HUMIDITY_FRACTION: Final = problem_number("humidity_looks_like_a_fraction")
PRODUCT_MISSING: Final = problem_number("product_missing")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")
NOT_SETTLED: Final = problem_number("amounts_do_not_settle")
STRENGTH_NEEDED: Final = problem_number("strength_needed")

STRENGTH_REDUCED: Final = caution_bit("strength_reduced")
INFEASIBLE_WATER: Final = caution_bit("infeasible_water")

PLAIN_WATER: Final = caution_bit("flush_is_plain_water")
APPLICATION_CHOSEN: Final = assumption_bit("application_chosen")


@kernel
def _fill_in(row: np.void, product_table: np.ndarray, result: np.void) -> int:
    """Fill in what a request leaves open; tell a problem that shows without any chemistry."""
    fill_plant_defaults(row, result)
    fill_can_defaults(row, result)
    _choose_application(row, product_table, result)
    if row["product_count"] == 0 and row["application"] != FLUSH:
        return PRODUCT_MISSING
    if humidity_is_a_fraction(row):
        return HUMIDITY_FRACTION
    return int(fill_volume(row, result))


@kernel
def _water_and_targets(
    row: np.void, plant_profiles: np.ndarray, result: np.void, scratch: np.ndarray, work: np.ndarray
) -> int:
    """Find what the water is, and how strong plants and air let a feed be."""
    problem = water_row(row, plant_profiles[row["profile"]], result, scratch, work)
    if problem != 0:
        return int(problem)
    if (
        row["limited"] == 1
        and target_row(row, plant_profiles, result) != TARGET_OK
        and row["application"] != FLUSH
    ):
        return AIR_OUT_OF_RANGE
    return 0


@kernel
def _mix_can(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    whole: bool,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """Find amounts and acid, and what the can is; see `finish_can` for `whole`."""
    base = result["base_composition_mmol_per_l"]
    for component in range(COMPONENT_COUNT):
        base[component] = result["water_composition_mmol_per_l"][component]
    factor = 1.0
    # Amounts in units of the first that were asked for: with acid or base less may be left to add.
    unit, credited, credited_before, amount_before = 0.0, 0.0, 0.0, 0.0
    passes = MOST_ACID_PASSES if acid_is_wanted(row) else 1
    settled = passes == 1
    for turn in range(passes):
        problem = requested_amounts(row, product_table, result, scratch, work)
        if problem != 0:
            return problem
        before = factor if turn > 0 else np.nan
        factor = _share(row, product_table, profile, result, before, scratch, work)
        if np.isnan(factor):
            return STRENGTH_NEEDED if result["binding_limit"] == BY_RATE else NOT_SOLVABLE
        asked = _asked_for(row, result)
        unit = unit if unit > 0.0 else asked
        amount = factor * asked / unit if unit > 0.0 else 0.0
        allowed = SETTLED_STRENGTH if result["binding_limit"] == BY_REQUEST else SETTLED
        if turn + 1 >= LEAST_ACID_PASSES and abs(amount - credited) <= allowed * amount:
            settled = True
            break
        if turn + 1 < passes:
            following = _next_amount(credited_before, amount_before, credited, amount, turn)
            credited_before, amount_before, credited = credited, amount, following
            share = credited * unit / asked if asked > 0.0 else 0.0
            problem = _credit_acid(row, product_table, profile, share, result, scratch, work)
            if problem != 0:
                return problem
    if not settled:
        return NOT_SETTLED
    result["share_of_requested"] = factor
    measure_amounts(row, product_table, factor, result)
    problem = finish_can(row, product_table, profile, result, whole, scratch, work)
    for _ in range(MOST_FITS):
        if problem != FORWARD_CHECK_FAILED or not acid_is_wanted(row):
            break
        problem = _fit_to_reagent(row, product_table, profile, result, whole, scratch, work)
    return int(problem)


@kernel
def _fit_to_reagent(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    whole: bool,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """
    Fit the amounts to the acid or base as it was measured, and finish the can again.

    Crystals are weighed in whole steps of the balance: what is poured may be far from what the
    exact amounts were found beside.
    """
    base = result["base_composition_mmol_per_l"]
    for component in range(COMPONENT_COUNT):
        held = result["composition_mmol_per_l"][component]
        left = held
        for slot in range(row["product_count"]):
            content = product_table[row["product"][slot], component]
            left -= content * result["amount"][slot] / result["volume_l"]
        # What the products alone bring leaves nothing, not the rounding of the difference.
        base[component] = left if abs(left) > ROUNDING * abs(held) else 0.0
    # Searches go on from the last can, which may be far from this one: they begin anew here.
    if np.isnan(conductivity_of_total(base, False, work)):
        return NOT_SOLVABLE
    problem = requested_amounts(row, product_table, result, scratch, work)
    if problem != 0:
        return int(problem)
    factor = _share(
        row, product_table, profile, result, result["share_of_requested"], scratch, work
    )
    if np.isnan(factor):
        return NOT_SOLVABLE
    result["share_of_requested"] = factor
    measure_amounts(row, product_table, factor, result)
    return int(finish_can(row, product_table, profile, result, whole, scratch, work))


@kernel
def _choose_application(row: np.void, product_table: np.ndarray, result: np.void) -> None:
    """Let the products say what an open application is; leave products out of a flush."""
    if row["application"] == AUTO and row["product_count"] > 0:
        chosen = STIMULANT
        for slot in range(row["product_count"]):
            product = product_table[row["product"][slot]]
            if product[products.IS_STIMULANT] == 1.0:
                continue
            if product[products.IS_SUPPLEMENT] == 1.0:
                chosen = SUPPLEMENT if chosen == STIMULANT else chosen
            else:
                chosen = FEED
        row["application"] = chosen
        result["assumptions"] = result["assumptions"] | APPLICATION_CHOSEN
    if row["application"] == FLUSH and row["product_count"] > 0:
        row["product_count"] = 0
        result["cautions"] = result["cautions"] | PLAIN_WATER


@kernel
def _share(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    before: float,
    scratch: np.ndarray,
    work: np.ndarray,
) -> float:
    """Factor on the requested amounts that the ceilings leave, and what follows from it."""
    result["binding_limit"] = BY_REQUEST
    if row["limited"] == 0 or row["product_count"] == 0:
        return 1.0
    factor = share_within_ceilings(row, product_table, profile, result, before, scratch, work)
    result["status"] = OK
    result["cautions"] = result["cautions"] & ~(STRENGTH_REDUCED | INFEASIBLE_WATER)
    result["feasible_water_share_percent"] = np.nan
    if factor == 0.0:
        result["status"] = INFEASIBLE
        result["cautions"] = result["cautions"] | INFEASIBLE_WATER
        result["feasible_water_share_percent"] = feasible_water_share(
            profile, row, product_table, result, scratch, work
        )
    elif factor < 1.0 - 1e-9 and row["strength_basis"][0] != rows.ABSENT:
        result["cautions"] = result["cautions"] | STRENGTH_REDUCED
    return factor


@kernel
def _asked_for(row: np.void, result: np.void) -> float:
    """Sum of the amounts that are asked for, or of the unit that an open amount is counted in."""
    total = 0.0
    for slot in range(row["product_count"]):
        total += result["requested_g_per_l"][slot]
    return total


@kernel
def _next_amount(
    credited_before: float, amount_before: float, credited: float, amount: float, turn: int
) -> float:
    """Amount whose acid is credited next: where amount and acid agree, by the last two rounds."""
    if turn == 0 or credited == credited_before:
        return amount
    slope = (amount - amount_before) / (credited - credited_before)
    if not slope < 0.9:
        return amount
    return max((amount - slope * credited) / (1.0 - slope), 0.0)


@kernel
def _credit_acid(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    factor: float,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """Add the acid that these amounts need to the base that the next round starts from."""
    count = row["product_count"]
    water = result["water_composition_mmol_per_l"]
    mix(
        water,
        row["product"][:count],
        product_table,
        result["requested_g_per_l"][:count],
        factor,
        scratch[2],
        scratch[3],
    )
    for component in range(COMPONENT_COUNT):
        scratch[5, component] = scratch[2, component]
    problem = acid_row(row, profile, result, scratch[2], scratch[3:5], work, False)
    base = result["base_composition_mmol_per_l"]
    for component in range(COMPONENT_COUNT):
        base[component] = water[component] + scratch[2, component] - scratch[5, component]
    return problem


@kernel
def plan_rows(
    requests: np.ndarray,
    same_water: np.ndarray,
    whole: bool,
    product_table: np.ndarray,
    plant_profiles: np.ndarray,
    results: np.ndarray,
    work: np.ndarray,
) -> None:
    """
    Plan many rows, each on its own; a row that has no answer is marked and disturbs no other.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        The requests; defaults are filled in.
    same_water : ndarray of bool, shape (n_rows,)
        Whether a row is the one before with other products of the same kinds: water and ceilings
        are then taken over.
    whole : bool
        Whether everything is found that an answer tells. Bounds need neither solids and pH of the
        aired can, nor the spread of the pH, nor cautions.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    plant_profiles : ndarray, shape (n_profiles, n_profile_columns)
        Table of `service.planning.profiles`.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Receives the plans.
    work : ndarray
        Workspace of `service.chemistry.solution`, one per thread.
    """
    scratch = np.empty((SCRATCH_ROWS, max(COMPONENT_COUNT, STATE_COUNT)))
    begun = np.empty_like(results[:1])
    known = False
    for index in range(requests.size):
        row = requests[index]
        taken_over = same_water[index] and known
        if taken_over:
            results[index] = begun[0]
        result = results[index]
        problem = _fill_in(row, product_table, result)
        if problem == 0 and not taken_over:
            problem = _water_and_targets(row, plant_profiles, result, scratch, work)
            if not whole:
                begun[0] = result
                known = problem == 0
        if problem == 0:
            profile = plant_profiles[row["profile"]]
            problem = _mix_can(row, product_table, profile, result, whole, scratch, work)
            if problem == 0 and whole:
                can_cautions(row, product_table, profile, result)
        result["problem"] = problem
        if problem != 0:
            result["status"] = REJECTED


_of_thread: Final = threading.local()


def own_workspace() -> np.ndarray:
    """
    Return the workspace of the calling thread, made at its first plan.

    Returns
    -------
    ndarray
        Workspace of `service.chemistry.solution`; nothing that it holds changes a plan.
    """
    found: np.ndarray | None = getattr(_of_thread, "workspace", None)
    if found is None:
        found = _of_thread.workspace = workspace()
    return found


def plan_targets(requests: np.ndarray, results: np.ndarray, catalogue: Catalogue) -> None:
    """
    Find the ceilings of rows without planning a can.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Plants and air; defaults are filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Receives deficits, strengths and ceilings.
    catalogue : Catalogue
        Knows the profiles that the rows name.
    """
    for index in range(requests.size):
        fill_plant_defaults(requests[index], results[index])
        problem = 0
        if humidity_is_a_fraction(requests[index]):
            problem = HUMIDITY_FRACTION
        elif target_row(requests[index], catalogue.profile_table, results[index]) != TARGET_OK:
            problem = AIR_OUT_OF_RANGE
        else:
            apply_application(requests[index], catalogue.profile_table, results[index])
            profile = catalogue.profile_table[requests[index]["profile"]]
            said = air_cautions(requests[index], profile, results[index])
            results[index]["cautions"] |= said
        if problem != 0:
            results[index]["problem"] = problem
            results[index]["status"] = REJECTED


def plan(requests: np.ndarray, results: np.ndarray, catalogue: Catalogue) -> None:
    """
    Plan rows on the calling thread.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        The requests; defaults are filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Receives the plans; assumption and caution bits that are set stay set.
    catalogue : Catalogue
        Knows the products and profiles that the rows name.
    """
    began = time.perf_counter()
    each = np.zeros(requests.size, dtype=bool)
    tables = catalogue.product_table, catalogue.profile_table
    plan_rows(requests, each, True, *tables, results, own_workspace())
    report(results, time.perf_counter() - began)
