"""
The rows that the compiled planners read and write, one record per answer.

A single answer is one row and a batch is many; both run the same kernel. Texts of the contract
become the position of the text in the tuples below; an absent number is NaN.
"""

import functools
from typing import Final

import numpy as np

from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES

ABSENT: Final = -1
"""Code of a choice that the caller left open."""

SIZES: Final = ("large", "medium", "mini")
SETUPS: Final = ("wet_dry_pot", "semi_hydroponic_pot", "mount")
GROWTHS: Final = ("active", "spike_initiation", "in_bloom", "resting")
REFILLS: Final = ("drained", "topped_up")
APPLICATIONS: Final = ("feed", "supplement", "stimulant", "flush", "auto")
MEDIA: Final = ("bark", "sphagnum", "bark_and_sphagnum", "clay_pebbles", "pumice", "none")
STRENGTH_BASES: Final = ("element", "product", "conductivity", "meter_ppm")
COUNTS: Final = ("added", "whole_can")
ACID_KINDS: Final = ("nitric", "phosphoric", "sulfuric", "citric")
BASE_KINDS: Final = ("potassium_hydroxide", "potassium_bicarbonate", "potassium_carbonate")

MAXIMUM_PRODUCTS: Final = 8
"""Most products that one can takes in one request."""

WATER_FIELDS: Final = (
    "ph",
    "alkalinity_mg_per_l_caco3",
    "bicarbonate_mg_per_l",
    "calcium_mg_per_l",
    "magnesium_mg_per_l",
    "potassium_mg_per_l",
    "sodium_mg_per_l",
    "chloride_mg_per_l",
    "sulfate_mg_per_l",
    "nitrate_mg_per_l",
    "nitrate_nitrogen_mg_per_l",
    "ammonium_nitrogen_mg_per_l",
    "phosphate_phosphorus_mg_per_l",
    "boron_mg_per_l",
    "iron_mg_per_l",
    "manganese_mg_per_l",
    "zinc_mg_per_l",
    "copper_mg_per_l",
    "fluoride_mg_per_l",
    "silica_mg_per_l",
    "hardness_mg_per_l_caco3",
    "ec_ms_per_cm",
    "temperature_celsius",
)
"""Columns of a water analysis, as the contract names them."""

SOLIDS_IN_ANSWERS: Final = ("gypsum", "calcite", "brushite", "struvite")

BINDING_LIMITS: Final = (
    "none",
    "requested_strength",
    "conductivity",
    "total_nitrogen",
    "ammonium_and_urea_nitrogen",
    "boron",
    "copper",
    "zinc",
    "manganese",
    "iron",
    "molybdenum",
    "product_rate",
    "acid_phosphorus",
)

STATUSES: Final = ("ok", "infeasible", "rejected")

_float = np.float64
_code = np.int64

INSTRUMENT_NUMBERS: Final = (
    "balance_resolution_g",
    "syringe_resolution_ml",
    "balance_minimum_g",
    "largest_can_l",
)
"""Numbers of a row that say what is measured with; those that are silent are NaN."""

DOSE_REQUEST: Final = np.dtype(
    [
        ("profile", _code),
        ("size", _code),
        ("setup", _code),
        ("growth", _code),
        ("count", _float),
        ("medium", _code),
        ("pot_diameter_cm", _float),
        ("refill", _code),
        ("days_since_flush", _float),
        ("humidity_percent", _float),
        ("temperature_celsius", _float),
        ("average_humidity_percent", _float),
        ("average_temperature_celsius", _float),
        ("application", _code),
        ("interval_days", _float),
        ("limited", _code),
        ("product_count", _code),
        ("product", _code, (MAXIMUM_PRODUCTS,)),
        ("strength_basis", _code, (MAXIMUM_PRODUCTS,)),
        ("strength_element", _code, (MAXIMUM_PRODUCTS,)),
        ("strength_value", _float, (MAXIMUM_PRODUCTS,)),
        ("strength_scale", _float, (MAXIMUM_PRODUCTS,)),
        ("strength_counts", _code, (MAXIMUM_PRODUCTS,)),
        ("strength_by_volume", _code, (MAXIMUM_PRODUCTS,)),
        ("water", _float, (len(WATER_FIELDS),)),
        ("volume_l", _float),
        ("volume_per_plant_ml", _float),
        ("target_ph", _float),
        ("acid_kind", _code),
        ("acid_percent", _float),
        ("balance_resolution_g", _float),
        ("syringe_resolution_ml", _float),
        ("balance_minimum_g", _float),
        ("largest_can_l", _float),
    ]
)
"""
What one dose or dilution is computed from.

`limited` is 1 for a dose (the profile's ceilings bind) and 0 for a dilution (they are
only reported). Water columns follow `WATER_FIELDS`.
"""

