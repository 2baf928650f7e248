"""Recipes that cannot be: which limits collide, and what would be possible."""

import pytest

from service.planning.notes import Notes
from service.planning.recipe import plan_recipe
from service.planning.recipe_limits import LIMIT_NAMES
from tests.planned_recipes import asked, on_the_shelf, recipe


def named(planned):
    return {conflict["limit"] for conflict in planned.conflicts}


def test_water_above_a_limit_is_the_only_conflict():
    planned = recipe(
        {"nitrogen": 50.0}, "potassium_nitrate", water="soft_tap", limits={"sodium_mg_per_l": 1.0}
    )
    (conflict,) = planned.conflicts
    assert conflict["limit"] == "limits.sodium_mg_per_l"
    assert conflict["needed"] == pytest.approx(8.0, rel=0.01)
    assert "the water alone brings" in conflict["message"]


def test_colliding_set_is_irreducible():
    targets = {"potassium": 120.0, "nitrogen": 20.0, "magnesium": 10.0}
    shelf = ("potassium_chloride", "potassium_nitrate", "magnesium_sulfate_heptahydrate")
    limits = {"chloride_mg_per_l": 10.0, "sulfate_mg_per_l": 200.0}
    planned = recipe(targets, *shelf, water="rain", limits=limits, tolerance_percent=5.0)
    collide = named(planned)
    assert collide == {
        "limits.chloride_mg_per_l", "target_mg_per_l.potassium", "target_mg_per_l.nitrogen",
    }  # fmt: skip
    # Without any single one of them the rest can be kept.
    for name in collide:
        kept_targets, kept_limits = dict(targets), dict(limits)
        (kept_limits if name.startswith("limits") else kept_targets).pop(name.partition(".")[2])
        eased = recipe(
            kept_targets, *shelf, water="rain", limits=kept_limits, tolerance_percent=5.0
        )
        assert eased.feasible, name


def test_how_far_a_limit_gives_way_is_enough():
    targets = {"potassium": 120.0, "nitrogen": 20.0}
    shelf = ("potassium_chloride", "potassium_nitrate")
    planned = recipe(
        targets, *shelf, water="rain", limits={"chloride_mg_per_l": 10.0}, tolerance_percent=5.0
    )
    needed = next(
        each["needed"] for each in planned.conflicts if each["limit"] == "limits.chloride_mg_per_l"
    )
    for limit, feasible in ((needed * 1.001, True), (needed * 0.99, False)):
        again = recipe(
            targets,
            *shelf,
            water="rain",
            limits={"chloride_mg_per_l": limit},
            tolerance_percent=5.0,
        )
        assert again.feasible is feasible


def test_largest_amount_is_named_where_it_collides():
    item = on_the_shelf("potassium_nitrate", largest_per_l=0.1)
    planned = recipe({"potassium": 100.0}, item, water="rain", tolerance_percent=5.0)
    assert named(planned) == {"shelf.0.largest_g_per_l", "target_mg_per_l.potassium"}
    assert planned.nearest is not None


def test_too_few_products_are_named():
    planned = recipe(
        {"nitrogen": 100.0, "phosphorus": 15.0, "calcium": 60.0},
        "calcium_nitrate_tetrahydrate", "potassium_nitrate", "monopotassium_phosphate",
        water="rain", limits={"product_count": 1.0}, tolerance_percent=5.0,
    )  # fmt: skip
    assert "limits.product_count" in named(planned)


def test_least_that_can_be_weighed_is_named():
    planned = recipe(
        {"phosphorus": 15.0}, "monopotassium_phosphate", water="rain", tolerance_percent=5.0,
        volume_l=1.0, pre_stocks="none",
    )  # fmt: skip
    assert "instruments.balance_minimum_g" in named(planned)


@pytest.mark.parametrize("water", ["rain", "hard_tap"])
@pytest.mark.parametrize(
    ("targets", "limits"),
    [
        ({"potassium": 120.0, "nitrogen": 20.0}, {"chloride_mg_per_l": 10.0}),
        ({"potassium": 120.0, "nitrogen": 100.0}, {"ammonium_share_percent": 0.0}),
        ({"potassium": 120.0}, {"calcium_mg_per_l": 0.0, "sodium_mg_per_l": 0.5}),
    ],
)
def test_nearest_request_is_feasible(water, targets, limits):
    shelf = ("potassium_chloride", "potassium_nitrate", "ammonium_nitrate")
    given = {"water": water, "limits": limits, "tolerance_percent": 5.0}
    planned = recipe(targets, *shelf, **given)
    if planned.feasible:
        assert planned.nearest is None
        return
    assert planned.nearest is not None
    given["limits"] = planned.nearest.get("limits", limits)
    assert recipe(planned.nearest.get("target_mg_per_l", targets), *shelf, **given).feasible


def test_every_limit_can_be_asked_for():
    limits = {name: 1000.0 for name in LIMIT_NAMES if not name.endswith(("percent", "count"))}
    limits |= {name: 100.0 for name in LIMIT_NAMES if name.endswith("percent")}
    limits["product_count"] = 3.0
    problem = asked({"nitrogen": 50.0}, "potassium_nitrate", water="hard_tap", limits=limits)
    assert plan_recipe(problem, Notes()).feasible


def test_limits_that_collide_are_named_in_words_with_units():
    planned = recipe(
        {"potassium": 150.0}, "potassium_chloride", water="rain", tolerance_percent=5.0,
        limits={"chloride_mg_per_l": 20.0},
    )  # fmt: skip
    messages = [conflict["message"] for conflict in planned.conflicts]
    assert any(said.startswith("chloride at most 20 mg/L cannot be kept") for said in messages)
    assert any(said.startswith("potassium at least 142.5 mg/L cannot") for said in messages)
    assert all("_" not in said for said in messages)
