"""
Readings of conductivity at one temperature, referred to another.

Only for readings of a solution that is not known; of a known solution `conductivity` is computed at
25 degC directly. A reading that the meter has compensated already is not compensated again.
"""

import math
from typing import Final

from service.chemistry.kernel import kernel
from service.chemistry.validity import range_status
from service.reference.solution_properties import NATURAL_WATER_FACTOR

NATURAL_WATER: Final = 0
LINEAR: Final = 1

LINEAR_COEFFICIENT: Final = 0.02
"""Customary linear temperature coefficient of meters [1/K]; common practice, 0.019 to 0.020."""

FREEZING_POINT: Final = 273.15
REFERENCE_TEMPERATURE: Final = 298.15
"""Temperature to which readings are referred [K]."""


@kernel
def natural_water_factor(temperature: float) -> float:
    """
    Return the factor that refers the conductivity of a natural water to 25 degC.

    Parameters
    ----------
    temperature : float
        Temperature of the reading, 273.15 to 308.15 [K].

    Returns
    -------
    float
        Factor f25, interpolated between whole degrees; NaN outside the range [dimensionless].

    Notes
    -----
    Validity: natural waters of moderate mineral content. Feeds of nitrates follow the table to
    2 % between 15 and 30 degC; `conductivity` at 25 degC needs no factor.

    References
    ----------
    .. [1] ISO 7888:1985, Water quality - Determination of electrical conductivity, table of f25, as
       reprinted in the instructions of a conductivity meter. Source key: ``iso-7888-1985``.
    """
    t = temperature - FREEZING_POINT
    last = NATURAL_WATER_FACTOR.shape[0] - 1
    if range_status(t, NATURAL_WATER_FACTOR[0, 0], NATURAL_WATER_FACTOR[last, 0]) != 0:
        return math.nan
    place = min(int(t), last - 1)
    share: float = t - place
    low: float = NATURAL_WATER_FACTOR[place, 1]
    high: float = NATURAL_WATER_FACTOR[place + 1, 1]
    return (1.0 - share) * low + share * high


@kernel
def linear_factor(temperature: float, coefficient: float) -> float:
    r"""
    Return the linear factor that refers a conductivity to 25 degC.

    Parameters
    ----------
    temperature : float
        Temperature of the reading [K].
    coefficient : float
        Temperature coefficient, `LINEAR_COEFFICIENT` by custom [1/K].

    Returns
    -------
    float
        Factor; NaN where the line passes zero [dimensionless].

    Notes
    -----
    .. math:: f = 1 / (1 + \alpha (T - 298.15))

    References
    ----------
    .. [1] ISO 7888:1985, Water quality - Determination of electrical conductivity.
       Source key: ``iso-7888-1985``.
    """
    divisor = 1.0 + coefficient * (temperature - REFERENCE_TEMPERATURE)
    if not 0.0 < divisor < math.inf:
        return math.nan
    return 1.0 / divisor


@kernel
def compensation_factor(method: int, temperature: float, coefficient: float) -> float:
    """
    Return the factor that refers an uncompensated reading to 25 degC.

    Parameters
    ----------
    method : int
        `NATURAL_WATER` for the table of ISO 7888, `LINEAR` for a constant coefficient
        [dimensionless].
    temperature : float
        Temperature of the solution [K].
    coefficient : float
        Temperature coefficient, used by `LINEAR` alone [1/K].

    Returns
    -------
    float
        Factor; NaN for an unknown method and outside its range [dimensionless].

    References
    ----------
    .. [1] ISO 7888:1985, Water quality - Determination of electrical conductivity.
       Source key: ``iso-7888-1985``.
    """
    if method == NATURAL_WATER:
        return natural_water_factor(temperature)
    if method == LINEAR:
        return linear_factor(temperature, coefficient)
    return math.nan


@kernel
def conductivity_at_25(
    reading: float, method: int, temperature: float, coefficient: float
) -> float:
    """
    Return the conductivity at 25 degC of an uncompensated reading.

    Parameters
    ----------
    reading : float
        Conductivity at the temperature of the solution [mS/cm].
    method : int
        `NATURAL_WATER` or `LINEAR` [dimensionless].
    temperature : float
        Temperature of the solution [K].
    coefficient : float
        Temperature coefficient, used by `LINEAR` alone [1/K].

    Returns
    -------
    float
        Conductivity at 25 degC; NaN outside the range of the method [mS/cm].

    References
    ----------
    .. [1] ISO 7888:1985, Water quality - Determination of electrical conductivity.
       Source key: ``iso-7888-1985``.
    """
    return reading * compensation_factor(method, temperature, coefficient)


@kernel
def reading_at_temperature(
    conductivity: float, method: int, temperature: float, coefficient: float
) -> float:
    """
    Return what a meter without compensation shows of a conductivity at 25 degC.

    Parameters
    ----------
    conductivity : float
        Conductivity at 25 degC [mS/cm].
    method : int
        `NATURAL_WATER` or `LINEAR` [dimensionless].
    temperature : float
        Temperature of the solution [K].
    coefficient : float
        Temperature coefficient, used by `LINEAR` alone [1/K].

    Returns
    -------
    float
        Conductivity at that temperature; NaN outside the range of the method [mS/cm].

    References
    ----------
    .. [1] ISO 7888:1985, Water quality - Determination of electrical conductivity.
       Source key: ``iso-7888-1985``.
    """
    factor = compensation_factor(method, temperature, coefficient)
    if not factor > 0.0:
        return math.nan
    return conductivity / factor
