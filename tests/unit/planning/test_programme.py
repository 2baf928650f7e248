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


SEAWEED = "Seaweed every 28 days from spring to autumn, never while cool nights set spikes."


@pytest.mark.parametrize(("gap", "kind"), [(1, "stimulant"), (8, "stimulant"), (9, "stimulant"),
                                           (10, "feed"), (30, "feed")])  # fmt: skip
def test_a_can_is_spared_for_seaweed_up_to_nine_days_between_cans(gap: int, kind: str) -> None:
    here = Situation(growth="active", season="summer", next_date=TODAY + timedelta(days=gap))
    found = application_due(RULES, TODAY, days_ago(flush=1, feed=3, supplement=5), here)
    assert found.kind == kind
    by_interval = Situation(growth="active", season="summer", interval_days=gap)
    since = days_ago(flush=1, feed=gap, supplement=gap + 1)
    if gap < 27:
        assert application_due(RULES, TODAY, since, by_interval).kind == kind


@pytest.mark.parametrize(("since", "kind"), [(27, "feed"), (28, "stimulant"), (29, "stimulant")])
def test_seaweed_comes_every_four_weeks(since: int, kind: str) -> None:
    found = due(feed=3, supplement=5, stimulant=since)
    assert found.kind == kind
    if kind == "stimulant":
        assert found.reasons == (SEAWEED,)


@pytest.mark.parametrize(
    ("changed", "kind"),
    [
        ({"season": None}, "stimulant"),
        ({"season": "spring"}, "stimulant"),
        ({"season": "autumn", "growth": "in_bloom"}, "stimulant"),
        ({"season": "winter", "growth": "in_bloom"}, "feed"),
        ({"growth": "resting"}, "feed"),
        ({"growth": "spike_initiation"}, "feed"),
        ({"shelf": ("feed", "supplement")}, "feed"),
    ],
)
def test_seaweed_has_its_seasons(changed: dict[str, str], kind: str) -> None:
    here = Situation(**{"growth": "active", "season": "summer", **changed})  # type: ignore[arg-type]
    assert due(here, feed=3, supplement=5).kind == kind
    if changed == {"season": None}:
        assert "all year without seasons" in due(here, feed=3, supplement=5).reasons[0]


@pytest.mark.parametrize(
    ("since", "expected"),
    [
        (0, "The last can was 0 days ago; the next is due in 7."),
        (6, "The last can was 6 days ago; the next is due in 1."),
        (-3, "The last can was 0 days ago; the next is due in 10."),
    ],
)
def test_before_the_interval_has_passed_nothing_is_due(since: int, expected: str) -> None:
    here = Situation(growth="active", season="summer", interval_days=7)
    found = due(here, feed=since)
    assert (found.kind, found.reasons) == ("water", (expected,))
    assert due(here, feed=7).kind != "water"


@pytest.mark.parametrize(("celsius", "fed"), [(9.9, False), (10.0, True), (38.0, True),
                                              (38.1, False)])  # fmt: skip
def test_outside_the_air_in_which_strength_is_judged_nothing_is_fed(
    celsius: float, fed: bool
) -> None:
    found = due(Situation(growth="active", season="summer", day_temperature_celsius=celsius))
    if fed:
        assert found.kind == "feed"
    else:
        assert found.reasons == (
            f"At {celsius:.0f} °C nothing is fed: strength is judged between 10 and 38 °C.",
        )


@pytest.mark.parametrize(("gap", "expected"), [(1, "supplement"), (2, "supplement"), (3, "feed")])
def test_a_mount_that_is_fed_within_two_days_takes_turns(gap: int, expected: str) -> None:
    here = Situation(
        growth="active", season="summer", setup="mount", shelf=("feed", "supplement"),
        next_date=TODAY + timedelta(days=gap),
    )  # fmt: skip
    assert due(here, feed=1, supplement=2).kind == expected
    assert due(here, feed=2, supplement=1).kind == "feed"


def test_a_reservoir_gets_water_on_the_day_after_a_can() -> None:
    here = Situation(growth="active", season="summer", refill="topped_up")
    assert due(here, feed=1).kind == "water"
    assert due(here, feed=2).kind == "supplement"
    assert due(Situation(growth="active", season="summer", refill="drained"), feed=1).kind != (
        "water"
    )


@pytest.mark.parametrize(
    ("humidity", "days", "reason"),
    [
        (39.9, 20, None),
        (39.9, 21, "Last flushed 21 days ago; every 21 days, under 40 % humidity salt gathers "
         "faster."),
        (40.0, 27, None),
        (40.0, 28, "Last flushed 28 days ago; every 28 days, in pots."),
        (None, 27, None),
        (None, 40, "Last flushed 40 days ago; every 28 days, in pots."),
    ],
)  # fmt: skip
def test_pots_are_flushed_by_days_and_sooner_in_dry_air(
    humidity: float | None, days: int, reason: str | None
) -> None:
    last = TODAY - timedelta(days=days)
    assert flush_reason(RULES, TODAY, last, "wet_dry_pot", humidity) == reason
    assert flush_reason(RULES, TODAY, last, "mount", humidity) is None


@pytest.mark.parametrize(
    ("since", "cool", "reason"),
    [
        (28, False, "The last supplement was 28 days ago; every 28 days in growth."),
        (14, True, "The last supplement was 14 days ago; every 14 days in the cool months."),
        (None, False, "No supplement was given yet; every 28 days in growth."),
        (None, True, "No supplement was given yet; every 14 days in the cool months."),
    ],
)
def test_the_reason_of_a_supplement_names_its_rhythm(
    since: int | None, cool: bool, reason: str
) -> None:
    season = "winter" if cool else "summer"
    here = Situation(growth="in_bloom", season=season)
    given = {"feed": 3} if since is None else {"feed": 3, "supplement": since, "stimulant": 10}
    assert due(here, **given).reasons == (reason,)


@pytest.mark.parametrize(
    ("growth", "season", "night", "sets"),
    [
        ("spike_initiation", "summer", 25.0, True),
        ("active", "autumn", 12.0, True),
        ("active", "winter", 12.0, True),
        ("active", None, 12.0, True),
        ("active", "spring", 12.0, False),
        ("active", "summer", 12.0, False),
        ("active", "autumn", 25.0, False),
        ("active", "autumn", None, False),
        ("in_bloom", "autumn", 12.0, False),
    ],
)
def test_cool_nights_set_spikes_in_growing_plants(
    growth: str, season: str | None, night: float | None, sets: bool
) -> None:
    assert sets_spikes(growth, season, night) is sets
