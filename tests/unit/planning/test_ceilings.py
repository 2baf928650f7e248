"""The ceilings of a can: each of them can bind, and none can be walked past."""

import numpy as np
import pytest

from tests.mixing import by_element, dose, known_to, plain_water

LARGE = {"size": "large", "setup": "wet_dry_pot"}
HUMID = {"humidity_percent": 80, "temperature_celsius": 22, "average_humidity_percent": 80}
FED = {"plants": LARGE, "air": HUMID, "water": "reverse_osmosis", "volume_l": 100}


def fed(**request):
    return dose(**{**FED, **request})


def test_request_below_every_ceiling_is_given_as_asked():
    can = fed(product="potassium_nitrate", strength=by_element("nitrogen", 50))
    assert can.binding == "requested_strength"
    assert can["share_of_requested"] == 1.0
    assert "strength_reduced" not in can.cautions


def test_conductivity_binds_a_salt():
    can = fed(product="potassium_nitrate", strength=by_element("nitrogen", 190))
    assert can.binding == "conductivity"
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(800 / 700, abs=0.003)
    assert "strength_reduced" in can.cautions


def test_total_nitrogen_binds_a_feed_that_the_meter_underrates():
    profiles = {"tolerant of urea": {"ammonium_share_ceiling_percent": 100.0}}
    known = known_to(profiles=profiles)
    plants = {**LARGE, "profile": "tolerant of urea"}
    can = dose(known, **{**FED, "plants": plants}, product="urea")
    # The share in cool air stays; the mean of 22 degrees is warm.
    assert can.binding == "total_nitrogen"
    assert can.element("nitrogen") == pytest.approx(200.0, rel=5e-3)


def test_ammonium_and_urea_bind_before_the_total():
    can = fed(product="urea")
    assert can.binding == "ammonium_and_urea_nitrogen"
    assert can.element("nitrogen") == pytest.approx(100.0, rel=5e-3)


def test_less_ammonium_and_urea_is_allowed_in_the_cool():
    cool = fed(product="urea", air={**HUMID, "temperature_celsius": 15})
    assert cool.element("nitrogen") == pytest.approx(50.0, rel=5e-3)


@pytest.mark.parametrize(
    ("element", "product", "maximum"),
    [
        ("boron", "boric_acid", 0.7),
        ("copper", "copper_sulfate_pentahydrate", 0.5),
        ("zinc", "zinc_sulfate_heptahydrate", 2.0),
        ("manganese", "manganese_sulfate_monohydrate", 2.0),
        ("iron", "iron_dtpa", 5.0),
        ("molybdenum", "sodium_molybdate_dihydrate", 0.1),
    ],
)
def test_micronutrient_binds_its_own_salt(element, product, maximum):
    can = fed(product=product, instruments={"balance_resolution_g": 1e-4})
    assert can.binding == element
    assert can.element(element) == pytest.approx(maximum, rel=0.01)
    assert can.element(element) <= maximum * (1 + 1e-9)


def test_micronutrient_of_the_water_counts():
    water = {**plain_water(), "boron_mg_per_l": 0.4}
    can = fed(product="boric_acid", water=water, instruments={"balance_resolution_g": 1e-4})
    assert can.element("boron") == pytest.approx(0.7, rel=0.01)
    assert can.exact() / 100 * 174.8 == pytest.approx(0.3, rel=0.01)


def test_usual_rate_binds_a_stimulant():
    can = fed(
        product="seaweed_extract",
        application="stimulant",
        strength={"basis": "product", "ml_per_l": 10.0},
    )
    assert can.binding == "product_rate"
    assert can.amount() == pytest.approx(400.0)


def test_stimulant_keeps_its_own_conductivity():
    can = fed(product="seaweed_extract", application="stimulant", water="soft_tap")
    assert can["predicted_ec_ms_per_cm"] <= 200 / 700 + 1e-6


@pytest.mark.parametrize("product", ["feed_20_10_20", "magnesium_sulfate_heptahydrate"])
def test_whatever_is_given_as_a_stimulant_keeps_the_strength_of_one(product):
    can = fed(product=product, application="stimulant")
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(200 / 700, abs=0.002)


@pytest.mark.parametrize("size", ["large", "medium", "mini"])
def test_supplement_has_one_strength_for_all_sizes_of_a_plant(size):
    can = fed(
        product="calcium_magnesium_supplement", application="supplement", plants={"size": size}
    )
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(300 / 700, abs=0.002)


@pytest.mark.parametrize("application", ["supplement", "stimulant"])
def test_supplement_is_never_stronger_than_the_profile_allows(application):
    plants = {**LARGE, "profile": "disa"}
    can = fed(product="calcium_magnesium_supplement", application=application, plants=plants)
    assert can["predicted_ec_ms_per_cm"] <= 125 / 700 + 1e-6
    low = known_to(profiles={"own": {"ec_ceiling_ms_per_cm": 0.25}})
    can = dose(
        low,
        **{**FED, "plants": {**LARGE, "profile": "own"}},
        product="calcium_magnesium_supplement",
        application=application,
    )
    assert can["predicted_ec_ms_per_cm"] <= 0.25 + 1e-6


