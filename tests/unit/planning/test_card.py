"""From a finished row to words, numbers and the order of mixing."""

import math

import numpy as np
import pytest

from service.planning import card, feasibility, rows, words
from service.planning.cautions import ASSUMPTIONS, CAUTIONS
from service.planning.evidence import models_of, sources_of
from service.planning.reasons import binding_of_target, flush_advice, target_reasons
from service.planning.steps import mixing_steps
from service.planning.understood import understood
from service.reference.sources import sources
from tests.mixing import by_element, dilution, dose, known_to, plain_water

LARGE = {"size": "large", "setup": "wet_dry_pot", "count": 4}
AIR = {"humidity_percent": 70, "temperature_celsius": 22}
FED = {"plants": LARGE, "air": AIR, "volume_l": 10, "water": "moderate_tap"}
SALT = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 60)}
CAN = {
    "products": [
        {"product": "seaweed_extract", "strength": {"basis": "product", "ml_per_l": 0.5}},
        {"product": "calcium_nitrate_tetrahydrate", "strength": by_element("calcium", 20)},
        {"product": "potassium_nitrate", "strength": by_element("nitrogen", 30)},
    ]
}


def fed(**request):
    return dose(**{**FED, **SALT, **request})


def fields(can):
    return card.card_fields(can.row, can.result, can.catalogue)


def test_mass_of_a_solid_and_volume_of_a_liquid_are_told_apart():
    solid = fields(fed())
    assert solid["product_mass_g"] > 0.0
    assert solid["product_volume_ml"] is None
    liquid = fields(fed(product="feed_liquid_4_3_6"))
    assert liquid["product_volume_ml"] > 0.0
    assert liquid["product_mass_g"] is None


def test_several_products_have_no_single_amount():
    several = fields(dose(**FED, **CAN))
    assert several["product_mass_g"] is None
    assert several["product_volume_ml"] is None
    assert len(several["additions"]) == 3


def test_calcium_goes_in_after_the_other_feeds_and_a_stimulant_last():
    can = dose(**FED, **CAN)
    order = [each["product"] for each in card.additions(can.row, can.result, can.catalogue)]
    assert order == ["potassium_nitrate", "calcium_nitrate_tetrahydrate", "seaweed_extract"]
    assert [each["order"] for each in card.additions(can.row, can.result, can.catalogue)] == [
        1,
        2,
        3,
    ]


def test_meter_readings_are_the_conductivity_on_three_scales():
    given = fields(fed())
    for scale in (500, 640, 700):
        expected = scale * given["predicted_ec_ms_per_cm"]
        assert given[f"meter_ppm_{scale}"] == pytest.approx(expected)
    assert card.meter_readings(None)["meter_ppm_500"] is None


def test_number_that_is_none_is_not_given_as_one():
    assert card.number(math.nan) is None
    assert card.number(math.inf) is None
    assert card.number(1.0) == 1.0
    unknown = fields(fed(water={"ec_ms_per_cm": 0.2}))
    assert unknown["predicted_ph"] is None


@pytest.mark.parametrize(
    "request_",
    [
        {},
        {"acid": {"kind": "nitric"}, "target_ph": 6.0},
        {"acid": {"kind": "citric", "percent": 100}, "target_ph": 6.5},
        {"application": "flush"},
        {"water": {}},
        {"plants": {"size": "mini"}, "water": "hard_tap"},
        {"product": "feed_liquid_4_3_6", "volume_l": 0.5},
    ],
)
def test_every_sentence_and_number_of_an_answer_can_be_given(request_):
    can = fed(**request_)
    assert can.problem == "none"
    for name, value in fields(can).items():
        assert value is None or not isinstance(value, float) or math.isfinite(value), name
    for sentence in can.words:
        assert "nan" not in sentence
    for step in mixing_steps(can.row, can.result, can.catalogue):
        assert "nan" not in step["instruction"]
        assert step["quantity"] is None or math.isfinite(step["quantity"])
    assert understood(can.row, can.catalogue)["volume_l"] > 0.0


def test_every_place_in_every_sentence_has_a_number():
    can = fed()
    said = words.NumbersInWords(can.row, can.result, can.catalogue)
    for notice in (*CAUTIONS, *ASSUMPTIONS):
        assert "{" not in notice.words(said)


def test_every_binding_limit_has_a_word():
    assert set(words.BINDING_WORDS) == set(rows.BINDING_LIMITS)


