"""What a calendar takes to be so and what it warns of, each with the case in which it is silent."""

from dataclasses import fields
from datetime import date
from typing import Any

import pytest

from service.planning.feeding_calendar import Group, Period
from service.planning.programme import RULES, ProgrammeRules
from service.planning.programme_notices import (
    RULE_TEXTS,
    programme_assumptions,
    programme_cautions,
    rules_in_words,
)
from service.planning.seasons import Day, Phase, Site, SiteAir

FIRST, LAST = date(2027, 5, 1), date(2027, 7, 31)
SITE = Site(hemisphere="north")
POTS = Group()
FLUSHED = {"flush": date(2027, 4, 20)}
GROWING = ("feed", "supplement", "stimulant")


def day(basis: str = "request", celsius: float | None = 22.0) -> Day:
    return Day(FIRST, "spring", "active", basis, SiteAir(celsius, 17.0, 60.0))


def period(interval_days: int = 7, **last_applied: date) -> Period:
    return Period(FIRST, LAST, interval_days=interval_days, last_applied=last_applied or FLUSHED)


def assumed(
    site: Site = SITE,
    group: Group = POTS,
    when: Period | None = None,
    days: tuple[Day, ...] = (day(),),
    climate_assumed: str | None = None,
) -> list[str]:
    found = programme_assumptions(
        site, group, when or period(), days, climate_assumed=climate_assumed
    )
    assert {each.severity for each in found} == {"info"}
    return [each.code for each in found]


def warned(
    site: Site = SITE,
    group: Group = POTS,
    when: Period | None = None,
    days: tuple[Day, ...] = (day(),),
    summary: tuple[Any, ...] = (),
) -> list[str]:
    found = programme_cautions(site, group, when or period(), days, summary)
    return [each.code for each in found]


def month(feeds: int, supplements: int) -> dict[str, int]:
    return {"feed_count": feeds, "supplement_count": supplements}


def test_only_the_rhythm_is_assumed_where_everything_is_said() -> None:
    assert assumed() == ["practice_rhythm"]
    (rhythm,) = programme_assumptions(SITE, POTS, period(), [day()], climate_assumed=None)
    assert rhythm.field is None
    assert rhythm.message == (
        "Dates and rhythm are common practice, no published source: `rules` lists the numbers."
    )


def test_an_assumed_climate_is_named() -> None:
    assert assumed(climate_assumed="windowsill") == ["practice_rhythm", "climate_assumed"]
    found = programme_assumptions(SITE, POTS, period(), [day()], climate_assumed="windowsill")
    assert found[1].field == "site.climate"
    assert "`windowsill` is taken" in found[1].message


@pytest.mark.parametrize(
    ("basis", "phases", "expected"),
    [
        ("season", (), ["growth_by_season"]),
        ("phase", (), []),
        ("even", (), []),
        ("even", (Phase("active", FIRST, LAST),), ["growth_between_phases"]),
        ("phase", (Phase("active", FIRST, LAST),), []),
    ],
)
def test_what_growth_follows_from_is_said(
    basis: str, phases: tuple[Phase, ...], expected: list[str]
) -> None:
    site = Site(hemisphere="north", phases=phases)
    days = (day("request"), day(basis))
    assert assumed(site, days=days) == ["practice_rhythm", *expected]


def test_an_unknown_flush_is_said_of_pots_alone() -> None:
    unknown = period(feed=date(2027, 4, 25))
    assert assumed(when=unknown) == ["practice_rhythm", "flush_date_unknown"]
    assert assumed(group=Group("mount", None, "none"), when=unknown) == ["practice_rhythm"]


def test_a_calendar_in_order_warns_of_nothing() -> None:
    assert warned() == []


def test_a_calendar_without_days_says_so() -> None:
    assert warned(days=()) == ["no_events"]


