"""What is due on a day; every expectation here is common practice, no published source."""

from datetime import date, timedelta

import pytest

from service.planning.programme import (
    RULES,
    Due,
    Situation,
    application_due,
    flush_reason,
    sets_spikes,
)

TODAY = date(2027, 6, 16)
WARM = Situation(growth="active", night_temperature_celsius=20.0, season="summer")


def days_ago(**days: int) -> dict[str, date]:
    return {role: TODAY - timedelta(days=count) for role, count in days.items()}


def due(situation: Situation = WARM, **days: int) -> Due:
    return application_due(RULES, TODAY, days_ago(flush=1) | days_ago(**days), situation)


def test_a_first_can_is_a_feed() -> None:
    assert due().kind == "feed"


def test_a_supplement_follows_the_first_feed() -> None:
    answer = due(feed=7)
    assert answer.kind == "supplement"
    assert "28 days" in answer.reasons[0]


def test_a_growing_plant_gets_a_supplement_again_after_four_weeks_and_not_sooner() -> None:
    assert due(feed=7, supplement=27, stimulant=14).kind == "feed"
    assert due(feed=7, supplement=28, stimulant=14).kind == "supplement"


@pytest.mark.parametrize("season", ["autumn", "winter"])
def test_supplements_come_twice_as_often_in_the_cool_months(season: str) -> None:
    cool = Situation(growth="spike_initiation", night_temperature_celsius=16.0, season=season)
    assert due(cool, feed=7, supplement=14).kind == "supplement"
    assert due(WARM, feed=7, supplement=14, stimulant=3).kind == "feed"


def test_two_cans_without_feed_never_follow_each_other() -> None:
    assert due(feed=14, supplement=40, stimulant=7).kind == "feed"
    assert due(feed=14, supplement=7, stimulant=40).kind == "feed"


def test_last_can_of_a_month_is_the_supplement_that_is_still_missing() -> None:
    here = Situation(growth="active", season="summer", next_date=date(2027, 7, 2))
    answer = application_due(RULES, TODAY, days_ago(flush=1, feed=14, supplement=17), here)
    assert answer.kind == "supplement"
    assert "every month" in answer.reasons[0]


@pytest.mark.parametrize("season", ["spring", "summer", "autumn"])
def test_seaweed_is_given_from_spring_to_autumn_in_warm_nights(season: str) -> None:
    here = Situation(growth="active", night_temperature_celsius=20.0, season=season)
    assert due(here, feed=7, supplement=7 + 3, stimulant=28).kind == "stimulant"
    assert due(here, feed=7, supplement=7 + 3, stimulant=27).kind == "feed"


@pytest.mark.parametrize(
    ("growth", "season", "night"),
    [
        ("active", "winter", 20.0),
        ("spike_initiation", "autumn", 16.0),
        ("active", "autumn", 18.0),
        ("active", None, 16.0),
        ("resting", "summer", 20.0),
    ],
)
def test_seaweed_is_never_given_in_winter_at_rest_or_while_spikes_are_set(
    growth: str, season: str | None, night: float
) -> None:
    here = Situation(growth=growth, night_temperature_celsius=night, season=season)
    assert due(here, feed=7, supplement=8).kind != "stimulant"


def test_cool_nights_set_spikes_in_autumn_and_not_in_spring() -> None:
    assert sets_spikes("active", "autumn", 18.0)
    assert not sets_spikes("active", "autumn", 18.5)
    assert not sets_spikes("active", "spring", 14.0)
    assert not sets_spikes("in_bloom", "winter", 14.0)
    assert not sets_spikes("active", None, None)
    assert sets_spikes("spike_initiation", None, None)


def test_a_day_before_the_interval_is_over_is_plain_water() -> None:
    here = Situation(growth="active", season="summer", interval_days=7)
    answer = due(here, feed=3)
    assert answer.kind == "water"
    assert "due in 4" in answer.reasons[0]
    assert due(here, feed=7, supplement=8, stimulant=9).kind == "feed"


@pytest.mark.parametrize(("day", "kind"), [(9.9, "water"), (10.0, "feed"), (38.5, "water")])
def test_nothing_is_fed_in_air_in_which_no_strength_is_known(day: float, kind: str) -> None:
    here = Situation(growth="active", day_temperature_celsius=day, season="summer")
    assert due(here).kind == kind


def test_resting_plants_get_no_supplement_in_the_warm_months() -> None:
    here = Situation(growth="resting", season="summer", night_temperature_celsius=20.0)
    assert due(here, feed=7, supplement=90).kind == "feed"


def test_mount_that_is_watered_daily_alternates_feed_and_supplement() -> None:
    here = Situation(growth="active", season="summer", setup="mount", interval_days=1)
    assert due(here, feed=1, supplement=2, stimulant=9).kind == "supplement"
    assert due(here, feed=2, supplement=1, stimulant=9).kind == "feed"
    assert due(here, feed=1, supplement=2, stimulant=28).kind == "stimulant"


def test_reservoir_that_is_topped_up_gets_water_the_day_after_a_can() -> None:
    here = Situation(growth="active", setup="semi_hydroponic_pot", refill="topped_up")
    assert due(here, feed=1).kind == "water"
    assert due(here, feed=2, supplement=3, stimulant=4).kind == "feed"


@pytest.mark.parametrize(
    ("shelf", "expected"), [((), "water"), (("supplement",), "supplement"), (("feed",), "feed")]
)
def test_what_is_not_on_the_shelf_is_not_due(shelf: tuple[str, ...], expected: str) -> None:
    here = Situation(growth="active", season="summer", shelf=shelf)
    assert due(here).kind == expected


@pytest.mark.parametrize(
    ("days", "humidity", "is_due"),
    [(27, 60.0, False), (28, 60.0, True), (20, 39.0, False), (21, 39.0, True), (28, None, True)],
)
def test_pot_is_flushed_every_four_weeks_and_sooner_in_dry_air(
    days: int, humidity: float | None, is_due: bool
) -> None:
    last = TODAY - timedelta(days=days)
    reason = flush_reason(RULES, TODAY, last, "wet_dry_pot", humidity)
    assert (reason is not None) is is_due


def test_flush_comes_before_the_can_and_has_its_reason_last() -> None:
    answer = application_due(RULES, TODAY, days_ago(flush=30), WARM)
    assert answer.kind == "feed"
    assert answer.flush_first
    assert "30 days ago" in answer.reasons[-1]


def test_unknown_flush_is_made_good_at_once_and_a_mount_is_never_flushed() -> None:
    assert application_due(RULES, TODAY, {}, WARM).flush_first
    mount = Situation(growth="active", season="summer", setup="mount")
    assert not application_due(RULES, TODAY, {}, mount).flush_first
