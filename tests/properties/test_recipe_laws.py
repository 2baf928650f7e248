"""Laws of recipes, whatever is aimed at and stands on the shelf."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.planning.notes import Notes, RefusalError
from service.planning.recipe import plan_recipe
from service.planning.recipe_limits import compositions_of
from service.planning.recipe_nutrients import nutrient_row, target_scale
from tests.planned_recipes import amounts_of, asked, on_the_shelf, water_of

KEYS = (
    "calcium_nitrate_tetrahydrate", "potassium_nitrate", "magnesium_sulfate_heptahydrate",
    "monopotassium_phosphate", "ammonium_nitrate", "ammonium_sulfate", "urea",
    "potassium_chloride", "feed_20_20_20", "feed_15_0_15", "boric_acid", "iron_edta",
)  # fmt: skip
WATERS = ("rain", "soft_tap", "hard_tap")

shelves = st.lists(st.sampled_from(KEYS), min_size=1, max_size=6, unique=True)
targets = st.fixed_dictionaries(
    {"nitrogen": st.floats(20.0, 200.0)},
    optional={
        "phosphorus": st.floats(5.0, 50.0), "potassium": st.floats(20.0, 200.0),
        "calcium": st.floats(20.0, 150.0), "magnesium": st.floats(5.0, 60.0),
        "boron": st.floats(0.05, 0.5), "ammonium_nitrogen": st.just(0.0) | st.floats(1e-9, 40.0),
    },
)  # fmt: skip
limits = st.fixed_dictionaries(
    {},
    optional={
        "chloride_mg_per_l": st.floats(30.0, 80.0), "sulfate_mg_per_l": st.floats(80.0, 200.0),
        "ammonium_and_urea_share_percent": st.floats(10.0, 60.0),
        "potassium_mg_per_l": st.floats(10.0, 150.0),
        "urea_nitrogen_mg_per_l": st.floats(0.0, 30.0),
    },
)  # fmt: skip
waters = st.sampled_from(WATERS)
untimed = settings(max_examples=25, deadline=None)


def planned(problem):
    try:
        return plan_recipe(problem, Notes())
    except RefusalError:
        assume(False)
        raise


def reached(recipe, name):
    achieved = recipe.achieved_mg_per_l
    if name == "ammonium_and_urea_share_percent":
        reduced = achieved["ammonium_nitrogen"] + achieved["urea_nitrogen"]
        return 100.0 * reduced / max(achieved["nitrogen"], 1e-9)
    if name == "sulfate_mg_per_l":
        return achieved["sulfur"] * 96.06 / 32.06
    named = {"chloride": "chlorine"}
    element = name.removesuffix("_mg_per_l")
    return achieved[named.get(element, element)]


@untimed
@given(targets, shelves, waters, limits, st.sampled_from([None, 1.0, 10.0, 250.0]))
def test_recipe_is_within_every_limit_and_never_negative(aims, shelf, water, bounds, volume):
    recipe = planned(asked(aims, *shelf, water=water, limits=bounds, volume_l=volume))
    assert all(amount.per_l > 0.0 for amount in recipe.amounts)
    assert recipe.feasible == (not recipe.conflicts)
    if recipe.feasible:
        for name, allowed in bounds.items():
            assert reached(recipe, name) <= allowed * (1.0 + 1e-4) + 1e-9, name


@untimed
@given(targets, shelves, waters, limits, st.sampled_from(KEYS))
def test_another_product_never_makes_the_profile_worse(aims, shelf, water, bounds, added):
    assume(added not in shelf)
    before = planned(asked(aims, *shelf, water=water, limits=bounds))
    after = planned(asked(aims, *shelf, added, water=water, limits=bounds))
    assume(before.feasible)
    assert after.feasible
    # Another salt takes the place of a little of the water, hence the hair.
    assert after.badness <= before.badness * (1.0 + 1e-4) + 1e-3


@untimed
@given(targets, shelves, waters, st.floats(2.0, 50.0))
def test_exact_amounts_grow_with_the_volume(aims, shelf, water, volume):
    litre = planned(asked(aims, *shelf, water=water))
    can = planned(asked(aims, *shelf, water=water, volume_l=volume, pre_stocks="none",
                        balance_resolution_g=1e-6, syringe_resolution_ml=1e-6))  # fmt: skip
    by_name = {amount.item.name: amount for amount in can.amounts}
    for amount in litre.amounts:
        if amount.per_l > 1e-4:
            assert by_name[amount.item.name].per_l == pytest.approx(
                amount.per_l, rel=1e-2, abs=1e-5
            )
    assert can.badness == pytest.approx(litre.badness, rel=1e-3, abs=1e-2)


@untimed
@given(targets, shelves, waters, st.floats(1.0, 50.0), st.sampled_from([0.01, 0.1, 1.0]))
def test_amounts_are_steps_and_none_or_enough(aims, shelf, water, volume, step):
    recipe = planned(asked(aims, *shelf, water=water, volume_l=volume, pre_stocks="none",
                           balance_resolution_g=step))  # fmt: skip
    for amount in recipe.amounts:
        steps = amount.per_l * volume / step
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert steps >= 5.0 - 1e-6


def profile(problem, amounts, water):
    """Return deviations [percent] of amounts by the shelf's own elements, for many at once."""
    brings = compositions_of(problem.shelf)
    columns = []
    for name, target in problem.targets_mg_per_l.items():
        row = nutrient_row(name)
        held = amounts @ (brings @ row) + water * float(row @ problem.water.composition_mmol_per_l)
        columns.append(100.0 * (held - target) / target_scale(name, target))
    return np.array(columns).T


