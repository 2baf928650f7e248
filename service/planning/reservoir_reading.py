"""The reading of a reservoir: what it says at 25 degC, and whether it can be true at all."""

from dataclasses import dataclass
from typing import Any, Final

from service.planning.known_water import KnownWater
from service.planning.notes import Notes, RefusalError
from service.planning.reading import reference_reading

LOWEST_PH: Final = 3.0
HIGHEST_PH: Final = 10.0
"""Readings outside which a probe is at fault and not the reservoir; common practice."""

COLDEST: Final = 0.0
WARMEST: Final = 45.0
"""Temperatures outside which no plant stands in the solution [degC]; common practice."""

FAULT_TEMPERATURES: Final = (0.0, 85.0)
"""What digital probes show when they are not read [degC]; common practice."""

MOST_MINUTES_OLD: Final = 15.0
"""Age up to which a reading is acted upon [min]; common practice."""

ZERO_CONDUCTIVITY: Final = 0.02
"""Conductivity under which a probe is dry or broken where a feed is in [mS/cm]; common practice."""

BELOW_WATER: Final = 0.9
"""Share of the conductivity of the water under which a reading cannot be true; the error of the
meter and of the analysis together; common practice."""

LEAST_WATER_NOTICED: Final = 0.1
"""Conductivity from which that of a water is known well enough to judge by [mS/cm]."""

ASSUMED_CELSIUS: Final = 25.0

_BESIDE_THE_READING: Final = ("compensated", "scale", "ppm", "temperature_celsius", "ec_ms_per_cm")


@dataclass(frozen=True)
class ReservoirReading:
    """
    A reading that can be true.

    Attributes
    ----------
    ec_ms_per_cm : float
        Conductivity at 25 degC.
    ph : float or None
        pH.
    temperature_celsius : float
        Temperature of the reservoir.
    alkalinity_mg_per_l_caco3 : float or None
        Measured alkalinity.
    age_minutes : float
        Minutes since it was taken.
    volume_l : float
        Volume that is in the reservoir.
    room_l : float
        Volume that still goes in.
    """

    ec_ms_per_cm: float
    ph: float | None
    temperature_celsius: float
    alkalinity_mg_per_l_caco3: float | None
    age_minutes: float
    volume_l: float
    room_l: float


def true_reading(
    asked: Any, full_l: float, water: KnownWater | None, *, fed: bool, notes: Notes
) -> ReservoirReading:
    """
    Read a reading, and refuse one that cannot be true.

    Parameters
    ----------
    asked : object
        Attributes of `reading` in the contract.
    full_l : float
        Volume of the full reservoir [L].
    water : KnownWater or None
        The water that the reservoir is filled with.
    fed : bool
        Whether a feed is in it, as far as is known.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    ReservoirReading
        The reading.

    Raises
    ------
    RefusalError
        If it cannot be true, or is too old.
    """
    _check_temperature(asked.temperature_celsius)
    ph = asked.ph
    if ph is not None and not LOWEST_PH <= ph <= HIGHEST_PH:
        raise RefusalError("ph_cannot_be_true", ph=ph)
    level = 100.0 if asked.level_percent is None else asked.level_percent
    if asked.level_percent is None:
        notes.assume("reservoir_full_assumed")
    if level > 100.0:
        raise RefusalError("level_cannot_be_true", level=level)
    if level <= 0.0:
        raise RefusalError("reservoir_empty")
    age = 0.0 if asked.age_minutes is None else asked.age_minutes
    if asked.age_minutes is None:
        notes.assume("reading_fresh_assumed")
    if age > MOST_MINUTES_OLD:
        raise RefusalError("reading_too_old", age=age, most=MOST_MINUTES_OLD)
    conductivity = _conductivity(asked, notes)
    _check_conductivity(conductivity, water, fed)
    celsius = asked.temperature_celsius
    if celsius is None:
        celsius = ASSUMED_CELSIUS
        notes.assume("mix_temperature_assumed", "reading.temperature_celsius")
    volume = full_l * level / 100.0
    return ReservoirReading(
        ec_ms_per_cm=conductivity,
        ph=ph,
        temperature_celsius=celsius,
        alkalinity_mg_per_l_caco3=asked.alkalinity_mg_per_l_caco3,
        age_minutes=age,
        volume_l=volume,
        room_l=full_l - volume,
    )


def _check_temperature(celsius: float | None) -> None:
    if celsius is None:
        return
    if celsius in FAULT_TEMPERATURES:
        raise RefusalError("temperature_of_a_fault", temperature=celsius)
    if not COLDEST < celsius <= WARMEST:
        raise RefusalError("temperature_cannot_be_true", temperature=celsius)


def _conductivity(asked: Any, notes: Notes) -> float:
    """Return the conductivity at 25 degC, with the notes placed on the reading."""
    own = Notes()
    conductivity, _ = reference_reading(asked, own)
    for note in (*own.cautions, *own.assumptions):
        if note["field"] in _BESIDE_THE_READING:
            note["field"] = f"reading.{note['field']}"
    notes.take(own.cautions, own.assumptions)
    return conductivity


def _check_conductivity(conductivity: float, water: KnownWater | None, fed: bool) -> None:
    """Refuse a probe that hangs in the air, or shows less than the water alone has."""
    if fed and conductivity < ZERO_CONDUCTIVITY:
        raise RefusalError("conductivity_cannot_be_zero", reading=conductivity)
    if water is None or water.ec_ms_per_cm < LEAST_WATER_NOTICED:
        return
    if conductivity < BELOW_WATER * water.ec_ms_per_cm:
        raise RefusalError("reading_below_water", reading=conductivity, water_ec=water.ec_ms_per_cm)
