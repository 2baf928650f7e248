"""Flushes: volumes, bands, fractions, and requests that contradict themselves."""

import pytest

from service.planning.catalogue import catalogue
from service.planning.drainage_reading import band_of
from service.planning.flush_card import conflicts, flush_fields, flush_reasons, flush_steps, nearest
from service.planning.notes import RefusalError
from tests.potted import flush


@pytest.mark.parametrize(
    ("drainage", "band"),
    [
        (0.4, "steady"),
        (0.96, "steady"),
        (0.97, "rising"),
        (1.6, "rising"),
        (1.61, "flush"),
        (5.0, "flush"),
    ],
)
def test_drainage_is_judged_beside_its_feed(drainage: float, band: str) -> None:
    assert band_of(drainage, 0.8) == band


def test_flush_brings_the_drainage_to_the_target() -> None:
    plan = flush(reading={"ec_ms_per_cm": 2.0}, target={"ec_ms_per_cm": 1.0}).plan
    assert plan.feasible
    # 0.53 L/dm3 x 1.2^3 x 0.30 / 0.5 x ln(1.988 / 0.988)
    assert plan.volume_l == pytest.approx(0.3842, abs=0.001)


def test_volume_is_for_all_pots() -> None:
    one = flush(reading={"ec_ms_per_cm": 2.0})
    many = flush(container={"diameter_cm": 12, "plant_count": 7}, reading={"ec_ms_per_cm": 2.0})
    assert flush_fields(many.plan)["flush_volume_l"] == pytest.approx(
        7.0 * flush_fields(one.plan)["flush_volume_l"]
    )


def test_without_a_reading_the_flush_is_two_pot_volumes_in_two_pours() -> None:
    planned = flush(container={"volume_l": 0.9})
    assert planned.plan.volume_l == pytest.approx(1.8)
    assert planned.plan.repeats == 2
    assert planned.plan.band is None
    assert "flush_by_custom" in planned.assumptions


def test_reading_at_the_target_needs_no_flush() -> None:
    plan = flush(reading={"ec_ms_per_cm": 0.8}, feed_ec_ms_per_cm=0.8).plan
    assert (plan.volume_l, plan.repeats, plan.feasible) == (0.0, 0, True)
    assert flush_steps(plan) == []
    assert any("no flush" in reason for reason in flush_reasons(plan))


def test_leaching_fraction_is_that_of_a_pot_and_not_of_a_field() -> None:
    plan = flush(feed_ec_ms_per_cm=0.8, target={"ec_ms_per_cm": 1.6}).plan
    assert plan.leaching_fraction == pytest.approx(0.5)


def test_target_below_the_feed_is_held_by_plain_water_alone() -> None:
    planned = flush(feed_ec_ms_per_cm=1.0, target={"ec_ms_per_cm": 0.5})
    assert planned.plan.leaching_fraction == 1.0
    assert planned.plan.watering_volume_l is None
    assert "only_flushes_hold_target" in planned.cautions


def test_water_saltier_than_the_target_is_infeasible_and_says_the_way_out() -> None:
    plan = flush(
        reading={"ec_ms_per_cm": 2.0}, target={"ec_ms_per_cm": 0.5}, water={"ec_ms_per_cm": 0.8}
    ).plan
    assert not plan.feasible
    fields = flush_fields(plan)
    assert fields["status"] == "infeasible"
    assert fields["flush_volume_l"] is None
    assert fields["largest_water_share_percent"] == pytest.approx(100.0 * 0.25 / 0.8)
    assert conflicts(plan)[0]["limit"] == "water.ec_ms_per_cm"
    assert nearest(plan, catalogue()) == {"water": "reverse_osmosis"}
    again = flush(reading={"ec_ms_per_cm": 2.0}, target={"ec_ms_per_cm": 0.5}, water="rain").plan
    assert again.feasible


def test_water_close_to_the_target_would_take_too_much() -> None:
    plan = flush(
        reading={"ec_ms_per_cm": 15.0},
        target={"ec_ms_per_cm": 0.5000001},
        water={"ec_ms_per_cm": 0.5},
        container={"diameter_cm": 12, "medium": "sphagnum"},
    ).plan
    assert not plan.feasible
    assert conflicts(plan)[0]["limit"] == "flush_volume_per_pot_l"