@pytest.mark.parametrize("water", WATERS)
@pytest.mark.parametrize(
    "shelf",
    [
        ("feed_20_20_20", "potassium_nitrate"),
        ("feed_15_0_15", "ammonium_sulfate"),
        ("monopotassium_phosphate", "calcium_nitrate_tetrahydrate"),
    ],
)
def test_closest_profile_is_that_of_a_search_over_all_amounts(shelf, water):
    aims = {"nitrogen": 120.0, "phosphorus": 20.0, "potassium": 110.0, "calcium": 70.0}
    problem = asked(aims, *shelf, water=water)
    recipe = planned(problem)
    found = amounts_of(problem, recipe)
    share = recipe.water_mg_per_l["calcium"] / water_of(water).analysis["calcium_mg_per_l"]
    best = float((profile(problem, found[None, :], share) ** 2).sum())
    assert best == pytest.approx(recipe.badness, rel=1e-3)
    axis = np.linspace(0.0, 1.5, 301)
    grid = np.array(list(itertools.product(axis, axis)))
    searched = (profile(problem, grid, share) ** 2).sum(axis=1)
    assert best <= searched.min() + 1e-6
    assert np.abs(grid[int(searched.argmin())] - found).max() <= 0.02


@pytest.mark.parametrize("most", [1, 2, 3])
def test_best_few_products_are_the_best_of_all_choices(most):
    keys = ("feed_20_20_20", "potassium_nitrate", "calcium_nitrate_tetrahydrate",
            "monopotassium_phosphate", "magnesium_sulfate_heptahydrate")  # fmt: skip
    aims = {
        "nitrogen": 100.0,
        "phosphorus": 15.0,
        "potassium": 90.0,
        "calcium": 60.0,
        "magnesium": 20.0,
    }
    few = planned(asked(aims, *keys, water="rain", limits={"product_count": float(most)}))
    choices = [
        planned(asked(aims, *choice, water="rain")).badness
        for choice in itertools.combinations(keys, most)
    ]
    assert len(few.amounts) <= most
    assert few.badness == pytest.approx(min(choices), rel=1e-3)


def test_lowest_cost_is_that_of_a_search_over_all_amounts():
    prices = {"potassium_nitrate": 0.004, "ammonium_nitrate": 0.002, "potassium_chloride": 0.001}
    shelf = [on_the_shelf(key, price_per_unit=price) for key, price in prices.items()]
    aims = {"nitrogen": 100.0, "potassium": 100.0}
    limit = {"chloride_mg_per_l": 40.0}
    problem = asked(aims, *shelf, water="rain", objective="lowest_cost", limits=limit,
                    tolerance_percent=10.0)  # fmt: skip
    recipe = planned(problem)
    axis = np.linspace(0.0, 0.6, 61)
    grid = np.array(list(itertools.product(axis, axis, axis)))
    inside = (np.abs(profile(problem, grid, 1.0)) <= 10.0).all(axis=1)
    chlorine = np.array([item.composition_mmol_per_unit[6] * 35.45 for item in problem.shelf])
    inside &= grid @ chlorine + 1.2 <= 40.0
    cheapest = (grid[inside] @ np.array(list(prices.values()))).min()
    assert recipe.cost <= cheapest + 1e-6
    assert recipe.cost >= cheapest - 0.01 * sum(prices.values())


@untimed
@given(targets, shelves, waters)
def test_order_of_the_shelf_does_not_matter(aims, shelf, water):
    forwards = planned(asked(aims, *shelf, water=water))
    backwards = planned(asked(aims, *reversed(shelf), water=water))
    assert forwards.badness == pytest.approx(backwards.badness, rel=1e-4, abs=1e-3)


@untimed
@given(targets, shelves, waters, st.floats(0.01, 100.0))
def test_one_weight_for_all_changes_nothing(aims, shelf, water, weight):
    problem = asked(aims, *shelf, water=water)
    plain = planned(problem)
    weighted = planned(replace(problem, weights=dict.fromkeys(aims, weight)))
    assert weighted.badness / weight == pytest.approx(plain.badness, rel=1e-2, abs=0.1)


@settings(max_examples=12, deadline=None)
@given(
    targets,
    shelves,
    waters,
    limits,
    st.sampled_from([0.5, 1.0, 5.0]),
    st.sampled_from([0.1, 1.0]),
    st.sampled_from(["none", "traces", "all"]),
    st.sampled_from([0.5, 5.0]),
)
def test_what_cannot_be_always_has_a_nearest_request_that_can(
    aims, shelf, water, bounds, volume, step, pre_stocks, tolerance
):
    # Coarse balances and small cans, where whole steps keep less than exact amounts do.
    problem = asked(
        aims, *shelf, water=water, limits=bounds, volume_l=volume, balance_resolution_g=step,
        pre_stocks=pre_stocks, tolerance_percent=tolerance,
    )  # fmt: skip
    recipe = planned(problem)
    if recipe.feasible:
        assert recipe.nearest is None
        return
    assert recipe.conflicts
    assert recipe.nearest is not None
    changed = replace(
        problem,
        limits=recipe.nearest.get("limits", problem.limits),
        targets_mg_per_l=recipe.nearest.get("target_mg_per_l", problem.targets_mg_per_l),
    )
    assert plan_recipe(changed, Notes()).feasible
