"""The whole plan of a row, and rows beside each other."""

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan, plan_targets
from tests.mixing import by_element, dilution, dose, filled, mixed

LARGE = {"size": "large", "setup": "wet_dry_pot", "count": 10}
HUMID = {"humidity_percent": 70, "temperature_celsius": 22}
FED = {"plants": LARGE, "air": HUMID, "volume_l": 10, "water": "rain"}
SALT = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 60)}


def test_dose_without_a_strength_is_as_strong_as_the_ceilings_allow():
    can = dose(**FED, product="potassium_nitrate")
    assert can.binding == "conductivity"
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(can["ec_ceiling_ms_per_cm"], rel=0.03)
    assert "strength_reduced" not in can.cautions


def test_dilution_is_not_bound_by_ceilings_but_reports_what_passes_them():
    can = dilution(
        product="feed_20_20_20", strength={"basis": "product", "g_per_l": 5.0}, water="rain"
    )
    assert can.binding == "requested_strength"
    assert can.element("nitrogen") == pytest.approx(1000.0, rel=0.01)
    assert "ammonium_and_urea_share_high" in can.cautions


@pytest.mark.parametrize(
    ("product", "ppm", "ph", "base"),
    [
        ("monoammonium_phosphate", 17.3, 6.16, "potassium_carbonate"),
        ("monopotassium_phosphate", 163.0, 6.46, "potassium_hydroxide"),
    ],
)
def test_weak_feed_has_its_strength_with_the_base_that_it_needs(product, ppm, ph, base):
    # The base takes its part of the strength, and with less feed less base is needed.
    can = dose(
        plants={"size": "large", "setup": "mount"},
        air=HUMID,
        water="rain",
        volume_l=70,
        interval_days=7,
        product=product,
        strength={"basis": "meter_ppm", "ppm": ppm, "scale": 700},
        target_ph=ph,
        acid={"kind": base},
        instruments={"balance_resolution_g": 1e-3, "syringe_resolution_ml": 1e-2},
    )
    assert can.problem == "none"
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(ppm / 700, rel=2e-3)


@pytest.mark.parametrize(
    ("product", "value", "water", "volume", "ph", "base"),
    [
        ("potassium_nitrate", 0.1278, "reverse_osmosis", 16, 7.1, "potassium_hydroxide"),
        ("ammonium_sulfate", 0.04, "rain", 35, 6.6, "potassium_carbonate"),
    ],
)
def test_strength_is_kept_beside_a_base_that_the_balance_cannot_weigh_exactly(
    product, value, water, volume, ph, base
):
    can = dose(
        product=product,
        strength={"basis": "conductivity", "ec_ms_per_cm": value},
        water=water,
        volume_l=volume,
        target_ph=ph,
        acid={"kind": base},
    )
    assert can.problem == "none"
    assert can["predicted_ec_ms_per_cm"] == pytest.approx(value, rel=0.02)


def test_ceiling_is_kept_beside_an_acid_that_the_balance_cannot_weigh_exactly():
    can = dose(
        plants={"profile": "disa"},
        product="magnesium_sulfate_heptahydrate",
        water="reverse_osmosis",
        volume_l=15.19,
        target_ph=5.97,
        acid={"kind": "citric"},
    )
    assert can.problem == "none"
    assert can["predicted_ec_ms_per_cm"] <= can["ec_ceiling_ms_per_cm"] * 1.002


def test_nitrogen_of_a_month_follows_from_can_share_and_interval():
    can = dose(**FED, **SALT, interval_days=14)
    expected = can.element("nitrogen") * (10 / 10) * 365.25 / 12 / 14
    assert can["nitrogen_mg_per_plant_per_month"] == pytest.approx(expected)


def test_nitrogen_of_a_month_is_unknown_without_plants():
    plants = {"size": "large"}
    can = dose(**{**FED, "plants": plants}, **SALT)
    assert np.isnan(can["nitrogen_mg_per_plant_per_month"])


