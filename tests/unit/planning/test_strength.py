"""Every way of saying how strong, and what it counts."""

import pytest

from tests.mixing import by_element, dilution, dose, known_to

PURE = {"water": {"ph": 7.0, "alkalinity_mg_per_l_caco3": 0.5}, "volume_l": 100}
TAP = {"water": "moderate_tap", "volume_l": 100}
TAP_NITROGEN = 8.0 * 14.007 / 62.004
KNO3 = 13.854 / 100.0
"""Nitrogen in potassium nitrate, by its formula."""

LABELS = {
    "by mass": {
        "form": "liquid",
        "density_kg_per_l": 1.2,
        "label": {"basis": "mass", "nitrate_n_percent": 5.0, "k2o_percent": 12.0},
    },
    "by volume": {
        "form": "liquid",
        "label": {"basis": "volume", "nitrate_n_percent": 6.0, "k2o_percent": 14.4},
    },
    "by volume with density": {
        "form": "liquid",
        "density_kg_per_l": 1.2,
        "label": {"basis": "volume", "nitrate_n_percent": 6.0, "k2o_percent": 14.4},
    },
    "oxides": {
        "form": "solid",
        "label": {
            "nitrate_n_percent": 10.0,
            "p2o5_percent": 10.0,
            "k2o_percent": 10.0,
            "cao_percent": 5.0,
            "mgo_percent": 2.0,
        },
    },
    "stated conductivity": {
        "form": "solid",
        "label": {
            "nitrate_n_percent": 15.0,
            "k2o_percent": 15.0,
            "ec_ms_per_cm_at_100_mg_per_l_n": 0.70,
        },
    },
}
OWN = known_to(LABELS)


def own(name, strength, **more):
    return dilution(OWN, product=name, strength=strength, **{**PURE, **more})


def test_element_gives_the_mass_that_brings_it():
    can = dilution(**PURE, product="potassium_nitrate", strength=by_element("nitrogen", 100))
    assert can.exact() == pytest.approx(100 * 0.1 / KNO3, rel=1e-4)
    assert can.element("nitrogen") == pytest.approx(100.0, rel=1e-3)


@pytest.mark.parametrize("g_per_l", [0.05, 0.5, 5.0])
def test_grams_per_litre_are_taken_as_they_are(g_per_l):
    strength = {"basis": "product", "g_per_l": g_per_l}
    assert dilution(**TAP, product="feed_20_20_20", strength=strength).exact() == pytest.approx(
        100 * g_per_l
    )


def test_liquid_by_volume_and_by_mass_differ_by_its_density():
    by_volume = own("by mass", {"basis": "product", "ml_per_l": 2.0})
    by_mass = own("by mass", {"basis": "product", "g_per_l": 2.4})
    assert by_volume.exact() == pytest.approx(200.0)
    assert by_mass.exact() == pytest.approx(200.0)


def test_label_by_volume_is_a_label_by_mass_times_density():
    first = own("by mass", by_element("nitrogen", 60))
    second = own("by volume", by_element("nitrogen", 60))
    assert first.exact() == pytest.approx(second.exact(), rel=1e-9)
    assert second.exact() == pytest.approx(100 * 60 / 60.0)


def test_liquid_without_density_can_be_dosed_by_volume_only():
    assert own("by volume", {"basis": "product", "ml_per_l": 1.0}).status == "ok"
    assert own("by volume", {"basis": "product", "g_per_l": 1.0}).problem == "density_needed"
    assert own("by volume with density", {"basis": "product", "g_per_l": 1.2}).exact() == (
        pytest.approx(100.0)
    )


def test_solid_by_volume_is_refused():
    strength = {"basis": "product", "ml_per_l": 1.0}
    assert dilution(**PURE, product="urea", strength=strength).problem == "volume_of_a_solid"


@pytest.mark.parametrize(
    ("element", "percent"),
    [
        ("phosphorus", 4.364),
        ("potassium", 8.301),
        ("calcium", 3.573),
        ("magnesium", 1.206),
        ("nitrogen", 10.0),
    ],
)
def test_oxides_on_the_label_are_counted_as_elements(element, percent):
    can = own("oxides", {"basis": "product", "g_per_l": 1.0})
    assert can.element(element) == pytest.approx(10 * percent, rel=2e-3)


def test_nitrogen_counts_the_whole_can_and_says_so():
    can = dilution(**TAP, product="potassium_nitrate", strength=by_element("nitrogen", 100))
    assert can.element("nitrogen") == pytest.approx(100.0, rel=1e-3)
    assert can.exact() == pytest.approx((100 - TAP_NITROGEN) * 0.1 / KNO3, rel=1e-3)
    assert "counts_whole_can" in can.assumptions
    assert "nitrogen_credited" not in can.cautions


