"""From an analysis, whole or not, to a water that can be computed with."""

import numpy as np
import pytest

from service.reference.components import (
    CALCIUM,
    CARBONATE,
    COMPONENT_COUNT,
    MAGNESIUM,
    NITRATE,
    UNMEASURED,
)
from tests.mixing import by_element, dilution, dose, plain_water

FED = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 30), "volume_l": 10}
TAP = plain_water(water="moderate_tap")


def with_water(**analysis):
    return dilution(**FED, water=analysis)


def component(can, place):
    return float(can.result["water_composition_mmol_per_l"][place])


def test_ions_become_millimoles_per_litre():
    can = with_water(**TAP)
    assert component(can, CALCIUM) == pytest.approx(45 / 40.078, rel=1e-4)
    assert component(can, NITRATE) == pytest.approx(8 / 62.004, rel=1e-4)


def test_nitrate_and_nitrate_nitrogen_say_the_same():
    as_nitrate = with_water(nitrate_mg_per_l=44.27)
    as_nitrogen = with_water(nitrate_nitrogen_mg_per_l=10.0)
    assert component(as_nitrate, NITRATE) == pytest.approx(
        component(as_nitrogen, NITRATE), rel=1e-3
    )
    both = with_water(nitrate_mg_per_l=44.27, nitrate_nitrogen_mg_per_l=10.0)
    assert both.status == "ok"


@pytest.mark.parametrize(
    "analysis",
    [
        {"nitrate_mg_per_l": 10.0, "nitrate_nitrogen_mg_per_l": 10.0},
        {"alkalinity_mg_per_l_caco3": 50.0, "bicarbonate_mg_per_l": 122.0},
        {"hardness_mg_per_l_caco3": 50.0, "calcium_mg_per_l": 100.0},
        {"hardness_mg_per_l_caco3": 50.0, "magnesium_mg_per_l": 100.0},
        {"hardness_mg_per_l_caco3": 400.0, "calcium_mg_per_l": 20.0, "magnesium_mg_per_l": 5.0},
    ],
)
def test_two_forms_that_disagree_are_refused(analysis):
    assert with_water(**analysis).problem == "conflicting_water_forms"


def test_hardness_of_a_drop_test_may_miss_the_analysis_by_a_drop():
    can = with_water(hardness_mg_per_l_caco3=160.0, calcium_mg_per_l=45.0, magnesium_mg_per_l=8.0)
    assert can.status == "ok"


def test_hardness_alone_is_three_parts_calcium_to_one_of_magnesium():
    can = with_water(hardness_mg_per_l_caco3=100.08)
    assert component(can, CALCIUM) == pytest.approx(0.75, rel=1e-3)
    assert component(can, MAGNESIUM) == pytest.approx(0.25, rel=1e-3)
    assert "hardness_as_calcium" in can.assumptions


@pytest.mark.parametrize(
    ("given", "missing"), [("calcium_mg_per_l", MAGNESIUM), ("magnesium_mg_per_l", CALCIUM)]
)
def test_hardness_and_one_ion_give_the_other(given, missing):
    can = with_water(**{"hardness_mg_per_l_caco3": 150.12, given: 20.0})
    mass = {"calcium_mg_per_l": 40.078, "magnesium_mg_per_l": 24.305}[given]
    assert component(can, missing) == pytest.approx(1.5 - 20.0 / mass, rel=1e-3)
    assert "hardness_as_calcium" not in can.assumptions


def test_bicarbonate_stands_for_alkalinity():
    first = with_water(ph=7.5, alkalinity_mg_per_l_caco3=50.04)
    second = with_water(ph=7.5, bicarbonate_mg_per_l=61.02)
    assert component(first, CARBONATE) == pytest.approx(component(second, CARBONATE), rel=1e-3)


def test_stated_ph_is_the_computed_one_and_the_gap_is_carried():
    can = dilution(**{**FED, "strength": by_element("nitrogen", 1e-6)}, water={**TAP, "ph": 7.2})
    assert can["predicted_ph"] == pytest.approx(7.2, abs=0.02)
    assert np.isfinite(component(can, UNMEASURED))


def test_missing_ph_is_that_of_water_in_balance_with_air():
    can = dilution(
        **{**FED, "strength": by_element("nitrogen", 1e-6)},
        water={key: value for key, value in TAP.items() if key != "ph"},
    )
    assert can["predicted_ph"] == pytest.approx(can["predicted_ph_open"], abs=0.01)
    assert "water_ph_assumed" in can.assumptions


def test_unknown_alkalinity_gives_no_ph():
    can = with_water(calcium_mg_per_l=40.0, ph=7.5)
    assert np.isnan(can["predicted_ph"])
    assert np.isnan(can["predicted_ph_open"])
    assert "alkalinity_unknown" in can.cautions


def test_unknown_alkalinity_still_conducts_as_what_the_cations_need():
    can = with_water(calcium_mg_per_l=40.0)
    assert can["water_ec_ms_per_cm"] == pytest.approx(0.2, abs=0.04)


def test_conductivity_alone_is_carried_through_to_the_can():
    plain = dilution(**FED, water={"ec_ms_per_cm": 0.0})
    can = dilution(**FED, water={"ec_ms_per_cm": 0.4})
    assert can["water_ec_ms_per_cm"] == pytest.approx(0.4, abs=1e-9)
    difference = can["predicted_ec_ms_per_cm"] - plain["predicted_ec_ms_per_cm"]
    assert difference == pytest.approx(0.4, abs=0.002)
    assert {"water_analysis_incomplete", "alkalinity_unknown"} <= can.cautions


