"""Acid for a can: against alkalinity, with the feed in, and refused where it would harm."""

import numpy as np
import pytest

from service.planning import rows
from tests.mixing import by_element, dilution, dose, known_to, plain_water

LARGE = {"size": "large", "setup": "wet_dry_pot"}
HUMID = {"humidity_percent": 80, "temperature_celsius": 22}
FED = {"plants": LARGE, "air": HUMID, "volume_l": 100, "water": "moderate_tap"}
SALT = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 60)}


def fed(**request):
    return dose(**{**FED, **SALT, **request})


@pytest.mark.parametrize("kind", rows.ACID_KINDS)
@pytest.mark.parametrize("target", [5.8, 6.2, 6.5])
def test_can_comes_to_the_target(kind, target):
    # Crystals are weighed, to the step of the balance: a finer one than a household's comes nearer.
    fine = {"balance_resolution_g": 0.001}
    can = fed(acid={"kind": kind}, target_ph=target, instruments=fine)
    if kind == "citric":
        assert can.status in ("ok", "rejected")
    if can.status == "ok":
        assert can["predicted_ph"] == pytest.approx(target, abs=0.005)
        assert can["acid_mmol_per_l"] > 0.0
    elif kind == "phosphoric":
        # 2.4 meq/L of alkalinity take more than the 30 mg/L phosphorus that an acid may bring.
        assert can.status == "infeasible"
        assert can.binding == "acid_phosphorus"
    else:
        assert can.problem == "acid_neutralises_too_much"


@pytest.mark.parametrize("kind", ["citric", "potassium_bicarbonate"])
@pytest.mark.parametrize("step", [0.1, 0.5])
def test_what_is_weighed_is_whole_steps_of_the_balance_and_never_more(kind, step):
    base = kind == "potassium_bicarbonate"
    asked = {
        "acid": {"kind": kind},
        "target_ph": 6.5 if base else 5.8,
        "water": "rain" if base else "soft_tap",
        "volume_l": 2000,
    }
    fine = fed(**asked, instruments={"balance_resolution_g": 0.0001})
    can = fed(**asked, instruments={"balance_resolution_g": step})
    steps = can["acid_mass_g"] / step
    assert steps == pytest.approx(round(steps), abs=1e-6)
    assert steps >= 20.0
    assert fine["acid_mass_g"] - step - 1e-3 < can["acid_mass_g"] <= fine["acid_mass_g"] + 1e-9
    # What is left out shows in the pH that is foretold.
    short = can["predicted_ph"] - fine["predicted_ph"]
    assert short <= 1e-9 if base else short >= -1e-9
    assert can.result["acid_mass_g"] == 0.0 or can["acid_mmol_per_l"] > 0.0


def test_acid_below_a_step_of_the_balance_is_left_out_and_said():
    coarse = {"balance_resolution_g": 50}
    can = fed(acid={"kind": "citric"}, target_ph=5.8, instruments=coarse, volume_l=2)
    assert can["acid_mass_g"] == 0.0
    assert "nothing_to_measure" in can.cautions


def test_acid_is_for_the_can_with_its_feed_and_not_for_the_water_alone():
    acid = {"acid": {"kind": "nitric"}, "target_ph": 6.2}
    alkaline = fed(**acid, product="dipotassium_phosphate", strength=by_element("phosphorus", 5))
    neutral = fed(**acid, product="monopotassium_phosphate", strength=by_element("phosphorus", 5))
    assert alkaline["acid_mmol_per_l"] > neutral["acid_mmol_per_l"] + 0.1


def test_can_below_the_target_needs_no_acid():
    can = fed(water="reverse_osmosis", acid={"kind": "nitric"}, target_ph=7.0)
    assert can.status == "ok"
    assert can["acid_mmol_per_l"] == 0.0
    assert can["acid_volume_ml"] == 0.0
    assert "acid_handling" not in can.cautions


def test_base_raises_an_acid_can_and_is_not_given_to_an_alkaline_one():
    water = {**plain_water(), "ph": 5.0, "alkalinity_mg_per_l_caco3": 5.0}
    raised = fed(
        water=water,
        product="monopotassium_phosphate",
        strength=by_element("phosphorus", 30),
        acid={"kind": "potassium_hydroxide"},
        target_ph=6.0,
    )
    assert raised["predicted_ph"] == pytest.approx(6.0, abs=0.005)
    assert raised["acid_mmol_per_l"] > 0.0
    assert fed(acid={"kind": "potassium_hydroxide"}, target_ph=6.0)["acid_mmol_per_l"] == 0.0


