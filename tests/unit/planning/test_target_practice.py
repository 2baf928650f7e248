"""Strengths of practice: common practice, no published source; the scale behind them is unknown."""

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.reasons import (
    binding_of_target,
    dry_air_alternative,
    published_ranges,
    target_reasons,
)
from service.planning.targets import reservoir_concentration
from service.planning.words import caution_codes


def target(**given: object) -> tuple[np.void, np.void]:
    asked, found = rows.empty_requests(1), rows.empty_results(1)
    asked["limited"] = 1
    asked["profile"] = catalogue().default_profile
    choices = {"size": rows.SIZES, "setup": rows.SETUPS, "growth": rows.GROWTHS}
    choices |= {"refill": rows.REFILLS, "application": rows.APPLICATIONS}
    for name, value in given.items():
        asked[name] = choices[name].index(value) if name in choices else value
    plan_targets(asked, found, catalogue())
    return asked[0], found[0]


LARGE_POT = {"size": "large", "setup": "wet_dry_pot", "temperature_celsius": 22.0}


@pytest.mark.parametrize(
    ("humidity", "low", "high"), [(80.0, 720.0, 880.0), (60.0, 500.0, 600.0), (30.0, 270.0, 330.0)]
)
def test_large_plant_in_a_drying_pot_gets_what_practice_gives(
    humidity: float, low: float, high: float
) -> None:
    _, found = target(**LARGE_POT, humidity_percent=humidity)
    assert low <= found["meter_ppm"] <= high


@pytest.mark.parametrize(("size", "ppm"), [("large", 800.0), ("medium", 600.0), ("mini", 300.0)])
def test_sizes_in_humid_air_get_their_ceiling(size: str, ppm: float) -> None:
    _, found = target(**{**LARGE_POT, "size": size}, humidity_percent=85.0)
    assert found["meter_ppm"] == pytest.approx(ppm, rel=0.1)


@pytest.mark.parametrize(
    ("growth", "share"),
    [("active", 1.0), ("spike_initiation", 0.75), ("in_bloom", 0.5), ("resting", 0.25)],
)
def test_growth_phases_take_their_share(growth: str, share: float) -> None:
    _, full = target(**LARGE_POT, humidity_percent=60.0)
    _, found = target(**LARGE_POT, humidity_percent=60.0, growth=growth)
    assert found["meter_ppm"] == pytest.approx(share * full["meter_ppm"])


@pytest.mark.parametrize(("application", "ppm"), [("supplement", 300.0), ("stimulant", 200.0)])
def test_supplements_and_stimulants_are_not_scaled_by_size(application: str, ppm: float) -> None:
    for size in rows.SIZES:
        _, found = target(
            **{**LARGE_POT, "size": size}, humidity_percent=80.0, application=application
        )
        assert found["meter_ppm"] == pytest.approx(ppm)


def test_flush_is_plain_water() -> None:
    _, found = target(**LARGE_POT, humidity_percent=60.0, application="flush")
    assert found["meter_ppm"] == 0.0


def test_mount_that_is_fed_daily_takes_a_daily_ceiling_of_nitrogen() -> None:
    _, daily = target(size="large", setup="mount", humidity_percent=85.0, interval_days=1.0)
    _, weekly = target(size="large", setup="mount", humidity_percent=85.0, interval_days=7.0)
    assert 25.0 <= daily["nitrogen_ceiling_mg_per_l"] <= 50.0
    assert weekly["nitrogen_ceiling_mg_per_l"] > daily["nitrogen_ceiling_mg_per_l"]


def test_topped_up_reservoir_is_held_to_its_next_flush() -> None:
    drained = {"size": "large", "setup": "semi_hydroponic_pot", "humidity_percent": 60.0}
    _, free = target(**drained, refill="drained", interval_days=2.0)
    _, held = target(**drained, refill="topped_up", interval_days=2.0)
    assert np.isnan(free["projected_ec_ms_per_cm"])
    assert held["meter_ppm"] < free["meter_ppm"]
    projected = held["ec_ceiling_ms_per_cm"] * reservoir_concentration(2.0)
    assert held["projected_ec_ms_per_cm"] == pytest.approx(projected)
    assert projected <= 2.0 * 800.0 / 700.0 * (1.0 + 1e-9)


def test_reservoir_strength_follows_the_plant_and_not_the_air() -> None:
    pot = {"size": "large", "setup": "semi_hydroponic_pot", "refill": "drained"}
    _, dry = target(**pot, humidity_percent=30.0)
    _, humid = target(**pot, humidity_percent=80.0)
    assert dry["meter_ppm"] == humid["meter_ppm"]


