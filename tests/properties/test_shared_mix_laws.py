"""Laws of mixes that rows share: the grouping is the best there is, and no plant gets too much."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.planning import rows
from service.planning.ceilings import (
    MICRONUTRIENT_ELEMENTS,
    conductivity_ceiling,
    reduced_nitrogen_mass,
)
from service.planning.ceilings import NITROGEN as NITROGEN_ELEMENT
from service.planning.mix_grouping import LEFT_OUT, NO_MIX
from service.planning.mix_partition import allotted, cheapest_splits, fewest_cans
from service.planning.profiles import FIRST_MICRONUTRIENT_MAXIMUM
from tests.properties import strategies
from tests.sharing import Shared

CLOSE = 1e-9


@st.composite
def lines(draw, most: int = 9):
    """Return strictly ascending strengths and the volume needed of each."""
    count = draw(st.integers(1, most))
    steps = draw(st.lists(st.floats(1e-3, 2.0), min_size=count, max_size=count))
    volumes = draw(st.lists(st.floats(0.01, 500.0), min_size=count, max_size=count))
    return np.cumsum(steps), np.array(volumes)


def cost(strength, volume, firsts):
    """Volume times missing share, can by can."""
    bounds = itertools.pairwise([*firsts, len(strength)])
    return sum(float((volume[a:b] * (1.0 - strength[a] / strength[a:b])).sum()) for a, b in bounds)


def every_split(levels, cans):
    return [[0, *rest] for rest in itertools.combinations(range(1, levels), cans - 1)]


@settings(max_examples=300)
@given(lines())
def test_cheapest_split_is_the_best_of_all_splits(line):
    strength, volume = line
    split = cheapest_splits(strength, volume, strength.size)
    slack = CLOSE * volume.sum()
    for cans in range(1, strength.size + 1):
        best = min(cost(strength, volume, each) for each in every_split(strength.size, cans))
        firsts = split.firsts(cans)
        assert len(firsts) == cans
        assert cost(strength, volume, firsts) <= best + slack
        assert split.cost_l[cans - 1] == pytest.approx(best, abs=slack)


@settings(max_examples=300)
@given(lines(), st.floats(0.0, 100.0))
def test_fewest_cans_are_the_fewest_and_of_these_the_best(line, tolerance):
    strength, volume = line
    kept = 1.0 - tolerance / 100.0

    def keeps(firsts):
        bounds = itertools.pairwise([*firsts, strength.size])
        return all(strength[a] >= kept * strength[b - 1] * (1.0 - CLOSE) for a, b in bounds)

    found = fewest_cans(strength, volume, tolerance)
    assert keeps(found)
    for cans in range(1, strength.size + 1):
        allowed = [each for each in every_split(strength.size, cans) if keeps(each)]
        if allowed:
            break
    assert len(found) == cans
    best = min(cost(strength, volume, each) for each in allowed)
    assert cost(strength, volume, found) <= best + CLOSE * volume.sum()


@settings(max_examples=200)
@given(st.lists(lines(most=5), min_size=1, max_size=4), st.integers(0, 8))
def test_cans_are_shared_out_among_the_kinds_at_the_least_cost(kinds, spare):
    costs = [cheapest_splits(*line, 9).cost_l for line in kinds]
    most = len(kinds) + spare
    cans = allotted(costs, most)
    assert sum(cans) <= most
    total = sum(each[count - 1] for each, count in zip(costs, cans, strict=True))
    choices = itertools.product(*(range(1, each.size + 1) for each in costs))
    best = min(
        sum(each[count - 1] for each, count in zip(costs, choice, strict=True))
        for choice in choices
        if sum(choice) <= most
    )
    assert total == pytest.approx(best, abs=CLOSE * sum(line[1].sum() for line in kinds))


@settings(max_examples=100)
@given(lines(most=60), st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_more_tolerance_never_takes_more_cans(line, tolerance, more):
    cans = len(fewest_cans(*line, tolerance))
    assert len(fewest_cans(*line, tolerance + more)) <= cans


@settings(max_examples=100)
@given(lines(most=60))
def test_one_can_more_is_never_worse_and_helps_less_than_the_one_before(line):
    costs = cheapest_splits(*line, 60).cost_l
    gains = -np.diff(costs)
    assert (gains >= 0.0).all()
    assert (np.diff(gains) <= CLOSE * line[1].sum()).all()


nurseries = st.lists(
    st.fixed_dictionaries(
        {
            "plants": strategies.plants,
            "air": strategies.air,
            "product": st.sampled_from(["feed_15_5_15_ca_mg", "feed_13_3_15_ca_mg"]),
            "water": st.sampled_from(["rain", "soft_tap", "moderate_tap"]),
            "volume_l": strategies.numbers(0.2, 60.0),
            "instruments": strategies.instruments,
        },
        optional={
            "strength": st.fixed_dictionaries(
                {"basis": st.just("product"), "g_per_l": strategies.numbers(0.05, 1.5)}
            ),
            "target_ph": st.sampled_from([5.8, 6.0]),
            "application": st.sampled_from(["feed", "supplement", "flush"]),
        },
    ).map(lambda row: row | ({"acid": {"kind": "nitric"}} if "target_ph" in row else {})),
    min_size=1,
    max_size=12,
)
several = st.fixed_dictionaries(
    {},
    optional={
        "max_count": st.integers(1, 6),
        "tolerance_percent": st.sampled_from([0.0, 5.0, 20.0, 60.0, 100.0]),
        "reserve_percent": st.sampled_from([0.0, 5.0, 30.0]),
        "can_volumes_l": st.sampled_from([(), (10.0, 4.0), (2.0,)]),
    },
)


@settings(max_examples=150, deadline=None)
@given(nurseries, several)
def test_every_row_with_a_dose_is_in_exactly_one_mix(nursery, wishes):
    shared = Shared(nursery)
    mixes = shared.mixes(**wishes)
    members = [each for mix in shared.members(mixes) for each in mix]
    assert len(members) == len(set(members))
    for index in range(len(nursery)):
        status = rows.STATUSES[shared.results[index]["status"]]
        plain = not shared.results[index]["exact_amount"][0] > 0.0
        plain |= nursery[index].get("application") == "flush"
        word = LEFT_OUT[mixes.left_out[index]]
        assert (index in members) == (status == "ok" and not plain)
        assert word == (status if status != "ok" else "plain_water" if plain else "")
        assert (mixes.mix[index] == NO_MIX) == (index not in members)


@settings(max_examples=150, deadline=None)
@given(nurseries, several)
def test_no_plant_gets_more_than_it_bears_from_any_can(nursery, wishes):
    shared = Shared(nursery)
    mixes = shared.mixes(**wishes)
    for mix in mixes.mixes:
        for filling in mix.fillings:
            can = filling.result
            held = can["amount"][0] / filling.volume_l
            composition = can["composition_mmol_per_l"]
            slack = 1.002 if can["acid_mmol_per_l"] > 0.0 else 1.0 + 1e-6
            for index in mix.rows:
                own, row = shared.results[index], shared.requests[index]
                assert held <= shared.own[index] * (1.0 + 1e-9)
                profile = shared.catalogue.profile_table[row["profile"]]
                nitrogen = can["elements_mg_per_l"][NITROGEN_ELEMENT]
                assert nitrogen <= slack * own["nitrogen_ceiling_mg_per_l"]
                reduced = reduced_nitrogen_mass(composition)
                assert reduced <= slack * own["ammonium_ceiling_mg_per_l"]
                maxima = profile[FIRST_MICRONUTRIENT_MAXIMUM:][: MICRONUTRIENT_ELEMENTS.size]
                assert (can["elements_mg_per_l"][MICRONUTRIENT_ELEMENTS] <= slack * maxima).all()
                ceiling = conductivity_ceiling(row, shared.catalogue.product_table, profile, own)
                assert can["predicted_ec_ms_per_cm"] <= slack * ceiling
                assert 0.0 <= mixes.below_own_percent[index] <= 100.0


@settings(max_examples=100, deadline=None)
@given(nurseries, several)
def test_rows_that_share_a_can_are_the_same_solution(nursery, wishes):
    shared = Shared(nursery)
    for members in shared.members(shared.mixes(**wishes)):
        kinds = {
            (nursery[each]["product"], nursery[each]["water"], nursery[each].get("target_ph"))
            for each in members
        }
        applications = {nursery[each].get("application", "feed") for each in members}
        assert len(kinds) == len(applications) == 1


@settings(max_examples=100, deadline=None)
@given(nurseries, st.integers(1, 6), st.sampled_from([0.0, 10.0, 40.0]))
def test_status_is_ok_only_when_the_wishes_are_kept(nursery, most, tolerance):
    shared = Shared(nursery)
    mixes = shared.mixes(max_count=most, tolerance_percent=tolerance)
    assert len(mixes.mixes) <= max(most, mixes.kind_count)
    kept = len(mixes.mixes) <= most and not mixes.outside.size
    assert mixes.feasible == kept
    alone = shared.mixes(tolerance_percent=tolerance)
    assert alone.feasible
    assert mixes.feasible == (len(alone.mixes) <= most)


@settings(max_examples=60, deadline=None)
@given(nurseries, st.integers(1, 5))
def test_one_can_more_never_takes_strength_from_the_nursery(nursery, most):
    fine = [row | {"instruments": strategies.FINE, "target_ph": None} for row in nursery]
    shared = Shared([{k: v for k, v in row.items() if k != "acid"} for row in fine])
    few = shared.mixes(max_count=most).mean_below_own_percent
    more = shared.mixes(max_count=most + 1).mean_below_own_percent
    if few is not None:
        # A jug rounds what is poured by a percent at most.
        assert more <= few + 1.0


@settings(max_examples=60, deadline=None)
@given(nurseries, several)
def test_volumes_are_enough_for_every_row_and_for_what_is_drawn(nursery, wishes):
    shared = Shared(nursery)
    mixes = shared.mixes(**wishes)
    reserve = 1.0 + wishes.get("reserve_percent", 0.0) / 100.0
    drawn = [0.0] * len(mixes.mixes)
    for mix in mixes.mixes:
        if mix.source is not None:
            drawn[mix.source] += sum(each.times * each.portion_l for each in mix.fillings)
    for mix, taken in zip(mixes.mixes, drawn, strict=True):
        needed = shared.results["volume_l"][mix.rows].sum()
        assert mix.drawn_l == pytest.approx(taken)
        assert mix.made_l >= (needed * reserve + taken) * (1.0 - 1e-6)
