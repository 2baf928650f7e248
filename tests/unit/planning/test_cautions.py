"""Every code can be met, and every sentence can be spoken."""

import numpy as np
import pytest

from service.planning.cautions import (
    ASSUMPTIONS,
    CAUTIONS,
    PROBLEMS,
    assumption_bit,
    caution_bit,
    notices,
    problem_number,
)
from service.planning.forward_check import can_is_as_planned
from service.reference.components import CALCIUM
from tests.adjusting import adjusted
from tests.mixing import Can, by_element, dilution, dose, known_to, plain_water

PLANT = {"size": "large", "setup": "wet_dry_pot"}
AIR = {"humidity_percent": 60, "temperature_celsius": 22}
FED = {"plants": PLANT, "air": AIR, "volume_l": 10, "water": "rain"}
NITRATE = {"product": "potassium_nitrate", "strength": by_element("nitrogen", 50)}
GRAM = {"basis": "product", "g_per_l": 1.0}
PURE = {"ph": 7.0, "alkalinity_mg_per_l_caco3": 5.0, "calcium_mg_per_l": 2.0}


def fed(**request) -> Can:
    return dose(**{**FED, **NITRATE, **request})


def diluted(**request) -> Can:
    return dilution(**{"water": "rain", "volume_l": 10, **NITRATE, **request})


def grams(**amounts: float) -> list[dict]:
    return [
        {"product": name, "strength": {"basis": "product", "g_per_l": amount}}
        for name, amount in amounts.items()
    ]


def just_clear(solid: str, **amounts: float) -> Can:
    """A can that is just not oversaturated while it is closed."""
    place = ("gypsum", "calcite", "brushite", "struvite").index(solid)
    water = {"ph": 10.0, "alkalinity_mg_per_l_caco3": 100.0, "sodium_mg_per_l": 46.0}
    if solid != "gypsum":
        water = plain_water(water="moderate_tap")
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        scaled = grams(**{name: amount * middle for name, amount in amounts.items()})
        can = dilution(products=scaled, water=water, volume_l=1000)
        assert can.status == "ok"
        if can.result["saturation"][place] <= 0.0:
            low = middle
        else:
            high = middle
    assert 0.0 < low < 0.999
    scaled = grams(**{name: amount * low for name, amount in amounts.items()})
    return dilution(products=scaled, water=water, volume_l=1000)


LABELS = {
    "total only": {"form": "solid", "label": {"total_n_percent": 20.0, "k2o_percent": 20.0}},
    "liquid without density": {
        "form": "liquid",
        "label": {"basis": "volume", "nitrate_n_percent": 4.0, "k2o_percent": 6.0},
    },
}