@pytest.mark.parametrize("target", [3.0, 4.99])
def test_target_below_five_is_refused(target):
    assert fed(acid={"kind": "nitric"}, target_ph=target).problem == "acid_target_too_low"


def test_more_than_nine_tenths_of_the_alkalinity_is_refused():
    most = fed(acid={"kind": "nitric"}, target_ph=5.5)
    assert most["acid_mmol_per_l"] < 0.9 * 120 / 50.04
    assert fed(acid={"kind": "nitric"}, target_ph=5.1).problem == "acid_neutralises_too_much"


def test_alkalinity_that_a_product_brings_may_be_neutralised_too():
    silicate = {"product": "potassium_silicate_solution", "water": "rain"}
    strength = {"basis": "product", "ml_per_l": 0.5}
    can = fed(**silicate, strength=strength, acid={"kind": "citric"}, target_ph=6.4)
    assert can.problem in ("none", "acid_neutralises_too_much")
    mild = fed(**silicate, strength=strength, acid={"kind": "citric"}, target_ph=7.5)
    assert mild.status == "ok"
    assert mild["acid_mmol_per_l"] > 0.2
    assert mild["residual_alkalinity_meq_per_l"] > 0.0


def test_alkalinity_that_a_product_took_is_not_neutralised_again():
    acid = {"acid": {"kind": "nitric"}, "target_ph": 5.5}
    assert fed(**acid).status == "ok"
    sour = fed(**acid, product="urea_phosphate", strength={"basis": "product", "g_per_l": 0.2})
    assert sour.status == "ok"
    total = 0.2 * 1000 / 158.05 + sour["acid_mmol_per_l"]
    assert total <= 0.9 * 120 / 50.04 * 1.001


@pytest.mark.parametrize(
    "water",
    [
        None,
        {"ph": 7.7, "ec_ms_per_cm": 0.5},
        {"ph": 7.7, "calcium_mg_per_l": 40.0, "hardness_mg_per_l_caco3": 120.0},
    ],
)
def test_water_whose_alkalinity_nobody_named_gets_no_acid(water):
    can = fed(water=water, acid={"kind": "nitric"}, target_ph=6.0)
    assert can.problem == "acid_alkalinity_unknown"


def test_bicarbonate_is_an_alkalinity_too():
    water = {"ph": 7.7, "bicarbonate_mg_per_l": 146.0, "calcium_mg_per_l": 45.0}
    assert fed(water=water, acid={"kind": "nitric"}, target_ph=6.0).status == "ok"


def test_defaults_of_acid_are_filled_in_and_said():
    can = fed(target_ph=6.3)
    assert can.status == "ok"
    assert rows.ACID_KINDS[can.row["acid_kind"]] == "citric"
    assert can.row["acid_percent"] > 0.0
    assert {"acid_assumed", "acid_strength_assumed"} <= can.assumptions
    window = fed(acid={"kind": "nitric"})
    assert window["predicted_ph"] == pytest.approx(6.5, abs=0.005)
    assert "target_ph_from_window" in window.assumptions


@pytest.mark.parametrize("percent", [10.0, 38.0, 60.0])
def test_weaker_bottle_means_more_of_it_and_the_same_acid(percent):
    can = fed(acid={"kind": "nitric", "percent": percent}, target_ph=6.2)
    pure = can["acid_mmol_per_l"] * 100 * 63.012 / 1000
    assert can["acid_mass_g"] == pytest.approx(pure / (percent / 100), rel=1e-4)
    assert 1.0 < can["acid_mass_g"] / can["acid_volume_ml"] < 1.4


def test_dose_of_few_steps_is_measured_diluted():
    small = fed(acid={"kind": "nitric", "percent": 60}, target_ph=6.5, volume_l=2)
    assert small["acid_dilution_factor"] > 1.0
    assert small["acid_volume_ml"] * small["acid_dilution_factor"] >= 20 * 0.1
    assert "acid_pre_dilution" in small.cautions
    large = fed(acid={"kind": "nitric", "percent": 60}, target_ph=6.5, volume_l=1000)
    assert large["acid_dilution_factor"] == 1.0
    assert "acid_pre_dilution" not in large.cautions