@pytest.mark.parametrize(
    ("shelf", "expected"),
    [
        (("supplement", "stimulant"), ["shelf_without_feed"]),
        (("feed", "stimulant"), ["shelf_without_supplement"]),
        (("stimulant",), ["shelf_without_feed", "shelf_without_supplement"]),
        (GROWING, []),
    ],
)
def test_what_is_missing_on_the_shelf_is_said(shelf: tuple[str, ...], expected: list[str]) -> None:
    assert warned(group=Group(shelf=shelf)) == expected


def test_near_the_equator_no_season_tells() -> None:
    equator = Site(hemisphere="equator")
    assert warned(equator, days=(day("even"),)) == ["no_seasons"]
    assert warned(equator, days=(day("phase"),)) == []
    assert warned(SITE, days=(day("even"),)) == []


@pytest.mark.parametrize(
    ("celsius", "outside"), [(9.9, True), (10.0, False), (38.0, False), (38.1, True), (None, False)]
)
def test_days_outside_the_known_strengths_are_counted(celsius: float | None, outside: bool) -> None:
    found = programme_cautions(SITE, POTS, period(), [day(), day("request", celsius)] * 2, ())
    assert [each.code for each in found] == (["days_without_feeding"] if outside else [])
    if outside:
        assert found[0].message.startswith("On 2 days the air lies outside 10 to 38 °C")


@pytest.mark.parametrize(
    ("months", "said"),
    [
        ((month(4, 1), month(2, 0), month(4, 1)), True),
        ((month(4, 1), month(1, 0), month(4, 1)), False),
        # The first and the last month may be cut short.
        ((month(4, 0), month(4, 1), month(4, 0)), False),
        ((month(4, 0),), False),
    ],
)
def test_months_without_a_supplement_are_said(months: tuple[Any, ...], said: bool) -> None:
    assert warned(summary=months) == (["months_without_supplement"] if said else [])
    without = Group(shelf=("feed", "stimulant"))
    assert warned(group=without, summary=months) == ["shelf_without_supplement"]


def test_with_more_than_nine_days_between_cans_seaweed_is_left_out() -> None:
    assert warned(when=period(9)) == []
    assert warned(when=period(10)) == ["stimulant_left_out"]
    assert warned(group=Group(shelf=("feed", "supplement")), when=period(10)) == []
    (notice,) = programme_cautions(SITE, POTS, period(10), [day()], ())
    assert (notice.severity, notice.field) == ("info", "interval_days")
    assert notice.message.startswith("With more than 9 days between cans")


def test_the_gravest_stands_first() -> None:
    found = programme_cautions(
        Site(hemisphere="equator"), Group(shelf=("stimulant",)), period(14),
        [day("even", 5.0)], (),
    )  # fmt: skip
    assert [(each.code, each.severity, each.field) for each in found] == [
        ("shelf_without_feed", "warning", "shelf"),
        ("no_seasons", "warning", "site.phases"),
        ("days_without_feeding", "warning", "site.climate"),
        ("shelf_without_supplement", "info", "shelf"),
        ("stimulant_left_out", "info", "interval_days"),
    ]


def test_every_number_of_the_rhythm_is_told_with_its_unit() -> None:
    told = {each["rule"]: each for each in rules_in_words()}
    assert list(told) == [each.name for each in fields(ProgrammeRules)] == list(RULE_TEXTS)
    assert {name: each["value"] for name, each in told.items()} == {
        "supplement_days": 28.0,
        "cool_supplement_days": 14.0,
        "stimulant_days": 28.0,
        "stimulant_slot_days": 9.0,
        "flush_days": 28.0,
        "dry_air_flush_days": 21.0,
        "dry_air_percent": 40.0,
        "frequent_days": 2.0,
        "first_check_months": 18.0,
        "last_check_months": 24.0,
        "flush_can_count": 3.0,
    }
    assert {each["unit"] for each in told.values()} == {"d", "%", "months", "1"}
    assert told["dry_air_percent"]["meaning"] == "humidity under which air is dry"
    assert {each["basis"] for each in told.values()} == {"common practice, no published source"}
    changed = rules_in_words(ProgrammeRules(flush_days=99))
    assert {each["rule"]: each["value"] for each in changed}["flush_days"] == 99.0
    assert ProgrammeRules() == RULES
