"""
The rows that the planner of pH adjustments reads and writes.

The names that it shares with `service.planning.rows` mean the same, so that the kernels of the
water and of the defaults take these records as they take those of a dose.
"""

from typing import Final

import numpy as np

from service.planning.rows import (
    MAXIMUM_PRODUCTS,
    SOLIDS_IN_ANSWERS,
    WATER_FIELDS,
    absent_rows,
    open_rows,
)
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES

ACID_PLACES: Final = ("after_feed", "before_feed")
CARBON_DIOXIDE: Final = ("closed", "open")
RANGE_REASONS: Final = (
    "titration",
    "analysis_incomplete",
    "water_ph_unknown",
    "calcium_unknown",
    "little_buffer",
)
"""Why the amount, or the pH, is a range; the position is the bit of `range_reasons`."""

CAUTIONS: Final = (
    "base_is_caustic",
    "acid_storage",
    "acid_restricted",
    "no_acid_needed",
    "citric_does_not_last",
    "reservoir_by_alkalinity",
    "acid_phosphorus_high",
    "acid_before_feed",
)
"""Cautions of adjustments alone; the position is the bit of `own_cautions`."""

ASSUMPTIONS: Final = (
    "acid_goes_after_feed",
    "carbon_dioxide_closed",
    "target_ph_from_window_low",
    "target_alkalinity_for_reservoir",
    "acid_assumed_for_reservoir",
    "base_assumed",
)
"""Assumptions of adjustments alone; the position is the bit of `own_assumptions`."""

_float = np.float64
_code = np.int64

PH_REQUEST: Final = np.dtype(
    [
        ("profile", _code),
        ("water", _float, (len(WATER_FIELDS),)),
        ("volume_l", _float),
        ("target_ph", _float),
        ("target_alkalinity_mg_per_l_caco3", _float),
        ("acid_kind", _code),
        ("acid_percent", _float),
        ("acid_goes", _code),
        ("carbon_dioxide", _code),
        ("reservoir", _code),
        ("acid_phosphorus_mg_per_l", _float),
        ("product_count", _code),
        ("product", _code, (MAXIMUM_PRODUCTS,)),
        ("addition_per_l", _float, (MAXIMUM_PRODUCTS,)),
        ("addition_by_volume", _code, (MAXIMUM_PRODUCTS,)),
        ("balance_resolution_g", _float),
        ("syringe_resolution_ml", _float),
        ("largest_can_l", _float),
    ]
)
"""What one adjustment is computed from; water columns follow `WATER_FIELDS`."""

PH_RESULT: Final = np.dtype(
    [
        ("status", _code),
        ("problem", _code),
        ("cautions", np.uint64),
        ("assumptions", np.uint64),
        ("own_cautions", np.uint64),
        ("own_assumptions", np.uint64),
        # water
        ("water_composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        ("water_ec_ms_per_cm", _float),
        ("water_nitrogen_mg_per_l", _float),
        ("water_alkalinity_mg_per_l_caco3", _float),
        ("water_charge_error_percent", _float),
        ("unexplained_ec_ms_per_cm", _float),
        # feed
        ("amount_per_l", _float, (MAXIMUM_PRODUCTS,)),
        ("feed_composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        # the dose
        ("starting_ph", _float),
        ("starting_alkalinity_meq_per_l", _float),
        ("acid_mmol_per_l", _float),
        ("acid_mass_g", _float),
        ("acid_volume_ml", _float),
        ("neutralised_percent", _float),
        ("acid_phosphorus_brought_mg_per_l", _float),
        # its range
        ("alkalinity_margin_meq_per_l", _float),
        ("acid_low_mmol_per_l", _float),
        ("acid_high_mmol_per_l", _float),
        ("acid_mass_low_g", _float),
        ("acid_mass_high_g", _float),
        ("acid_volume_low_ml", _float),
        ("acid_volume_high_ml", _float),
        ("range_reasons", _code),
        # how it is measured
        ("acid_dilution_factor", _float),
        ("pre_solution_g_per_l", _float),
        ("dose_volume_ml", _float),
        ("dose_mass_g", _float),
        # the can
        ("composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        ("added_mg_per_l", _float, (len(ELEMENT_NAMES),)),
        ("residual_alkalinity_meq_per_l", _float),
        ("ph_after_acid", _float),
        ("predicted_ph", _float),
        ("predicted_ph_open", _float),
        ("predicted_ph_low", _float),
        ("predicted_ph_high", _float),
        ("ph_spread", _float),
        ("saturation", _float, (len(SOLIDS_IN_ANSWERS),)),
        ("saturation_open", _float, (len(SOLIDS_IN_ANSWERS),)),
    ]
)
"""What one adjustment comes to, with the intermediates that explain it."""


def own_caution(code: str) -> np.uint64:
    """
    Return the bit of a caution of adjustments.

    Parameters
    ----------
    code : str
        One of `CAUTIONS`.

    Returns
    -------
    uint64
        One bit of `own_cautions`.
    """
    return np.uint64(1 << CAUTIONS.index(code))


def own_assumption(code: str) -> np.uint64:
    """
    Return the bit of an assumption of adjustments.

    Parameters
    ----------
    code : str
        One of `ASSUMPTIONS`.

    Returns
    -------
    uint64
        One bit of `own_assumptions`.
    """
    return np.uint64(1 << ASSUMPTIONS.index(code))


def empty_ph_requests(count: int) -> np.ndarray:
    """
    Return request rows in which everything is absent.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array of `PH_REQUEST`; numbers are NaN and choices `ABSENT`.
    """
    return absent_rows(PH_REQUEST, count)


def empty_ph_results(count: int) -> np.ndarray:
    """
    Return result rows in which nothing is computed yet.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array of `PH_RESULT`; numbers are NaN, bits and codes 0.
    """
    return open_rows(PH_RESULT, count)
