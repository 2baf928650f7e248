"""Seasons, climates and phases; the climates are common practice, no published source."""

from datetime import date

import pytest

from service.planning.seasons import (
    CLIMATES,
    Phase,
    Site,
    SiteAir,
    add_months,
    air_on,
    climate_in_month,
    day_at,
    season_on,
)

HOME = CLIMATES["heated_home"]


@pytest.mark.parametrize(
    ("month", "north", "south"),
    [
        (1, "winter", "summer"),
        (2, "winter", "summer"),
        (3, "spring", "autumn"),
        (5, "spring", "autumn"),
        (6, "summer", "winter"),
        (8, "summer", "winter"),
        (9, "autumn", "spring"),
        (11, "autumn", "spring"),
        (12, "winter", "summer"),
    ],
)
def test_seasons_are_whole_months_and_half_a_year_apart(month: int, north: str, south: str) -> None:
    assert season_on(date(2027, month, 15), "north") == north
    assert season_on(date(2027, month, 15), "south") == south
    assert season_on(date(2027, month, 15), "equator") is None


def test_leap_day_is_winter_in_the_north_and_summer_in_the_south() -> None:
    assert season_on(date(2028, 2, 29), "north") == "winter"
    assert season_on(date(2028, 2, 29), "south") == "summer"


def test_middle_month_has_the_numbers_of_its_season_and_others_lie_between() -> None:
    for month, season in ((1, "winter"), (4, "spring"), (7, "summer"), (10, "autumn")):
        assert climate_in_month(HOME, month) == HOME[season]
    november = climate_in_month(HOME, 11)
    assert november.night_temperature_celsius == pytest.approx(17.5 + (17.0 - 17.5) / 3)
    december = climate_in_month(HOME, 12)
    assert december.humidity_percent == pytest.approx(45 + (35 - 45) * 2 / 3)


def test_equator_has_the_mean_air_all_year() -> None:
    site = Site(hemisphere="equator", climate=HOME)
    july, january = air_on(site, date(2027, 7, 1)), air_on(site, date(2027, 1, 1))
    assert july == january
    assert july.day_temperature_celsius == pytest.approx((21 + 22 + 25 + 21) / 4)


def test_usual_air_stands_where_the_climate_is_silent() -> None:
    dry = {name: SiteAir(20.0, 16.0, None) for name in HOME}
    site = Site(hemisphere="north", climate=dry, usual_air=SiteAir(humidity_percent=33.0))
    assert air_on(site, date(2027, 5, 1)) == SiteAir(20.0, 16.0, 33.0)


@pytest.mark.parametrize(
    ("climate", "profile", "growths"),
    [
        ("heated_home", "moth_orchid", ["active", "active", "spike_initiation", "in_bloom"]),
        ("warm_greenhouse", "moth_orchid", ["active", "active", "active", "active"]),
        ("cool_greenhouse", "cattleya", ["active", "active", "spike_initiation", "resting"]),
    ],
)
def test_growth_follows_the_season_and_its_nights(
    climate: str, profile: str, growths: list[str]
) -> None:
    site = Site(profile=profile, hemisphere="north", climate=CLIMATES[climate])
    found = [day_at(site, date(2027, month, 10)).growth for month in (4, 7, 10, 1)]
    assert found == growths


def test_dated_phase_wins_over_the_season_on_both_its_ends() -> None:
    phase = Phase("resting", date(2027, 7, 1), date(2027, 7, 31))
    site = Site(hemisphere="north", climate=HOME, phases=(phase,))
    days = [date(2027, 6, 30), date(2027, 7, 1), date(2027, 7, 31), date(2027, 8, 1)]
    assert [day_at(site, day).growth for day in days] == ["active", "resting", "resting", "active"]


def test_artificial_site_feeds_evenly_unless_its_light_is_short() -> None:
    assert day_at(Site(light_hours=12.0), date(2027, 1, 1)).growth == "active"
    assert day_at(Site(light_hours=8.0), date(2027, 1, 1)).growth == "resting"
    assert day_at(Site(growth="in_bloom", light_hours=8.0), date(2027, 1, 1)).growth == "in_bloom"


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2026, 8, 31), 18, date(2028, 2, 29)),
        (date(2025, 8, 31), 18, date(2027, 2, 28)),
        (date(2024, 2, 29), 24, date(2026, 2, 28)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
        (date(2026, 1, 31), 3, date(2026, 4, 30)),
    ],
)
def test_months_are_added_to_the_same_day_or_the_last_of_the_month(
    start: date, months: int, end: date
) -> None:
    assert add_months(start, months) == end
