"""
What is due on a day, and why: feed, supplement, stimulant, plain water, a flush first.

`application_due` answers for one day and knows nothing of calendars, so that a single dose can ask
it as well as `service.planning.feeding_calendar`. The rhythm is common practice, no published
source: `RULES` holds every number of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Final

from service.planning.seasons import is_cool_night
from service.planning.targets import (
    DAYS_BETWEEN_FLUSHES,
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
)

KINDS: Final = ("repot_check", "flush", "feed", "supplement", "stimulant", "water")
"""Kinds of events, in the order in which they are done on one day."""

ROLES: Final = ("feed", "supplement", "stimulant")
"""Kinds that are a can with a product."""

COOL_SEASONS: Final = ("autumn", "winter")
STIMULANT_SEASONS: Final = ("spring", "summer", "autumn")
FEED_REASONS: Final = MappingProxyType(
    {
        "active": "In active growth: fed at the full strength of the day.",
        "spike_initiation": "Spikes are being set: fed at three quarters of the strength.",
        "in_bloom": "In bloom: fed at half of the strength.",
        "resting": "At rest: fed at a quarter of the strength.",
    }
)
BETWEEN_CANS: Final = "A reservoir that is only topped up gets plain water between cans."


@dataclass(frozen=True)
class ProgrammeRules:
    """
    The numbers of the rhythm; common practice, no published source.

    Attributes
    ----------
    supplement_days, cool_supplement_days : int
        Days between supplements, and in the cool months.
    stimulant_days : int
        Days between stimulants.
    stimulant_slot_days : int
        Longest gap between cans at which a stimulant can be spared one.
    flush_days, dry_air_flush_days : int
        Days between flushes of a pot, and in dry air.
    dry_air_percent : float
        Humidity under which a pot is flushed sooner [percent].
    frequent_days : int
        Gap at or under which a mount is fed daily and weakly.
    first_check_months, last_check_months : int
        Age of bark at which it is looked at, and at which it is renewed.
    flush_can_count : float
        Cans of water that a flush takes.
    """

    supplement_days: int = 28
    cool_supplement_days: int = 14
    stimulant_days: int = 28
    stimulant_slot_days: int = 9
    flush_days: int = int(DAYS_BETWEEN_FLUSHES)
    dry_air_flush_days: int = 21
    dry_air_percent: float = 40.0
    frequent_days: int = 2
    first_check_months: int = 18
    last_check_months: int = 24
    flush_can_count: float = 3.0


RULES: Final = ProgrammeRules()


@dataclass(frozen=True)
class Due:
    """
    What is due on a day.

    Attributes
    ----------
    kind : str
        ``feed``, ``supplement``, ``stimulant`` or ``water``.
    flush_first : bool
        Whether the pot is leached with plain water before that.
    reasons : tuple of str
        Why, the reason of the flush last.
    """

    kind: str
    flush_first: bool
    reasons: tuple[str, ...]


def sets_spikes(growth: str, season: str | None, night_temperature: float | None) -> bool:
    """
    Tell whether cool nights are setting spikes.

    Parameters
    ----------
    growth : str
        One of `rows.GROWTHS`.
    season : str or None
        One of `seasons.SEASONS`, None without seasons.
    night_temperature : float or None
        Lowest temperature of the night [degC].

    Returns
    -------
    bool
        True in spike initiation, and for a growing plant in cool nights outside spring and summer.
    """
    if growth == "spike_initiation":
        return True
    return (
        growth == "active"
        and season not in ("spring", "summer")
        and is_cool_night(night_temperature)
    )


def flush_reason(
    rules: ProgrammeRules,
    today: date,
    last_flush: date | None,
    setup: str,
    humidity: float | None,
) -> str | None:
    """
    Return why a pot is to be leached today, None when it is not.

    Parameters
    ----------
    rules : ProgrammeRules
        The numbers of the rhythm.
    today : date
        The day.
    last_flush : date or None
        Last time it was leached, None when that is not known.
    setup : str
        One of `rows.SETUPS`; a mount is rinsed after every feed instead.
    humidity : float or None
        Relative humidity [percent].

    Returns
    -------
    str or None
        A sentence.
    """
    if setup == "mount":
        return None
    if last_flush is None:
        return "It is not known when the pot was last flushed, so the programme starts with it."
    dry = humidity is not None and humidity < rules.dry_air_percent
    limit = rules.dry_air_flush_days if dry else rules.flush_days
    days = (today - last_flush).days
    if days < limit:
        return None
    why = f"under {rules.dry_air_percent:.0f} % humidity salt gathers faster" if dry else "in pots"
    return f"Last flushed {days} days ago; every {limit} days, {why}."


@dataclass(frozen=True)
class Situation:
    """
    What a day's decision follows from.

    Attributes
    ----------
    growth : str
        One of `rows.GROWTHS`.
    night_temperature_celsius, day_temperature_celsius : float or None
        Lowest and highest temperature, where known [degC].
    humidity_percent : float or None
        Relative humidity, where known [percent].
    season : str or None
        One of `seasons.SEASONS`, None without seasons.
    setup : str
        One of `rows.SETUPS`.
    refill : str or None
        One of `rows.REFILLS`, for a pot over a reservoir.
    shelf : sequence of str
        Those of `ROLES` that a product is at hand for.
    interval_days : int or None
        Days between cans; None where today is a watering day in any case.
    next_date : date or None
        The watering day after this one, where it is known.
    """

    growth: str
    night_temperature_celsius: float | None = None
    day_temperature_celsius: float | None = None
    humidity_percent: float | None = None
    season: str | None = None
    setup: str = "wet_dry_pot"
    refill: str | None = None
    shelf: Sequence[str] = ROLES
    interval_days: int | None = None
    next_date: date | None = None

    @property
    def cool(self) -> bool:
        """Whether the day lies in the cool months; without seasons the night decides."""
        if self.season is None:
            return is_cool_night(self.night_temperature_celsius)
        return self.season in COOL_SEASONS

    @property
    def sets_spikes(self) -> bool:
        """Whether cool nights are setting spikes, in that phase or in a growing plant."""
        return sets_spikes(self.growth, self.season, self.night_temperature_celsius)


@dataclass(frozen=True)
class _Record:
    """A day with the cans that came before it."""

    today: date
    given: Mapping[str, date] = field(default_factory=dict)

    def days_since(self, role: str) -> int | None:
        return (self.today - self.given[role]).days if role in self.given else None

    @property
    def latest(self) -> date | None:
        return max(self.given.values(), default=None)

    def is_latest(self, role: str) -> bool:
        return role in self.given and self.given[role] == self.latest

    def days_to(self, next_date: date | None, interval_days: int | None) -> int | None:
        return interval_days if next_date is None else (next_date - self.today).days

    def same_month(self, when: date | None) -> bool:
        return when is not None and (when.year, when.month) == (self.today.year, self.today.month)


def application_due(
    rules: ProgrammeRules,
    today: date,
    last_applied: Mapping[str, date],
    situation: Situation,
) -> Due:
    """
    Return what these plants are due today, and why.

    Parameters
    ----------
    rules : ProgrammeRules
        The numbers of the rhythm.
    today : date
        The day.
    last_applied : mapping of str to date
        Last feed, supplement, stimulant and flush, as far as known.
    situation : Situation
        Growth, night temperature and what else the decision follows from.

    Returns
    -------
    Due
        The kind and the reasons.
    """
    given = {role: last_applied[role] for role in ROLES if role in last_applied}
    kind, reason = _can_due(rules, _Record(today, given), situation)
    leach = flush_reason(
        rules, today, last_applied.get("flush"), situation.setup, situation.humidity_percent
    )
    return Due(kind, leach is not None, (reason,) if leach is None else (reason, leach))


def _can_due(rules: ProgrammeRules, record: _Record, here: Situation) -> tuple[str, str]:
    """Kind of can and its reason; the flush is judged apart."""
    latest = record.latest
    since = None if latest is None else (record.today - latest).days
    if since is not None and here.interval_days is not None and since < here.interval_days:
        wait = here.interval_days - since
        return "water", f"The last can was {max(since, 0)} days ago; the next is due in {wait}."
    day = here.day_temperature_celsius
    if day is not None and not LOWEST_TEMPERATURE <= day <= HIGHEST_TEMPERATURE:
        return "water", (
            f"At {day:.0f} °C nothing is fed: strength is judged between "
            f"{LOWEST_TEMPERATURE:.0f} and {HIGHEST_TEMPERATURE:.0f} °C."
        )
    if here.refill == "topped_up" and since is not None and since <= 1:
        return "water", BETWEEN_CANS
    stimulant = _stimulant_reason(rules, record, here)
    gap = record.days_to(here.next_date, here.interval_days)
    daily = here.setup == "mount" and gap is not None and gap <= rules.frequent_days
    if daily and {"feed", "supplement"} <= set(here.shelf):
        if record.is_latest("feed") and stimulant is None:
            return "supplement", "On mounts feed and supplement take turns, weakly and often."
    else:
        reason = _supplement_reason(rules, record, here)
        if reason is not None and not _stimulant_first(rules, record, here):
            return "supplement", reason
    if stimulant is not None and (record.is_latest("feed") or "feed" not in here.shelf):
        return "stimulant", stimulant
    if "feed" not in here.shelf:
        return "water", "Nothing else is due and there is no feed on the shelf."
    return "feed", FEED_REASONS[here.growth]


def _supplement_reason(rules: ProgrammeRules, record: _Record, here: Situation) -> str | None:
    """Why a supplement is due, None when it is not."""
    if "supplement" not in here.shelf or (here.growth == "resting" and not here.cool):
        return None
    last_of_month = here.next_date is not None and not record.same_month(here.next_date)
    if (
        last_of_month
        and here.growth != "resting"
        and record.latest is not None
        and not record.is_latest("supplement")
        and not record.same_month(record.given.get("supplement"))
    ):
        return "A growing plant gets a supplement in every month; this is its last can."
    if not record.is_latest("feed") and "feed" in here.shelf:
        return None
    limit = _supplement_days(rules, here)
    since = record.days_since("supplement")
    when = "in the cool months" if here.cool else "in growth"
    if since is None:
        return f"No supplement was given yet; every {limit} days {when}."
    if since < limit:
        return None
    return f"The last supplement was {since} days ago; every {limit} days {when}."


def _supplement_days(rules: ProgrammeRules, here: Situation) -> int:
    often = here.cool and here.growth != "resting"
    return rules.cool_supplement_days if often else rules.supplement_days


def _stimulant_reason(rules: ProgrammeRules, record: _Record, here: Situation) -> str | None:
    """Why a stimulant is due, None when it is not."""
    if "stimulant" not in here.shelf or here.growth == "resting" or here.sets_spikes:
        return None
    if here.season is not None and here.season not in STIMULANT_SEASONS:
        return None
    gap = record.days_to(here.next_date, here.interval_days)
    if gap is not None and gap > rules.stimulant_slot_days:
        return None
    since = record.days_since("stimulant")
    if since is not None and since < rules.stimulant_days:
        return None
    window = "all year without seasons" if here.season is None else "from spring to autumn"
    return (
        f"Seaweed every {rules.stimulant_days} days {window}, never while cool nights set spikes."
    )


def _stimulant_first(rules: ProgrammeRules, record: _Record, here: Situation) -> bool:
    """Tell whether a stimulant is longer overdue than the supplement, and the month has room."""
    if here.next_date is None or _stimulant_reason(rules, record, here) is None:
        return False
    waited = record.days_since("supplement")
    if waited is None:
        return False
    # The can after the next, since a feed comes between, is the supplement's.
    after_next = here.next_date + (here.next_date - record.today)
    if not record.same_month(after_next) and not record.same_month(record.given["supplement"]):
        return False
    since = record.days_since("stimulant")
    return since is None or since * _supplement_days(rules, here) > waited * rules.stimulant_days