def test_credited_nitrogen_names_water_and_acid_together():
    can = fed(acid={"kind": "nitric"}, target_ph=5.8)
    said = " ".join(can.words)
    total = can["water_nitrogen_mg_per_l"] + can["acid_nitrogen_mg_per_l"]
    assert f"{total:.1f} mg/L nitrogen; it is credited" in said


def test_problem_is_given_for_a_rejected_row_only():
    assert words.problem_of(fed().result) is None
    refused = fed(volume_l=None)
    assert words.problem_of(refused.result).code == "volume_unknown"


def test_codes_stand_in_the_order_of_the_list():
    can = fed()
    order = [notice.code for notice in CAUTIONS]
    codes = words.caution_codes(can.result)
    assert codes == sorted(codes, key=order.index)


def test_assumptions_of_a_label_are_told_with_the_others():
    can = fed(product="feed_20_20_20")
    said = words.assumptions_in_words(can.row, can.result, can.catalogue)
    assert any("chelated" in each["message"] for each in said)


def test_steps_start_with_water_end_with_measuring_and_count_up():
    can = fed(acid={"kind": "nitric"}, target_ph=6.2)
    steps = mixing_steps(can.row, can.result, can.catalogue)
    assert steps[0]["quantity"] == pytest.approx(8.0)
    assert "Measure" in steps[-1]["instruction"]
    assert [each["order"] for each in steps] == list(range(1, len(steps) + 1))
    portions = [each["quantity"] for each in steps if "half" in each["instruction"]]
    portions += [each["quantity"] for each in steps if "rest of the" in each["instruction"]]
    factor = can["acid_dilution_factor"]
    assert len(portions) == 2
    assert sum(portions) == pytest.approx(can["acid_volume_ml"] * factor, abs=0.05)
    step = can.row["syringe_resolution_ml"]
    assert all(abs(each / step - round(each / step)) < 1e-6 for each in portions)
    assert any("nitric acid" in each["instruction"] for each in steps)


def test_pre_stock_is_made_before_it_is_used():
    can = fed(volume_l=1)
    texts = [each["instruction"] for each in mixing_steps(can.row, can.result, can.catalogue)]
    made = next(place for place, text in enumerate(texts) if "Make the pre-stock" in text)
    used = next(place for place, text in enumerate(texts) if "Add pre-stock" in text)
    assert made < used


def test_infeasible_can_is_not_mixed_but_blended():
    can = fed(plants={"size": "mini"}, water="hard_tap")
    (step,) = mixing_steps(can.row, can.result, can.catalogue)
    assert can.status == "infeasible"
    assert "Blend" in step["instruction"]
    assert step["quantity"] == pytest.approx(can["feasible_water_share_percent"], rel=1e-3)
    assert step["unit"] == "%"
    assert feasibility.nearest_feasible(fed().row, fed().result, fed().catalogue) is None
    assert feasibility.conflicts(fed().row, fed().result) == []


@pytest.mark.parametrize("water", ["hard_tap", {"ph": 7.8, "ec_ms_per_cm": 0.9}])
def test_nearest_feasible_water_is_feasible_and_keeps_what_only_the_meter_saw(water):
    can = fed(plants={"size": "mini"}, water=water)
    (conflict,) = feasibility.conflicts(can.row, can.result)
    assert conflict["needed"] > conflict["allowed"]
    blend = feasibility.nearest_feasible(can.row, can.result, can.catalogue)
    assert blend["this_water_l"] + blend["pure_water_l"] == pytest.approx(10.0, rel=1e-3)
    again = fed(plants={"size": "mini"}, water=blend["water"])
    assert again.status == "ok"
    half = 0.5 * again["ec_ceiling_ms_per_cm"]
    assert again["water_ec_ms_per_cm"] == pytest.approx(half, rel=0.05)


def test_plain_water_is_one_step():
    can = fed(application="flush")
    assert len(mixing_steps(can.row, can.result, can.catalogue)) == 1


def test_request_is_told_as_it_was_understood():
    can = fed(target_ph=6.3, product="feed_20_20_20")
    told = understood(can.row, can.catalogue)
    assert told["plants"]["growth"] == "active"
    assert told["product"] == "feed_20_20_20"
    assert told["strength"] == {"basis": "element", "element": "nitrogen", "mg_per_l": 60.0}
    assert told["acid"]["kind"] == "citric"
    assert told["acid"]["percent"] > 0.0
    assert told["water"]["alkalinity_mg_per_l_caco3"] == 120.0
    assert "plants" not in understood(dilution(**SALT, water="rain").row, can.catalogue)
    assert "water" not in understood(can.row, can.catalogue, solution=False)