CAUTION_CASES = {
    "target_not_reached": lambda: fed(
        product="feed_15_5_15_ca_mg", water="rain", target_ph=6.0, acid={"kind": "nitric"}
    ),
    "basic_feed_in_hard_water": lambda: fed(
        product="calcium_nitrate_tetrahydrate",
        plants={"size": "large"},
        air={"humidity_percent": 85, "temperature_celsius": 22},
        water={**plain_water(water="moderate_tap"), "alkalinity_mg_per_l_caco3": 130.0},
    ),
    "acid_feed_in_soft_water": lambda: fed(product="feed_20_20_20", water="soft_tap"),
    "water_supplements": lambda: fed(
        application="supplement",
        product="calcium_magnesium_supplement",
        plants={"size": "large"},
        air={"humidity_percent": 85, "temperature_celsius": 22},
        water={
            "ph": 7.2,
            "alkalinity_mg_per_l_caco3": 20.0,
            "calcium_mg_per_l": 62.0,
            "magnesium_mg_per_l": 11.0,
            "chloride_mg_per_l": 20.0,
        },
    ),
    "split_supplement_for_mini": lambda: fed(
        application="supplement", product="calcium_nitrate_tetrahydrate", plants={"size": "mini"}
    ),
    "reading_far_from_usual": lambda: fed(
        air={
            "humidity_percent": 85,
            "temperature_celsius": 22,
            "average_humidity_percent": 50,
            "average_temperature_celsius": 22,
        }
    ),
    "ph_at_edge_of_window": lambda: fed(
        product="feed_13_3_15_ca_mg",
        water={**plain_water(water="soft_tap"), "ph": 7.0, "alkalinity_mg_per_l_caco3": 40.0},
    ),
    "alkalinity_may_be_degrees": lambda: fed(
        water={"ph": 7.6, "alkalinity_mg_per_l_caco3": 14.0, "hardness_mg_per_l_caco3": 280.0}
    ),
    "acid_phosphorus_large": lambda: fed(
        product="feed_13_3_15_ca_mg",
        water="moderate_tap",
        target_ph=6.0,
        acid={"kind": "phosphoric", "percent": 75},
    ),
    "flush_acid_feeds": lambda: dose(
        application="flush",
        water="hard_tap",
        volume_l=10,
        target_ph=6.0,
        acid={"kind": "nitric", "percent": 38},
    ),
    "acid_share_large": lambda: fed(
        water="moderate_tap",
        product="feed_13_3_15_ca_mg",
        target_ph=6.2,
        acid={"kind": "phosphoric", "percent": 0.85},
    ),
    "gypsum_may_form": lambda: dilution(
        products=grams(calcium_chloride_dihydrate=6.0, magnesium_sulfate_heptahydrate=10.0),
        water="rain",
    ),
    "calcite_may_form": lambda: diluted(water={**plain_water(water="hard_tap"), "ph": 8.2}),
    "brushite_may_form": lambda: diluted(
        product="feed_20_20_20", strength=by_element("nitrogen", 150), water="hard_tap"
    ),
    "struvite_may_form": lambda: dilution(
        products=grams(diammonium_phosphate=2.0, magnesium_sulfate_heptahydrate=2.0),
        water="moderate_tap",
    ),
    "gypsum_may_form_open": lambda: just_clear(
        "gypsum", calcium_chloride_dihydrate=6.0, magnesium_sulfate_heptahydrate=10.0
    ),
    "calcite_may_form_open": lambda: fed(water={**plain_water(water="moderate_tap"), "ph": 7.0}),
    "brushite_may_form_open": lambda: just_clear("brushite", feed_20_20_20=2.0),
    "struvite_may_form_open": lambda: just_clear(
        "struvite", diammonium_phosphate=2.0, magnesium_sulfate_heptahydrate=2.0
    ),
    "strength_reduced": lambda: fed(strength=by_element("nitrogen", 190)),
    "dry_air": lambda: fed(air={"humidity_percent": 5, "temperature_celsius": 38}),
    "no_acid_needed": lambda: fed(water="rain", acid={"kind": "phosphoric", "percent": 30}),
    "stimulant_while_spikes_set": lambda: fed(
        application="stimulant",
        product="seaweed_extract",
        plants={"size": "large", "growth": "spike_initiation"},
    ),
    "humidity_at_end_of_scale": lambda: fed(
        air={"humidity_percent": 100, "temperature_celsius": 22}
    ),
    "plain_water_will_do": lambda: fed(plants={"size": "mini", "growth": "resting"}),
    "water_ec_disagrees": lambda: fed(
        water={**plain_water(water="moderate_tap"), "ec_ms_per_cm": 0.18}
    ),
    "single_reading": fed,
    "sodium_high": lambda: fed(water="softened_tap", product="urea"),
    "chloride_high": lambda: fed(
        water={**PURE, "chloride_mg_per_l": 60.0, "sodium_mg_per_l": 39.0}
    ),
    "water_charge_imbalance": lambda: fed(
        water={**plain_water(water="moderate_tap"), "sulfate_mg_per_l": 100.0}
    ),
    "water_analysis_incomplete": lambda: fed(water={"ec_ms_per_cm": 0.2}),
    "calcium_missing": fed,
    "magnesium_missing": fed,
    "cold_water": lambda: fed(water={**plain_water(), "temperature_celsius": 10.0}),
    "boron_high": lambda: diluted(product="boric_acid", strength=by_element("boron", 1.0)),
    "copper_high": lambda: diluted(
        product="copper_sulfate_pentahydrate", strength=by_element("copper", 1.0)
    ),
    "zinc_high": lambda: diluted(
        product="zinc_sulfate_heptahydrate", strength=by_element("zinc", 3.0)
    ),
    "manganese_high": lambda: diluted(
        product="manganese_sulfate_monohydrate", strength=by_element("manganese", 3.0)
    ),
    "iron_high": lambda: diluted(product="iron_dtpa", strength=by_element("iron", 6.0)),
    "molybdenum_high": lambda: diluted(
        product="sodium_molybdate_dihydrate", strength=by_element("molybdenum", 0.5)
    ),
    "ammonium_and_urea_share_high": lambda: fed(product="feed_20_20_20"),
    "nitrogen_credited": lambda: fed(water="moderate_tap"),
    "pre_stock": lambda: fed(volume_l=1),
    "unknown_plant": lambda: fed(plants={**PLANT, "profile": "ghost_orchid"}),
    "urea_lost_on_mount": lambda: fed(plants={**PLANT, "setup": "mount"}, product="feed_20_20_20"),
    "urea_not_on_the_meter": lambda: fed(product="feed_20_20_20"),
    "ph_outside_window": lambda: fed(water="moderate_tap"),
    "ph_uncertain": fed,
    "acid_handling": lambda: fed(water="hard_tap", target_ph=6.2, acid={"kind": "nitric"}),
    "base_handling": lambda: fed(
        water="rain", target_ph=6.5, acid={"kind": "potassium_hydroxide", "percent": 30}
    ),
    "acid_pre_dilution": lambda: fed(
        water="moderate_tap", target_ph=6.5, acid={"kind": "nitric", "percent": 60}, volume_l=2
    ),
    "oxidiser": fed,
    "salt_gathers_in_reservoir": lambda: fed(
        plants={"setup": "semi_hydroponic_pot", "refill": "topped_up", "size": "large"}
    ),
    "forms_of_nitrogen_unknown": lambda: dose(
        known_to(LABELS), **FED, product="total only", strength=by_element("nitrogen", 20)
    ),
    "softened_water": lambda: fed(water="softened_tap"),
    "nothing_to_measure": lambda: fed(
        strength=by_element("nitrogen", 1.0, counts="added"),
        volume_l=0.01,
        instruments={"balance_resolution_g": 1.0, "syringe_resolution_ml": 1.0},
    ),
    "larger_than_the_can": lambda: fed(instruments={"largest_can_l": 4}),
    "ph_drifts_in_air": lambda: fed(water="hard_tap"),
    "conductivity_from_label": lambda: fed(product="feed_20_20_20"),
    "infeasible_water": lambda: fed(plants={**PLANT, "size": "mini"}, water="hard_tap"),
    "alkalinity_unknown": lambda: fed(water={"ec_ms_per_cm": 0.2}),
    "strength_already_in_water": lambda: diluted(
        strength={"basis": "meter_ppm", "ppm": 200}, water="moderate_tap"
    ),
    "flush_is_plain_water": lambda: fed(application="flush"),
}

