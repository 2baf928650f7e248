"""Every refusal, caution and default of pH adjustments; bounds, weaker solutions and steps."""

import numpy as np
import pytest

from service.planning import ph_adjustment
from service.planning.catalogue import catalogue
from service.planning.ph_adjustment import adjust
from service.planning.ph_adjustment_card import range_reasons
from service.planning.ph_adjustment_request import fill_ph_row, ph_inputs
from service.planning.ph_adjustment_rows import (
    ASSUMPTIONS,
    CAUTIONS,
    empty_ph_requests,
    empty_ph_results,
)
from service.planning.requests import TooManyProductsError
from tests.adjusting import Adjusted, acid, adjusted, adjustment_request, bicarbonate_water
from tests.mixing import dilution, known_to

NITRIC = acid("nitric", 38)
BLIND = {"ph": 7.5, "calcium_mg_per_l": 40.0}
ACID_FEED = [{"product": "monoammonium_phosphate", "g_per_l": 0.5}]
FINE = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}


def standing(**given) -> Adjusted:
    return adjusted(**{"water": "hard_tap", "volume_l": 200, "reservoir": True, **given})


CAUTION_CASES = {
    "base_is_caustic": lambda: adjusted(
        water="rain", target_ph=6.2, acid=acid("potassium_hydroxide")
    ),
    "acid_storage": lambda: adjusted(target_ph=5.8, acid=NITRIC),
    "acid_restricted": lambda: adjusted(target_ph=5.8, acid=acid("sulfuric", 35)),
    "no_acid_needed": lambda: adjusted(water="rain"),
    "citric_does_not_last": lambda: standing(target_ph=6.2, acid=acid("citric")),
    "reservoir_by_alkalinity": lambda: standing(target_ph=6.2, acid=acid("nitric")),
    "acid_phosphorus_high": lambda: standing(target_ph=6.0, acid=acid("phosphoric")),
    "acid_before_feed": lambda: adjusted(
        target_ph=6.3, acid=NITRIC, additions=ACID_FEED, acid_goes="before_feed"
    ),
}

ASSUMPTION_CASES = {
    "acid_goes_after_feed": lambda: adjusted(target_ph=5.8, acid=NITRIC, additions=ACID_FEED),
    "carbon_dioxide_closed": lambda: adjusted(target_ph=5.8, acid=NITRIC),
    "target_ph_from_window_low": lambda: adjusted(
        water={"ph": 5.0, "alkalinity_mg_per_l_caco3": 0.5}
    ),
    "target_alkalinity_for_reservoir": standing,
    "acid_assumed_for_reservoir": standing,
    "base_assumed": lambda: adjusted(water={"ph": 5.0, "alkalinity_mg_per_l_caco3": 0.5}),
}


@pytest.mark.parametrize("code", CAUTIONS)
def test_caution_is_met_and_can_be_spoken(code):
    can = CAUTION_CASES[code]()
    assert can.problem == "none"
    assert code in can.cautions
    assert not [words for words in can.words if "nan" in words.split() or "{" in words]


@pytest.mark.parametrize("code", ASSUMPTIONS)
def test_assumption_is_met_and_can_be_spoken(code):
    can = ASSUMPTION_CASES[code]()
    assert can.problem == "none"
    assert code in can.assumptions
    assert not [words for words in can.words if "nan" in words.split() or "{" in words]


LIQUID = {
    "no density": {
        "form": "liquid",
        "label": {"basis": "volume", "nitrate_n_percent": 4.0, "k2o_percent": 6.0},
    },
    "with density": {
        "form": "liquid",
        "density_kg_per_l": 1.25,
        "label": {"basis": "volume", "nitrate_n_percent": 4.0, "k2o_percent": 6.0},
    },
}

