"""
A dated calendar of feeding: the watering days of a period, each with what is due on it.

The rhythm is that of `service.planning.programme`; here it is walked through the dates of a site,
with the plain water between cans, the flushes and the looks at the bark that belong to it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from service.planning.programme import (
    BETWEEN_CANS,
    KINDS,
    ROLES,
    RULES,
    ProgrammeRules,
    Situation,
    application_due,
)
from service.planning.seasons import Day, Site, add_months, day_at

BARK_MEDIA: Final = ("bark", "bark_and_sphagnum")
ONE_DAY: Final = timedelta(days=1)
RINSE: Final = "Rinse the mount with plain water about an hour later."


@dataclass(frozen=True)
class Group:
    """
    The plants of a calendar, as far as the rhythm needs them.

    Attributes
    ----------
    setup : str
        One of `rows.SETUPS`.
    refill : str or None
        One of `rows.REFILLS`.
    medium : str
        One of `rows.MEDIA`.
    shelf : tuple of str
        Role of each product at hand, in the caller's order.
    """

    setup: str = "wet_dry_pot"
    refill: str | None = None
    medium: str = "bark"
    shelf: tuple[str, ...] = ROLES


@dataclass(frozen=True)
class Period:
    """
    The dates of a calendar and its watering days.

    Attributes
    ----------
    first_date, last_date : date
        Both included.
    interval_days : int
        Days between watering days; not used with weekdays.
    weekdays : frozenset of int
        Monday is 0; empty for an even interval.
    last_applied : mapping of str to date
        Last feed, supplement, stimulant and flush before the period.
    repotted_on : date or None
        When the plants were last repotted.
    """

    first_date: date
    last_date: date
    interval_days: int = 7
    weekdays: frozenset[int] = frozenset()
    last_applied: Mapping[str, date] = field(default_factory=dict)
    repotted_on: date | None = None


@dataclass(frozen=True)
class Event:
    """
    One thing to do on one date.

    Attributes
    ----------
    day : Day
        The date with its season, growth and air.
    kind : str
        One of `KINDS`.
    shelf_place : int or None
        Place of the product on the shelf; None for water and checks.
    gap_days : int
        Days to the next watering day.
    reasons : tuple of str
        Why.
    """

    day: Day
    kind: str
    shelf_place: int | None
    gap_days: int
    reasons: tuple[str, ...]


def watering_days(period: Period) -> Iterator[tuple[date, date]]:
    """
    Yield the watering days of a period, each with the one after it.

    Parameters
    ----------
    period : Period
        Dates and rhythm; the first day keeps its distance from the last can before the period.

    Yields
    ------
    tuple of date
        A watering day in the period, and the next one, which may lie beyond its end.
    """
    last = max(
        (period.last_applied[role] for role in ROLES if role in period.last_applied), default=None
    )
    today = period.first_date
    if period.weekdays:
        if last is not None:
            today = max(today, last + ONE_DAY)
        while today.weekday() not in period.weekdays:
            today += ONE_DAY
    elif last is not None:
        today = max(today, last + timedelta(days=period.interval_days))
    while today <= period.last_date:
        following = today + ONE_DAY
        if period.weekdays:
            while following.weekday() not in period.weekdays:
                following += ONE_DAY
        else:
            following = today + timedelta(days=period.interval_days)
        yield today, following
        today = following


def calendar_of(
    site: Site, group: Group, period: Period, rules: ProgrammeRules = RULES
) -> list[Event]:
    """
    Return every event of a period, in order.

    Parameters
    ----------
    site : Site
        Where the plants stand.
    group : Group
        What they stand in, and the roles of what is on the shelf.
    period : Period
        The dates.
    rules : ProgrammeRules
        The numbers of the rhythm.

    Returns
    -------
    list of Event
        Sorted by date, on one date in the order of `KINDS`.
    """
    events = [
        Event(day_at(site, when), "repot_check", None, 0, (reason,))
        for when, reason in repot_checks(group, period, rules)
    ]
    applied = dict(period.last_applied)
    places = {
        role: [place for place, each in enumerate(group.shelf) if each == role] for role in ROLES
    }
    turns = dict.fromkeys(ROLES, 0)
    for today, following in watering_days(period):
        day = day_at(site, today)
        gap = (following - today).days
        situation = Situation(
            growth=day.growth,
            night_temperature_celsius=day.air.night_temperature_celsius,
            day_temperature_celsius=day.air.day_temperature_celsius,
            humidity_percent=day.air.humidity_percent,
            season=day.season,
            setup=group.setup,
            refill=group.refill,
            shelf=group.shelf,
            next_date=following,
        )
        due = application_due(rules, today, applied, situation)
        reasons = due.reasons
        if due.flush_first:
            events.append(Event(day, "flush", None, gap, reasons[-1:]))
            applied["flush"] = today
            reasons = reasons[:-1]
        place = None
        if due.kind in ROLES:
            applied[due.kind] = today
            turn = turns[due.kind]
            place = places[due.kind][turn % len(places[due.kind])]
            turns[due.kind] = turn + 1
            if group.setup == "mount":
                reasons = (*reasons, RINSE)
        events.append(Event(day, due.kind, place, gap, reasons))
        if group.refill == "topped_up" and due.kind in ROLES and gap > 1:
            between = today + timedelta(days=gap // 2)
            if between <= period.last_date:
                events.append(Event(day_at(site, between), "water", None, gap, (BETWEEN_CANS,)))
    return sorted(events, key=lambda event: (event.day.today, KINDS.index(event.kind)))


def repot_checks(
    group: Group, period: Period, rules: ProgrammeRules = RULES
) -> list[tuple[date, str]]:
    """
    Return the dates on which the bark is looked at.

    Parameters
    ----------
    group : Group
        What the plants stand in; only bark breaks down in this way.
    period : Period
        The dates, and when the plants were last repotted.
    rules : ProgrammeRules
        The numbers of the rhythm.

    Returns
    -------
    list of (date, str)
        Dates of the period with the reason.
    """
    if group.setup == "mount" or group.medium not in BARK_MEDIA:
        return []
    if period.repotted_on is None:
        reason = "It is not known when these plants were repotted: look whether the bark is soft."
        return [(period.first_date, reason)]
    first, last = rules.first_check_months, rules.last_check_months
    due = {months: add_months(period.repotted_on, months) for months in (first, last)}
    words = {
        first: f"The bark is {first} months old: repot if it is soft or sour, not in bloom.",
        last: f"The bark is {last} months old: repot once the flowers are over.",
    }
    found = [
        (when, words[months])
        for months, when in due.items()
        if period.first_date <= when <= period.last_date
    ]
    overdue = [months for months, when in due.items() if when < period.first_date]
    if overdue:
        reason = f"The bark is more than {max(overdue)} months old: look at it now."
        found.insert(0, (period.first_date, reason))
    return found
