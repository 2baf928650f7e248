"""What a reservoir was last given: how long to wait, and whether the reading bears it out."""

from dataclasses import dataclass
from typing import Any, Final

from service.chemistry.reservoir import mixed_conductivity
from service.planning.notes import Notes, RefusalError
from service.planning.reservoir_reading import ZERO_CONDUCTIVITY, ReservoirReading

LINES: Final = ("water", "stock_a", "stock_b", "acid")
"""What goes into a reservoir, in the order in which it goes in."""

WAIT_MINUTES: Final = 15.0
"""Least time between two doses, to mix and settle [min]; common practice."""

DAY_MINUTES: Final = 1440.0
BORNE_OUT_MINUTES: Final = 120.0
"""Time after a dose within which nothing but the dose changes a reservoir much [min]; common
practice."""

METER_ERROR: Final = 0.05
"""Relative error of a conductivity meter in use; common practice."""

DOUBLE_ERROR: Final = 0.11
"""Error of the difference of two readings, in relation to the larger: twice `METER_ERROR`, and what
the error itself is worth of a reading that is too low."""

DISPLAY_ERROR: Final = 0.02
"""Error of the difference of two readings by their last digit [mS/cm]."""

HALF_OFF: Final = 0.5
"""Share by which a change may differ from that of the dose: pumps, stocks, stirring; common
practice."""


@dataclass(frozen=True)
class LastDose:
    """
    What was given before.

    Attributes
    ----------
    known : bool
        Whether the caller said anything about it.
    minutes_since : float or None
        Minutes since the last dose; None where there was none.
    water_l, stock_a_ml, stock_b_ml, acid_volume_ml : float
        What it was.
    earlier_ec_ms_per_cm, earlier_ph : float or None
        The reading before it.
    today : dict of str to float or None
        By line, what was given in the last 24 hours, water in litres and the others in
        millilitres; None where it is not said.
    """

    known: bool
    minutes_since: float | None
    water_l: float
    stock_a_ml: float
    stock_b_ml: float
    acid_volume_ml: float
    earlier_ec_ms_per_cm: float | None
    earlier_ph: float | None
    today: dict[str, float | None]

    @property
    def fed(self) -> bool:
        """Whether a feed is known to be in the reservoir."""
        given = (self.stock_a_ml, self.stock_b_ml, self.today["stock_a"], self.today["stock_b"])
        seen = self.earlier_ec_ms_per_cm
        if seen is not None and seen >= ZERO_CONDUCTIVITY:
            return True
        return any(each is not None and each > 0.0 for each in given)


def last_dose_of(asked: Any) -> LastDose:
    """
    Return what was given before.

    Parameters
    ----------
    asked : object or None
        Attributes of `last_dose` in the contract.

    Returns
    -------
    LastDose
        The record; one of nothing where the caller says that nothing was given.
    """
    if asked is None:
        nothing: dict[str, float | None] = dict.fromkeys(LINES)
        return LastDose(False, None, 0.0, 0.0, 0.0, 0.0, None, None, nothing)
    if asked.none:
        return LastDose(True, None, 0.0, 0.0, 0.0, 0.0, None, None, dict.fromkeys(LINES, 0.0))
    given = {
        "water": asked.water_l or 0.0,
        "stock_a": asked.stock_a_ml or 0.0,
        "stock_b": asked.stock_b_ml or 0.0,
        "acid": asked.acid_volume_ml or 0.0,
    }
    said = {
        "water": asked.today_water_l,
        "stock_a": asked.today_stock_a_ml,
        "stock_b": asked.today_stock_b_ml,
        "acid": asked.today_acid_volume_ml,
    }
    recent = asked.minutes_since < DAY_MINUTES
    today = {
        line: None if total is None else max(total, given[line] if recent else 0.0)
        for line, total in said.items()
    }
    return LastDose(
        known=True,
        minutes_since=asked.minutes_since,
        water_l=given["water"],
        stock_a_ml=given["stock_a"],
        stock_b_ml=given["stock_b"],
        acid_volume_ml=given["acid"],
        earlier_ec_ms_per_cm=asked.earlier_ec_ms_per_cm,
        earlier_ph=asked.earlier_ph,
        today=today,
    )


def minutes_to_wait(last: LastDose, reading: ReservoirReading, interval: float) -> float:
    """
    Return how long nothing may be given yet.

    Parameters
    ----------
    last : LastDose
        What was given before.
    reading : ReservoirReading
        The reading; it must be taken as long after the last dose.
    interval : float
        Time between two doses [min].

    Returns
    -------
    float
        Minutes from now until a reading may be acted upon; 0 where this one may [min].
    """
    if last.minutes_since is None:
        return 0.0
    if last.minutes_since - reading.age_minutes >= interval:
        return 0.0
    # A reading from before the dose had settled is replaced by one that is taken later.
    return max(interval - last.minutes_since, 1.0)


def check_borne_out(
    last: LastDose,
    reading: ReservoirReading,
    rise_ms_per_cm: float | None,
    water_ec_ms_per_cm: float,
    notes: Notes,
) -> None:
    """
    Refuse a reading that contradicts what was dosed.

    Parameters
    ----------
    last : LastDose
        What was given before.
    reading : ReservoirReading
        The reading after it has settled.
    rise_ms_per_cm : float or None
        Conductivity that a millilitre of each stock in a litre adds; None without stocks.
    water_ec_ms_per_cm : float
        Conductivity of the water.
    notes : Notes
        Receives cautions.

    Raises
    ------
    RefusalError
        If nothing, or something else, happened after a dose that must have shown.
    """
    if last.minutes_since is None or last.minutes_since > BORNE_OUT_MINUTES:
        return
    before, now = last.earlier_ec_ms_per_cm, reading.ec_ms_per_cm
    moved = last.water_l + last.stock_a_ml + last.stock_b_ml > 0.0
    if before is None and moved:
        notes.caution("earlier_reading_missing")
    if before is not None:
        old_volume = max(reading.volume_l - last.water_l, 0.01 * reading.volume_l)
        expected = mixed_conductivity(old_volume, before, last.water_l, water_ec_ms_per_cm) - before
        if rise_ms_per_cm is not None:
            stock = 0.5 * (last.stock_a_ml + last.stock_b_ml)
            expected += rise_ms_per_cm * stock / reading.volume_l
        slack = DOUBLE_ERROR * max(before, now) + DISPLAY_ERROR
        ends = ((1.0 - HALF_OFF) * expected, (1.0 + HALF_OFF) * expected)
        change = now - before
        if not min(ends) - slack <= change <= max(ends) + slack:
            raise RefusalError(
                "reading_contradicts_dose", before=before, now=now, expected=before + expected
            )
        if moved and change == 0.0:
            notes.caution("reading_unchanged", "reading", what="conductivity", value=now)
    if last.acid_volume_ml > 0.0 and last.earlier_ph is not None and last.earlier_ph == reading.ph:
        notes.caution("reading_unchanged", "reading", what="pH", value=reading.ph)
