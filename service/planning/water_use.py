"""
How much water a pot loses in a day: from two weighings, from the days between waterings, or a band.

No published table gives the water use of potted orchids against the deficit of the air. Without a
measurement the answer is a band, common practice of how often such pots are watered.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

from service.chemistry.vapour_pressure import vapour_pressure_deficit
from service.planning.containers import Container
from service.planning.defaults import DEFAULT_HUMIDITY, DEFAULT_TEMPERATURE
from service.planning.flush import DEPLETED_SHARE
from service.planning.notes import Notes, RefusalError
from service.planning.targets import FREEZING_POINT

ML_PER_DAY_PER_CM2_PER_KPA: Final = 0.17
"""
Water use over surface and deficit; common practice: a 12 cm pot of bark at 22 degC and 60 %
humidity (1.06 kPa) loses half of its 0.27 L in a week.
"""

ESTIMATE_LOW: Final = 0.6
ESTIMATE_HIGH: Final = 1.6
"""Width of an estimate from the air: light, wind and the plant are not known; common practice."""

DAYS_WIDTH: Final = 0.3
"""Relative width of a use that follows from days between waterings; common practice."""

MASS_WIDTH: Final = 0.05
"""Relative width of a use that was weighed: it differs from week to week; common practice."""

LARGEST_LOSS: Final = 0.9
"""Share of the held water that a pot loses at most between two weighings; common practice."""


@dataclass(frozen=True)
class WaterUse:
    """
    Water that one pot loses in a day, and how it is known.

    Attributes
    ----------
    low_l, middle_l, high_l : float
        Litres a day.
    held_l : float
        Water that the pot holds, corrected by its weights.
    basis : str
        `weights`, `days` or `air`.
    deficit_kpa : float
        Deficit of the air that an estimate used; NaN otherwise.
    """

    low_l: float
    middle_l: float
    high_l: float
    held_l: float
    basis: str
    deficit_kpa: float

    @property
    def measured(self) -> bool:
        """Whether it rests on the pot itself."""
        return self.basis != "air"


def water_use(request: Any, pot: Container, notes: Notes) -> WaterUse:
    """
    Return the water use of one pot.

    Parameters
    ----------
    request : object
        Attributes as in the contract of salt outlooks.
    pot : Container
        The pot.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    WaterUse
        The best measurement that the request allows.

    Raises
    ------
    RefusalError
        If the pot weighs no less before a watering than after.
    """
    if request.pot_mass_wet_g is not None:
        lost = (request.pot_mass_wet_g - request.pot_mass_dry_g) / 1000.0
        if not lost > 0.0:
            raise RefusalError("pot_masses_contradictory")
        held = pot.held_l
        if lost > LARGEST_LOSS * held:
            held = lost / LARGEST_LOSS
            notes.assume("held_water_from_masses", held=held)
        return _spread(lost / request.days_between_weighings, MASS_WIDTH, held, "weights")
    if request.days_between_waterings is not None:
        use = DEPLETED_SHARE * pot.held_l / request.days_between_waterings
        notes.assume("water_use_from_days", use=1000.0 * use)
        return _spread(use, DAYS_WIDTH, pot.held_l, "days")
    deficit = _deficit(request.air, notes)
    surface = math.pi / 4.0 * pot.diameter_cm**2
    middle = ML_PER_DAY_PER_CM2_PER_KPA * surface * deficit / 1000.0
    use = WaterUse(
        ESTIMATE_LOW * middle, middle, ESTIMATE_HIGH * middle, pot.held_l, "air", deficit
    )
    notes.assume("water_use_estimated", low=1000.0 * use.low_l, high=1000.0 * use.high_l)
    notes.caution("water_use_not_measured")
    return use


def _spread(use: float, width: float, held: float, basis: str) -> WaterUse:
    return WaterUse((1.0 - width) * use, use, (1.0 + width) * use, held, basis, math.nan)


def _deficit(air: Any, notes: Notes) -> float:
    """Return the deficit that stands for the weeks: that of the averages where they are given."""
    if air is None:
        notes.assume("air_assumed")
        humidity, temperature = DEFAULT_HUMIDITY, DEFAULT_TEMPERATURE
    elif air.average_humidity_percent is not None:
        humidity = air.average_humidity_percent
        temperature = air.average_temperature_celsius
        if temperature is None:
            temperature = air.temperature_celsius
    else:
        humidity, temperature = air.humidity_percent, air.temperature_celsius
    if temperature is None:
        temperature = DEFAULT_TEMPERATURE
        notes.assume("air_temperature_assumed")
    return float(vapour_pressure_deficit(temperature + FREEZING_POINT, humidity))
