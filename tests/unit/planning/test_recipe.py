"""Recipes: targets, limits, what the water brings, what can be weighed, acid."""

from dataclasses import replace

import numpy as np
import pytest

from service.planning.notes import Notes, RefusalError
from service.planning.recipe import plan_recipe
from service.planning.recipe_card import recipe_fields, recipe_steps
from tests.planned_recipes import amounts_of, asked, bottle, labelled, on_the_shelf, recipe, taken

FEED = {"nitrogen": 100.0, "phosphorus": 15.0, "potassium": 100.0, "calcium": 60.0}
SALTS = (
    "calcium_nitrate_tetrahydrate", "potassium_nitrate", "monopotassium_phosphate",
    "ammonium_nitrate",
)  # fmt: skip
TRACES = {"boron": 0.2, "manganese": 0.3, "molybdenum": 0.01}
TRACE_SALTS = ("boric_acid", "manganese_sulfate_monohydrate", "sodium_molybdate_dihydrate")


def noted(problem):
    notes = Notes()
    planned = plan_recipe(problem, notes)
    fields = recipe_fields(problem, planned, notes)
    return planned, fields, {each["code"] for each in notes.cautions + notes.assumptions}


def test_profile_that_the_shelf_can_give_is_met():
    planned = recipe(FEED, *SALTS, water="rain")
    assert planned.feasible
    assert all(abs(each) < 0.01 for each in planned.deviation_percent.values())


def test_achieved_is_what_the_solution_holds():
    planned = recipe(FEED, *SALTS, water="soft_tap", volume_l=10.0)
    for name, value in planned.mix.elements_mg_per_l.items():
        assert planned.achieved_mg_per_l[name] == pytest.approx(value, rel=1e-6, abs=1e-9)


def test_forms_of_nitrogen_are_targets_of_their_own():
    planned = recipe(
        {"nitrate_nitrogen": 80.0, "ammonium_nitrogen": 20.0}, *SALTS, "urea", water="rain"
    )
    assert planned.achieved_mg_per_l["ammonium_nitrogen"] == pytest.approx(20.0, rel=1e-3)
    assert planned.achieved_mg_per_l["nitrate_nitrogen"] == pytest.approx(80.0, rel=1e-3)
    assert "urea" not in taken(planned)


def test_water_above_a_target_is_said_and_nothing_is_added():
    planned, _, codes = noted(
        asked({"calcium": 20.0}, "calcium_nitrate_tetrahydrate", water="hard_tap")
    )
    assert planned.amounts == ()
    assert planned.deviation_percent["calcium"] > 100.0
    assert "water_above_target" in codes


def test_target_that_nothing_brings_is_said():
    _, _, codes = noted(asked({"nitrogen": 50.0, "iron": 1.0}, "potassium_nitrate", water="rain"))
    assert {"target_without_source", "profile_missed"} <= codes


def test_target_of_zero_is_kept_low_and_has_no_deviation():
    planned = recipe(
        {"nitrogen": 100.0, "sodium": 0.0}, "sodium_nitrate", "potassium_nitrate", water="rain"
    )
    assert set(taken(planned)) == {"potassium_nitrate"}
    assert planned.deviation_percent["sodium"] is None


@pytest.mark.parametrize(
    ("limit", "allowed", "value"),
    [
        ("ammonium_and_urea_share_percent", 10.0, "ammonium_nitrogen"),
        ("ammonium_nitrogen_mg_per_l", 5.0, "ammonium_nitrogen"),
        ("phosphorus_mg_per_l", 20.0, "phosphorus"),
        ("nitrate_nitrogen_mg_per_l", 40.0, "nitrate_nitrogen"),
        ("calcium_mg_per_l", 30.0, "calcium"),
    ],
)
def test_limit_is_kept_whatever_the_target_says(limit, allowed, value):
    shelf = ("ammonium_nitrate", "calcium_nitrate_tetrahydrate", "monoammonium_phosphate")
    planned = recipe(
        {"nitrogen": 150.0, "phosphorus": 40.0, "calcium": 60.0},
        *shelf,
        water="soft_tap",
        limits={limit: allowed},
    )
    achieved = planned.achieved_mg_per_l
    reached = achieved[value]
    if limit.endswith("share_percent"):
        reached += achieved["urea_nitrogen"]
        reached *= 100.0 / achieved["nitrogen"]
    assert planned.feasible
    assert reached == pytest.approx(allowed, rel=1e-4)


def test_largest_amount_of_an_item_is_kept():
    item = on_the_shelf("potassium_nitrate", largest_per_l=0.1)
    planned = recipe({"potassium": 100.0}, item, water="rain")
    assert taken(planned)["potassium_nitrate"] == pytest.approx(0.1)


def test_lowest_cost_is_met_within_the_tolerance():
    shelf = [
        on_the_shelf(key, price_per_unit=price)
        for key, price in (
            ("potassium_nitrate", 0.004), ("ammonium_nitrate", 0.002), ("urea", 0.001),
        )
    ]  # fmt: skip
    planned = recipe({"nitrogen": 100.0}, *shelf, water="rain", objective="lowest_cost")
    # Urea is cheapest for nitrogen, and 95 mg/L are enough.
    assert set(taken(planned)) == {"urea"}
    assert planned.achieved_mg_per_l["nitrogen"] == pytest.approx(95.0, rel=1e-4)
    assert planned.cost == pytest.approx(taken(planned)["urea"] * 0.001)


