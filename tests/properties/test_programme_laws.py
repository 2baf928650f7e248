"""Laws of calendars, whatever the dates, the rhythm and the site."""

import itertools
from collections import Counter
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.planning.feeding_calendar import Event, Group, Period, calendar_of
from service.planning.programme import KINDS, ROLES, sets_spikes
from service.planning.seasons import (
    CLIMATES,
    Phase,
    Site,
    SiteAir,
    add_months,
    day_at,
)

GROWTHS = ("active", "spike_initiation", "in_bloom", "resting")
HALF_YEAR = 6

dates = st.dates(date(2023, 1, 1), date(2032, 12, 31))
climates = st.sampled_from(sorted(CLIMATES))
hemispheres = st.sampled_from(["north", "south", "equator"])
profiles = st.sampled_from(["moth_orchid", "cattleya"])
groups = st.one_of(
    st.just(Group()),
    st.just(Group("mount", None, "none")),
    st.sampled_from(["drained", "topped_up"]).map(
        lambda refill: Group("semi_hydroponic_pot", refill, "clay_pebbles")
    ),
)


@st.composite
def sites(draw: st.DrawFn) -> Site:
    kind = draw(st.sampled_from(["seasons", "artificial", "phases"]))
    profile = draw(profiles)
    if kind == "seasons":
        climate = CLIMATES[draw(climates)]
        return Site(profile=profile, hemisphere=draw(hemispheres), climate=climate)
    if kind == "artificial":
        night = draw(st.one_of(st.none(), st.floats(10, 28)))
        return Site(usual_air=SiteAir(26.0, night, 60.0), light_hours=draw(st.floats(0, 24)))
    first = draw(dates)
    days = draw(st.lists(st.integers(1, 120), min_size=1, max_size=8))
    phases = []
    for length in days:
        last = first + timedelta(days=length)
        phases.append(Phase(draw(st.sampled_from(GROWTHS)), first, last))
        first = last + timedelta(days=1)
    return Site(phases=tuple(phases))


@st.composite
def periods(draw: st.DrawFn, longest_interval: int = 40) -> Period:
    first = draw(dates)
    last = first + timedelta(days=draw(st.integers(0, 731)))
    before = st.integers(0, 60).map(lambda days: first - timedelta(days=days))
    applied = draw(st.dictionaries(st.sampled_from([*ROLES, "flush"]), before))
    return Period(
        first,
        last,
        interval_days=draw(st.integers(1, longest_interval)),
        last_applied=applied,
        repotted_on=draw(st.one_of(st.none(), before)),
    )


def cans(events: list[Event]) -> list[Event]:
    return [event for event in events if event.kind in ROLES]


@settings(max_examples=80)
@given(sites(), groups, periods())
def test_events_lie_inside_the_dates_and_are_sorted(
    site: Site, group: Group, period: Period
) -> None:
    events = calendar_of(site, group, period)
    order = [(event.day.today, KINDS.index(event.kind)) for event in events]
    assert order == sorted(order)
    assert len(set(order)) == len(order)
    assert all(period.first_date <= day <= period.last_date for day, _ in order)


@settings(max_examples=80)
@given(sites(), groups, periods())
def test_no_two_cans_are_closer_than_the_interval(site: Site, group: Group, period: Period) -> None:
    days = [event.day.today for event in cans(calendar_of(site, group, period))]
    days = sorted(
        [*days, *(when for role, when in period.last_applied.items() if role in ROLES)][-400:]
    )
    given_before = [when for role, when in period.last_applied.items() if role in ROLES]
    inside = [day for day in days if day not in given_before]
    if given_before and inside:
        assert (inside[0] - max(given_before)).days >= period.interval_days
    assert all(
        (after - before).days >= period.interval_days
        for before, after in itertools.pairwise(inside)
    )


@settings(max_examples=80)
@given(sites(), groups, periods(longest_interval=14))
def test_every_month_of_active_growth_has_a_supplement(
    site: Site, group: Group, period: Period
) -> None:
    events = calendar_of(site, group, period)
    months: dict[tuple[int, int], list[Event]] = {}
    for event in cans(events):
        months.setdefault((event.day.today.year, event.day.today.month), []).append(event)
    for month, listed in months.items():
        # At the ends of a period a month may hold a single can.
        edge = month in (
            (period.first_date.year, period.first_date.month),
            (period.last_date.year, period.last_date.month),
        )
        if edge or any(event.day.growth != "active" for event in listed):
            continue
        assert "supplement" in {event.kind for event in listed}, month


@settings(max_examples=80)
@given(sites(), groups, periods())
def test_nothing_that_is_a_stimulant_falls_into_spike_setting_or_rest(
    site: Site, group: Group, period: Period
) -> None:
    for event in calendar_of(site, group, period):
        if event.kind == "stimulant":
            night = event.day.air.night_temperature_celsius
            assert not sets_spikes(event.day.growth, event.day.season, night)
            assert event.day.growth not in ("resting", "spike_initiation")
            assert event.day.season != "winter"


@settings(max_examples=80)
@given(sites(), groups, periods())
def test_two_cans_without_feed_never_follow_each_other_but_for_a_month_that_lacks_one(
    site: Site, group: Group, period: Period
) -> None:
    listed = cans(calendar_of(site, group, period))
    for before, after in itertools.pairwise(listed):
        if "feed" not in (before.kind, after.kind):
            assert after.kind == "supplement"
            assert "every month" in after.reasons[0]


@settings(max_examples=200)
@given(dates, climates, profiles)
def test_a_day_of_the_north_is_the_day_half_a_year_later_in_the_south(
    today: date, climate: str, profile: str
) -> None:
    north = Site(profile=profile, hemisphere="north", climate=CLIMATES[climate])
    south = Site(profile=profile, hemisphere="south", climate=CLIMATES[climate])
    here, there = day_at(north, today), day_at(south, add_months(today, HALF_YEAR))
    assert (here.season, here.growth, here.air) == (there.season, there.growth, there.air)


@settings(max_examples=40)
@given(st.integers(2023, 2031), st.integers(1, 12), climates, st.integers(1, 14))
def test_a_programme_of_the_north_shifted_by_half_a_year_is_that_of_the_south(
    year: int, month: int, climate: str, interval: int
) -> None:
    """Months differ in length by up to three days, so a count may differ by what fits into them."""
    first = date(year, month, 1)
    found = []
    for hemisphere, start in (("north", first), ("south", add_months(first, HALF_YEAR))):
        site = Site(hemisphere=hemisphere, climate=CLIMATES[climate])
        period = Period(start, add_months(start, 12) - timedelta(days=1), interval)
        found.append(
            Counter(
                (event.kind, event.day.season, event.day.growth)
                for event in calendar_of(site, Group(), period)
            )
        )
    north, south = found
    slack = 2 + 3 // interval
    for key in north | south:
        assert abs(north[key] - south[key]) <= slack, key


@settings(max_examples=60)
@given(groups, st.sampled_from([2024, 2028, 2032]), st.integers(1, 3))
def test_leap_day_gets_its_can_when_it_is_its_turn(group: Group, year: int, interval: int) -> None:
    leap = date(year, 2, 29)
    period = Period(leap - timedelta(days=4 * interval), leap + timedelta(days=9), interval)
    site = Site(hemisphere="north", climate=CLIMATES["heated_home"])
    assert leap in {event.day.today for event in calendar_of(site, group, period)}