DOSE_RESULT: Final = np.dtype(
    [
        ("status", _code),
        ("problem", _code),
        ("problem_product", _code),
        ("cautions", np.uint64),
        ("assumptions", np.uint64),
        ("binding_limit", _code),
        # air and strength
        ("vapour_pressure_deficit_kpa", _float),
        ("limiting_deficit_kpa", _float),
        ("average_deficit_kpa", _float),
        ("air_meter_ppm", _float),
        ("size_meter_ppm", _float),
        ("growth_factor", _float),
        ("meter_ppm", _float),
        ("projected_ec_ms_per_cm", _float),
        ("ec_ceiling_ms_per_cm", _float),
        ("nitrogen_ceiling_mg_per_l", _float),
        ("ammonium_ceiling_mg_per_l", _float),
        # water
        ("water_composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        ("water_ec_ms_per_cm", _float),
        ("water_nitrogen_mg_per_l", _float),
        ("water_alkalinity_mg_per_l_caco3", _float),
        ("water_charge_error_percent", _float),
        ("unexplained_ec_ms_per_cm", _float),
        ("base_composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        # amounts
        ("volume_l", _float),
        ("volume_per_plant_ml", _float),
        ("share_of_requested", _float),
        ("requested_g_per_l", _float, (MAXIMUM_PRODUCTS,)),
        ("credited_g_per_l", _float, (MAXIMUM_PRODUCTS,)),
        ("exact_amount", _float, (MAXIMUM_PRODUCTS,)),
        ("amount", _float, (MAXIMUM_PRODUCTS,)),
        ("pre_stock_g_per_l", _float, (MAXIMUM_PRODUCTS,)),
        ("pre_stock_ml", _float, (MAXIMUM_PRODUCTS,)),
        # acid
        ("acid_mmol_per_l", _float),
        ("acid_mass_g", _float),
        ("acid_volume_ml", _float),
        ("acid_dilution_factor", _float),
        ("acid_nitrogen_mg_per_l", _float),
        # the can
        ("composition_mmol_per_l", _float, (COMPONENT_COUNT,)),
        ("elements_mg_per_l", _float, (len(ELEMENT_NAMES),)),
        ("predicted_ec_ms_per_cm", _float),
        ("predicted_ph", _float),
        ("predicted_ph_open", _float),
        ("ph_spread", _float),
        ("ionic_strength_mol_per_kg", _float),
        ("residual_alkalinity_meq_per_l", _float),
        ("saturation", _float, (len(SOLIDS_IN_ANSWERS),)),
        ("saturation_open", _float, (len(SOLIDS_IN_ANSWERS),)),
        ("nitrogen_mg_per_plant_per_month", _float),
        ("feasible_water_share_percent", _float),
    ]
)
"""What one dose or dilution comes to, with the intermediates that explain it."""


def absent_rows(layout: np.dtype[np.void], count: int) -> np.ndarray:
    """
    Return rows of a request in which everything is absent.

    Parameters
    ----------
    layout : dtype
        Layout of the request, with a `product_count`.
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array; numbers are NaN, choices `ABSENT`, there is no product.
    """
    return _repeated(_absent_row(layout), layout, count)


def _repeated(row: bytes, layout: np.dtype[np.void], count: int) -> np.ndarray:
    """Return equal rows; numpy copies records field by field, which takes far longer."""
    return np.frombuffer(bytearray(row * count), dtype=layout)


def copied(records: np.ndarray, count: int = 1) -> np.ndarray:
    """
    Return rows as they are now, one after the other as often as asked.

    Parameters
    ----------
    records : ndarray
        A structured array without gaps, or one record.
    count : int
        How often.

    Returns
    -------
    ndarray
        A new structured array.
    """
    return _repeated(records.tobytes(), records.dtype, count)


@functools.cache
def _absent_row(layout: np.dtype[np.void]) -> bytes:
    """Return one such row."""
    request = np.zeros(1, dtype=layout)
    for name in layout.names or ():
        request[name] = np.nan if layout[name].base.kind == "f" else ABSENT
    request["product_count"] = 0
    return request.tobytes()


def open_rows(layout: np.dtype[np.void], count: int) -> np.ndarray:
    """
    Return rows of a result in which nothing is computed yet.

    Parameters
    ----------
    layout : dtype
        Layout of the result.
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array; numbers are NaN, bits and codes 0.
    """
    return _repeated(_open_row(layout), layout, count)


@functools.cache
def _open_row(layout: np.dtype[np.void]) -> bytes:
    """Return one such row."""
    result = np.zeros(1, dtype=layout)
    for name in layout.names or ():
        if layout[name].base.kind == "f":
            result[name] = np.nan
    return result.tobytes()


def empty_requests(count: int) -> np.ndarray:
    """
    Return request rows in which everything is absent.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array of `DOSE_REQUEST`; numbers are NaN and choices `ABSENT`.
    """
    return absent_rows(DOSE_REQUEST, count)


def empty_results(count: int) -> np.ndarray:
    """
    Return result rows in which nothing is computed yet.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    ndarray
        Structured array of `DOSE_RESULT`; numbers are NaN, bits and codes 0.
    """
    return open_rows(DOSE_RESULT, count)
