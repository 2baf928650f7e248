"""Reasons of a target, sentence by sentence, with numbers found another way."""

from typing import Any

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.profiles import EC_CEILING, SIZE_METER_PPM
from service.planning.reasons import (
    binding_of_target,
    dry_air_alternative,
    flush_advice,
    published_quantities,
    published_ranges,
    target_reasons,
)
from service.reference.components import CALCIUM, ELEMENT_NAMES, MAGNESIUM, NITRATE, POTASSIUM
from service.reference.plants import plants
from tests.mixing import dilution, known_to

AIR = "70 % humidity at 22 °C is a vapour pressure deficit of 0.79 kPa. As roots dry, the solution "
# 0.7934 kPa is 70 % at 22 °C: 678 / (0.7934 + 0.264) = 641 meter ppm.
BY_AIR = f"{AIR}on them thickens: by the air alone 641 meter ppm is the most."
LARGE = "A large plant of this profile takes at most 800 meter ppm."
MOUNT = "A mount is wetted, fed and rinsed; feed and supplement may take turns by the day."


def target(known: Any = None, **given: Any) -> tuple[Any, Any]:
    """Return a planned target of a large plant in a pot in good air."""
    known = known or catalogue()
    asked, found = rows.empty_requests(1), rows.empty_results(1)
    asked["limited"] = 1
    asked["profile"] = known.default_profile
    numbers = {"humidity_percent": 70.0, "temperature_celsius": 22.0, "interval_days": 7.0}
    words = {"size": "large", "setup": "wet_dry_pot", "growth": "active", "application": "feed"}
    choices = {"size": rows.SIZES, "setup": rows.SETUPS, "growth": rows.GROWTHS,
               "application": rows.APPLICATIONS, "refill": rows.REFILLS}  # fmt: skip
    for name, value in {**numbers, **words, **given}.items():
        asked[name] = choices[name].index(value) if name in choices else value
    plan_targets(asked, found, known)
    return asked[0], found[0]


def said(known: Any = None, **given: Any) -> list[str]:
    row, result = target(known, **given)
    return target_reasons(row, result, known or catalogue())


def test_the_air_is_told_with_deficit_and_strength() -> None:
    assert said() == [BY_AIR, LARGE]


def test_cool_air_is_judged_at_22_degrees() -> None:
    cool = said(temperature_celsius=15.0)
    assert cool[1] == (
        "The air is cool: the deficit of the same humidity at 22 °C, 0.79 kPa, is used, because "
        "cool air does not earn a stronger feed."
    )
    # The strength is that of 22 °C, though the deficit of the day is told.
    assert "by the air alone 641 meter ppm" in cool[0]
    assert "at 15 °C is a vapour pressure deficit of 0.51 kPa" in cool[0]


def test_a_humid_day_raises_the_strength_by_a_little_and_a_dry_one_lowers_it() -> None:
    # 50 % at 22 °C: 1.3223 kPa, 678 / 1.5863 = 427 meter ppm; a quarter more is 534.
    (gain,) = [each for each in said(average_humidity_percent=50.0) if "humid than" in each]
    row, result = target(average_humidity_percent=50.0)
    rise = result["air_meter_ppm"] / (678.0 / (result["average_deficit_kpa"] + 0.264)) - 1.0
    assert gain == (
        "Today is more humid than usual (1.32 kPa, which allows 427 meter ppm): the strength rises "
        f"by at most {100.0 * rise:.0f} %, to {result['air_meter_ppm']:.0f}."
    )
    assert 0.05 < rise < 0.5
    assert said(average_humidity_percent=85.0)[1] == (
        "Today is drier than usual (0.40 kPa, which allows 1026 meter ppm): the strength falls at "
        "once."
    )
    assert said(average_humidity_percent=70.0)[1] == "Today's air is the usual one."
    assert row["average_humidity_percent"] == 50.0


def test_each_size_and_growth_is_named_with_its_share() -> None:
    assert said(size="medium")[1] == "A medium plant of this profile takes at most 600 meter ppm."
    assert said(size="mini")[1] == "A miniature of this profile takes at most 300 meter ppm."
    assert said(growth="spike_initiation")[2] == (
        "While spikes are being set it takes 75 % of that."
    )
    assert said(growth="in_bloom")[2] == "In bloom it takes 50 % of that."
    assert said(growth="resting")[2] == "At rest it takes 25 % of that."


