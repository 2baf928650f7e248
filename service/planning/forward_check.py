"""
The finished can held against the request and against its ceilings, before it is given to anybody.

Nothing of the plan is taken over but the measured amounts: what they bring is computed from the
table of products, what the can may hold from the targets.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import products, profiles, rows
from service.planning.ceilings import (
    MICRONUTRIENT_ELEMENTS,
    conductivity_ceiling,
    reduced_nitrogen_mass,
)
from service.planning.strength import (
    BY_CONDUCTIVITY,
    BY_ELEMENT,
    BY_METER,
    NITROGEN,
    counts_whole_can,
    element_mass,
)
from service.planning.targets import DOSING_SCALE
from service.reference.components import COMPONENT_COUNT

INFEASIBLE: Final = rows.STATUSES.index("infeasible")

CEILING_SLACK: Final = 0.002
"""
Relative excess over a ceiling that is still called keeping it: the acid of the rounded amounts
differs a little from that of the exact ones.
"""

STRENGTH_TOLERANCE: Final = 0.01
"""Relative difference from the strength asked for, beside one step of the instrument."""


class UnconfirmedError(ArithmeticError):
    """A result that computing it forward does not confirm; it must not be given as an answer."""


@kernel
def can_is_as_planned(
    row: np.void, product_table: np.ndarray, profile: np.ndarray, result: np.void
) -> bool:
    """
    Tell whether a finished can keeps its ceilings and has the strength that it should have.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        The finished can.

    Returns
    -------
    bool
        False for a can that must not be given as an answer.
    """
    if not np.isfinite(result["predicted_ec_ms_per_cm"]):
        return False
    for slot in range(row["product_count"]):
        if not (0.0 <= result["amount"][slot] < np.inf):
            return False
    if not _adds_up(row, product_table, result):
        return False
    bound = row["limited"] == 1 and row["product_count"] > 0 and result["status"] != INFEASIBLE
    if bound and not keeps_ceilings(row, product_table, profile, result, row, result):
        return False
    for slot in range(row["product_count"]):
        if not _has_strength(row, slot, product_table, result):
            return False
    return True


@kernel
def _adds_up(row: np.void, product_table: np.ndarray, result: np.void) -> bool:
    """Tell whether each element of the can is what water and products bring, acid aside."""
    for position in range(result["elements_mg_per_l"].size):
        held = result["elements_mg_per_l"][position]
        brought = element_mass(result["water_composition_mmol_per_l"], position)
        for slot in range(row["product_count"]):
            product = product_table[row["product"][slot]]
            per_litre = result["amount"][slot] / result["volume_l"]
            brought += per_litre * element_mass(product[:COMPONENT_COUNT], position)
        slack = STRENGTH_TOLERANCE * brought + 1e-9
        if not held >= brought - slack:
            return False
        if not held <= brought + slack and not result["acid_mmol_per_l"] > 0.0:
            return False
    return True


@kernel
def keeps_ceilings(
    row: np.void,
    product_table: np.ndarray,
    profile: np.ndarray,
    own: np.void,
    mixed: np.void,
    can: np.void,
) -> bool:
    """
    Tell whether a can is under every ceiling of a row, water and acid included.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The plants and their air, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    own : record of `rows.DOSE_RESULT`
        The ceilings of the row.
    mixed : record of `rows.DOSE_REQUEST`
        The request of the can: the row itself, or one that shares its can.
    can : record of `rows.DOSE_RESULT`
        The finished can.

    Returns
    -------
    bool
        False for a can that is too strong for these plants.
    """
    slack = 1.0 + CEILING_SLACK
    composition = can["composition_mmol_per_l"]
    if not element_mass(composition, NITROGEN) <= slack * own["nitrogen_ceiling_mg_per_l"]:
        return False
    if not reduced_nitrogen_mass(composition) <= slack * own["ammonium_ceiling_mg_per_l"]:
        return False
    for position in range(MICRONUTRIENT_ELEMENTS.size):
        held = element_mass(composition, MICRONUTRIENT_ELEMENTS[position])
        if not held <= slack * profile[profiles.FIRST_MICRONUTRIENT_MAXIMUM + position]:
            return False
    for slot in range(mixed["product_count"]):
        rate = product_table[mixed["product"][slot]][products.RATE_CAP]
        if rate > 0.0 and not can["amount"][slot] <= slack * rate * can["volume_l"]:
            return False
    ceiling = conductivity_ceiling(row, product_table, profile, own)
    return bool(can["predicted_ec_ms_per_cm"] <= slack * ceiling)


@kernel
def _step(row: np.void, slot: int, product: np.ndarray, result: np.void) -> float:
    """Amount of one product in one step of the instrument that measures it, per litre of can."""
    strength = result["pre_stock_g_per_l"][slot]
    if strength > 0.0:
        step = row["syringe_resolution_ml"] * strength / 1000.0
    elif product[products.IS_LIQUID] == 1.0:
        step = row["syringe_resolution_ml"]
    else:
        step = row["balance_resolution_g"]
    return float(step / result["volume_l"])


@kernel
def _has_strength(row: np.void, slot: int, product_table: np.ndarray, result: np.void) -> bool:
    """Tell whether one product reaches its strength, as far as the ceilings let it."""
    basis = row["strength_basis"][slot]
    product = product_table[row["product"][slot]]
    value = row["strength_value"][slot]
    share = result["share_of_requested"]
    step = _step(row, slot, product, result)
    if basis == BY_ELEMENT:
        content = element_mass(product[:COMPONENT_COUNT], row["strength_element"][slot])
        wanted = share * (value - result["credited_g_per_l"][slot] * content)
        held = content * result["amount"][slot] / result["volume_l"]
        return bool(abs(held - wanted) <= STRENGTH_TOLERANCE * value + content * step)
    if basis not in (BY_CONDUCTIVITY, BY_METER) or not counts_whole_can(row, slot):
        return True
    if share < 1.0 or result["requested_g_per_l"][slot] == 0.0:
        return True
    if basis == BY_METER:
        scale = row["strength_scale"][slot]
        value /= DOSING_SCALE if np.isnan(scale) else scale
    allowed = STRENGTH_TOLERANCE * value
    for other in range(row["product_count"]):
        # The other products are rounded too, and this one was fitted beside their exact amounts.
        # A step brings most where the can is dilute.
        each = product_table[row["product"][other]]
        allowed += _step(row, other, each, result) * each[products.DILUTE_CONDUCTIVITY_SLOPE]
    return bool(abs(result["predicted_ec_ms_per_cm"] - value) <= allowed)