def test_fewest_products_are_fewer_than_the_closest_need():
    shelf = (*SALTS, "feed_13_3_15_ca_mg", "feed_20_20_20")
    closest = recipe(FEED, *shelf, water="rain")
    fewest = recipe(FEED, *shelf, water="rain", objective="fewest_products", tolerance_percent=40.0)
    assert fewest.feasible
    assert len(fewest.amounts) < len(closest.amounts)
    assert all(abs(each) <= 40.0001 for each in fewest.deviation_percent.values())


def test_amounts_are_whole_steps_of_the_balance():
    planned = recipe(FEED, *SALTS, water="rain", volume_l=20.0, pre_stocks="none")
    for amount in planned.amounts:
        steps = amount.per_l * 20.0 / 0.1
        assert steps == pytest.approx(round(steps), abs=1e-6)


def test_amount_is_none_or_what_the_balance_weighs():
    planned, _, codes = noted(
        asked(FEED, *SALTS, water="rain", volume_l=1.0, pre_stocks="none", balance_minimum_g=0.5)
    )
    assert all(amount.per_l >= 0.5 - 1e-9 for amount in planned.amounts)
    assert "too_little_to_weigh" in codes


def test_traces_come_through_pre_stocks_in_series():
    problem = asked({**FEED, **TRACES}, *SALTS, *TRACE_SALTS, water="rain", volume_l=10.0)
    planned, fields, codes = noted(problem)
    stages = {amount.item.name: amount.way.stages for amount in planned.amounts}
    assert len(stages["sodium_molybdate_dihydrate"]) >= 2
    assert "pre_stock" in codes
    for amount in fields["amounts"]:
        series = amount["pre_stock"]
        if series is None:
            continue
        strength = series["stages"][0]["g_per_l"]
        for stage in series["stages"][1:]:
            strength *= stage["stage_before_ml"] / 1000.0
            assert stage["g_per_l"] == pytest.approx(strength)
        assert amount["mass_g"] == pytest.approx(series["volume_ml"] / 1000.0 * strength)
    said = " ".join(step["instruction"] for step in recipe_steps(problem, planned))
    assert "pre-stock 2 of sodium molybdate dihydrate" in said


def test_pure_water_of_pre_stocks_thins_the_water():
    targets = {"nitrogen": 100.0, "potassium": 250.0}
    direct = recipe(targets, "potassium_nitrate", water="hard_tap")
    thinned = recipe(targets, "potassium_nitrate", water="hard_tap", volume_l=1.0)
    dosed = thinned.amounts[0].per_l / thinned.amounts[0].way.stages[-1].per_l
    part = thinned.water_mg_per_l["calcium"] / direct.water_mg_per_l["calcium"]
    assert part == pytest.approx(1.0 - dosed, abs=1e-4)


def test_product_that_cannot_be_weighed_for_a_pre_stock_is_left_out():
    planned = recipe(
        {"boron": 0.2}, "boric_acid", water="rain", volume_l=5.0, balance_resolution_g=1.0
    )
    assert planned.amounts == ()


def test_label_is_a_product_like_any_other():
    own = labelled("own", nitrate_n_percent=10, k2o_percent=20)
    planned = recipe({"nitrogen": 100.0}, own, water="rain")
    assert taken(planned)["own"] == pytest.approx(1.0, rel=0.01)


def test_acid_takes_no_more_than_nine_tenths_of_the_alkalinity():
    planned = recipe(
        {"phosphorus": 200.0}, bottle("phosphoric", 75), water="hard_tap", tolerance_percent=None
    )
    alkalinity = planned.mix.alkalinity_mg_per_l_caco3
    assert alkalinity == pytest.approx(0.1 * 250.0, rel=0.02)
    assert planned.mix.ph > 5.0


def test_alkalinity_limit_calls_for_acid():
    planned = recipe(
        {"nitrogen": 20.0, "potassium": 50.0},
        "potassium_nitrate",
        bottle("nitric", 38),
        water="hard_tap",
        limits={"alkalinity_mg_per_l_caco3": 60.0},
    )
    assert planned.feasible
    assert planned.mix.alkalinity_mg_per_l_caco3 <= 60.0 * (1.0 + 1e-5)


def test_acid_beside_an_unknown_alkalinity_is_refused():
    problem = asked({"nitrogen": 20.0}, bottle("nitric", 38), water="rain")
    unknown = replace(problem, water=replace(problem.water, alkalinity_known=False))
    with pytest.raises(RefusalError, match="against alkalinity"):
        plan_recipe(unknown, Notes())


def test_missing_price_is_refused_where_cost_counts():
    with pytest.raises(RefusalError, match="price of urea"):
        recipe({"nitrogen": 20.0}, "urea", water="rain", objective="lowest_cost")


def test_recipe_stronger_than_the_chemistry_is_refused():
    with pytest.raises(RefusalError) as caught:
        recipe(
            dict.fromkeys(("potassium", "nitrogen", "phosphorus", "calcium", "sulfur"), 5000.0),
            *SALTS, "potassium_sulfate", "ammonium_sulfate", "magnesium_sulfate_heptahydrate",
            water="rain",
        )  # fmt: skip
    assert caught.value.notice.field == "target_mg_per_l"


def test_unwanted_ions_are_avoided_among_equal_recipes():
    shelf = ("calcium_chloride_dihydrate", "urea", *SALTS)
    planned = recipe({"nitrogen": 100.0, "calcium": 60.0, "potassium": 100.0}, *shelf, water="rain")
    assert "calcium_chloride_dihydrate" not in taken(planned)
    assert "urea" not in taken(planned)


def test_amounts_follow_the_shelf():
    problem = asked(FEED, *SALTS, water="rain")
    planned = plan_recipe(problem, Notes())
    assert np.count_nonzero(amounts_of(problem, planned)) == len(planned.amounts)