def test_several_products_are_reduced_in_the_same_measure():
    products = [
        {"product": "potassium_nitrate", "strength": {"basis": "product", "g_per_l": 1.0}},
        {
            "product": "calcium_nitrate_tetrahydrate",
            "strength": {"basis": "product", "g_per_l": 2.0},
        },
    ]
    can = fed(products=products)
    assert can["share_of_requested"] < 1.0
    assert can.exact(1) / can.exact(0) == pytest.approx(2.0, rel=1e-9)


OVER = {
    "conductivity": {"sodium_mg_per_l": 400.0, "chloride_mg_per_l": 600.0},
    "total_nitrogen": {"nitrate_mg_per_l": 1000.0, "sodium_mg_per_l": 100.0},
    "ammonium_and_urea_nitrogen": {"ammonium_nitrogen_mg_per_l": 110.0, "chloride_mg_per_l": 270.0},
    "boron": {"boron_mg_per_l": 2.0},
    "copper": {"copper_mg_per_l": 2.0},
    "zinc": {"zinc_mg_per_l": 5.0},
    "manganese": {"manganese_mg_per_l": 5.0},
    "iron": {"iron_mg_per_l": 9.0},
}


@pytest.mark.parametrize("limit", OVER)
@pytest.mark.parametrize("product", ["feed_20_5_19", "potassium_sulfate"])
def test_water_above_a_ceiling_is_infeasible_whatever_the_product(limit, product):
    water = {**plain_water(water="soft_tap"), **OVER[limit]}
    can = fed(product=product, water=water, strength={"basis": "product", "g_per_l": 0.2})
    assert can.status == "infeasible"
    assert can.amount() == 0.0
    assert "infeasible_water" in can.cautions
    # So much nitrate or ammonium conducts, too.
    nitrogenous = limit in ("total_nitrogen", "ammonium_and_urea_nitrogen")
    assert can.binding == ("conductivity" if nitrogenous else limit)


@pytest.mark.parametrize("limits", [[each] for each in OVER] + [["boron", "conductivity"]])
def test_proposed_blend_works_when_it_is_mixed_and_planned_again(limits):
    water = plain_water(water="soft_tap")
    for limit in limits:
        water |= OVER[limit]
    asked = {"product": "feed_20_5_19", "strength": {"basis": "product", "g_per_l": 0.1}}
    can = fed(**asked, water=water)
    share = can["feasible_water_share_percent"] / 100.0
    assert 0.0 < share < 1.0
    blend = {name: value * share for name, value in water.items() if name.endswith("per_l")}
    blend["alkalinity_mg_per_l_caco3"] = share * water["alkalinity_mg_per_l_caco3"]
    blend["ph"] = 7.0
    again = fed(**asked, water=blend)
    assert again.status == "ok"
    assert again.amount() > 0.0
    assert np.isnan(again["feasible_water_share_percent"])


def test_hard_tap_for_a_mini_plant_is_infeasible_and_can_be_blended():
    plants = {"size": "mini", "setup": "wet_dry_pot"}
    can = fed(product="potassium_nitrate", water="hard_tap", plants=plants)
    assert can.status == "infeasible"
    assert can.binding == "conductivity"
    assert 20.0 < can["feasible_water_share_percent"] < 40.0


TRACES = {
    "silica": {"form": "solid", "label": {"sio2_percent": 60.0}},
    "kelp": {"form": "liquid", "density_kg_per_l": 1.0, "label": {"fe_percent": 1e-4}},
}


@pytest.mark.parametrize("name", TRACES)
def test_label_that_states_a_trace_names_no_amount(name):
    assert dose(known_to(TRACES), **FED, product=name).problem == "strength_needed"


@pytest.mark.parametrize("application", ["feed", "stimulant", "auto"])
def test_a_stimulant_is_given_at_its_usual_rate_whatever_the_can_is_called(application):
    can = dose(**FED, product="seaweed_extract", application=application)
    assert can.binding == "product_rate"
    assert can.amount() == pytest.approx(4.0 * can["volume_l"])


@pytest.mark.parametrize(
    ("name", "unit", "most"), [("kelp", "ml_per_l", 20), ("silica", "g_per_l", 10)]
)
def test_no_can_holds_more_product_than_any_is_used(name, unit, most):
    known = known_to(TRACES)
    asked = dose(known, **FED, product=name, strength={"basis": "product", unit: most + 5})
    assert asked.binding == "product_rate"
    assert asked.amount() == pytest.approx(most * asked["volume_l"])


def test_a_base_that_takes_part_of_the_ceiling_leaves_an_amount_that_agrees_with_it():
    can = dose(
        product="monopotassium_phosphate",
        water="rain",
        volume_l=10,
        target_ph=7.2,
        acid={"kind": "potassium_hydroxide", "percent": 30},
        strength={"basis": "product", "g_per_l": 1},
    )
    assert can.status == "ok"
    assert 0.9 * can["ec_ceiling_ms_per_cm"] < can["predicted_ec_ms_per_cm"]
    assert can["predicted_ec_ms_per_cm"] <= can["ec_ceiling_ms_per_cm"] * 1.002
