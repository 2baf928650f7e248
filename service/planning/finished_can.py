"""The finished can: contents, acid, pH, conductivity and solids, checked against the plan."""

from typing import Final

import numpy as np

from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED, buffer_capacity
from service.chemistry.equilibrium import OK as SOLVED
from service.chemistry.kernel import kernel
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.saturation import SOLID_NAMES
from service.chemistry.solution import (
    REFERENCE_TEMPERATURE,
    STATE_ALKALINITY,
    STATE_CONDUCTIVITY,
    STATE_IONIC_STRENGTH,
    STATE_PH,
    STATE_SATURATION,
    conductivity_of_total,
    predicted_state,
    speciation_of,
)
from service.planning import profiles, rows
from service.planning.acid_dose import (
    LARGEST_ACID_PHOSPHORUS,
    acid_phosphorus,
    acid_row,
    base_is_used,
)
from service.planning.can import mix
from service.planning.cautions import caution_bit, problem_number
from service.planning.ceilings import NITROGEN
from service.planning.forward_check import can_is_as_planned
from service.planning.strength import element_mass
from service.planning.water import FREEZING_POINT, TEMPERATURE, stated_alkalinity
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES, UNMEASURED

SOLIDS: Final = np.array([SOLID_NAMES.index(name) for name in rows.SOLIDS_IN_ANSWERS])
"""Places of the reported solids among the saturation indices."""

DAYS_PER_MONTH: Final = 365.25 / 12.0

ALKALINITY_ERROR: Final = 0.01
"""Error of an alkalinity that a careful measurement still has [mmol/L]; common practice."""

SPREAD_TRUSTED: Final = 0.3
"""Spread of pH up to which the buffer capacity alone tells it; above, it is computed."""

INFEASIBLE: Final = rows.STATUSES.index("infeasible")
LARGER_THAN_THE_CAN: Final = caution_bit("larger_than_the_can")
BY_ACID_PHOSPHORUS: Final = rows.BINDING_LIMITS.index("acid_phosphorus")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")
FORWARD_CHECK_FAILED: Final = problem_number("forward_check_failed")
BASE_OVER_CEILING: Final = problem_number("base_over_ceiling")