@pytest.mark.parametrize("ph", [4.0, 6.0, 7.7, 9.0])
def test_meter_readings_alone_are_enough_to_plan_with(ph):
    can = dilution(**FED, water={"ph": ph, "ec_ms_per_cm": 0.5})
    assert can.status == "ok"
    assert can["water_ec_ms_per_cm"] == pytest.approx(0.5, abs=1e-6)
    assert "water_ph_not_used" not in can.assumptions


@pytest.mark.parametrize("ph", [7.0, 7.5, 8.5])
def test_reading_of_ph_in_water_without_alkalinity_is_not_believed(ph):
    can = dilution(**FED, water={"ph": ph, "alkalinity_mg_per_l_caco3": 0.0})
    assert can.status == "ok"
    assert can["predicted_ph"] == pytest.approx(5.6, abs=0.1)
    assert "water_ph_not_used" in can.assumptions


def test_conductivity_below_what_the_ions_give_does_not_weaken_the_water():
    computed = with_water(**{**TAP, "ec_ms_per_cm": 0.0})
    assert with_water(**{**TAP, "ec_ms_per_cm": 0.1})["water_ec_ms_per_cm"] == pytest.approx(
        computed["water_ec_ms_per_cm"]
    )


def test_empty_analysis_counts_as_a_usual_tap_and_is_called_incomplete():
    can = with_water()
    assert can.status == "ok"
    assert can["water_ec_ms_per_cm"] == pytest.approx(0.36, abs=0.02)
    assert "water_analysis_incomplete" in can.cautions
    assert "water_content_assumed" in can.assumptions


def test_charges_that_do_not_balance_are_said_and_not_corrected():
    can = with_water(**{**TAP, "sulfate_mg_per_l": 100.0})
    assert "water_charge_imbalance" in can.cautions
    assert abs(can["water_charge_error_percent"]) > 10.0


def test_every_preset_is_complete_and_in_balance():
    for name in ("reverse_osmosis", "rain", "soft_tap", "moderate_tap", "hard_tap", "softened_tap"):
        can = dilution(**FED, water=name)
        assert can.status == "ok"
        assert not can.cautions & {"water_charge_imbalance", "water_analysis_incomplete"}, name


@pytest.mark.parametrize(("celsius", "cold"), [(14.9, True), (15.1, False)])
def test_cold_water_is_cautioned_about(celsius, cold):
    can = with_water(**{**TAP, "temperature_celsius": celsius})
    assert ("cold_water" in can.cautions) is cold


def test_temperature_moves_lime_scale_but_not_the_conductivity_at_25_degrees():
    warm = with_water(**{**TAP, "temperature_celsius": 25.0})
    cool = with_water(**{**TAP, "temperature_celsius": 12.0})
    assert cool["predicted_ec_ms_per_cm"] == pytest.approx(
        warm["predicted_ec_ms_per_cm"], rel=0.005
    )
    assert cool.result["saturation"][1] < warm.result["saturation"][1] - 0.1


@pytest.mark.parametrize("value", [-1.0, np.inf])
def test_impossible_amount_is_refused(value):
    assert with_water(sodium_mg_per_l=value).problem == "water_not_solvable"


def test_softened_water_keeps_its_alkalinity_and_is_cautioned_about():
    can = dilution(**FED, water="softened_tap")
    assert {"softened_water", "sodium_high"} <= can.cautions
    assert can.result["water_composition_mmol_per_l"].shape == (COMPONENT_COUNT,)


def test_trace_of_alkalinity_in_acid_rain_is_within_the_error_of_a_test():
    rain = dose(application="flush", volume_l=10, water={"ph": 4.3, "alkalinity_mg_per_l_caco3": 5})
    assert rain.status == "ok"
    edge = dose(
        application="flush", volume_l=10, water={"ph": 4.5, "alkalinity_mg_per_l_caco3": 20}
    )
    assert edge.status == "ok"
    bicarbonate = dose(
        application="flush", volume_l=10, water={"ph": 4.2, "bicarbonate_mg_per_l": 60}
    )
    assert bicarbonate.problem == "water_ph_below_its_alkalinity"


@pytest.mark.parametrize("water", [{"ph": 7.8}, {"temperature_celsius": 18.0}])
def test_water_of_which_nothing_is_known_does_not_count_as_pure(water):
    feed = {"product": "potassium_nitrate", "volume_l": 10, "plants": {"size": "large"}}
    can = dose(**feed, water=water)
    pure = dose(**feed, water="reverse_osmosis")
    usual = dose(**feed, water="moderate_tap")
    assert "water_content_assumed" in can.assumptions
    assert "alkalinity_unknown" in can.cautions
    assert can.result["amount"][0] == pytest.approx(usual.result["amount"][0], rel=0.05)
    assert can.result["amount"][0] < pure.result["amount"][0]


def test_conductivity_that_does_not_go_with_the_ions_is_cautioned_about():
    tap = plain_water(water="moderate_tap")
    stated = tap["ec_ms_per_cm"]
    for factor, told in ((1.0, False), (0.9, False), (0.5, True), (1.1, False), (1.6, True)):
        can = dose(**FED, water={**tap, "ec_ms_per_cm": factor * stated})
        assert ("water_ec_disagrees" in can.cautions) is told
    open_analysis = {"ph": 7.5, "alkalinity_mg_per_l_caco3": 60.0, "ec_ms_per_cm": 0.6}
    assert "water_ec_disagrees" not in dose(**FED, water=open_analysis).cautions
    assert (
        "water_ec_disagrees" in dose(**FED, water={**open_analysis, "ec_ms_per_cm": 0.05}).cautions
    )