def test_a_supplement_and_a_stimulant_have_strengths_of_their_own() -> None:
    assert said(application="supplement", size="mini")[-1] == (
        "A supplement is given at its own strength, not that of the plant's size: 300 meter ppm "
        "here."
    )
    assert said(application="stimulant")[-1].endswith("size: 200 meter ppm here.")
    assert said(application="flush") == ["A flush is plain water, whatever the air."]


def test_a_mount_says_what_the_day_bears() -> None:
    # 50 mg/L a day of 200 that stand for 800 meter ppm: 200 a day.
    daily = "it gets at most 50 mg/L of nitrogen for each day:"
    assert said(setup="mount", interval_days=7.0) == [BY_AIR, LARGE, MOUNT]
    assert said(setup="mount", interval_days=1.0)[-1] == f"Fed every day {daily} 200 meter ppm."
    assert said(setup="mount", interval_days=2.0)[-1] == f"Fed every 2 days {daily} 400 meter ppm."
    twice = said(setup="mount", interval_days=0.8)
    assert twice[3] == f"Fed 1.2 times a day {daily} 160 meter ppm."


def test_a_reservoir_says_what_gathers() -> None:
    topped = said(setup="semi_hydroponic_pot", refill="topped_up")
    assert topped[0].startswith("Over a reservoir the roots stay moist")
    _, result = target(setup="semi_hydroponic_pot", refill="topped_up")
    assert topped[-1] == (
        "A reservoir that is only topped up gathers salt: with plain water between feeds it comes "
        f"to about {result['projected_ec_ms_per_cm']:.2f} mS/cm by the next flush."
    )
    assert result["projected_ec_ms_per_cm"] <= 2.0 * 800.0 / 700.0 + 1e-9
    assert said(setup="semi_hydroponic_pot", refill="drained") == [topped[0], LARGE]


def test_too_weak_a_feed_is_advised_against() -> None:
    weak = "That is too weak to be worth mixing: "
    # 100 meter ppm are left by 6.5 kPa.
    row, result = target(growth="resting", size="mini")
    assert result["meter_ppm"] == 75.0
    assert target_reasons(row, result, catalogue())[-1] == (
        f"{weak}plain water does as well until it grows again."
    )
    dry: dict[str, Any] = {"humidity_percent": 5.0, "temperature_celsius": 37.0}
    flushed = "give plain water, or the full strength for about 15 minutes and then flush it out."
    assert said(**dry)[-1] == weak + flushed
    assert said(**dry, setup="mount")[-1] == f"{weak}give plain water."


def test_the_ceiling_of_a_profile_is_named_where_it_binds() -> None:
    known = known_to(profiles={"tender": {"ec_ceiling_ms_per_cm": 0.5}})
    place = known.profile_positions["tender"]
    given = {"humidity_percent": 70.0}
    row, result = target(known, profile=place, **given)
    assert binding_of_target(row, result) == "conductivity"
    assert target_reasons(row, result, known)[-1] == (
        "The profile's own ceiling of 0.50 mS/cm is lower still."
    )
    assert known.profile_table[place][EC_CEILING] == 0.5
    assert known.profile_table[place][SIZE_METER_PPM] == 800.0


@pytest.mark.parametrize(
    ("given", "binding"),
    [
        ({}, "air"),
        ({"size": "mini"}, "plant_size"),
        ({"size": "mini", "growth": "resting"}, "plant_size"),
        ({"setup": "mount", "interval_days": 1.0}, "daily_feed"),
        ({"setup": "mount", "interval_days": 7.0}, "air"),
        (
            {"setup": "semi_hydroponic_pot", "refill": "topped_up", "interval_days": 2.0},
            "reservoir",
        ),
        ({"setup": "semi_hydroponic_pot", "refill": "drained"}, "plant_size"),
        ({"application": "supplement"}, "application"),
        ({"application": "stimulant"}, "application"),
        ({"application": "flush"}, "application"),
        ({"application": "supplement", "humidity_percent": 10.0}, "air"),
    ],
)
def test_what_decides_a_target_is_named(given: dict[str, Any], binding: str) -> None:
    assert binding_of_target(*target(**given)) == binding