@kernel
def finish_can(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    result: np.void,
    whole: bool,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """
    Compute the can from the measured amounts: elements, acid, pH, conductivity, solids.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Holds the measured amounts; receives what the can is.
    whole : bool
        Whether the can is followed into the air too, and how far its pH is open.
    scratch : ndarray, shape (6, n_scratch)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number; 0 when the can is known and as planned.
    """
    volume = result["volume_l"]
    count = row["product_count"]
    for slot in range(count):
        scratch[4, slot] = result["amount"][slot] / volume
    water = result["water_composition_mmol_per_l"]
    stated = mix(
        water,
        row["product"][:count],
        product_table,
        scratch[4, :count],
        1.0,
        scratch[2],
        scratch[3],
    )
    for component in range(COMPONENT_COUNT):
        scratch[5, component] = scratch[2, component] - scratch[3, component]
    problem = acid_row(row, profile, result, scratch[2], scratch[0:2], work, True)
    if problem != 0:
        return problem
    composition = result["composition_mmol_per_l"]
    for component in range(COMPONENT_COUNT):
        composition[component] = scratch[2, component]
        scratch[3, component] = scratch[2, component] - scratch[5, component]
    elements = result["elements_mg_per_l"]
    for element in range(len(ELEMENT_NAMES)):
        elements[element] = element_mass(composition, element)
    state = scratch[1]
    temperature = row["water"][TEMPERATURE] + FREEZING_POINT
    if predicted_state(composition, temperature, CLOSED, True, work, state) != SOLVED:
        return NOT_SOLVABLE
    result["predicted_ph"] = state[STATE_PH]
    capacity = buffer_capacity(speciation_of(work))
    result["ionic_strength_mol_per_kg"] = state[STATE_IONIC_STRENGTH]
    result["residual_alkalinity_meq_per_l"] = state[STATE_ALKALINITY]
    for solid in range(SOLIDS.size):
        result["saturation"][solid] = state[STATE_SATURATION + SOLIDS[solid]]
    conductivity = state[STATE_CONDUCTIVITY]
    if stated > 0.0 or temperature != REFERENCE_TEMPERATURE:
        # Ions of a product with a stated conductivity are not counted twice.
        conductivity = conductivity_of_total(scratch[3], True, work) + stated
    if np.isnan(conductivity):
        return NOT_SOLVABLE
    result["predicted_ec_ms_per_cm"] = conductivity + result["unexplained_ec_ms_per_cm"]
    if whole:
        status = predicted_state(
            composition, temperature, ATMOSPHERIC_CARBON_DIOXIDE, True, work, state
        )
        if status >= NOT_CONVERGED:
            return NOT_SOLVABLE
        result["predicted_ph_open"] = state[STATE_PH]
        for solid in range(SOLIDS.size):
            result["saturation_open"][solid] = state[STATE_SATURATION + SOLIDS[solid]]
    if np.isnan(stated_alkalinity(row["water"])):
        result["predicted_ph"] = np.nan
        result["predicted_ph_open"] = np.nan
    elif whole:
        spread = 2.0 * 0.001 * ALKALINITY_ERROR / max(capacity, 1e-12)
        if spread > SPREAD_TRUSTED:
            spread = _ph_spread(composition, temperature, work, state, scratch[0])
        result["ph_spread"] = spread
    per_plant = result["volume_per_plant_ml"] / 1000.0
    result["nitrogen_mg_per_plant_per_month"] = (
        elements[NITROGEN] * per_plant * DAYS_PER_MONTH / row["interval_days"]
    )
    if _base_alone_is_too_strong(row, profile, result):
        return BASE_OVER_CEILING
    if not can_is_as_planned(row, product_table, profile, result):
        return FORWARD_CHECK_FAILED
    if volume > row["largest_can_l"] * (1.0 + 1e-9):
        result["cautions"] = result["cautions"] | LARGER_THAN_THE_CAN
    excess = acid_phosphorus(row, result) > LARGEST_ACID_PHOSPHORUS
    if excess and result["status"] != INFEASIBLE:
        result["status"] = INFEASIBLE
        result["binding_limit"] = BY_ACID_PHOSPHORUS
    return 0


@kernel
def _base_alone_is_too_strong(row: np.void, profile: np.ndarray, result: np.void) -> bool:
    """Tell whether a base, with no product to weaken, takes the can above what the plant stands."""
    if row["product_count"] > 0 or row["limited"] == 0 or not base_is_used(row, result):
        return False
    conductivity = result["predicted_ec_ms_per_cm"]
    return bool(
        conductivity > profile[profiles.EC_CEILING]
        and conductivity > result["water_ec_ms_per_cm"] * (1.0 + 1e-9)
    )


@kernel
def _ph_spread(
    composition: np.ndarray,
    temperature: float,
    work: np.ndarray,
    state: np.ndarray,
    moved: np.ndarray,
) -> float:
    """Distance of the pH at a little more alkalinity from that at a little less."""
    for component in range(COMPONENT_COUNT):
        moved[component] = composition[component]
    moved[UNMEASURED] = composition[UNMEASURED] + ALKALINITY_ERROR
    if (
        predicted_state(moved[:COMPONENT_COUNT], temperature, CLOSED, True, work, state)
        >= NOT_CONVERGED
    ):
        return np.nan
    highest = state[STATE_PH]
    moved[UNMEASURED] = composition[UNMEASURED] - ALKALINITY_ERROR
    if (
        predicted_state(moved[:COMPONENT_COUNT], temperature, CLOSED, True, work, state)
        >= NOT_CONVERGED
    ):
        return np.nan
    return float(highest - state[STATE_PH])