PROBLEM_CASES = {
    "acid_target_too_low": lambda: adjusted(target_ph=4.9, acid=NITRIC),
    "acid_alkalinity_unknown": lambda: adjusted(water=BLIND, target_ph=6.0, acid=NITRIC),
    "acid_neutralises_too_much": lambda: adjusted(
        water="hard_tap", target_alkalinity_mg_per_l_caco3=24, acid=NITRIC
    ),
    "acid_cannot_reach": lambda: adjusted(
        water="rain", target_ph=9.0, acid=acid("potassium_bicarbonate")
    ),
    "base_raises_too_far": lambda: adjusted(
        water="rain",
        target_alkalinity_mg_per_l_caco3=80,
        acid=acid("potassium_hydroxide"),
    ),
    "acid_overshoots_with_feed": lambda: adjusted(
        water="soft_tap",
        target_ph=5.6,
        acid=NITRIC,
        additions=[{"product": "monoammonium_phosphate", "g_per_l": 3.0}],
        acid_goes="before_feed",
    ),
    "density_needed": lambda: adjusted(
        known_to(LIQUID), additions=[{"product": "no density", "g_per_l": 1.0}]
    ),
    "volume_of_a_solid": lambda: adjusted(additions=[{"product": "urea", "ml_per_l": 1.0}]),
    "conflicting_water_forms": lambda: adjusted(
        water={
            "alkalinity_mg_per_l_caco3": 100.0,
            "nitrate_mg_per_l": 40.0,
            "nitrate_nitrogen_mg_per_l": 40.0,
        }
    ),
    "solution_not_solvable": lambda: adjusted(
        additions=[{"product": "calcium_nitrate_tetrahydrate", "g_per_l": 1000.0}]
    ),
}


@pytest.mark.parametrize("code", PROBLEM_CASES)
def test_refusal(code):
    can = PROBLEM_CASES[code]()
    assert can.status == "rejected"
    assert can.problem == code


def test_the_same_water_a_little_above_the_limits_is_answered():
    assert adjusted(water="hard_tap", target_ph=5.5, acid=NITRIC).status == "ok"
    last = adjusted(water="hard_tap", target_alkalinity_mg_per_l_caco3=25.1, acid=NITRIC)
    assert last.status == "ok"
    assert 89.8 < last["neutralised_percent"] < 90.0


def test_an_answer_that_misses_its_target_is_not_given():
    can = adjusted(target_ph=5.8, acid=NITRIC)
    work, state = ph_adjustment.workspace(), np.zeros(32)
    scratch = np.zeros((8, 32))
    check = ph_adjustment._forward_check
    assert check(can.row, can.result, state, scratch, work) == 0
    can.row["target_ph"] = 5.85
    assert check(can.row, can.result, state, scratch, work) == ph_adjustment.FORWARD_CHECK_FAILED
    can.row["target_alkalinity_mg_per_l_caco3"] = 10.0
    assert check(can.row, can.result, state, scratch, work) == ph_adjustment.FORWARD_CHECK_FAILED


def test_no_target_means_the_upper_end_of_the_window_and_nothing_needed_is_an_answer():
    can = adjusted(acid=NITRIC)
    assert "target_ph_from_window" in can.assumptions
    assert can["predicted_ph"] == pytest.approx(6.5, abs=1e-5)
    soft = adjusted(water={"ph": 6.2, "alkalinity_mg_per_l_caco3": 30.0}, acid=NITRIC)
    assert soft.status == "ok"
    assert soft["acid_mmol_per_l"] == 0.0
    assert "no_acid_needed" in soft.cautions
    assert "acid_handling" not in soft.cautions
    assert soft.steps[-1]["instruction"].startswith("Add neither acid nor base")
    assert soft.fields["added_mg_per_l"] == {"nitrogen": 0.0}
    assert soft.fields["pre_dilution"] is None


def test_a_base_aims_for_the_lower_end_of_the_window():
    can = adjusted(
        water={"ph": 4.8, "alkalinity_mg_per_l_caco3": 0.0}, acid=acid("potassium_bicarbonate")
    )
    assert can["predicted_ph"] == pytest.approx(5.5, abs=1e-4)
    assert can.fields["added_mg_per_l"].keys() == {"potassium"}
    assert can.fields["neutralised_percent"] is None


