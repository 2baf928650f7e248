"""The strength that plants and air allow."""

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.profiles import EC_CEILING, NITROGEN_CEILING
from service.planning.targets import limiting_deficit, strength_in_air
from tests.mixing import Can, filled, known_to


def target(known=None, air=None, **plants):
    known = known or catalogue()
    said = {"humidity_percent": 60, "temperature_celsius": 22, **(air or {})}
    asked, results = filled([{"plants": plants, "air": said}], known, True)
    plan_targets(asked, results, known)
    return Can(asked[0], results[0], known)


def test_strength_falls_with_the_deficit_and_never_below_nothing():
    deficits = np.linspace(0.0, 6.0, 61)
    strengths = [strength_in_air(each) for each in deficits]
    assert all(np.diff(strengths) < 0.0)
    assert strengths[-1] > 0.0
    assert strength_in_air(-1.0) == strengths[0]


def test_cool_air_earns_no_stronger_feed_than_a_room_of_the_same_humidity():
    assert limiting_deficit(50.0, 12.0) == limiting_deficit(50.0, 22.0)
    assert limiting_deficit(50.0, 30.0) > limiting_deficit(50.0, 22.0)


@pytest.mark.parametrize("size", rows.SIZES)
def test_plant_sets_the_strength_in_humid_air(size):
    can = target(size=size, air={"humidity_percent": 95})
    assert can["meter_ppm"] == can["size_meter_ppm"]
    assert can["ec_ceiling_ms_per_cm"] == pytest.approx(can["meter_ppm"] / 700.0)


def test_roots_over_a_reservoir_follow_the_plant_and_not_the_air():
    dry = target(size="large", setup="semi_hydroponic_pot", air={"humidity_percent": 10})
    assert dry["meter_ppm"] == 800.0


@pytest.mark.parametrize(
    ("growth", "share"),
    [("active", 1.0), ("spike_initiation", 0.75), ("in_bloom", 0.5), ("resting", 0.25)],
)
def test_phase_of_growth_scales_every_ceiling(growth, share):
    whole, part = target(size="large"), target(size="large", growth=growth)
    for name in ("meter_ppm", "nitrogen_ceiling_mg_per_l", "ammonium_ceiling_mg_per_l"):
        assert part[name] == pytest.approx(share * whole[name])


def test_nitrogen_ceiling_shrinks_with_the_strength():
    can = target(size="mini", air={"humidity_percent": 95})
    full = can.catalogue.profile_table[can.row["profile"]][NITROGEN_CEILING]
    assert can["nitrogen_ceiling_mg_per_l"] == pytest.approx(full * 300 / 800)


def test_own_conductivity_ceiling_of_a_profile_is_the_last_word():
    known = known_to(profiles={"own": {"ec_ceiling_ms_per_cm": 0.3}})
    can = target(known, profile="own", size="large", air={"humidity_percent": 90})
    assert can["ec_ceiling_ms_per_cm"] == 0.3
    assert known.profile_table[can.row["profile"]][EC_CEILING] == 0.3


def test_humid_day_raises_the_usual_strength_by_a_tenth_at_most():
    usual = target(size="large", air={"humidity_percent": 50})
    day = target(size="large", air={"humidity_percent": 75, "average_humidity_percent": 50})
    assert day["meter_ppm"] == pytest.approx(1.1 * usual["meter_ppm"])


def test_dry_day_counts_at_once():
    day = target(size="large", air={"humidity_percent": 30, "average_humidity_percent": 80})
    assert day["meter_ppm"] == pytest.approx(
        target(size="large", air={"humidity_percent": 30})["meter_ppm"]
    )


def test_average_temperature_decides_how_much_ammonium_is_allowed():
    def share(celsius):
        can = target(size="large", air={"average_temperature_celsius": celsius})
        return can["ammonium_ceiling_mg_per_l"] / can["nitrogen_ceiling_mg_per_l"]

    assert share(18.0) == pytest.approx(0.25)
    assert share(19.0) == pytest.approx(0.375)
    assert share(20.0) == pytest.approx(0.5)


@pytest.mark.parametrize("celsius", [9.99, 38.01, np.nan, np.inf])
def test_air_outside_ten_to_thirty_eight_degrees_is_refused(celsius):
    can = target(air={"temperature_celsius": celsius})
    if np.isnan(celsius):
        assert can.status == "ok"
        assert "air_temperature_assumed" in can.assumptions
    else:
        assert can.problem == "air_out_of_range"


@pytest.mark.parametrize(
    "air",
    [
        {"humidity_percent": 101.0},
        {"humidity_percent": -1.0},
        {"humidity_percent": np.inf},
        {"average_humidity_percent": 120.0},
        {"average_humidity_percent": 50.0, "average_temperature_celsius": 500.0},
    ],
)
def test_air_that_cannot_be_sets_no_ceiling_and_is_refused(air):
    assert target(size="large", air=air).problem == "air_out_of_range"


def test_dry_air_is_blamed_only_where_the_air_is_to_blame():
    from tests.mixing import dose

    fed = {"product": "potassium_nitrate", "water": "rain", "volume_l": 10}
    hot = {"humidity_percent": 5, "temperature_celsius": 38}
    humid = {"humidity_percent": 90, "temperature_celsius": 22}
    assert "dry_air" in dose(**fed, plants={"size": "large"}, air=hot).cautions
    for plants, air in (
        ({"profile": "disa", "size": "mini"}, humid),
        ({"size": "mini", "growth": "resting"}, humid),
        ({"size": "mini", "growth": "resting", "setup": "semi_hydroponic_pot"}, hot),
    ):
        assert "dry_air" not in dose(**fed, plants=plants, air=air).cautions