def test_credit_of_nitrogen_is_named_from_two_percent():
    named = dilution(**TAP, product="potassium_nitrate", strength=by_element("nitrogen", 80))
    assert "nitrogen_credited" in named.cautions


def test_nitrogen_that_counts_as_added_comes_on_top_of_the_water():
    strength = by_element("nitrogen", 100, counts="added")
    can = dilution(**TAP, product="potassium_nitrate", strength=strength)
    assert can.element("nitrogen") == pytest.approx(100 + TAP_NITROGEN, rel=1e-3)
    assert not can.assumptions & {"counts_whole_can", "counts_added"}


@pytest.mark.parametrize(
    ("element", "product"),
    [
        ("potassium", "potassium_nitrate"),
        ("calcium", "calcium_nitrate_tetrahydrate"),
        ("magnesium", "magnesium_sulfate_heptahydrate"),
        ("sulfur", "magnesium_sulfate_heptahydrate"),
        ("boron", "boric_acid"),
    ],
)
def test_no_other_element_of_the_water_is_credited_unasked(element, product):
    more = {"product": product, "instruments": {"balance_resolution_g": 1e-4}}
    tap = dilution(**TAP, **more, strength=by_element(element, 20))
    pure = dilution(**PURE, **more, strength=by_element(element, 20))
    assert tap.exact() == pytest.approx(pure.exact(), rel=1e-12)
    assert "counts_added" in tap.assumptions


def test_other_element_of_the_water_is_credited_when_asked():
    strength = by_element("calcium", 60, counts="whole_can")
    can = dilution(**TAP, product="calcium_nitrate_tetrahydrate", strength=strength)
    assert can.element("calcium") == pytest.approx(60.0, rel=2e-3)


def test_nitrogen_of_the_water_is_credited_once_between_two_products():
    products = [
        {"product": name, "strength": by_element("nitrogen", wanted)}
        for name, wanted in (("potassium_nitrate", 60), ("calcium_nitrate_tetrahydrate", 20))
    ]
    can = dilution(**TAP, products=products)
    assert can.element("nitrogen") == pytest.approx(80.0, rel=1e-3)


def test_conductivity_counts_the_whole_can_for_a_single_product():
    strength = {"basis": "conductivity", "ec_ms_per_cm": 0.8}
    can = dilution(**TAP, product="potassium_nitrate", strength=strength)
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(0.8, abs=0.002)
    assert "counts_whole_can" in can.assumptions


def test_conductivity_that_counts_as_added_is_that_of_the_product_in_pure_water():
    strength = {"basis": "conductivity", "ec_ms_per_cm": 0.8, "counts": "added"}
    tap = dilution(**TAP, product="potassium_nitrate", strength=strength)
    pure = dilution(**PURE, product="potassium_nitrate", strength=strength)
    assert tap.exact() == pytest.approx(pure.exact(), rel=1e-9)
    assert pure["predicted_ec_ms_per_cm"] == pytest.approx(0.8, abs=0.004)


@pytest.mark.parametrize("scale", [500, 640, 700])
def test_meter_reading_is_the_conductivity_on_its_scale(scale):
    strength = {"basis": "meter_ppm", "ppm": 490, "scale": scale}
    can = dilution(**TAP, product="potassium_nitrate", strength=strength)
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(490 / scale, abs=0.002)
    assert "meter_scale_assumed" not in can.assumptions


def test_scale_that_is_not_named_is_the_one_that_gives_the_weaker_can():
    strength = {"basis": "meter_ppm", "ppm": 490}
    can = dilution(**TAP, product="potassium_nitrate", strength=strength)
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(0.7, abs=0.002)
    assert "meter_scale_assumed" in can.assumptions


def test_water_that_already_has_the_conductivity_gets_nothing_and_a_word_about_it():
    strength = {"basis": "conductivity", "ec_ms_per_cm": 0.3}
    can = dilution(**TAP, product="potassium_nitrate", strength=strength)
    assert can.status == "ok"
    assert can.amount() == 0.0
    assert "strength_already_in_water" in can.cautions