def test_a_reservoir_is_left_forty_and_soft_water_is_left_alone():
    can = standing(acid=acid("sulfuric"))
    assert can.fields["residual_alkalinity_mg_per_l_caco3"] == pytest.approx(40.0)
    soft = standing(water="soft_tap")
    assert soft["acid_mmol_per_l"] == 0.0
    assert "no_acid_needed" in soft.cautions


def test_citric_acid_is_judged_by_the_bicarbonate_that_it_takes():
    can = adjusted(water="hard_tap", target_ph=5.2, acid=acid("citric"))
    assert can.problem == "acid_neutralises_too_much"
    assert can["neutralised_percent"] > 90.0
    mild = adjusted(water="hard_tap", target_ph=6.0, acid=acid("citric"))
    nitric = adjusted(water="hard_tap", target_ph=6.0, acid=acid("nitric"))
    assert mild["neutralised_percent"] == pytest.approx(nitric["neutralised_percent"], abs=1.0)


def test_too_much_phosphorus_is_no_plan_and_another_acid_is_proposed_with_its_numbers():
    can = adjusted(water="hard_tap", target_ph=6.0, acid=acid("phosphoric", 85))
    fields = can.fields
    assert can.status == fields["status"] == "infeasible"
    assert fields["acid_volume_ml"] is None
    assert fields["acid_mass_g"] is None
    assert fields["acid_mmol_per_l"] > 2.5
    assert fields["added_mg_per_l"]["phosphorus"] > 80.0
    assert can.steps == []
    assert "acid_pre_dilution" not in can.cautions
    other = fields["alternative"]
    alone = adjusted(water="hard_tap", target_ph=6.0, acid=acid(other["acid"]["kind"]))
    assert other["acid"]["kind"] == "citric"
    assert other["acid_mass_g"] == pytest.approx(alone["acid_mass_g"])
    assert other["predicted_ph"] == pytest.approx(6.0, abs=1e-5)
    assert [each["instruction"] for each in other["steps"]] == [
        each["instruction"] for each in alone.steps
    ]
    lasting = standing(target_ph=6.0, acid=acid("phosphoric")).fields["alternative"]
    assert lasting["acid"] == {"kind": "sulfuric", "percent": 35.0}
    allowed = adjusted(
        water="hard_tap",
        target_ph=6.0,
        acid=acid("phosphoric", 85),
        limits={"acid_phosphorus_mg_per_l": 100.0},
    )
    assert allowed.status == "ok"
    assert allowed.fields["alternative"] is None


def test_phosphoric_acid_in_hard_water_is_cautioned_about_brushite():
    can = adjusted(
        water="hard_tap",
        target_ph=6.5,
        acid=acid("phosphoric"),
        limits={"acid_phosphorus_mg_per_l": 100.0},
        additions=[{"product": "calcium_nitrate_tetrahydrate", "g_per_l": 1.0}],
    )
    assert can.result["saturation"][2] > 0.0
    assert "brushite_may_form" in can.cautions


def test_water_taken_to_6_5_stands_above_8_a_day_later():
    can = adjusted(water="hard_tap", target_ph=6.5, acid=NITRIC)
    assert can["predicted_ph"] == pytest.approx(6.5, abs=1e-5)
    assert can["predicted_ph_open"] > 8.2
    assert "ph_drifts_in_air" in can.cautions


def test_open_to_the_air_takes_more_acid_and_holds_the_target_there():
    water = bicarbonate_water(1.0, 7.5)
    closed = adjusted(water=water, target_ph=7.4, acid=NITRIC, carbon_dioxide="closed")
    aired = adjusted(water=water, target_ph=7.4, acid=NITRIC, carbon_dioxide="open")
    assert aired["acid_mmol_per_l"] > closed["acid_mmol_per_l"]
    assert aired["predicted_ph_open"] == pytest.approx(7.4, abs=1e-4)
    assert aired["predicted_ph"] < 7.0
    assert "carbon_dioxide_closed" not in aired.assumptions


