"""Two waters mixed to limits."""

from types import SimpleNamespace

import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.notes import Notes, RefusalError
from service.planning.water_blend import (
    LINEAR,
    WaterPair,
    bounds_of,
    eased_limits,
    largest_share,
)


def water(preset=None, **values):
    if preset is not None:
        return known_water(preset, catalogue(), Notes())
    analysis = SimpleNamespace(**{**dict.fromkeys(rows.WATER_FIELDS), **values})
    return known_water(analysis, catalogue(), Notes())


HARD, RAIN = water("hard_tap"), water("rain")
PAIR = WaterPair(HARD, RAIN)


def test_without_limits_the_first_water_is_taken_pure():
    blend = largest_share(PAIR, [])
    assert blend.share == 1.0
    assert blend.feasible
    assert blend.binding is None


def test_limits_that_the_first_water_keeps_do_not_bind():
    blend = largest_share(PAIR, bounds_of({"sodium_mg_per_l": 1_000.0}, {}))
    assert (blend.share, blend.binding) == (1.0, None)


def test_ion_is_mixed_to_its_limit_and_named():
    blend = largest_share(PAIR, bounds_of({"sodium_mg_per_l": 10, "chloride_mg_per_l": 39}, {}))
    tap, rain = HARD.analysis["sodium_mg_per_l"], RAIN.analysis["sodium_mg_per_l"]
    assert blend.share == pytest.approx((10 - rain) / (tap - rain), abs=1e-4)
    assert blend.binding == "limits.sodium_mg_per_l"
    assert PAIR.value("sodium_mg_per_l", blend.share) <= 10.0


def test_conductivity_is_kept_by_the_blend_itself_and_not_by_a_straight_line():
    blend = largest_share(PAIR, bounds_of({"ec_ms_per_cm": 0.4}, {}))
    assert PAIR.conductivity(blend.share) == pytest.approx(0.4, abs=2e-4)
    assert PAIR.conductivity(blend.share) <= 0.4
    line = (0.4 - RAIN.ec_ms_per_cm) / (HARD.ec_ms_per_cm - RAIN.ec_ms_per_cm)
    assert blend.share < line - 0.005
    assert blend.binding == "limits.ec_ms_per_cm"


def test_least_amounts_are_kept_beside_the_most():
    bounds = bounds_of({"alkalinity_mg_per_l_caco3": 100.0}, {"calcium_mg_per_l": 30.0})
    blend = largest_share(PAIR, bounds)
    assert blend.feasible
    assert PAIR.value("calcium_mg_per_l", blend.share) >= 30.0
    assert PAIR.value("alkalinity_mg_per_l_caco3", blend.share) <= 100.0


def test_narrow_window_between_most_and_least_is_found():
    calcium = PAIR.value("calcium_mg_per_l", 0.31234)
    limits = {"alkalinity_mg_per_l_caco3": PAIR.value("alkalinity_mg_per_l_caco3", 0.31235)}
    blend = largest_share(PAIR, bounds_of(limits, {"calcium_mg_per_l": calcium}))
    assert blend.feasible
    assert 0.31234 - 1e-8 <= blend.share <= 0.31235 + 1e-8


def test_colliding_limits_are_named_and_eased_ones_are_feasible():
    bounds = bounds_of(
        {"alkalinity_mg_per_l_caco3": 40.0, "sodium_mg_per_l": 500.0}, {"calcium_mg_per_l": 60.0}
    )
    blend = largest_share(PAIR, bounds)
    assert not blend.feasible
    assert {each["limit"] for each in blend.conflicts} == {
        "limits.alkalinity_mg_per_l_caco3",
        "minima.calcium_mg_per_l",
    }
    eased = eased_limits(PAIR, bounds, blend.share)
    assert eased["limits"]["sodium_mg_per_l"] == 500.0
    again = largest_share(PAIR, bounds_of(eased["limits"], eased["minima"]))
    assert again.feasible


def test_limit_below_both_waters_collides_alone():
    blend = largest_share(
        WaterPair(HARD, water("moderate_tap")),
        bounds_of({"calcium_mg_per_l": 1.0, "sodium_mg_per_l": 500.0}, {}),
    )
    assert not blend.feasible
    assert [each["limit"] for each in blend.conflicts] == ["limits.calcium_mg_per_l"]
    assert blend.share == 0.0


def test_value_that_a_water_does_not_state_cannot_be_limited():
    unknown = water(alkalinity_mg_per_l_caco3=100.0)
    with pytest.raises(RefusalError, match="first water") as refusal:
        largest_share(WaterPair(unknown, RAIN), bounds_of({"sodium_mg_per_l": 30.0}, {}))
    assert refusal.value.notice.code == "blend_value_unknown"
    assert refusal.value.notice.field == "limits.sodium_mg_per_l"
    blend = WaterPair(unknown, RAIN).analysis(0.5)
    assert blend["sodium_mg_per_l"] is None
    assert blend["alkalinity_mg_per_l_caco3"] == pytest.approx(50.1)


def test_ph_of_a_blend_needs_both_alkalinities():
    unknown = water(calcium_mg_per_l=40.0)
    assert WaterPair(unknown, RAIN).ph(0.5) is None
    assert WaterPair(unknown, RAIN).ph(0.0) is not None


def test_other_forms_of_an_ion_count():
    bicarbonate = water(bicarbonate_mg_per_l=122.03, nitrate_nitrogen_mg_per_l=10.0)
    pair = WaterPair(bicarbonate, RAIN)
    assert pair.value("alkalinity_mg_per_l_caco3", 1.0) == pytest.approx(100.09, abs=0.1)
    assert pair.value("nitrate_mg_per_l", 1.0) == pytest.approx(44.27, abs=0.01)
    hardness = water(hardness_mg_per_l_caco3=100.0, alkalinity_mg_per_l_caco3=80.0)
    pair = WaterPair(hardness, RAIN)
    assert pair.value("hardness_mg_per_l_caco3", 1.0) == 100.0
    assert pair.value("calcium_mg_per_l", 1.0) == pytest.approx(30.03, abs=0.01)


def test_reading_that_an_analysis_does_not_explain_mixes_by_volume():
    read = water(ec_ms_per_cm=0.8, alkalinity_mg_per_l_caco3=0.0, ph=6.0)
    pair = WaterPair(read, RAIN)
    assert pair.conductivity(0.5) == pytest.approx(0.5 * (0.8 + RAIN.ec_ms_per_cm), abs=0.002)


def test_blend_can_be_sent_as_a_water():
    analysis = PAIR.analysis(0.3)
    again = water(**{name: value for name, value in analysis.items() if name in rows.WATER_FIELDS})
    assert again.ec_ms_per_cm == pytest.approx(analysis["ec_ms_per_cm"], rel=0.005)
    for name in LINEAR:
        assert WaterPair(again, RAIN).value(name, 1.0) == pytest.approx(analysis[name])