def test_full_strength_for_a_while_is_the_other_way_in_dry_air() -> None:
    found = dry_air_alternative(*target(humidity_percent=30.0, growth="in_bloom"))
    # Half of the 800 of a large plant.
    assert found == {
        "meter_ppm": 400.0,
        "ec_ms_per_cm": pytest.approx(400.0 / 700.0),
        "minutes": 15.0,
        "message": "Instead of the weak feed: 400 meter ppm, left about 15 minutes, then flushed "
        "out with plain water.",
    }
    for other in (
        {"size": "mini"},
        {"setup": "mount"},
        {"setup": "semi_hydroponic_pot"},
        {"application": "supplement"},
        {"humidity_percent": 90.0},
    ):
        assert dry_air_alternative(*target(**{"humidity_percent": 60.0, **other})) is None


def test_a_flush_is_due_four_weeks_after_the_last() -> None:
    row, _ = target()
    for days, due, within, message in (
        (0.0, False, 28.0, "Flush with plain water within 28 days."),
        (27.0, False, 1.0, "Flush with plain water within 1 days."),
        (28.0, True, 0.0, "Flush with plain water before this feed."),
        (60.0, True, 0.0, "Flush with plain water before this feed."),
    ):
        row["days_since_flush"] = days
        assert flush_advice(row) == {"due": due, "within_days": within, "message": message}
    row["days_since_flush"] = np.nan
    unknown = flush_advice(row)
    assert (unknown["due"], unknown["within_days"]) == (False, None)
    assert "send days_since_flush" in unknown["message"]
    row["setup"] = rows.SETUPS.index("mount")
    assert flush_advice(row)["message"].startswith("A mount is rinsed with plain water")


def test_numbers_of_a_can_are_held_against_published_ranges() -> None:
    can = dilution(product="feed_13_3_15_ca_mg", volume_l=10, water="reverse_osmosis",
                   strength={"basis": "product", "g_per_l": 1.0})  # fmt: skip
    told = published_quantities(can.result)
    held = can.result["composition_mmol_per_l"]
    assert told["potassium_mg_per_l"] == pytest.approx(39.0983 * held[POTASSIUM], rel=1e-4)
    assert told["calcium_mg_per_l"] == pytest.approx(40.078 * held[CALCIUM], rel=1e-4)
    assert told["calcium_to_magnesium_ratio"] == pytest.approx(
        40.078 * held[CALCIUM] / (24.305 * held[MAGNESIUM]), rel=1e-4
    )
    assert told["nitrogen_mg_per_l"] == can.element("nitrogen")
    assert told["nitrate_share"] == pytest.approx(
        14.0067 * held[NITRATE] / can.element("nitrogen"), rel=1e-4
    )
    assert told["ec_ms_per_cm"] == can["predicted_ec_ms_per_cm"]
    assert told["feed_ph"] == can["predicted_ph"]
    can.result["elements_mg_per_l"][[ELEMENT_NAMES.index(each) for each in (
        "nitrogen", "magnesium")]] = 0.0  # fmt: skip
    empty = published_quantities(can.result)
    assert empty["nitrate_share"] is empty["calcium_to_magnesium_ratio"] is None


def test_a_number_lies_below_within_or_above_its_range() -> None:
    spans = plants()["moth_orchid"].ranges
    low, high = spans["nitrogen_mg_per_l"].low, spans["nitrogen_mg_per_l"].high
    for value, position in (
        (low - 0.1, "below"), (low, "within"), (high, "within"), (high + 0.1, "above"), (None, None)
    ):  # fmt: skip
        listed = published_ranges("moth_orchid", {"nitrogen_mg_per_l": value})
        assert [each["quantity"] for each in listed] == list(spans)
        (found,) = [each for each in listed if each["quantity"] == "nitrogen_mg_per_l"]
        assert (found["low"], found["high"]) == (low, high)
        assert (found["value"], found["position"]) == (value, position)
        assert found["source"] == spans["nitrogen_mg_per_l"].provenance.source
    assert published_ranges("nobody's own", {"nitrogen_mg_per_l": 1.0}) == []
