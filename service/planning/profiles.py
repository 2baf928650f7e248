"""
The table of plant profiles that kernels read: one row per profile.

The columns are the ceilings of a profile in the units of their names; sizes stand in the order of
`service.planning.rows.SIZES`, micronutrients in that of `MICRONUTRIENTS`.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.plants import MICRONUTRIENTS, SIZES, PlantProfile

SIZE_METER_PPM: Final = 0
NITROGEN_CEILING: Final = 3
AMMONIUM_SHARE: Final = 4
COOL_AMMONIUM_SHARE: Final = 5
PH_LOW: Final = 6
PH_HIGH: Final = 7
SODIUM_CAUTION: Final = 8
CHLORIDE_CAUTION: Final = 9
FIRST_MICRONUTRIENT_MAXIMUM: Final = 10
EC_CEILING: Final = FIRST_MICRONUTRIENT_MAXIMUM + len(MICRONUTRIENTS)
COLUMN_COUNT: Final = EC_CEILING + 1

REFERENCE_METER_PPM: Final = 800.0
"""Ceiling of a large moth orchid, for which the strength in air is known [meter ppm]."""


def profile_row(profile: PlantProfile) -> NDArray[np.float64]:
    """
    Return the table row of a profile.

    Parameters
    ----------
    profile : PlantProfile
        A profile of the reference data.

    Returns
    -------
    ndarray, shape (n_profile_columns,)
        Its ceilings, read-only.
    """
    row = np.empty(COLUMN_COUNT)
    for position, size in enumerate(SIZES):
        row[SIZE_METER_PPM + position] = profile.meter_ceilings_ppm[size].value
    row[NITROGEN_CEILING] = profile.nitrogen_ceiling_mg_per_l.value
    row[AMMONIUM_SHARE] = profile.ammonium_and_urea_share_max.value
    row[COOL_AMMONIUM_SHARE] = profile.ammonium_and_urea_share_max_cool.value
    row[PH_LOW], row[PH_HIGH] = profile.ph.low, profile.ph.high
    row[SODIUM_CAUTION] = profile.sodium_caution_mg_per_l.value
    row[CHLORIDE_CAUTION] = profile.chloride_caution_mg_per_l.value
    for position, element in enumerate(MICRONUTRIENTS):
        maximum = profile.micronutrient_maxima_mg_per_l[element].value
        row[FIRST_MICRONUTRIENT_MAXIMUM + position] = maximum
    row[EC_CEILING] = profile.ec_ceiling_ms_per_cm.value
    row.setflags(write=False)
    return row


def own_profile_row(
    base: NDArray[np.float64], ceilings: Mapping[str, float]
) -> NDArray[np.float64]:
    """
    Return the table row of a caller's own profile.

    Parameters
    ----------
    base : ndarray, shape (n_profile_columns,)
        Row of the profile that supplies what the caller does not give.
    ceilings : mapping of str to float
        `ec_ceiling_ms_per_cm`, `nitrogen_ceiling_mg_per_l`, `ammonium_share_ceiling_percent` and
        micronutrients by name [mg/L].

    Returns
    -------
    ndarray, shape (n_profile_columns,)
        The row, read-only.
    """
    row = base.copy()
    if "ec_ceiling_ms_per_cm" in ceilings:
        row[EC_CEILING] = ceilings["ec_ceiling_ms_per_cm"]
    if "nitrogen_ceiling_mg_per_l" in ceilings:
        row[NITROGEN_CEILING] = ceilings["nitrogen_ceiling_mg_per_l"]
    if "ammonium_share_ceiling_percent" in ceilings:
        row[AMMONIUM_SHARE] = ceilings["ammonium_share_ceiling_percent"] / 100.0
        row[COOL_AMMONIUM_SHARE] = min(row[COOL_AMMONIUM_SHARE], row[AMMONIUM_SHARE])
    for position, element in enumerate(MICRONUTRIENTS):
        if element in ceilings:
            row[FIRST_MICRONUTRIENT_MAXIMUM + position] = ceilings[element]
    row.setflags(write=False)
    return row