def test_one_product_is_fitted_to_the_whole_can_after_the_others():
    products = [
        {
            "product": "potassium_nitrate",
            "strength": {"basis": "conductivity", "ec_ms_per_cm": 1.0, "counts": "whole_can"},
        },
        {"product": "calcium_nitrate_tetrahydrate", "strength": by_element("calcium", 40)},
        {
            "product": "magnesium_sulfate_heptahydrate",
            "strength": {"basis": "conductivity", "ec_ms_per_cm": 0.1},
        },
    ]
    can = dilution(**PURE, products=products)
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(1.0, abs=0.003)
    assert can.element("calcium") == pytest.approx(40.0, rel=5e-3)
    alone = dilution(
        **PURE,
        product="magnesium_sulfate_heptahydrate",
        strength={"basis": "conductivity", "ec_ms_per_cm": 0.1, "counts": "added"},
    )
    assert can.exact(2) == pytest.approx(alone.exact(), rel=1e-9)


@pytest.mark.parametrize("target", [1.0, 1.5])
def test_a_label_that_states_its_conductivity_counts_in_the_whole_can(target):
    stated = {"basis": "product", "g_per_l": 0.5}
    rest = {"basis": "conductivity", "ec_ms_per_cm": target, "counts": "whole_can"}
    products = [
        {"product": "stated conductivity", "strength": stated},
        {"product": "potassium_nitrate", "strength": rest},
    ]
    can = dilution(OWN, **PURE, products=products)
    alone = own("stated conductivity", stated)
    # What the label states is added as it is: the rest is what the nitrate conducts by itself.
    nitrate = dilution(
        **PURE,
        product="potassium_nitrate",
        strength={"basis": "product", "g_per_l": can.exact(1) / can["volume_l"]},
    )
    parts = alone["predicted_ec_ms_per_cm"] + nitrate["predicted_ec_ms_per_cm"]
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(target, abs=0.003)
    assert parts == pytest.approx(target, abs=0.01)


def test_two_products_cannot_both_be_fitted_to_the_whole_can():
    each = {"basis": "meter_ppm", "ppm": 300, "counts": "whole_can"}
    products = [
        {"product": name, "strength": each}
        for name in ("potassium_nitrate", "calcium_nitrate_tetrahydrate")
    ]
    can = dilution(**PURE, products=products)
    assert can.problem == "two_whole_can_conductivities"
    assert can.result["problem_product"] == 1


def test_label_that_states_its_conductivity_is_believed():
    can = own("stated conductivity", by_element("nitrogen", 100))
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(0.70, abs=0.005)
    back = own("stated conductivity", {"basis": "conductivity", "ec_ms_per_cm": 0.70})
    assert back.exact() == pytest.approx(can.exact(), rel=0.005)


@pytest.mark.parametrize(
    "strength", [{"basis": "conductivity", "ec_ms_per_cm": 0.3}, {"basis": "meter_ppm", "ppm": 150}]
)
@pytest.mark.parametrize("product", ["urea", "feed_30_10_10"])
def test_strength_by_meter_is_refused_where_urea_hides_from_the_meter(product, strength):
    assert dilution(**PURE, product=product, strength=strength).problem == "strength_blind_to_urea"
    assert dose(**PURE, product=product, strength=strength).problem == "strength_blind_to_urea"


def test_feed_with_some_urea_may_be_dosed_by_meter_but_it_is_said():
    strength = {"basis": "conductivity", "ec_ms_per_cm": 0.4}
    can = dilution(**PURE, product="feed_20_20_20", strength=strength)
    assert can.status == "ok"
    assert "urea_not_on_the_meter" in can.cautions


def test_product_that_hardly_conducts_has_no_amount_for_a_conductivity():
    strength = {"basis": "conductivity", "ec_ms_per_cm": 0.4}
    assert dilution(**PURE, product="boric_acid", strength=strength).problem == "no_conductivity"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0])
@pytest.mark.parametrize(
    "strength",
    [
        {"basis": "element", "element": "nitrogen", "mg_per_l": None},
        {"basis": "product", "g_per_l": None},
        {"basis": "conductivity", "ec_ms_per_cm": None},
        {"basis": "meter_ppm", "ppm": None},
    ],
)
def test_strength_that_is_no_number_is_refused(strength, value):
    asked = {key: value if each is None else each for key, each in strength.items()}
    can = dilution(**PURE, product="potassium_nitrate", strength=asked)
    assert can.problem == "strength_missing"


def test_only_a_single_product_of_a_dose_may_go_without_a_strength():
    assert dose(**PURE, product="potassium_nitrate").status == "ok"
    assert dilution(**PURE, product="potassium_nitrate").problem == "strength_missing"
    pair = [{"product": "potassium_nitrate"}, {"product": "urea"}]
    assert dose(**PURE, products=pair).problem == "strength_missing"