@pytest.mark.parametrize("days", [0.0, -1.0])
def test_interval_that_is_none_is_taken_as_a_week(days):
    can = dose(**FED, **SALT, interval_days=days)
    assert can.row["interval_days"] == 7.0


def test_open_can_loses_carbon_dioxide_and_can_form_scale():
    can = dose(**{**FED, "water": "hard_tap"}, **SALT)
    calcite = rows.SOLIDS_IN_ANSWERS.index("calcite")
    assert can["predicted_ph_open"] > can["predicted_ph"] + 0.5
    assert can.result["saturation_open"][calcite] > can.result["saturation"][calcite]


def test_strong_mix_at_any_temperature_is_refused_alike():
    strong = {"product": "potassium_nitrate", "strength": {"basis": "product", "g_per_l": 80.0}}
    for celsius in (25.0, 20.0):
        water = {"alkalinity_mg_per_l_caco3": 5.0, "temperature_celsius": celsius}
        assert dilution(**strong, water=water).problem == "solution_not_solvable"


def test_row_without_an_answer_does_not_disturb_its_neighbours():
    good = {**FED, **SALT}
    requests = [
        good,
        {**good, "water": {"sodium_mg_per_l": float("nan"), "chloride_mg_per_l": -5.0}},
        {**good, "air": {"humidity_percent": 70, "temperature_celsius": 60}},
        {**good, "strength": by_element("nitrogen", float("nan"))},
        {**good, "volume_l": float("inf")},
        good,
    ]
    first, *broken, last = mixed(requests)
    assert all(can.status == "rejected" for can in broken)
    alone = dose(**good)
    assert first.result.tobytes() == last.result.tobytes() == alone.result.tobytes()


def test_order_of_rows_does_not_matter():
    requests = [
        {**FED, **SALT, "water": water, "volume_l": volume}
        for water, volume in (("rain", 1), ("hard_tap", 20), ("soft_tap", 300))
    ]
    forwards = [can.result.tobytes() for can in mixed(requests)]
    backwards = [can.result.tobytes() for can in mixed(requests[::-1])]
    assert forwards == backwards[::-1]


def test_no_rows_are_no_work():
    requests, results = rows.empty_requests(0), rows.empty_results(0)
    plan(requests, results, catalogue())
    plan_targets(requests, results, catalogue())
    assert results.size == 0


def test_bits_set_while_reading_the_request_are_kept():
    asked, results = filled([{**FED, **SALT, "plants": {"profile": "ghost"}}], catalogue(), True)
    before = int(results[0]["cautions"])
    plan(asked, results, catalogue())
    assert int(results[0]["cautions"]) & before == before


@pytest.mark.parametrize(
    ("product", "value", "water", "volume", "ph", "base", "balance", "syringe"),
    [
        ("ammonium_sulfate", 0.0777, "reverse_osmosis", 52.99, 6.79, "potassium_bicarbonate",
         0.1, 0.5),
        ("magnesium_sulfate_heptahydrate", 0.1137, "reverse_osmosis", 351.25, 7.19,
         "potassium_hydroxide", 5.0, 0.5),
        ("potassium_nitrate", 0.2745, "reverse_osmosis", 2.81, 6.92, "potassium_carbonate",
         1.0, 5.0),
    ],
)  # fmt: skip
def test_amounts_are_fitted_to_the_base_in_whole_steps_of_a_coarse_balance(
    product, value, water, volume, ph, base, balance, syringe
):
    can = dose(
        product=product,
        strength={"basis": "conductivity", "ec_ms_per_cm": value},
        water=water,
        volume_l=volume,
        target_ph=ph,
        acid={"kind": base},
        instruments={"balance_resolution_g": balance, "syringe_resolution_ml": syringe},
    )
    assert (can.status, can.problem) == ("ok", "none")
    steps = can["acid_mass_g"] / balance
    assert steps == pytest.approx(round(steps), abs=1e-6)
    # The feed is found beside the base that is weighed, and rounded down by a step at most.
    lost = balance / can.exact()
    assert value * (0.99 - lost) <= can["predicted_ec_ms_per_cm"] <= value * 1.002