def test_both_ways_are_offered_in_dry_air_alone() -> None:
    dry = dry_air_alternative(*target(**LARGE_POT, humidity_percent=30.0))
    assert dry is not None
    assert dry["meter_ppm"] == pytest.approx(800.0)
    assert dry["minutes"] == pytest.approx(15.0)
    assert dry_air_alternative(*target(**LARGE_POT, humidity_percent=90.0)) is None


def test_reasons_name_what_lowered_the_strength() -> None:
    asked, found = target(
        **LARGE_POT,
        humidity_percent=50.0,
        average_humidity_percent=70.0,
        average_temperature_celsius=22.0,
        growth="in_bloom",
    )
    said = " ".join(target_reasons(asked, found, catalogue()))
    assert "drier than usual" in said
    assert "In bloom it takes 50 %" in said
    assert binding_of_target(asked, found) == "air"


def test_published_ranges_place_the_answer() -> None:
    listed = published_ranges("moth_orchid", {"nitrogen_mg_per_l": 128.0, "ec_ms_per_cm": 0.5})
    placed = {each["quantity"]: each["position"] for each in listed}
    assert placed["nitrogen_mg_per_l"] == "within"
    assert placed["ec_ms_per_cm"] == "below"
    assert published_ranges("own profile (1)", {}) == []


def test_humidity_written_as_a_fraction_is_caught() -> None:
    _, found = target(**LARGE_POT, humidity_percent=0.6)
    assert rows.STATUSES[found["status"]] == "rejected"
    _, dry = target(**LARGE_POT, humidity_percent=0.0)
    assert rows.STATUSES[dry["status"]] == "ok"


def test_reasons_call_the_usual_air_usual_and_say_what_it_would_allow() -> None:
    steady = {"average_humidity_percent": 60.0, "average_temperature_celsius": 22.0}
    asked, found = target(**LARGE_POT, humidity_percent=60.0, **steady)
    said = " ".join(target_reasons(asked, found, catalogue()))
    assert "the usual one" in said
    assert "drier" not in said
    asked, found = target(**LARGE_POT, humidity_percent=40.0, **steady)
    assert "which allows 513 meter ppm" in " ".join(target_reasons(asked, found, catalogue()))


def test_plant_at_rest_is_offered_water_and_not_full_strength() -> None:
    resting = {**LARGE_POT, "growth": "resting", "humidity_percent": 60.0}
    asked, found = target(**resting)
    said = " ".join(target_reasons(asked, found, catalogue()))
    assert "plain water does as well" in said
    assert "full strength" not in said


@pytest.mark.parametrize(
    ("application", "humidity", "binding"),
    [
        ("supplement", 80.0, "application"),
        ("stimulant", 80.0, "application"),
        ("supplement", 15.0, "air"),
        ("flush", 60.0, "application"),
    ],
)
def test_what_has_a_strength_of_its_own_is_not_bound_by_size(
    application: str, humidity: float, binding: str
) -> None:
    asked, found = target(
        **{**LARGE_POT, "size": "mini"}, humidity_percent=humidity, application=application
    )
    assert binding_of_target(asked, found) == binding


@pytest.mark.parametrize("interval", [0.5, 1.0, 2.0, 3.5, 6.0])
def test_meter_and_nitrogen_of_a_mount_agree_about_the_day(interval: float) -> None:
    mount = {"size": "large", "setup": "mount", "humidity_percent": 85.0}
    asked, found = target(**mount, interval_days=interval)
    assert found["nitrogen_ceiling_mg_per_l"] <= 50.0 * interval * (1.0 + 1e-9)
    share = found["meter_ppm"] / 800.0
    assert found["nitrogen_ceiling_mg_per_l"] == pytest.approx(200.0 * share)
    assert binding_of_target(asked, found) == ("daily_feed" if interval < 4.0 else "plant_size")


def test_reservoir_that_is_topped_up_often_binds() -> None:
    pot = {"size": "large", "setup": "semi_hydroponic_pot", "refill": "topped_up"}
    asked, found = target(**pot, humidity_percent=60.0, interval_days=2.0)
    assert binding_of_target(asked, found) == "reservoir"


@pytest.mark.parametrize(
    ("air", "code"),
    [
        ({"humidity_percent": 0.0}, "humidity_at_end_of_scale"),
        ({"humidity_percent": 100.0}, "humidity_at_end_of_scale"),
        ({"humidity_percent": 15.0, "temperature_celsius": 36.0}, "dry_air"),
        (
            {
                "humidity_percent": 30.0,
                "average_humidity_percent": 75.0,
                "average_temperature_celsius": 22.0,
            },
            "reading_far_from_usual",
        ),
    ],
)
def test_targets_caution_about_the_air_as_doses_do(air: dict[str, float], code: str) -> None:
    _, found = target(**{**LARGE_POT, **air})
    assert code in caution_codes(found)
    _, found = target(**LARGE_POT, humidity_percent=60.0)
    assert not {"humidity_at_end_of_scale", "dry_air"} & set(caution_codes(found))