ASSUMPTION_CASES = {
    "profile_assumed": fed,
    "size_assumed": lambda: fed(plants={}),
    "setup_assumed": lambda: fed(plants={}),
    "growth_assumed": fed,
    "air_assumed": lambda: fed(air=None),
    "air_temperature_assumed": lambda: fed(air={"humidity_percent": 60}),
    "application_assumed": fed,
    "meter_scale_assumed": lambda: diluted(strength={"basis": "meter_ppm", "ppm": 300}),
    "counts_whole_can": fed,
    "counts_added": lambda: fed(strength=by_element("potassium", 50)),
    "water_assumed": lambda: fed(water=None),
    "water_temperature_assumed": fed,
    "balance_assumed": fed,
    "syringe_assumed": fed,
    "volume_from_pots": lambda: fed(
        plants={**PLANT, "count": 5, "pot_diameter_cm": 12}, volume_l=None
    ),
    "volume_assumed": lambda: diluted(volume_l=None),
    "hardness_as_calcium": lambda: fed(water={"hardness_mg_per_l_caco3": 50.0}),
    "interval_assumed": fed,
    "water_ph_assumed": lambda: fed(water={"alkalinity_mg_per_l_caco3": 50.0}),
    "refill_assumed": lambda: fed(plants={"setup": "semi_hydroponic_pot"}),
    "medium_assumed": lambda: fed(
        plants={**PLANT, "count": 5, "pot_diameter_cm": 12}, volume_l=None
    ),
    "acid_assumed": lambda: fed(water="moderate_tap", target_ph=6.3),
    "acid_strength_assumed": lambda: fed(
        water="moderate_tap", target_ph=6.3, acid={"kind": "nitric"}
    ),
    "target_ph_from_window": lambda: fed(water="moderate_tap", acid={"kind": "nitric"}),
    "volume_unit_as_named": lambda: fed(plants={"size": "large", "count": 2}, volume_l=500),
    "water_content_assumed": lambda: fed(water={"ph": 7.8}),
    "average_temperature_assumed": lambda: fed(
        air={"humidity_percent": 60, "temperature_celsius": 22, "average_humidity_percent": 55}
    ),
    "humidity_assumed": lambda: fed(air={"temperature_celsius": 25}),
    "water_ph_not_used": lambda: fed(water={"ph": 8.0, "alkalinity_mg_per_l_caco3": 0.0}),
    "application_chosen": lambda: fed(application="auto"),
}

