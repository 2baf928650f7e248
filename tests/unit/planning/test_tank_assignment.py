import subprocess
import sys

import pytest

from service.planning.tank_assignment import Pairs, assigned, pairs_of
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
