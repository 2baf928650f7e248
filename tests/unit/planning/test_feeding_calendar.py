"""Calendars; every expectation here is common practice, no published source."""

import itertools
from collections import Counter
from datetime import date, timedelta

import pytest

from service.planning.feeding_calendar import (
    RINSE,
    Event,
    Group,
    Period,
    calendar_of,
    repot_checks,
    watering_days,
)
from service.planning.seasons import CLIMATES, Site

HOME = Site(hemisphere="north", climate=CLIMATES["heated_home"])
BARK = Group()
FLUSHED = {"flush": date(2027, 2, 28)}


def events(group: Group = BARK, site: Site = HOME, **period: object) -> list[Event]:
    dates = {"first_date": date(2027, 3, 1), "last_date": date(2027, 5, 31)}
    rest = {"repotted_on": date(2027, 2, 1), "last_applied": FLUSHED}
    return calendar_of(site, group, Period(**{**dates, **rest, **period}))  # type: ignore[arg-type]


def kinds(found: list[Event]) -> list[str]:
    return [event.kind for event in found]


def test_a_spring_in_bark_has_feed_supplement_seaweed_and_flushes() -> None:
    counted = Counter(kinds(events()))
    assert counted == {"feed": 7, "supplement": 4, "stimulant": 3, "flush": 3}


def test_flush_stands_before_the_can_of_its_day() -> None:
    found = events()
    place = kinds(found).index("flush")
    assert found[place].day.today == found[place + 1].day.today
    assert found[place + 1].kind in ("feed", "supplement", "stimulant")


def test_calendar_goes_on_from_the_last_can_before_it() -> None:
    last = {"feed": date(2027, 2, 26), **FLUSHED}
    assert events(last_applied=last)[0].day.today == date(2027, 3, 5)
    assert events(last_applied=last)[0].kind == "supplement"


def test_weekdays_set_the_rhythm_in_place_of_the_interval() -> None:
    found = events(weekdays=frozenset({2, 5}))
    assert {event.day.today.weekday() for event in found} == {2, 5}
    last = {"feed": date(2027, 3, 3), **FLUSHED}
    assert events(weekdays=frozenset({2, 5}), last_applied=last)[0].day.today == date(2027, 3, 6)


def test_mount_fed_daily_alternates_rinses_and_is_never_flushed() -> None:
    found = events(Group("mount", shelf=("feed", "supplement")), interval_days=1)
    assert kinds(found)[:4] == ["feed", "supplement", "feed", "supplement"]
    assert "flush" not in kinds(found)
    assert all(event.reasons[-1] == RINSE for event in found)


def test_reservoir_that_is_topped_up_has_water_between_any_two_cans() -> None:
    group = Group("semi_hydroponic_pot", "topped_up", "clay_pebbles")
    found = [each for each in kinds(events(group)) if each != "flush"]
    assert all("water" in pair for pair in itertools.pairwise(found)), found
    drained = Group("semi_hydroponic_pot", "drained", "clay_pebbles")
    assert "water" not in kinds(events(drained))


def test_products_of_one_role_take_turns() -> None:
    group = Group(shelf=("feed", "supplement", "supplement"))
    places = [event.shelf_place for event in events(group) if event.kind == "supplement"]
    assert places == [1, 2, 1, 2]


def test_empty_shelf_gives_water_and_flushes() -> None:
    assert set(kinds(events(Group(shelf=())))) == {"water", "flush"}


@pytest.mark.parametrize(
    ("repotted", "dates"),
    [
        (date(2025, 9, 15), [date(2027, 3, 15)]),
        (date(2025, 3, 15), [date(2027, 3, 1), date(2027, 3, 15)]),
        (date(2024, 1, 1), [date(2027, 3, 1)]),
        (date(2026, 12, 1), []),
        (None, [date(2027, 3, 1)]),
    ],
)
def test_bark_is_looked_at_after_18_and_24_months(repotted: date | None, dates: list[date]) -> None:
    period = Period(date(2027, 3, 1), date(2027, 5, 31), repotted_on=repotted)
    assert [when for when, _ in repot_checks(Group(), period)] == dates


@pytest.mark.parametrize("medium", ["sphagnum", "clay_pebbles", "pumice", "none"])
def test_only_bark_is_looked_at(medium: str) -> None:
    period = Period(date(2027, 3, 1), date(2027, 5, 31))
    assert repot_checks(Group(medium=medium), period) == []


def test_leap_day_and_the_turn_of_the_year_are_days_like_others() -> None:
    period = Period(date(2027, 12, 30), date(2028, 3, 1), interval_days=1)
    days = [today for today, _ in watering_days(period)]
    assert date(2028, 2, 29) in days
    assert len(days) == 2 + 31 + 29 + 1
    assert all(after - before == timedelta(days=1) for before, after in itertools.pairwise(days))


def test_two_hemispheres_feed_alike_within_a_season_half_a_year_apart() -> None:
    south = Site(hemisphere="south", climate=CLIMATES["heated_home"])
    shift = date(2027, 9, 1) - date(2027, 3, 1)
    north = events()
    mirrored = events(
        site=south,
        first_date=date(2027, 9, 1),
        last_date=date(2027, 5, 31) + shift,
        repotted_on=date(2027, 2, 1) + shift,
        last_applied={"flush": date(2027, 2, 28) + shift},
    )
    assert kinds(north) == kinds(mirrored)
    assert [each.day.today + shift for each in north] == [each.day.today for each in mirrored]