SALTY = dict.fromkeys(
    ("sodium_mg_per_l", "chloride_mg_per_l", "potassium_mg_per_l", "sulfate_mg_per_l"), 5000.0
) | {"calcium_mg_per_l": 5000.0, "magnesium_mg_per_l": 5000.0, "alkalinity_mg_per_l_caco3": 100.0}


def tampered() -> Can:
    """A finished can whose record was changed afterwards."""
    can = fed()
    assert can_is_as_planned(can.row, can.catalogue.product_table, _profile(can), can.result)
    can.result["elements_mg_per_l"][:] *= 1.2
    if not can_is_as_planned(can.row, can.catalogue.product_table, _profile(can), can.result):
        can.result["problem"] = problem_number("forward_check_failed")
    return can


def _profile(can: Can) -> np.ndarray:
    return can.catalogue.profile_table[can.row["profile"]]


PROBLEM_CASES = {
    "humidity_looks_like_a_fraction": lambda: fed(
        air={"humidity_percent": 0.6, "temperature_celsius": 22}
    ),
    "air_out_of_range": lambda: fed(air={"humidity_percent": 60, "temperature_celsius": 5}),
    "volume_unknown": lambda: fed(volume_l=None),
    "strength_missing": lambda: diluted(strength=None),
    "strength_blind_to_urea": lambda: fed(
        product="feed_30_10_10", strength={"basis": "conductivity", "ec_ms_per_cm": 0.5}
    ),
    "element_not_in_product": lambda: fed(strength=by_element("calcium", 50)),
    "density_needed": lambda: dose(
        known_to(LABELS), **FED, product="liquid without density", strength=GRAM
    ),
    "volume_of_a_solid": lambda: fed(strength={"basis": "product", "ml_per_l": 1.0}),
    "two_whole_can_conductivities": lambda: fed(
        products=[
            {
                "product": name,
                "strength": {"basis": "conductivity", "ec_ms_per_cm": 0.5, "counts": "whole_can"},
            }
            for name in ("potassium_nitrate", "calcium_nitrate_tetrahydrate")
        ]
    ),
    "conflicting_water_forms": lambda: fed(
        water={"nitrate_mg_per_l": 40.0, "nitrate_nitrogen_mg_per_l": 40.0}
    ),
    "water_not_solvable": lambda: fed(water=SALTY),
    "solution_not_solvable": lambda: diluted(strength={"basis": "product", "g_per_l": 200.0}),
    "acid_target_too_low": lambda: fed(target_ph=4.5, acid={"kind": "nitric"}),
    "acid_alkalinity_unknown": lambda: fed(
        water={"ph": 7.5, "calcium_mg_per_l": 40.0}, target_ph=6.0, acid={"kind": "nitric"}
    ),
    "acid_neutralises_too_much": lambda: fed(
        water="hard_tap", target_ph=5.1, acid={"kind": "nitric"}
    ),
    "strength_needed": lambda: dose(
        known_to({"trace": {"form": "solid", "label": {"fe_percent": 1e-4}}}),
        **FED,
        product="trace",
    ),
    "base_brings_too_much": lambda: fed(
        target_ph=7.3,
        water={"ph": 5.8, "alkalinity_mg_per_l_caco3": 230},
        acid={"kind": "potassium_bicarbonate"},
    ),
    "acid_cannot_reach": lambda: fed(target_ph=10.5, acid={"kind": "potassium_bicarbonate"}),
    "product_missing": lambda: dose(**FED),
    "no_conductivity": lambda: fed(
        product="boric_acid", strength={"basis": "conductivity", "ec_ms_per_cm": 0.5}
    ),
    "forward_check_failed": tampered,
    "base_raises_too_far": lambda: adjusted(
        water="rain",
        target_alkalinity_mg_per_l_caco3=80,
        acid={"kind": "potassium_hydroxide"},
    ),
    "base_over_ceiling": lambda: dose(
        application="flush",
        plants={"profile": "disa"},
        volume_l=10,
        water={"ph": 5.8, "alkalinity_mg_per_l_caco3": 40.0},
        target_ph=7.0,
        acid={"kind": "potassium_hydroxide", "percent": 30},
    ),
    "amounts_do_not_settle": lambda: dose(
        plants={"profile": "disa", "size": "large"},
        air={"humidity_percent": 62.6, "temperature_celsius": 22.5},
        water="rain",
        volume_l=1,
        target_ph=6.2,
        acid={"kind": "nitric"},
        product="diammonium_phosphate",
        strength={"basis": "product", "g_per_l": 1.16},
    ),
    "water_ph_below_its_alkalinity": lambda: fed(
        water={"ph": 4.0, "alkalinity_mg_per_l_caco3": 60.0}
    ),
    "acid_overshoots_with_feed": lambda: adjusted(
        water="soft_tap",
        target_ph=5.6,
        acid={"kind": "nitric"},
        additions=[{"product": "monoammonium_phosphate", "g_per_l": 3.0}],
        acid_goes="before_feed",
    ),
}