def test_where_the_acid_goes_changes_the_answer():
    given = {"target_ph": 6.2, "acid": NITRIC, "additions": ACID_FEED, "instruments": FINE}
    after = adjusted(**given, acid_goes="after_feed")
    before = adjusted(**given, acid_goes="before_feed")
    plain = adjusted(target_ph=6.2, acid=NITRIC, instruments=FINE)
    assert before["acid_mmol_per_l"] == pytest.approx(plain["acid_mmol_per_l"], rel=1e-12)
    assert abs(after["acid_mmol_per_l"] - before["acid_mmol_per_l"]) > 0.1
    assert after["predicted_ph"] == pytest.approx(6.2, abs=1e-5)
    assert before["ph_after_acid"] == pytest.approx(6.2, abs=1e-5)
    assert before["predicted_ph"] != pytest.approx(6.2, abs=0.05)
    words = [each["instruction"] for each in before.steps]
    assert words.index(next(w for w in words if "first half" in w)) < words.index(
        next(w for w in words if w.startswith("Add Monoammonium"))
    )


def test_a_little_buffer_gives_a_range_of_ph_and_says_why():
    can = adjusted(
        water={"ph": 5.9, "alkalinity_mg_per_l_caco3": 1.0, "calcium_mg_per_l": 0.3},
        target_ph=5.6,
        acid=acid("citric"),
    )
    assert can["predicted_ph_high"] - can["predicted_ph_low"] > 0.5
    assert "ph_uncertain" in can.cautions
    assert any("buffer" in reason for reason in range_reasons(can.result))
    hard = adjusted(water="hard_tap", target_ph=6.0, acid=NITRIC)
    assert hard["predicted_ph_high"] - hard["predicted_ph_low"] < 0.1
    assert "ph_uncertain" not in hard.cautions


def test_an_incomplete_analysis_widens_the_range_and_says_why():
    full = adjusted(water="hard_tap", target_ph=6.0, acid=acid("citric"))
    kit = adjusted(water={"alkalinity_mg_per_l_caco3": 250.0}, target_ph=6.0, acid=acid("citric"))

    def width(can: Adjusted) -> float:
        return can["acid_mass_high_g"] / can["acid_mass_low_g"] - 1.0

    assert width(full) < 0.07
    assert width(kit) > 0.2
    reasons = " ".join(range_reasons(kit.result))
    assert "incomplete" in reasons
    assert "pH of the water" in reasons
    assert "citrate" in reasons
    assert len(range_reasons(full.result)) == 1


@pytest.mark.parametrize(("ph", "calcium"), [(7.0, 0.0), (7.0, 100.0), (8.4, 0.0), (8.4, 100.0)])
def test_the_range_of_a_test_kit_holds_the_waters_that_it_can_be(ph, calcium):
    kit = adjusted(water={"alkalinity_mg_per_l_caco3": 250.0}, target_ph=6.0, acid=acid("citric"))
    real = adjusted(
        water=bicarbonate_water(5.0, ph, calcium_mg_per_l=calcium),
        target_ph=6.0,
        acid=acid("citric"),
    )
    assert kit["acid_mass_low_g"] <= real["acid_mass_g"] <= kit["acid_mass_high_g"]


def test_the_acid_of_a_dose_is_the_same_for_the_same_can():
    tool = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}
    for kind in ("nitric", "phosphoric", "sulfuric", "citric"):
        mixed = dilution(
            product="feed_15_5_15_ca_mg",
            strength={"basis": "product", "g_per_l": 0.5},
            water="hard_tap",
            volume_l=10,
            target_ph=6.0,
            acid=acid(kind),
            instruments=tool,
        )
        ours = adjusted(
            water="hard_tap",
            target_ph=6.0,
            acid=acid(kind),
            additions=[{"product": "feed_15_5_15_ca_mg", "g_per_l": 0.5}],
            limits={"acid_phosphorus_mg_per_l": 1000.0},
            instruments=tool,
        )
        # A dose leaves out the water that the acid displaces, 0.05 % at most here.
        assert ours["acid_mmol_per_l"] == pytest.approx(mixed["acid_mmol_per_l"], rel=1e-3)
        # Crystals displace none; the two are then one number, found in two ways to 1e-9, and a dose
        # states what the balance shows of it: a step of a microgram in 10 L of 192 g/mol.
        step = 1000.0 * 1e-6 / 10.0 / 192.12 if kind == "citric" else 0.0
        assert ours["acid_mmol_per_l"] <= mixed["acid_mmol_per_l"] * (1.0 + 1e-9) + step