@pytest.mark.parametrize(
    "strength",
    [
        {"basis": "product", "g_per_l": 0.5},
        {"basis": "conductivity", "ec_ms_per_cm": 0.5, "counts": "added"},
        {"basis": "meter_ppm", "ppm": 300.0, "scale": 500},
        {"basis": "element", "element": "potassium", "mg_per_l": 40.0},
    ],
)
def test_strength_is_told_as_it_was_given(strength):
    can = fed(strength=strength)
    assert understood(can.row, can.catalogue)["strength"] == strength


def test_models_and_sources_of_an_answer_can_be_looked_up():
    for can in (fed(), fed(target_ph=6.3), dilution(**SALT, water="rain")):
        keys = [*models_of(can.row), *sources_of(can.row, can.catalogue)]
        assert set(keys) <= set(sources())
        assert len(set(keys)) == len(keys)
    assert set(models_of(fed(target_ph=6.3).row)) > set(models_of(fed().row))
    assert set(models_of(fed().row)) > set(models_of(dilution(**SALT, water="rain").row))


def reasons(**request):
    can = fed(**request)
    return target_reasons(can.row, can.result, can.catalogue), can


def test_reasons_follow_what_decided():
    said, can = reasons()
    assert binding_of_target(can.row, can.result) == "air"
    assert "vapour pressure deficit" in said[0]
    said, can = reasons(
        plants={"size": "mini", "setup": "semi_hydroponic_pot", "refill": "drained"}
    )
    assert binding_of_target(can.row, can.result) == "plant_size"
    assert "reservoir" in said[0]
    assert "A miniature" in " ".join(said)
    said, _ = reasons(air={**AIR, "temperature_celsius": 14})
    assert "The air is cool" in " ".join(said)
    said, _ = reasons(air={**AIR, "average_humidity_percent": 50})
    assert "more humid than usual" in " ".join(said)
    said, _ = reasons(air={**AIR, "average_humidity_percent": 90})
    assert "drier than usual" in " ".join(said)
    said, _ = reasons(plants={**LARGE, "growth": "resting"})
    assert "At rest it takes 25 %" in " ".join(said)
    low = known_to(profiles={"own": {"ec_ceiling_ms_per_cm": 0.1}})
    can = dose(
        low, **{**FED, **SALT, "plants": {"profile": "own", "size": "large"}, "water": "rain"}
    )
    assert binding_of_target(can.row, can.result) == "conductivity"
    assert "0.10 mS/cm is lower still" in " ".join(
        target_reasons(can.row, can.result, can.catalogue)
    )


def test_weak_feed_is_called_not_worth_mixing_in_the_measure_of_the_profile():
    weak = "too weak to be worth mixing"
    resting, _ = reasons(plants={"size": "mini", "growth": "resting"})
    assert weak in " ".join(resting)
    disa, _ = reasons(plants={"size": "large", "profile": "disa"}, water="rain")
    assert weak not in " ".join(disa)


@pytest.mark.parametrize(
    ("plants", "due", "within"),
    [
        ({"days_since_flush": 30}, True, 0.0),
        ({"days_since_flush": 20}, False, 8.0),
        ({}, False, None),
        ({"setup": "mount"}, False, None),
    ],
)
def test_pot_is_flushed_once_in_four_weeks_and_a_mount_after_every_feed(plants, due, within):
    advice = flush_advice(fed(plants={**LARGE, **plants}).row)
    assert advice["due"] is due
    assert advice["within_days"] == within
    assert advice["message"]


def test_targets_and_achieved_strength_are_the_same_quantities():
    can = fed()
    targets = card.target_fields(can.result)
    achieved = card.achieved_strength(can.row, can.result, can.catalogue)
    assert achieved["nitrogen_mg_per_l"] <= targets["nitrogen_mg_per_l"]
    assert achieved["ec_ms_per_cm"] <= targets["ec_ms_per_cm"] * 1.002
    assert targets["meter_ppm_700"] == pytest.approx(targets["meter_ppm"], rel=1e-9)
    assert np.isclose(achieved["product_g_per_l"] * 10, can.amount())