def test_crystals_are_weighed():
    can = fed(acid={"kind": "citric", "percent": 100}, target_ph=6.5)
    assert can.status == "ok"
    assert can["acid_mass_g"] > 0.0
    assert np.isnan(can["acid_volume_ml"])


def test_nitrogen_of_nitric_acid_is_credited_in_the_feed():
    asked = {"target_ph": 5.8, "strength": by_element("nitrogen", 60)}
    nitric = fed(**asked, acid={"kind": "nitric"})
    sulfuric = fed(**asked, acid={"kind": "sulfuric"})
    assert nitric["acid_nitrogen_mg_per_l"] == pytest.approx(
        14.007 * nitric["acid_mmol_per_l"], rel=1e-4
    )
    assert nitric["acid_nitrogen_mg_per_l"] > 20.0
    assert nitric.element("nitrogen") == pytest.approx(60.0, abs=0.5)
    assert sulfuric.element("nitrogen") == pytest.approx(60.0, abs=0.5)
    assert nitric.amount() < sulfuric.amount()
    assert "nitrogen_credited" in nitric.cautions


def test_nitrogen_of_nitric_acid_counts_in_the_ceiling():
    known = known_to(profiles={"meagre": {"nitrogen_ceiling_mg_per_l": 60.0}})
    plants = {**LARGE, "profile": "meagre"}
    request = {**FED, "plants": plants, "product": "potassium_nitrate"}
    can = dose(known, **request, acid={"kind": "nitric"}, target_ph=5.8)
    assert can.status == "ok"
    assert can.binding == "total_nitrogen"
    assert can.element("nitrogen") == pytest.approx(60.0, rel=5e-3)
    assert can.element("nitrogen") <= 60.0 * 1.002


def test_acid_that_alone_passes_the_nitrogen_ceiling_is_infeasible():
    known = known_to(profiles={"meagre": {"nitrogen_ceiling_mg_per_l": 20.0}})
    plants = {**LARGE, "profile": "meagre"}
    request = {**FED, "plants": plants, "product": "potassium_sulfate", "water": "hard_tap"}
    can = dose(known, **request, acid={"kind": "nitric"}, target_ph=5.8)
    assert can.status == "infeasible"
    assert can.binding == "total_nitrogen"
    assert 0.0 < can["feasible_water_share_percent"] < 60.0


def test_phosphorus_and_sulfur_of_acids_are_in_the_can():
    plain = fed(**SALT)
    phosphoric = fed(acid={"kind": "phosphoric"}, target_ph=6.2)
    sulfuric = fed(acid={"kind": "sulfuric"}, target_ph=6.2)
    assert phosphoric.element("phosphorus") > plain.element("phosphorus") + 20.0
    assert sulfuric.element("sulfur") > plain.element("sulfur") + 10.0


def test_dilution_with_acid_is_not_bound_but_counts_its_nitrogen():
    can = dilution(
        product="potassium_nitrate",
        strength=by_element("nitrogen", 300),
        water="moderate_tap",
        volume_l=10,
        acid={"kind": "nitric"},
        target_ph=6.0,
    )
    assert can.status == "ok"
    assert can.element("nitrogen") == pytest.approx(300.0, rel=3e-3)


def test_reagent_that_cannot_reach_the_target_is_refused():
    can = fed(water="rain", acid={"kind": "potassium_bicarbonate"}, target_ph=10.5)
    assert can.problem == "acid_cannot_reach"


def test_ph_of_hardly_buffered_water_is_called_uncertain_and_of_tap_water_not():
    assert "ph_uncertain" in fed(water="rain").cautions
    tap = fed(water="hard_tap")
    assert "ph_uncertain" not in tap.cautions


def test_window_that_nobody_narrowed_is_good_as_a_whole():
    asked = {
        "product": "feed_20_20_20",
        "water": "soft_tap",
        "volume_l": 10,
        "plants": LARGE,
        "air": HUMID,
        "acid": {"kind": "phosphoric", "percent": 30},
    }
    can = dose(**asked)
    assert "target_ph_from_window" in can.assumptions
    assert 5.5 < can["predicted_ph"] < 6.4
    assert "no_acid_needed" in can.cautions
    assert "target_not_reached" not in can.cautions
    asked_for = dose(**asked, target_ph=6.5)
    assert asked_for["predicted_ph"] == pytest.approx(can["predicted_ph"])
    assert "target_not_reached" in asked_for.cautions
    assert "no_acid_needed" not in asked_for.cautions