def test_a_weak_bottle_displaces_water_and_so_takes_less():
    strong = adjusted(water="hard_tap", target_ph=6.0, acid=acid("nitric", 60))
    weak = adjusted(water="hard_tap", target_ph=6.0, acid=acid("nitric", 1))
    displaced = weak["acid_volume_ml"] / 10_000.0
    assert displaced > 0.01
    share = 1.0 - displaced
    assert weak["acid_mmol_per_l"] == pytest.approx(share * strong["acid_mmol_per_l"], rel=2e-3)


def test_an_alkalinity_that_reads_like_degrees_is_questioned():
    water = {
        "ph": 7.5,
        "alkalinity_mg_per_l_caco3": 10.0,
        "calcium_mg_per_l": 70.0,
        "magnesium_mg_per_l": 10.0,
        "sodium_mg_per_l": 10.0,
        "chloride_mg_per_l": 20.0,
        "sulfate_mg_per_l": 30.0,
    }
    can = adjusted(water=water, target_ph=6.5, acid=acid("citric"))
    assert "alkalinity_may_be_degrees" in can.cautions
    assert not [words for words in can.words if "{" in words]


def test_a_liquid_by_mass_is_measured_by_its_density():
    known = known_to(LIQUID)
    by_mass = adjusted(known, additions=[{"product": "with density", "g_per_l": 1.25}])
    by_volume = adjusted(known, additions=[{"product": "with density", "ml_per_l": 1.0}])
    assert by_mass["acid_mmol_per_l"] == pytest.approx(by_volume["acid_mmol_per_l"], rel=1e-12)
    assert by_mass.result["amount_per_l"][0] == pytest.approx(1.0)


def test_an_unknown_plant_and_softened_water_are_said():
    can = adjusted(water="softened_tap", plants={"profile": "ghost_orchid"}, acid=NITRIC)
    assert {"unknown_plant", "softened_water"} <= can.cautions
    assert "profile_assumed" not in can.assumptions


def test_a_bad_row_disturbs_no_other():
    known = catalogue()
    requests, results = empty_ph_requests(3), empty_ph_results(3)
    waters = ("hard_tap", BLIND, "hard_tap")
    for row, result, water in zip(requests, results, waters, strict=True):
        given = adjustment_request(water=water, volume_l=10, target_ph=6.0, acid=NITRIC)
        fill_ph_row(row, result, given, known)
    adjust(requests, results, known)
    assert list(results["status"]) == [0, 2, 0]
    assert results[0]["acid_mmol_per_l"] == results[2]["acid_mmol_per_l"] > 0.0


def test_too_many_additions_are_refused():
    many = [{"product": "urea", "g_per_l": 0.1}] * 9
    with pytest.raises(TooManyProductsError):
        adjusted(additions=many)


def test_the_request_is_given_back_as_it_was_understood():
    can = adjusted(
        target_ph=6.0,
        acid=NITRIC,
        additions=[{"product": "urea", "g_per_l": 0.1}],
        instruments={"largest_can_l": 20.0},
    )
    inputs = ph_inputs(can.row, can.catalogue)
    assert inputs["target_ph"] == 6.0
    assert inputs["acid"] == {"kind": "nitric", "percent": 38.0}
    assert inputs["additions"] == [{"product": "urea", "g_per_l": 0.1}]
    assert inputs["acid_goes"] == "after_feed"
    assert inputs["instruments"]["largest_can_l"] == 20.0
    assert "target_alkalinity_mg_per_l_caco3" not in inputs