def flushed(**request):
    flush = {"application": "flush", "volume_l": 10, "water": "moderate_tap", "target_ph": 6.2}
    return dose(**{**flush, "acid": {"kind": "citric", "percent": 50}, **request})


def instructions(can):
    return [each["instruction"] for each in mixing_steps(can.row, can.result, can.catalogue)]


def test_acid_of_a_flush_is_among_its_steps():
    said = instructions(flushed())
    assert any("citric acid 50 %" in each for each in said)
    assert not any("no product" in each for each in said)
    assert instructions(flushed(target_ph=None, acid=None)) == ["Use plain water, no product."]


def test_no_step_asks_for_nothing_of_an_acid():
    syringe = {"balance_resolution_g": 0.1, "syringe_resolution_ml": 1.0}
    met = set()
    for volume in (0.1, 1.0, 4.0, 10.0):
        can = flushed(volume_l=volume, instruments=syringe, water="rain", target_ph=5.5)
        assert can["acid_mmol_per_l"] > 0.0
        steps = mixing_steps(can.row, can.result, can.catalogue)
        assert all(each["quantity"] is None or each["quantity"] > 0.0 for each in steps)
        told = " ".join(each["instruction"] for each in steps)
        met.add("left" if "Leave the" in told else "half" if "first half" in told else "whole")
        assert ("nothing_to_measure" in can.cautions) == ("Leave the" in told)
    assert met == {"left", "whole", "half"}


WELL = {**plain_water(water="moderate_tap"), "alkalinity_mg_per_l_caco3": 95.0}


@pytest.mark.parametrize(
    ("kind", "water", "volume"),
    [("citric", WELL, 1.5), ("citric", WELL, 0.3), ("potassium_bicarbonate", "rain", 2.0)],
)
def test_crystals_too_few_to_weigh_are_measured_as_a_solution_with_its_own_card(
    kind, water, volume
):
    can = dose(
        product="feed_13_3_15_ca_mg",
        plants={"size": "large"},
        water=water,
        volume_l=volume,
        target_ph=6.2,
        acid={"kind": kind},
    )
    mass = float(can["acid_mass_g"])
    assert 0.0 < mass < 2.0
    portion = card.acid_portion(can.row, can.result)
    assert portion["unit"] == "mL"
    assert portion["amount"] * portion["weaker_g_per_l"] / 1000.0 == pytest.approx(mass, rel=0.03)
    assert "pre_stock" in can.cautions
    steps = mixing_steps(can.row, can.result, can.catalogue)
    weighed = [each for each in steps if "in portions and swirl" in each["instruction"]]
    assert weighed[0]["quantity"] >= 2.0 - 1e-9
    assert any(each["instruction"].startswith("Label it") for each in steps)


def test_card_of_a_dilution_says_how_much_goes_into_how_much_water():
    can = dose(
        product="feed_13_3_15_ca_mg",
        plants={"size": "large"},
        water=WELL,
        volume_l=1.5,
        target_ph=6.0,
        acid={"kind": "sulfuric", "percent": 96},
    )
    factor = float(can["acid_dilution_factor"])
    assert factor > 1.0
    steps = mixing_steps(can.row, can.result, can.catalogue)
    at = next(
        place for place, each in enumerate(steps) if "measuring bottle" in each["instruction"]
    )
    water, acid, label = steps[at : at + 3]
    assert (water["quantity"] + acid["quantity"]) / acid["quantity"] == pytest.approx(factor)
    assert acid["quantity"] >= 20 * 0.1 - 1e-9
    assert "never the reverse" in acid["instruction"]
    assert "Corrosive" in label["instruction"]
    portion = card.acid_portion(can.row, can.result)
    assert portion["amount"] <= water["quantity"] + acid["quantity"]


def test_crystals_that_can_be_weighed_are_told_in_steps_of_the_balance():
    can = dose(
        product="feed_13_3_15_ca_mg",
        plants={"size": "large"},
        water=WELL,
        volume_l=100,
        target_ph=6.0,
        acid={"kind": "citric"},
    )
    portion = card.acid_portion(can.row, can.result)
    assert portion["unit"] == "g"
    assert portion["amount"] == pytest.approx(round(portion["amount"], 1))
    assert portion["amount"] <= float(can["acid_mass_g"])
