import itertools
import subprocess
import sys

import numpy as np
import pytest

from service.planning.tank_assignment import (
    APART_WEIGHT,
    GAP,
    LOAD_PARTS,
    Pairs,
    assigned,
    pairs_of,
)
from tests.stocking import COMPLETE, recipe

NO_PAIRS = Pairs((), ())


def tanks_of(assignment):
    return sorted(sorted(tank) for tank in assignment)


def test_pairs_of_a_complete_recipe_are_calcium_with_phosphate_and_sulfate() -> None:
    keys = list(COMPLETE)
    pairs = pairs_of(recipe(COMPLETE))
    named = {frozenset(keys[place] for place in pair) for pair in pairs.forbidden}
    calcium = "calcium_nitrate_tetrahydrate"
    assert named == {
        frozenset({calcium, "monopotassium_phosphate"}),
        frozenset({calcium, "magnesium_sulfate_heptahydrate"}),
    }


def test_forbidden_pair_is_parted_and_loads_are_even() -> None:
    found = assigned([5.0, 3.0, 2.0], Pairs(((0, 1),), ()), 2)
    assert tanks_of(found) == [[0], [1, 2]]


def test_one_tank_with_a_forbidden_pair_has_no_plan() -> None:
    assert assigned([1.0, 1.0], Pairs(((0, 1),), ()), 1) is None


def test_three_that_hate_each_other_need_three_tanks() -> None:
    pairs = Pairs(((0, 1), (1, 2), (0, 2)), ())
    assert assigned([1.0, 1.0, 1.0], pairs, 2) is None
    assert tanks_of(assigned([1.0, 1.0, 1.0], pairs, 3)) == [[0], [1], [2]]


def test_pair_that_is_better_apart_outweighs_balance() -> None:
    found = assigned([10.0, 1.0, 1.0], Pairs(((0, 2),), ((0, 1),)), 2)
    assert tanks_of(found) == [[0], [1, 2]]


def test_set_that_clouds_together_is_broken_up_in_every_tank() -> None:
    found = assigned([3.0, 3.0, 1.0], NO_PAIRS, 2, [frozenset({0, 2}), frozenset({1, 2})])
    assert found is not None
    for tank in found:
        assert not {0, 2} <= set(tank)
        assert not {1, 2} <= set(tank)


def test_every_tank_is_used_if_asked() -> None:
    found = assigned([1.0, 1.0, 1.0, 1.0], NO_PAIRS, 4, all_used=True)
    assert tanks_of(found) == [[0], [1], [2], [3]]
    assert assigned([1.0], NO_PAIRS, 2, all_used=True) is None


@pytest.mark.parametrize("count", [2, 3, 4])
def test_same_question_gives_the_same_answer(count: int) -> None:
    loads = [0.5, 1.2, 0.3, 0.9, 0.1, 0.1, 0.7]
    pairs = Pairs(((0, 1), (2, 3)), ((4, 5),))
    assert assigned(loads, pairs, count) == assigned(loads, pairs, count)


def test_scipy_is_loaded_when_it_is_needed() -> None:
    script = (
        "import sys; import service.planning.tank_assignment;"
        "sys.exit('scipy.optimize' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


@pytest.mark.parametrize("seed", range(24))
def test_assignment_is_the_best_of_all(seed: int) -> None:
    draw = np.random.default_rng(seed)
    count, tanks = 2 + seed % 5, 1 + seed % 3
    loads = draw.uniform(0.1, 3.0, count).tolist()
    every = list(itertools.combinations(range(count), 2))
    draw.shuffle(every)
    pairs = Pairs(tuple(map(tuple, every[: seed % 3])), tuple(map(tuple, every[3:5])))
    never = [frozenset(range(3))] if seed % 4 == 0 and count > 2 else []
    all_used = seed % 2 == 1

    def price(tank_of: tuple[int, ...]) -> float:
        """Return the heaviest tank in thousandths of all loads, and four of these for a pair."""
        held = [[each for each in range(count) if tank_of[each] == tank] for tank in range(tanks)]
        if (
            any(tank_of[one] == tank_of[other] for one, other in pairs.forbidden)
            or any(group <= set(each) for each in held for group in never)
            or (all_used and not all(held))
        ):
            return float("inf")
        shares = [sum(round(1000 * loads[each] / sum(loads)) for each in tank) for tank in held]
        together = sum(tank_of[one] == tank_of[other] for one, other in pairs.apart)
        return max(shares) + 4000.0 * together

    best = min(price(each) for each in itertools.product(range(tanks), repeat=count))
    found = assigned(loads, pairs, tanks, never, all_used=all_used)
    if found is None:
        assert best == float("inf")
        return
    assert len(found) == tanks
    assert sorted(itertools.chain(*found)) == list(range(count))
    tank_of = {each: tank for tank, held in enumerate(found) for each in held}
    # The search ends within two percent of the best.
    assert price(tuple(tank_of[each] for each in range(count))) <= best / (1.0 - 0.02) + 1e-6
    assert 0 in found[0]


def test_balance_and_pairs_are_weighed_as_written() -> None:
    assert (LOAD_PARTS, APART_WEIGHT, GAP) == (1000, 4.0, 0.02)
