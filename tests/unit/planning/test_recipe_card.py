"""Recipes in amounts, notes and steps, from the planned amounts by hand."""

from typing import Any

import pytest

from service.planning.notes import Notes
from service.planning.recipe import Recipe, plan_recipe
from service.planning.recipe_card import recipe_fields, recipe_steps
from service.planning.recipe_problem import FEWEST_PRODUCTS, RecipeProblem
from tests.planned_recipes import asked, bottle

NITRATE = {"nitrogen": 100.0, "potassium": 280.0}


def planned(targets: dict[str, float], *shelf: Any, **more: Any) -> tuple[RecipeProblem, Recipe]:
    problem = asked(targets, *shelf, water="reverse_osmosis", **more)
    return problem, plan_recipe(problem, Notes())


def told(problem: RecipeProblem, recipe: Recipe) -> tuple[dict[str, Any], Notes]:
    notes = Notes()
    return recipe_fields(problem, recipe, notes), notes


def codes(listed: list[dict[str, Any]]) -> list[str]:
    return [each["code"] for each in listed]


def test_amounts_are_told_for_the_volume_and_cost_for_both() -> None:
    problem, recipe = planned(NITRATE, "potassium_nitrate", volume_l=20.0)
    fields, notes = told(problem, recipe)
    (amount,) = fields["amounts"]
    (planned_amount,) = recipe.amounts
    # 100 mg/L nitrogen are 0.722 g/L, 280 mg/L potassium 0.724; weighed in whole steps.
    assert planned_amount.per_l == pytest.approx(0.723, abs=0.005)
    assert amount["mass_g"] == pytest.approx(20.0 * planned_amount.per_l)
    assert amount["exact_mass_g"] == pytest.approx(20.0 * planned_amount.exact_per_l)
    assert amount["g_per_l"] == planned_amount.per_l
    assert amount["volume_ml"] is amount["ml_per_l"] is amount["exact_volume_ml"] is None
    assert (amount["order"], amount["shelf_place"], amount["product"]) == (
        1, 0, "potassium_nitrate",
    )  # fmt: skip
    assert amount["pre_stock"] is amount["cost"] is None
    assert fields["volume_l"] == 20.0
    assert fields["product_count"] == 1
    assert fields["cost"] is fields["cost_of_a_litre"] is None
    assert "recipe_for_a_litre" not in codes(notes.assumptions)
    deviations = fields["deviation_percent"]
    mean = (sum(each**2 for each in deviations.values()) / len(deviations)) ** 0.5
    assert fields["mean_deviation_percent"] == pytest.approx(mean, rel=1e-6)
    for name, target in NITRATE.items():
        reached = fields["achieved_mg_per_l"][name]
        assert deviations[name] == pytest.approx(100.0 * (reached / target - 1.0), abs=1e-9)


def test_without_a_volume_it_is_for_a_litre() -> None:
    problem, recipe = planned(NITRATE, "potassium_nitrate")
    fields, notes = told(problem, recipe)
    assert fields["volume_l"] == 1.0
    assert codes(notes.assumptions)[0] == "recipe_for_a_litre"


@pytest.mark.parametrize(
    ("more", "assumed"),
    [
        ({}, False),
        ({"objective": FEWEST_PRODUCTS}, True),
        ({"objective": FEWEST_PRODUCTS, "tolerance_percent": 5.0}, False),
    ],
)
def test_a_tolerance_is_assumed_where_one_is_needed(more: dict[str, Any], assumed: bool) -> None:
    problem, recipe = planned(NITRATE, "potassium_nitrate", **more)
    _, notes = told(problem, recipe)
    assert ("tolerance_assumed" in codes(notes.assumptions)) is assumed


