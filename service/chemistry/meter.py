"""
What hand-held meters show: parts per million, on several scales.

A meter measures conductivity; its parts per million are conductivity times a factor, or the
concentration of a reference salt of that conductivity. Neither is what is dissolved in a feed.
"""

import math
from typing import Final

from service.chemistry.kernel import kernel
from service.reference.solution_properties import METER_SCALE

SCALE_500: Final = 0
SCALE_640: Final = 1
SCALE_700: Final = 2
SCALE_KCL: Final = 3
SCALE_NACL: Final = 4
SCALE_442: Final = 5

SCALE_NAMES: Final = ("500", "640", "700", "kcl", "nacl", "442")
"""Scales in the order of their numbers."""

SCALE_FACTORS: Final = (500.0, 640.0, 700.0)
"""Parts per million per mS/cm of the scales that are a constant factor."""

_TABLES: Final = len(SCALE_FACTORS)
_LAST: Final = METER_SCALE.shape[0] - 1


@kernel
def _interpolated(value: float, from_column: int, to_column: int) -> float:
    """
    Return the value of one column of the scale table at a value of another.

    Parameters
    ----------
    value : float
        Value in the first column, at least 0 [dimensionless].
    from_column : int
        Column that holds the value [dimensionless].
    to_column : int
        Column wanted [dimensionless].

    Returns
    -------
    float
        Linear between rows, proportional below the first row; NaN above the last
        [dimensionless].
    """
    if not 0.0 <= value <= METER_SCALE[_LAST, from_column]:
        return math.nan
    place = 0
    while METER_SCALE[place, from_column] < value:
        place += 1
    high = METER_SCALE[place, from_column]
    high_result = METER_SCALE[place, to_column]
    low = 0.0
    low_result = 0.0
    if place > 0:
        low = METER_SCALE[place - 1, from_column]
        low_result = METER_SCALE[place - 1, to_column]
    share: float = (value - low) / (high - low)
    result: float = low_result + share * (high_result - low_result)
    return result


@kernel
def meter_reading(scale: int, conductivity: float) -> float:
    """
    Return what a meter shows in parts per million at a conductivity.

    Parameters
    ----------
    scale : int
        Position in `SCALE_NAMES` [dimensionless].
    conductivity : float
        Conductivity at 25 degC, at least 0 [mS/cm].

    Returns
    -------
    float
        Reading; NaN for an unknown scale, below 0, and above 80 mS/cm on a tabulated scale
        [ppm].

    Notes
    -----
    500 and 700 are the factors of common meters [2]_, 640 is the factor of soil science (common
    practice). The KCl, NaCl and 442 (40 % sodium sulfate, 40 % sodium bicarbonate, 20 % sodium
    chloride) scales follow a table [1]_, interpolated linearly.

    References
    ----------
    .. [1] Conductivity to TDS conversion factors, appendix of two makers' meter manuals.
       Source key: ``tds-conversion-table``.
    .. [2] Instructions of a meter with selectable factors. Source key: ``meter-factor-manual``.
    """
    if not 0.0 <= conductivity < math.inf or scale < 0 or scale >= len(SCALE_NAMES):
        return math.nan
    if scale < _TABLES:
        return SCALE_FACTORS[scale] * conductivity
    return _interpolated(conductivity, 0, scale - _TABLES + 1)


@kernel
def conductivity_from_reading(scale: int, reading: float) -> float:
    """
    Return the conductivity behind a reading in parts per million.

    Parameters
    ----------
    scale : int
        Position in `SCALE_NAMES` [dimensionless].
    reading : float
        Reading, at least 0 [ppm].

    Returns
    -------
    float
        Conductivity at 25 degC; NaN for an unknown scale, below 0, and above the table [mS/cm].

    Notes
    -----
    The inverse of `meter_reading`, exact on every scale.

    References
    ----------
    .. [1] Conductivity to TDS conversion factors, appendix of two makers' meter manuals.
       Source key: ``tds-conversion-table``.
    """
    if not 0.0 <= reading < math.inf or scale < 0 or scale >= len(SCALE_NAMES):
        return math.nan
    if scale < _TABLES:
        return reading / SCALE_FACTORS[scale]
    return _interpolated(reading, scale - _TABLES + 1, 0)
