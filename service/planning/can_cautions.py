"""What must be said about a finished can."""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import products, profiles, rows
from service.planning.acid_dose import (
    LARGEST_ACID_PHOSPHORUS,
    TARGET_FROM_WINDOW,
    acid_phosphorus,
)
from service.planning.air_cautions import air_cautions
from service.planning.cautions import caution_bit
from service.planning.ceilings import MICRONUTRIENT_ELEMENTS, NITROGEN, reduced_nitrogen_mass
from service.planning.strength import element_mass
from service.planning.water import ALKALINITY
from service.reference.components import ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX

MOUNT: Final = rows.SETUPS.index("mount")

LITTLE_CALCIUM: Final = 20.0
LITTLE_MAGNESIUM: Final = 8.0
"""Calcium and magnesium under which a can is called short of them [mg/L]; common practice."""

CALCIUM_ELEMENT: Final = ELEMENT_NAMES.index("calcium")
MAGNESIUM_ELEMENT: Final = ELEMENT_NAMES.index("magnesium")
UREA_SHARE_NAMED: Final = 0.1
"""Share of urea in the nitrogen from which an answer mentions it; common practice."""

PH_DRIFT_NAMED: Final = 0.5
SPREAD_NAMED: Final = 0.5
"""Drift of pH in air, and spread by a small error, from which an answer mentions them."""

PH_FAR: Final = 0.5
"""Distance from the plant's window from which a pH is a warning; common practice."""

FEW_DEGREES: Final = 35.0
DEGREES_IMBALANCE: Final = 25.0
DEGREES_CONDUCTIVITY: Final = 0.3
DEGREES_UNEXPLAINED: Final = 0.75
"""
An alkalinity below `FEW_DEGREES` mg/L in a water of this conductivity [mS/cm] was probably a count
of degrees where there is this surplus of cations [percent], or where the analysis leaves this share
of the conductivity open, as it does when the hardness is in degrees too; common practice.
"""

TARGET_MISSED: Final = 0.2
"""Distance from a target pH from which it counts as not reached."""

SOFT_ALKALINITY: Final = 60.0
HARD_ALKALINITY: Final = 120.0
"""
Alkalinities below which a basic feed suits a water, and above which an acidic one [mg/L CaCO3];
buechel-feed-reaction.
"""

BASIC_FEED: Final = 0.15
ACID_FEED: Final = 0.4
"""Shares of ammonium and urea under which a feed raises the pH of a pot, and above which it
lowers it; common practice."""

ENOUGH_CALCIUM: Final = 60.0
ENOUGH_MAGNESIUM: Final = 10.0
"""Calcium and magnesium of a water that needs no supplement [mg/L]; common practice."""

LARGE_ACID_SHARE: Final = 0.01
"""Share of the can above which a volume of acid is questioned; common practice."""

FEEDING_ACID_NITROGEN: Final = 10.0
FEEDING_ACID_PHOSPHORUS: Final = 10.0
"""
Nitrogen and phosphorus from an acid above which a flush is no plain water any more [mg/L]; our
choice.
"""

FLUSH: Final = rows.APPLICATIONS.index("flush")

