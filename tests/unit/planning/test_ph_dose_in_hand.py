"""Doses of acid too small, too large or too weak to be given as they stand."""

import pytest

from tests.adjusting import acid, adjusted, bicarbonate_water

NITRIC = acid("nitric", 38)
FINE = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}


def test_a_small_dose_comes_with_the_card_of_a_weaker_solution():
    can = adjusted(water="soft_tap", volume_l=2, target_ph=6.0, acid=acid("nitric", 60))
    card = can.fields["pre_dilution"]
    factor = card["dilution_factor"]
    assert factor == can["acid_dilution_factor"] > 1.0
    assert card["acid_volume_ml"] * factor == pytest.approx(card["batch_volume_ml"])
    assert card["water_ml"] + card["acid_volume_ml"] == pytest.approx(card["batch_volume_ml"])
    assert card["acid_volume_ml"] >= 2.0
    assert card["dose_ml"] >= 2.0
    assert card["dose_ml"] == pytest.approx(can["acid_volume_ml"] * factor, abs=0.1)
    poured = card["acid_mmol_per_l"] * card["dose_ml"] / 1000.0
    assert poured == pytest.approx(can["acid_mmol_per_l"] * 2.0, rel=0.05)
    assert f"1 in {factor:.0f}" in card["label"]
    assert "Nitric acid 60 %" in card["label"]
    assert card["shelf_note"]
    instructions = [each["instruction"] for each in can.steps]
    water, into = (
        next(n for n, words in enumerate(instructions) if start in words)
        for start in ("cold water into a measuring bottle", "into that water")
    )
    assert water < into


def test_a_small_dose_of_crystals_is_dissolved_first():
    can = adjusted(water="soft_tap", volume_l=2, target_ph=6.3, acid=acid("citric"))
    card = can.fields["pre_dilution"]
    assert can.fields["acid_volume_ml"] is None
    assert card["acid_volume_ml"] is None
    assert card["acid_mass_g"] == pytest.approx(card["g_per_l"] * card["batch_volume_ml"] / 1000.0)
    assert card["acid_mass_g"] >= 2.0
    taken = card["dose_ml"] * card["g_per_l"] / 1000.0
    assert taken == pytest.approx(can["acid_mass_g"], rel=0.05)
    assert "pre_stock" in can.cautions


def test_a_large_dose_needs_no_weaker_solution_and_is_given_in_halves():
    can = adjusted(water="hard_tap", volume_l=200, target_ph=6.0, acid=NITRIC)
    assert can.fields["pre_dilution"] is None
    poured = [each for each in can.steps if each["unit"] == "mL"]
    assert len(poured) == 2
    assert sum(each["quantity"] for each in poured) == pytest.approx(
        can["dose_volume_ml"], rel=1e-3
    )
    wait = next(each for each in can.steps if each["unit"] == "min")
    assert wait["quantity"] == 15.0
    assert poured[0]["order"] < wait["order"] < poured[1]["order"]
    assert [each["order"] for each in can.steps] == list(range(1, len(can.steps) + 1))
    weighed = adjusted(water="hard_tap", volume_l=200, target_ph=6.0, acid=acid("citric"))
    assert len([each for each in weighed.steps if each["unit"] == "g"]) == 2


def test_a_dose_that_nothing_can_measure_is_said():
    can = adjusted(
        water="rain",
        volume_l=0.01,
        target_ph=5.8,
        acid=acid("potassium_hydroxide", 50),
        instruments={"syringe_resolution_ml": 10.0},
    )
    assert "nothing_to_measure" in can.cautions


def test_a_coarse_syringe_never_makes_a_weaker_solution_of_more_than_a_tenth_of_the_can():
    # Twenty steps of 99 mL would be two litres of a can of ten.
    for kind in ("nitric", "citric"):
        can = adjusted(
            water="hard_tap",
            target_ph=6.2,
            acid=acid(kind),
            instruments={"syringe_resolution_ml": 99.0, "balance_resolution_g": 1.0},
        )
        assert can.status == "ok"
        assert not can["dose_volume_ml"] > 1000.0
        assert can["predicted_ph"] == pytest.approx(6.2, abs=1e-5)


def test_a_bottle_so_weak_that_it_is_most_of_the_can_still_meets_the_target():
    can = adjusted(water=bicarbonate_water(40.0, 8.0), target_ph=6.0, acid=acid("nitric", 0.1))
    assert can["acid_volume_ml"] > 5000.0
    assert can["predicted_ph"] == pytest.approx(6.0, abs=1e-5)
    assert "acid_share_large" in can.cautions