def _sound(can: Can) -> None:
    for words in can.words:
        assert "nan" not in words
        assert "{" not in words


@pytest.mark.parametrize("code", [notice.code for notice in CAUTIONS])
def test_caution_is_met_by_some_can_and_can_be_spoken(code):
    can = CAUTION_CASES[code]()
    assert can.problem == "none"
    assert code in can.cautions
    _sound(can)


@pytest.mark.parametrize("code", [notice.code for notice in ASSUMPTIONS])
def test_assumption_is_met_by_some_can_and_can_be_spoken(code):
    can = ASSUMPTION_CASES[code]()
    assert can.problem == "none"
    assert code in can.assumptions
    _sound(can)


@pytest.mark.parametrize("code", [notice.code for notice in PROBLEMS[1:]])
def test_problem_is_met_by_some_row(code):
    can = PROBLEM_CASES[code]()
    assert can.problem == code
    if code != "forward_check_failed":
        assert can.status == "rejected"


def test_bits_lead_back_to_their_codes():
    bits = int(caution_bit("dry_air") | caution_bit("oxidiser"))
    assert [each.code for each in notices(bits, CAUTIONS)] == ["dry_air", "oxidiser"]
    assert notices(int(assumption_bit("interval_assumed")), ASSUMPTIONS)[0].field == "interval_days"
    assert PROBLEMS[problem_number("volume_unknown")].code == "volume_unknown"


def test_codes_are_few_enough_for_one_word_of_bits_and_each_stands_once():
    codes = [notice.code for notice in (*CAUTIONS, *ASSUMPTIONS, *PROBLEMS)]
    assert len(set(codes)) == len(codes)
    assert len(CAUTIONS) <= 64
    assert len(ASSUMPTIONS) <= 64


def test_a_water_that_is_in_order_is_not_cautioned_about():
    can = dose(**{**FED, **NITRATE, "water": "rain"})
    unfit = {"water_charge_imbalance", "water_analysis_incomplete", "sodium_high", "cold_water"}
    assert not can.cautions & unfit
    assert can.result["water_composition_mmol_per_l"][CALCIUM] > 0.0
