"""A meter reading of the drainage below a pot, and what it says beside the feed."""

import math
from typing import Any, Final

from service.chemistry.compensation import LINEAR_COEFFICIENT, NATURAL_WATER, conductivity_at_25
from service.planning.notes import Notes, RefusalError

FREEZING_POINT: Final = 273.15
JUDGING_SCALE: Final = 500.0
"""Meter scale of a reading whose scale is not known: the one that makes the most of it."""

STEADY_UP_TO: Final = 1.2
RISING_UP_TO: Final = 2.0
"""Drainage over feed up to which salt is steady, and up to which it rises; common practice."""

BANDS: Final = ("steady", "rising", "flush")


def reading_at_25(reading: Any, notes: Notes) -> float:
    """
    Return the conductivity of a reading at 25 degC.

    Parameters
    ----------
    reading : object
        `reading` of the contract.
    notes : Notes
        Receives what is assumed.

    Returns
    -------
    float
        Conductivity [mS/cm].

    Raises
    ------
    RefusalError
        If the reading is not compensated and its temperature is not known, or outside 0 to
        35 degC.
    """
    if reading.ec_ms_per_cm is not None:
        conductivity = float(reading.ec_ms_per_cm)
    else:
        scale = reading.scale
        if scale is None:
            scale = JUDGING_SCALE
            notes.assume("reading_scale_assumed")
        conductivity = float(reading.ppm) / float(scale)
    temperature = reading.temperature_celsius
    if reading.compensated is None and temperature is not None:
        notes.assume("reading_compensated_assumed")
    if reading.compensated is not False:
        return conductivity
    if temperature is None:
        raise RefusalError("reading_temperature_out_of_range")
    kelvin = temperature + FREEZING_POINT
    at_25 = float(conductivity_at_25(conductivity, NATURAL_WATER, kelvin, LINEAR_COEFFICIENT))
    if math.isnan(at_25):
        raise RefusalError("reading_temperature_out_of_range")
    return at_25


def band_of(drainage: float, feed: float) -> str:
    """
    Return what a drainage says beside its feed.

    Parameters
    ----------
    drainage : float
        Conductivity of the drainage [mS/cm].
    feed : float
        Conductivity of the feed, above 0 [mS/cm].

    Returns
    -------
    str
        One of `BANDS`.
    """
    ratio = drainage / feed
    if ratio <= STEADY_UP_TO * (1.0 + 1e-9):
        return "steady"
    return "rising" if ratio <= RISING_UP_TO * (1.0 + 1e-9) else "flush"
