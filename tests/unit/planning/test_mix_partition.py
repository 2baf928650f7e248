"""Splits of a line of strengths into cans, against all splits that there are."""

import itertools

import numpy as np
import pytest

from service.planning.mix_partition import (
    SAME_STRENGTH,
    allotted,
    cheapest_splits,
    fewest_cans,
    fill_levels,
)


def splits(levels: int, cans: int) -> list[tuple[int, ...]]:
    """Return the first levels of every split into so many cans."""
    return [(0, *cuts) for cuts in itertools.combinations(range(1, levels), cans - 1)]


def cost_of(firsts: tuple[int, ...], strength: np.ndarray, volume: np.ndarray) -> float:
    """Return the volume times what is missing of the strength, written out plant by plant."""
    bounds = [*firsts, strength.size]
    return sum(
        volume[level] * (1.0 - strength[begin] / strength[level])
        for begin, end in itertools.pairwise(bounds)
        for level in range(begin, end)
    )


def kept_by(firsts: tuple[int, ...], strength: np.ndarray, tolerance_percent: float) -> bool:
    bounds = [*firsts, strength.size]
    return all(
        100.0 * (1.0 - strength[begin] / strength[end - 1]) <= tolerance_percent + 1e-9
        for begin, end in itertools.pairwise(bounds)
    )


def line(seed: int) -> tuple[np.ndarray, np.ndarray]:
    draw = np.random.default_rng(seed)
    levels = 1 + seed % 8
    # Clusters and gaps, large and small volumes: cans begin anywhere.
    strength = np.cumsum(draw.choice([0.01, 0.1, 1.0], levels)) * draw.uniform(0.2, 2.0)
    return strength, draw.choice([0.5, 2.0, 30.0], levels) * draw.uniform(0.5, 1.5, levels)


def test_one_can_two_cans_and_three_by_hand() -> None:
    # 10 L of 0.3, 20 L of 0.4 and 30 L of 0.6 g/L.
    # One can of 0.3: 20 x 1/4 + 30 x 1/2 = 20 L missing; {0.3, 0.4} {0.6}: 20 x 1/4 = 5 L;
    # {0.3} {0.4, 0.6}: 30 x 1/3 = 10 L; three: none.
    found = cheapest_splits(np.array([0.3, 0.4, 0.6]), np.array([10.0, 20.0, 30.0]), 9)
    assert found.cost_l == pytest.approx([20.0, 5.0, 0.0])
    assert [found.firsts(cans) for cans in (1, 2, 3)] == [[0], [0, 2], [0, 1, 2]]


@pytest.mark.parametrize("seed", range(40))
def test_cheapest_split_is_the_best_of_all(seed: int) -> None:
    strength, volume = line(seed)
    found = cheapest_splits(strength, volume, strength.size + 3)
    assert found.cost_l.size == strength.size
    for cans in range(1, strength.size + 1):
        costs = [cost_of(each, strength, volume) for each in splits(strength.size, cans)]
        assert found.cost_l[cans - 1] == pytest.approx(min(costs), abs=1e-9)
        chosen = tuple(found.firsts(cans))
        assert len(chosen) == cans
        assert cost_of(chosen, strength, volume) == pytest.approx(min(costs), abs=1e-9)


def test_no_more_cans_are_planned_than_asked() -> None:
    strength, volume = line(7)
    assert cheapest_splits(strength, volume, 3).cost_l.size == 3


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("tolerance_percent", [0.0, 5.0, 20.0, 60.0, 100.0])
def test_fewest_cans_keep_the_tolerance_and_are_the_cheapest_of_that_number(
    seed: int, tolerance_percent: float
) -> None:
    strength, volume = line(seed)
    keeping = [
        each
        for cans in range(1, strength.size + 1)
        for each in splits(strength.size, cans)
        if kept_by(each, strength, tolerance_percent)
    ]
    fewest = min(map(len, keeping))
    best = min(cost_of(each, strength, volume) for each in keeping if len(each) == fewest)
    found = tuple(fewest_cans(strength, volume, tolerance_percent))
    assert found[0] == 0
    assert len(found) == fewest
    assert kept_by(found, strength, tolerance_percent)
    assert cost_of(found, strength, volume) == pytest.approx(best, abs=1e-9)


def test_a_tolerance_that_is_met_exactly_is_kept() -> None:
    # 0.3 is a quarter below 0.4, and 1 - 0.25 has a binary fraction; 0.7 x 0.1 has none.
    ones = np.ones(2)
    assert fewest_cans(np.array([0.3, 0.4]), ones, 25.0) == [0]
    assert fewest_cans(np.array([0.07, 0.1]), ones, 30.0) == [0]
    assert fewest_cans(np.array([0.07, 0.1]), ones, 29.999) == [0, 1]


@pytest.mark.parametrize("seed", range(30))
def test_cans_are_shared_out_where_they_save_most(seed: int) -> None:
    draw = np.random.default_rng(seed)
    costs = [
        np.append(np.sort(draw.uniform(0.0, 9.0, draw.integers(0, 4)))[::-1], 0.0)
        for _ in range(1 + seed % 4)
    ]
    for most in range(len(costs), sum(map(len, costs)) + 2):
        ways = [
            way
            for way in itertools.product(*(range(1, each.size + 1) for each in costs))
            if sum(way) <= most
        ]
        prices = {
            way: sum(each[cans - 1] for each, cans in zip(costs, way, strict=True)) for way in ways
        }
        best = min(prices.values())
        found = tuple(allotted(costs, most))
        assert prices[found] == pytest.approx(best, abs=1e-9)
        assert sum(found) == min(
            sum(way) for way, price in prices.items() if price <= best * (1.0 + 1e-12)
        )


def test_a_can_that_saves_nothing_is_not_given_out() -> None:
    assert allotted([np.array([3.0, 0.0, 0.0]), np.array([0.0, 0.0])], 5) == [2, 1]


def test_strengths_that_no_balance_tells_apart_are_one_level() -> None:
    near, far = 1.0 + 0.9 * SAME_STRENGTH, 1.0 + 1.1 * SAME_STRENGTH
    group = np.array([0, 0, 0, 0, 1, 1, 3])
    # The level is counted from its weakest row, and a new group begins a level of its own.
    strength = np.array([1.0, near, far, 2.0, 2.0, 2.0, 0.5])
    level = np.full(7, -9)
    assert fill_levels(group, strength, level) == 5
    assert level.tolist() == [0, 0, 1, 2, 3, 3, 4]


def test_no_rows_have_no_level() -> None:
    assert fill_levels(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0, dtype=np.int64)) == 0