def test_unstated_scale_makes_the_most_of_a_reading() -> None:
    planned = flush(reading={"ppm": 700})
    assert planned.plan.drainage_ec_ms_per_cm == pytest.approx(1.4)
    assert "reading_scale_assumed" in planned.assumptions
    assert flush(reading={"ppm": 700, "scale": 700}).plan.drainage_ec_ms_per_cm == 1.0


def test_cold_sample_on_a_plain_meter_is_referred_to_25_degrees() -> None:
    cold = {"ec_ms_per_cm": 1.0, "temperature_celsius": 15, "compensated": False}
    assert flush(reading=cold).plan.drainage_ec_ms_per_cm == pytest.approx(1.25, abs=0.03)
    kept = {"ec_ms_per_cm": 1.0, "temperature_celsius": 15, "compensated": "true"}
    assert flush(reading=kept).plan.drainage_ec_ms_per_cm == 1.0


@pytest.mark.parametrize("temperature", [None, 40])
def test_plain_meter_without_a_usable_temperature_is_refused(temperature: float | None) -> None:
    reading = {"ec_ms_per_cm": 1.0, "temperature_celsius": temperature, "compensated": False}
    with pytest.raises(RefusalError) as refused:
        flush(reading=reading)
    assert refused.value.notice.code == "reading_temperature_out_of_range"


def test_drainage_thinner_than_all_water_is_doubted() -> None:
    planned = flush(reading={"ec_ms_per_cm": 0.2}, feed_ec_ms_per_cm=0.8, water="hard_tap")
    assert "reading_below_all_water" in planned.cautions


def test_mount_is_rinsed() -> None:
    plan = flush(container={"setup": "mount", "plant_count": 3}).plan
    assert flush_fields(plan)["flush_volume_l"] == pytest.approx(0.36)
    assert plan.leaching_fraction == 1.0
    assert len(flush_steps(plan)) == 3


def test_reservoir_is_emptied_first() -> None:
    plan = flush(
        container={"volume_l": 1.0, "setup": "semi_hydroponic_pot"}, reading={"ec_ms_per_cm": 3.0}
    ).plan
    assert plan.container.held_l == pytest.approx(0.32)
    assert "reservoir" in flush_steps(plan)[0]["instruction"]


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"container": {"medium": "bark"}}, "container_unknown"),
        ({"container": {"diameter_cm": 12, "volume_l": 5}}, "container_contradictory"),
        ({"container": {"setup": "mount", "volume_l": 1}}, "container_contradictory"),
        ({"container": {"diameter_cm": 12, "medium": "none"}}, "container_contradictory"),
        (
            {"container": {"diameter_cm": 12}, "plants": {"pot_diameter_cm": 15}},
            "container_contradictory",
        ),
        (
            {"container": {"diameter_cm": 12, "plant_count": 2}, "plants": {"count": 3}},
            "container_contradictory",
        ),
        (
            {
                "container": {"diameter_cm": 12, "setup": "wet_dry_pot"},
                "plants": {"setup": "mount"},
            },
            "container_contradictory",
        ),
    ],
)
def test_container_that_contradicts_itself_is_refused(fields: dict, code: str) -> None:
    with pytest.raises(RefusalError) as refused:
        flush(**fields)
    assert refused.value.notice.code == code


def test_volume_counts_when_it_agrees_with_the_diameter() -> None:
    plan = flush(container={"diameter_cm": 12, "volume_l": 0.8}).plan
    assert plan.container.pot_volume_l == 0.8


def test_size_and_count_may_stand_with_the_plants() -> None:
    plan = flush(container={}, plants={"pot_diameter_cm": 12, "count": 4, "medium": "pumice"}).plan
    assert plan.container.plant_count == 4
    assert plan.container.medium == "pumice"


def test_unknown_plant_gets_the_weakest_feed() -> None:
    planned = flush(plants={"profile": "triffid", "size": "large"})
    assert "unknown_plant" in planned.cautions
    assert planned.plan.feed_ec_ms_per_cm == pytest.approx(125.0 / 700.0)