ACID_PHOSPHORUS: Final = caution_bit("acid_phosphorus_large")
FLUSH_ACID_FEEDS: Final = caution_bit("flush_acid_feeds")
CALCIUM_MISSING: Final = caution_bit("calcium_missing")
MAGNESIUM_MISSING: Final = caution_bit("magnesium_missing")
SHARE_HIGH: Final = caution_bit("ammonium_and_urea_share_high")
UREA_ON_MOUNT: Final = caution_bit("urea_lost_on_mount")
UREA_NOT_ON_METER: Final = caution_bit("urea_not_on_the_meter")
OXIDISER: Final = caution_bit("oxidiser")
FORMS_UNKNOWN: Final = caution_bit("forms_of_nitrogen_unknown")
FROM_LABEL: Final = caution_bit("conductivity_from_label")
PH_OUTSIDE: Final = caution_bit("ph_outside_window")
PH_AT_EDGE: Final = caution_bit("ph_at_edge_of_window")
PH_DRIFTS: Final = caution_bit("ph_drifts_in_air")
PH_UNCERTAIN: Final = caution_bit("ph_uncertain")
MAY_BE_DEGREES: Final = caution_bit("alkalinity_may_be_degrees")
ACID_LARGE: Final = caution_bit("acid_share_large")
TARGET_NOT_REACHED: Final = caution_bit("target_not_reached")
NO_ACID_NEEDED: Final = caution_bit("no_acid_needed")
BASIC_FEED_IN_HARD_WATER: Final = caution_bit("basic_feed_in_hard_water")
ACID_FEED_IN_SOFT_WATER: Final = caution_bit("acid_feed_in_soft_water")
WATER_SUPPLEMENTS: Final = caution_bit("water_supplements")
SPLIT_FOR_MINI: Final = caution_bit("split_supplement_for_mini")
NOTHING: Final = np.uint64(0)
SUPPLEMENT: Final = rows.APPLICATIONS.index("supplement")
MINI: Final = rows.SIZES.index("mini")
FIRST_SOLID: Final = caution_bit("gypsum_may_form")
FIRST_SOLID_OPEN: Final = caution_bit("gypsum_may_form_open")
FIRST_HIGH: Final = caution_bit("boron_high")


@kernel
def reads_like_degrees(water: np.ndarray, result: np.void) -> bool:
    """
    Tell whether an alkalinity was probably a count of degrees.

    Parameters
    ----------
    water : ndarray, shape (n_water_columns,)
        The analysis as sent, NaN where it says nothing.
    result : record of `rows.DOSE_RESULT` or `ph_adjustment_rows.PH_RESULT`
        What the water was found to be.

    Returns
    -------
    bool
        False as well where no alkalinity is stated.
    """
    conductivity = result["water_ec_ms_per_cm"]
    few = water[ALKALINITY] <= FEW_DEGREES and conductivity > DEGREES_CONDUCTIVITY
    surplus = result["water_charge_error_percent"] > DEGREES_IMBALANCE
    open_share = result["unexplained_ec_ms_per_cm"] > DEGREES_UNEXPLAINED * conductivity
    return bool(few and (surplus or open_share))


@kernel
def _advice(row: np.void, profile: np.ndarray, result: np.void, nitrogen: float) -> np.uint64:
    """Bits of what a grower may want to change in the programme, not in this can."""
    bits = NOTHING
    alkalinity = result["water_alkalinity_mg_per_l_caco3"]
    if nitrogen > 20.0 and not np.isnan(alkalinity):
        share = reduced_nitrogen_mass(result["composition_mmol_per_l"]) / nitrogen
        if alkalinity > HARD_ALKALINITY and share < BASIC_FEED and result["acid_mmol_per_l"] == 0.0:
            bits |= BASIC_FEED_IN_HARD_WATER
        if alkalinity < SOFT_ALKALINITY and share > ACID_FEED:
            bits |= ACID_FEED_IN_SOFT_WATER
    water = result["water_composition_mmol_per_l"]
    if row["application"] == SUPPLEMENT:
        if (
            element_mass(water, CALCIUM_ELEMENT) > ENOUGH_CALCIUM
            and element_mass(water, MAGNESIUM_ELEMENT) > ENOUGH_MAGNESIUM
        ):
            bits |= WATER_SUPPLEMENTS
        if row["size"] == MINI:
            bits |= SPLIT_FOR_MINI
    return bits


