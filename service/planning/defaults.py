"""What a row means where the caller is silent; each default that is used is said."""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import rows
from service.planning.cautions import assumption_bit, caution_bit

DEFAULT_HUMIDITY: Final = 40.0
DEFAULT_TEMPERATURE: Final = 22.0
"""A dry living room [percent, degC]; common practice."""

DEFAULT_INTERVAL: Final = 7.0
DEFAULT_BALANCE_RESOLUTION: Final = 0.1
DEFAULT_SYRINGE_RESOLUTION: Final = 0.1
DEFAULT_WATER_TEMPERATURE: Final = 25.0

WATER_TEMPERATURE: Final = rows.WATER_FIELDS.index("temperature_celsius")
MINI: Final = rows.SIZES.index("mini")
WET_DRY_POT: Final = rows.SETUPS.index("wet_dry_pot")
SEMI_HYDROPONIC_POT: Final = rows.SETUPS.index("semi_hydroponic_pot")
ACTIVE: Final = rows.GROWTHS.index("active")
FEED: Final = rows.APPLICATIONS.index("feed")
FLUSH: Final = rows.APPLICATIONS.index("flush")
AUTO: Final = rows.APPLICATIONS.index("auto")
DRAINED: Final = rows.REFILLS.index("drained")
BARK: Final = rows.MEDIA.index("bark")
CLAY_PEBBLES: Final = rows.MEDIA.index("clay_pebbles")
NO_MEDIUM: Final = rows.MEDIA.index("none")
MOUNT: Final = rows.SETUPS.index("mount")

SIZE_ASSUMED: Final = assumption_bit("size_assumed")
SETUP_ASSUMED: Final = assumption_bit("setup_assumed")
GROWTH_ASSUMED: Final = assumption_bit("growth_assumed")
AIR_ASSUMED: Final = assumption_bit("air_assumed")
AIR_TEMPERATURE_ASSUMED: Final = assumption_bit("air_temperature_assumed")
APPLICATION_ASSUMED: Final = assumption_bit("application_assumed")
INTERVAL_ASSUMED: Final = assumption_bit("interval_assumed")
BALANCE_ASSUMED: Final = assumption_bit("balance_assumed")
SYRINGE_ASSUMED: Final = assumption_bit("syringe_assumed")
WATER_TEMPERATURE_ASSUMED: Final = assumption_bit("water_temperature_assumed")
REFILL_ASSUMED: Final = assumption_bit("refill_assumed")
MEDIUM_ASSUMED: Final = assumption_bit("medium_assumed")
HUMIDITY_ASSUMED: Final = assumption_bit("humidity_assumed")
AVERAGE_TEMPERATURE_ASSUMED: Final = assumption_bit("average_temperature_assumed")
SINGLE_READING: Final = caution_bit("single_reading")


@kernel
def fill_plant_defaults(row: np.void, result: np.void) -> None:
    """
    Fill in plants, air and application where the caller is silent, and set the bits that say so.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request; overwritten where it is silent.
    result : record of `rows.DOSE_RESULT`
        Receives assumption and caution bits.
    """
    said = result["assumptions"]
    if row["limited"] == 1:
        if row["size"] == rows.ABSENT:
            row["size"] = MINI
            said |= SIZE_ASSUMED
        if row["setup"] == rows.ABSENT:
            row["setup"] = WET_DRY_POT
            said |= SETUP_ASSUMED
        if row["growth"] == rows.ABSENT:
            row["growth"] = ACTIVE
            said |= GROWTH_ASSUMED
        if row["setup"] == SEMI_HYDROPONIC_POT and row["refill"] == rows.ABSENT:
            row["refill"] = DRAINED
            said |= REFILL_ASSUMED
        if np.isnan(row["humidity_percent"]):
            row["humidity_percent"] = DEFAULT_HUMIDITY
            if np.isnan(row["temperature_celsius"]):
                row["temperature_celsius"] = DEFAULT_TEMPERATURE
                said |= AIR_ASSUMED
            else:
                said |= HUMIDITY_ASSUMED
        else:
            if np.isnan(row["temperature_celsius"]):
                row["temperature_celsius"] = DEFAULT_TEMPERATURE
                said |= AIR_TEMPERATURE_ASSUMED
            if np.isnan(row["average_humidity_percent"]):
                result["cautions"] = result["cautions"] | SINGLE_READING
            elif np.isnan(row["average_temperature_celsius"]):
                said |= AVERAGE_TEMPERATURE_ASSUMED
        if row["application"] == rows.ABSENT:
            row["application"] = FEED
            said |= APPLICATION_ASSUMED
        if not row["interval_days"] > 0.0:
            row["interval_days"] = DEFAULT_INTERVAL
            said |= INTERVAL_ASSUMED
    result["assumptions"] = said


@kernel
def fill_can_defaults(row: np.void, result: np.void) -> None:
    """
    Fill in instruments and water temperature where the caller is silent, and set the bits.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request; overwritten where it is silent.
    result : record of `rows.DOSE_RESULT`
        Receives assumption bits.
    """
    said = result["assumptions"]
    if not row["balance_resolution_g"] > 0.0:
        row["balance_resolution_g"] = DEFAULT_BALANCE_RESOLUTION
        said |= BALANCE_ASSUMED
    if not row["syringe_resolution_ml"] > 0.0:
        row["syringe_resolution_ml"] = DEFAULT_SYRINGE_RESOLUTION
        said |= SYRINGE_ASSUMED
    if np.isnan(row["water"][WATER_TEMPERATURE]):
        row["water"][WATER_TEMPERATURE] = DEFAULT_WATER_TEMPERATURE
        said |= WATER_TEMPERATURE_ASSUMED
    result["assumptions"] = said


@kernel
def medium_of(row: np.void, result: np.void) -> int:
    """
    Return the medium of a row, assumed from its setup when the caller is silent.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, setup filled in.
    result : record of `rows.DOSE_RESULT`
        Receives the assumption bit.

    Returns
    -------
    int
        Position in `rows.MEDIA`.
    """
    if row["medium"] != rows.ABSENT:
        return int(row["medium"])
    result["assumptions"] = result["assumptions"] | MEDIUM_ASSUMED
    if row["setup"] == SEMI_HYDROPONIC_POT:
        return CLAY_PEBBLES
    if row["setup"] == MOUNT:
        return NO_MEDIUM
    return BARK
