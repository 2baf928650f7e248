"""Laws of the salt of a pot: conserved, rinsed by more water, steady where it should be."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.chemistry.leaching import leaching_fraction, steady_drainage
from service.chemistry.root_zone import displaced, displacing_volume, salt_after_pouring
from service.planning.salt_weeks import (
    COLUMN_COUNT,
    DRAINED,
    DRAINED_SALT,
    MOIST,
    POURED,
    POURED_SALT,
    SALT,
    TAKEN_SALT,
    WATER,
    salt_weeks,
)
from service.planning.watering_schedule import Watering, in_order, table_of

strengths = st.floats(0.0, 5.0)
volumes = st.floats(0.0, 3.0)
held_volumes = st.floats(0.02, 5.0)
shares = st.floats(0.0, 1.0)
kinds = st.sampled_from(["feed", "supplement", "water", "flush"])
schedules = st.lists(
    st.builds(Watering, st.integers(1, 84), kinds, volumes, strengths), min_size=0, max_size=30
)


def run(waterings, *, held=0.3, efficiency=0.5, use=0.02, start=0.8, uptake=0.0, weeks=12, top=0):
    table = table_of(in_order(waterings), topped_up=bool(top))
    result = np.empty((weeks, COLUMN_COUNT))
    salt_weeks(
        table.day,
        table.volume_l,
        table.ec_ms_per_cm,
        table.drains,
        table.is_feed,
        held,
        efficiency,
        use,
        start,
        uptake,
        result,
    )
    return result


def weekly(strength, volume=0.3, weeks=12, every=7):
    return [Watering(day, "feed", volume, strength) for day in range(1, 7 * weeks + 1, every)]


@settings(max_examples=150, deadline=None)
@example(
    waterings=[Watering(4, "feed", 2.0, 0.0), Watering(4, "feed", 0.0, 0.0)],
    held=1.56505661852728,
    efficiency=0.0,
    use=0.5,
    start=0.0,
    uptake=0.0,
    top=False,
)  # What the pot takes sums up to a rounding more than it holds.
@given(
    waterings=schedules,
    held=held_volumes,
    efficiency=shares,
    use=st.floats(0.0, 0.5),
    start=strengths,
    uptake=shares,
    top=st.booleans(),
)
def test_salt_is_conserved(waterings, held, efficiency, use, start, uptake, top):
    weeks = run(
        waterings,
        held=held,
        efficiency=efficiency,
        use=use,
        start=start,
        uptake=uptake,
        top=top,
    )
    came = start * held + np.cumsum(weeks[:, POURED_SALT])
    went = np.cumsum(weeks[:, DRAINED_SALT] + weeks[:, TAKEN_SALT])
    assert np.allclose(came - went, weeks[:, SALT], rtol=1e-9, atol=1e-9)
    assert np.all(weeks[:, SALT] >= 0.0)
    assert np.all(weeks[:, DRAINED_SALT] >= -1e-12)
    assert np.all(weeks[:, WATER] > 0.0)
    assert np.all(weeks[:, WATER] <= held * (1.0 + 1e-12))


@settings(max_examples=150, deadline=None)
@given(strengths, strengths, volumes, volumes, held_volumes, shares)
def test_more_leaching_never_leaves_more_salt(pot, water, first, second, held, efficiency):
    less, more = sorted((first, second))
    if water > pot:
        return
    after_less = displaced(pot, water, less, held, efficiency)
    assert displaced(pot, water, more, held, efficiency) <= after_less + 1e-12


@settings(max_examples=150, deadline=None)
@given(strengths, strengths, volumes, held_volumes, st.floats(0.05, 1.0), shares)
def test_flush_ends_between_pot_and_water(pot, water, volume, held, filled, efficiency):
    inside = filled * held
    after = salt_after_pouring(pot * inside, inside, held, volume, water, efficiency)
    level = after / min(held, inside + volume)
    assert min(pot, water) - 1e-9 <= level <= max(pot, water) + 1e-9


@settings(max_examples=100, deadline=None)
@given(
    st.floats(1.0, 5.0), st.floats(0.0, 0.4), st.floats(0.5, 0.9), held_volumes, st.floats(0.1, 1.0)
)
def test_planned_flush_reaches_its_target(pot, water, target, held, efficiency):
    volume = displacing_volume(pot, water, target, held, efficiency)
    assert displaced(pot, water, volume, held, efficiency) == pytest.approx(target, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 2.0), strengths, st.floats(0.2, 1.0))
def test_without_evaporation_the_pot_tends_to_its_feed(feed, start, efficiency):
    waterings = weekly(feed, volume=0.9, weeks=40)
    weeks = run(waterings, use=0.0, start=start, efficiency=efficiency, weeks=40)
    assert weeks[-1, MOIST] == pytest.approx(feed, rel=1e-6, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 2.0), st.floats(0.005, 0.03), st.floats(0.25, 0.6), st.floats(0.2, 1.0))
def test_steady_drainage_is_the_feed_over_the_leaching_fraction(feed, use, volume, efficiency):
    # The pot holds 0.3 L and loses at most 0.21 L from one weekly watering to the next.
    weeks = run(weekly(feed, volume=volume, weeks=400), use=use, efficiency=efficiency, weeks=400)
    last = weeks[-1]
    fraction = float(leaching_fraction(last[POURED] - last[DRAINED], last[POURED]))
    measured = last[DRAINED_SALT] / last[DRAINED]
    assert measured == pytest.approx(float(steady_drainage(feed, fraction)), rel=1e-3)


@settings(max_examples=100, deadline=None)
@given(schedules, st.floats(0.1, 1.0), shares, st.floats(0.0, 0.1))
def test_weeks_are_monotone_in_the_strength_of_the_schedule(waterings, weaker, efficiency, use):
    strong = run(waterings, efficiency=efficiency, use=use)
    thinned = [
        Watering(each.day, each.kind, each.volume_l, weaker * each.ec_ms_per_cm)
        for each in waterings
    ]
    weak = run(thinned, efficiency=efficiency, use=use)
    assert np.all(weak[:, SALT] <= strong[:, SALT] + 1e-9)
    assert np.all(weak[:, MOIST] <= strong[:, MOIST] + 1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.2, 2.0), st.floats(0.001, 0.03), st.floats(0.001, 0.03), st.floats(0.22, 0.6))
def test_a_pot_that_dries_faster_gathers_no_less_salt(feed, first, second, volume):
    slow, fast = sorted((first, second))
    calm, dry = (run(weekly(feed, volume=volume), use=use) for use in (slow, fast))
    assert np.all(dry[:, SALT] >= calm[:, SALT] - 1e-9)


@settings(max_examples=60, deadline=None)
@given(schedules, st.integers(1, 84), st.floats(0.0, 3.0))
def test_one_more_flush_with_pure_water_never_leaves_more_salt(waterings, day, volume):
    plain = run(waterings)
    flushed = run([*waterings, Watering(day, "flush", volume, 0.0)])
    assert np.all(flushed[:, SALT] <= plain[:, SALT] + 1e-9)
