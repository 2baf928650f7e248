"""Adopted solubilities of single salts in water, smooth between the temperatures of the tables."""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.constant_arrays import constant_array
from service.chemistry.kernel import kernel
from service.reference.concentrate_tables import solubility_rows

FloatArray = npt.NDArray[np.float64]

FREEZING_POINT: Final = 273.15

SALT_NAMES: Final = tuple(dict.fromkeys(row.salt for row in solubility_rows()))
"""Salts of the table, in its order."""

_KNOT: Final = 0
_LOGARITHM: Final = 1
_SLOPE: Final = 2


def _slopes(knots: FloatArray, values: FloatArray) -> FloatArray:
    """
    Return slopes at the knots that keep a cubic between two knots from overshooting.

    Parameters
    ----------
    knots : ndarray, shape (n,)
        Abscissae, rising.
    values : ndarray, shape (n,)
        Ordinates.

    Returns
    -------
    ndarray, shape (n,)
        Weighted harmonic means of the neighbouring secants, 0 where these differ in sign; parabolas
        through three points at the ends.
    """
    widths = np.diff(knots)
    secants = np.diff(values) / widths
    slopes = np.zeros(len(knots))
    for place in range(1, len(knots) - 1):
        before, after = secants[place - 1], secants[place]
        if before * after > 0.0:
            first = 2.0 * widths[place] + widths[place - 1]
            second = widths[place] + 2.0 * widths[place - 1]
            slopes[place] = (first + second) / (first / before + second / after)
    slopes[0] = _end_slope(widths[0], widths[1], secants[0], secants[1])
    slopes[-1] = _end_slope(widths[-1], widths[-2], secants[-1], secants[-2])
    return slopes


def _end_slope(width: float, next_width: float, secant: float, next_secant: float) -> float:
    """
    Return the slope at an end.

    Parameters
    ----------
    width, next_width : float
        Widths of the outermost interval and the next.
    secant, next_secant : float
        Their secants.

    Returns
    -------
    float
        Slope of the parabola through the three points, held within what keeps the cubic monotone.
    """
    slope = ((2.0 * width + next_width) * secant - width * next_secant) / (width + next_width)
    if slope * secant <= 0.0:
        return 0.0
    if secant * next_secant <= 0.0 and abs(slope) > 3.0 * abs(secant):
        return 3.0 * secant
    return slope


def _curves() -> tuple[FloatArray, FloatArray]:
    """
    Return the knots of all salts one after the other, and where each salt starts.

    Returns
    -------
    knots : ndarray, shape (n_knots, 3)
        Temperature [degC], logarithm of the molality and its slope.
    starts : ndarray, shape (n_salts + 1,)
        First knot of each salt.
    """
    knots: list[tuple[float, float, float]] = []
    starts = [0]
    for salt in SALT_NAMES:
        by_temperature: dict[float, list[float]] = {}
        for row in solubility_rows():
            if row.salt == salt:
                found = by_temperature.setdefault(row.temperature_celsius, [])
                found.append(row.molality_mol_per_kg)
        temperatures = np.array(sorted(by_temperature))
        # Two tables of the handbook that differ at a temperature are met half-way.
        values = np.log([sum(by_temperature[t]) / len(by_temperature[t]) for t in temperatures])
        slopes = _slopes(temperatures, values)
        knots += [
            (float(t), float(v), float(s))
            for t, v, s in zip(temperatures, values, slopes, strict=True)
        ]
        starts.append(len(knots))
    return np.array(knots), np.array(starts)


_CURVES, _START_PLACES = _curves()
_KNOTS: Final = constant_array(_CURVES, np.float64)
_STARTS: Final = constant_array(_START_PLACES, np.int64)


@kernel
def pure_salt_solubility(salt: int, temperature: float) -> float:
    r"""
    Return the adopted solubility of a salt alone in water.

    Parameters
    ----------
    salt : int
        Position in `SALT_NAMES` [dimensionless].
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Formula units, without water of crystallisation, per mass of all water; NaN outside the
        range of the table [mol/kg].

    Notes
    -----
    Monotone cubic interpolation of the logarithm in the temperature: every tabulated value is met,
    or the mean of the two tables of the handbook, and nothing overshoots where a hydrate gives way
    to another.

    References
    ----------
    .. [1] J. Rumble (ed.), *CRC Handbook of Chemistry and Physics*, 98th ed., CRC Press, 2017.
       Source key: ``crc-handbook-98``.
    """
    celsius = temperature - FREEZING_POINT
    first, last = _STARTS[salt], _STARTS[salt + 1] - 1
    # A hundredth of a degree of grace for sums of decimal numbers.
    if not _KNOTS[first, _KNOT] - 0.01 <= celsius <= _KNOTS[last, _KNOT] + 0.01:
        return math.nan
    place = first
    while place < last - 1 and celsius > _KNOTS[place + 1, _KNOT]:
        place += 1
    width = _KNOTS[place + 1, _KNOT] - _KNOTS[place, _KNOT]
    s = (celsius - _KNOTS[place, _KNOT]) / width
    t = 1.0 - s
    return math.exp(
        (1.0 + 2.0 * s) * t * t * _KNOTS[place, _LOGARITHM]
        + s * s * (1.0 + 2.0 * t) * _KNOTS[place + 1, _LOGARITHM]
        + width * s * t * (t * _KNOTS[place, _SLOPE] - s * _KNOTS[place + 1, _SLOPE])
    )