def test_what_comes_along_unasked_is_listed() -> None:
    problem, recipe = planned({"nitrogen": 100.0}, "potassium_nitrate")
    _, notes = told(problem, recipe)
    (free,) = [each for each in notes.assumptions if each["code"] == "nutrients_left_free"]
    assert f"potassium {recipe.achieved_mg_per_l['potassium']:.3g} mg/L" in free["message"]
    problem, recipe = planned(NITRATE, "potassium_nitrate")
    (free,) = [
        each for each in told(problem, recipe)[1].assumptions
        if each["code"] == "nutrients_left_free"
    ]  # fmt: skip
    assert "potassium" not in free["message"]
    assert "nitrogen" not in free["message"]


def test_steps_weigh_each_product_into_four_fifths_of_the_water() -> None:
    problem, recipe = planned(NITRATE, "potassium_nitrate", volume_l=20.0)
    (amount,) = recipe.amounts
    steps = recipe_steps(problem, recipe)
    assert [(each["order"], each["instruction"], each["unit"]) for each in steps] == [
        (1, "Fill about four fifths of the water into the can.", "L"),
        (2, "Add potassium nitrate and stir until it is gone.", "g"),
        (3, "Fill up with water to the volume.", "L"),
    ]
    assert [each["quantity"] for each in steps] == pytest.approx([16.0, 20.0 * amount.per_l, 20.0])


def test_a_trace_comes_through_its_pre_stocks_in_order() -> None:
    problem, recipe = planned(
        {"nitrogen": 100.0, "molybdenum": 0.01}, "potassium_nitrate", "sodium_molybdate_dihydrate",
        volume_l=10.0,
    )  # fmt: skip
    trace = next(each for each in recipe.amounts if each.way.stages)
    stages = trace.way.stages
    fields, notes = told(problem, recipe)
    assert "pre_stock" in codes(notes.cautions)
    listed = next(each for each in fields["amounts"] if each["pre_stock"] is not None)
    dosed = 1000.0 * trace.per_l * 10.0 / stages[-1].per_l
    assert listed["pre_stock"]["volume_ml"] == pytest.approx(dosed)
    assert [each["order"] for each in listed["pre_stock"]["stages"]] == list(
        range(1, len(stages) + 1)
    )
    steps = recipe_steps(problem, recipe)
    made = [each for each in steps if each["instruction"].startswith("Make the pre-stock")]
    assert len(made) == len(stages)
    assert steps[: len(made)] == made
    assert (made[0]["quantity"], made[0]["unit"]) == (pytest.approx(stages[0].amount), "g")
    for stage, step in zip(stages[1:], made[1:], strict=True):
        assert (step["quantity"], step["unit"]) == (pytest.approx(stage.taken_ml), "mL")
    (poured,) = [each for each in steps if each["instruction"].startswith("Add pre-stock")]
    assert (poured["quantity"], poured["unit"]) == (pytest.approx(dosed, rel=1e-5), "mL")
    # What is dosed of the last pre-stock brings what the recipe asks for: 95.95 in 241.95 g/mol.
    assert dosed / 1000.0 * stages[-1].per_l / 10.0 * 95.95 / 241.95 * 1000.0 == pytest.approx(
        recipe.achieved_mg_per_l["molybdenum"], rel=1e-3
    )


def test_acid_is_told_with_the_share_of_the_alkalinity_that_it_takes() -> None:
    problem = asked({"nitrogen": 60.0}, "potassium_nitrate", bottle("nitric", 60.0),
                    water="moderate_tap", limits={"alkalinity_mg_per_l_caco3": 60.0})  # fmt: skip
    recipe = plan_recipe(problem, Notes())
    _, notes = told(problem, recipe)
    said = {each["code"]: each["message"] for each in notes.cautions}
    assert {"acid_in_recipe", "acid_handling"} <= set(said)
    # 120 mg/L of alkalinity are brought to 60 at most: half of it or more.
    assert "%" in said["acid_in_recipe"]
    without = asked({"nitrogen": 60.0}, "potassium_nitrate", water="moderate_tap")
    assert "acid_in_recipe" not in codes(told(without, plan_recipe(without, Notes()))[1].cautions)