@kernel
def can_cautions(
    row: np.void, product_table: np.ndarray, profile: np.ndarray, result: np.void
) -> None:
    """
    Set the cautions that follow from the finished can.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        The finished can; receives the caution bits.
    """
    bits = result["cautions"]
    for solid in range(len(rows.SOLIDS_IN_ANSWERS)):
        if result["saturation"][solid] > 0.0:
            bits |= FIRST_SOLID << np.uint64(solid)
        elif result["saturation_open"][solid] > 0.0:
            bits |= FIRST_SOLID_OPEN << np.uint64(solid)
    elements = result["elements_mg_per_l"]
    for position in range(MICRONUTRIENT_ELEMENTS.size):
        maximum = profile[profiles.FIRST_MICRONUTRIENT_MAXIMUM + position]
        if elements[MICRONUTRIENT_ELEMENTS[position]] > maximum * (1.0 + 1e-9):
            bits |= FIRST_HIGH << np.uint64(position)
    if row["limited"] == 1:
        bits |= air_cautions(row, profile, result)
    if elements[CALCIUM_ELEMENT] < LITTLE_CALCIUM:
        bits |= CALCIUM_MISSING
    if elements[MAGNESIUM_ELEMENT] < LITTLE_MAGNESIUM:
        bits |= MAGNESIUM_MISSING
    nitrogen = elements[NITROGEN]
    composition = result["composition_mmol_per_l"]
    if nitrogen > 1.0:
        share = reduced_nitrogen_mass(composition) / nitrogen
        if row["limited"] == 1:
            allowed = result["ammonium_ceiling_mg_per_l"] / result["nitrogen_ceiling_mg_per_l"]
        else:
            allowed = profile[profiles.AMMONIUM_SHARE]
        if share > allowed:
            bits |= SHARE_HIGH
        urea = ELEMENT_MATRIX[NITROGEN, UREA] * composition[UREA] / nitrogen
        if urea > UREA_SHARE_NAMED:
            bits |= UREA_NOT_ON_METER
            if row["setup"] == MOUNT:
                bits |= UREA_ON_MOUNT
    for slot in range(row["product_count"]):
        product = product_table[row["product"][slot]]
        if product[products.IS_OXIDISER] == 1.0:
            bits |= OXIDISER
        if product[products.FORMS_UNKNOWN] == 1.0:
            bits |= FORMS_UNKNOWN
        if product[products.IS_LABEL] == 1.0:
            bits |= FROM_LABEL
    ph = result["predicted_ph"]
    if not np.isnan(ph):
        beyond = max(profile[profiles.PH_LOW] - ph, ph - profile[profiles.PH_HIGH])
        if beyond > PH_FAR:
            bits |= PH_OUTSIDE
        elif beyond > 0.0:
            bits |= PH_AT_EDGE
        if abs(result["predicted_ph_open"] - ph) > PH_DRIFT_NAMED:
            bits |= PH_DRIFTS
        if result["ph_spread"] > SPREAD_NAMED:
            bits |= PH_UNCERTAIN
    if reads_like_degrees(row["water"], result):
        bits |= MAY_BE_DEGREES
    target = row["target_ph"]
    if not np.isnan(target):
        missed = abs(ph - target) > TARGET_MISSED
        # Of a window that nobody narrowed the whole is good, not its upper end alone.
        unasked = (result["assumptions"] & TARGET_FROM_WINDOW) != 0
        if result["acid_mmol_per_l"] == 0.0 and (unasked or not missed):
            bits |= NO_ACID_NEEDED
        elif missed:
            bits |= TARGET_NOT_REACHED
    if row["limited"] == 1:
        bits |= _advice(row, profile, result, nitrogen)
    phosphorus = acid_phosphorus(row, result)
    if phosphorus > LARGEST_ACID_PHOSPHORUS:
        bits |= ACID_PHOSPHORUS
    nitrogen_feeds = result["acid_nitrogen_mg_per_l"] > FEEDING_ACID_NITROGEN
    if row["application"] == FLUSH and (nitrogen_feeds or phosphorus > FEEDING_ACID_PHOSPHORUS):
        bits |= FLUSH_ACID_FEEDS
    if result["acid_volume_ml"] > LARGE_ACID_SHARE * 1000.0 * result["volume_l"]:
        bits |= ACID_LARGE
    result["cautions"] = bits
