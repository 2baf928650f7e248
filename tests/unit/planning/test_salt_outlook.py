"""Outlooks: what is assumed, what is refused, and what keeps the salt under its limit."""

import numpy as np
import pytest

from service.planning.notes import RefusalError
from service.planning.salt_outlook import Case, with_change
from service.planning.salt_outlook_card import WEEK_COLUMNS, outlook_fields, weeks_of
from service.planning.salt_weeks import MOIST
from service.planning.watering_schedule import Watering, in_order
from tests.potted import outlook

HARSH = {"schedule": [{"kind": "feed", "ec_ms_per_cm": 1.2, "every_days": 7, "volume_ml": 180}]}
WEIGHED = {"pot_mass_wet_g": 780, "pot_mass_dry_g": 640, "days_between_weighings": 7}


def test_without_a_measurement_the_answer_is_a_band_and_no_week() -> None:
    planned = outlook(days_between_waterings=None, **HARSH)
    fields = outlook_fields(planned.plan)
    assert fields["first_week_over_limit"] is None
    assert fields["first_week_over_limit_low"] < fields["first_week_over_limit_high"]
    assert fields["water_use_basis"] == "air"
    assert "water_not_measured" not in planned.cautions
    assert "water_use_not_measured" in planned.cautions
    assert "water_use_estimated" in planned.assumptions


def test_two_weights_give_a_week_and_a_narrow_band() -> None:
    fields = outlook_fields(outlook(**WEIGHED, **HARSH).plan)
    assert fields["water_use_basis"] == "weights"
    assert fields["water_use_ml_per_day"] == pytest.approx(20.0)
    low, week = fields["first_week_over_limit_low"], fields["first_week_over_limit"]
    assert low <= week <= fields["first_week_over_limit_high"]


def test_days_between_waterings_give_a_week() -> None:
    fields = outlook_fields(outlook(**HARSH).plan)
    assert fields["water_use_basis"] == "days"
    assert fields["first_week_over_limit"] is not None


def test_weights_that_differ_by_more_than_the_pot_holds_correct_it() -> None:
    planned = outlook(pot_mass_wet_g=1000, pot_mass_dry_g=600, days_between_weighings=10)
    assert planned.plan.use.held_l == pytest.approx(0.4 / 0.9)
    assert "held_water_from_masses" in planned.assumptions


def test_salt_uptake_is_zero_unless_it_is_given() -> None:
    plain = outlook()
    assert "no_salt_uptake" in plain.assumptions
    taken = outlook(salt_uptake_percent=40)
    assert "no_salt_uptake" not in taken.assumptions
    assert np.all(taken.plan.middle[:, MOIST] <= plain.plan.middle[:, MOIST] + 1e-12)
    assert taken.plan.middle[-1, MOIST] < plain.plan.middle[-1, MOIST]


@pytest.mark.parametrize(
    ("fields", "limit", "origin"),
    [
        ({"limit_ec_ms_per_cm": 1.5}, 1.5, "stated"),
        ({}, 1.6, "feed"),
        ({"schedule": [{"kind": "feed", "ec_ms_per_cm": 0.3, "every_days": 7}]}, 8 / 7, "plant"),
        ({"schedule": [{"kind": "feed", "ec_ms_per_cm": 3, "every_days": 7}]}, 16 / 7, "plant"),
        ({"schedule": [{"kind": "water", "every_days": 7}]}, 8 / 7, "plant"),
    ],
)
def test_limit_follows_from_feed_and_plant(fields: dict, limit: float, origin: str) -> None:
    plan = outlook(**fields).plan
    assert plan.limit_ec_ms_per_cm == pytest.approx(limit)
    assert plan.limit_origin == origin


def test_items_without_days_take_turns() -> None:
    plan = outlook(
        schedule=[
            {"kind": "feed", "ec_ms_per_cm": 0.8},
            {"kind": "feed", "ec_ms_per_cm": 0.8},
            {"kind": "water"},
            {"kind": "flush", "from_day": 8},
        ],
        weeks=4,
    ).plan
    assert [(each.day, each.kind) for each in plan.waterings] == [
        (1, "feed"),
        (8, "flush"),
        (8, "feed"),
        (15, "water"),
        (22, "feed"),
    ]


def test_period_of_an_item_ends_on_its_last_day() -> None:
    item = {"kind": "feed", "ec_ms_per_cm": 0.8, "every_days": 7, "from_day": 3, "to_day": 17}
    plan = outlook(schedule=[item], weeks=10).plan
    assert [each.day for each in plan.waterings] == [3, 10, 17]


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"schedule": [{"kind": "feed", "every_days": 7}]}, "schedule_strength_missing"),
        ({"schedule": [{"kind": "supplement"}]}, "schedule_strength_missing"),
        ({"schedule": [{"kind": "water", "to_day": 9}]}, "schedule_item_unclear"),
        ({"schedule": [{"kind": "water", "from_day": 5, "to_day": 9}]}, "schedule_item_unclear"),
        (
            {"schedule": [{"kind": "water", "every_days": 2, "from_day": 9, "to_day": 5}]},
            "schedule_item_unclear",
        ),
        (
            {"schedule": [{"kind": "water", "from_day": 30}], "weeks": 4},
            "schedule_never_waters",
        ),
        ({"container": {"setup": "mount"}}, "mount_keeps_no_salt"),
        (
            {"pot_mass_wet_g": 600, "pot_mass_dry_g": 600, "days_between_weighings": 7},
            "pot_masses_contradictory",
        ),
        ({"container": {"medium": "bark"}}, "container_unknown"),
    ],
)
def test_request_that_has_no_outlook_is_refused(fields: dict, code: str) -> None:
    with pytest.raises(RefusalError) as refused:
        outlook(**fields)
    assert refused.value.notice.code == code


@pytest.mark.parametrize("measured", [True, False])
def test_proposed_changes_keep_the_salt_under_in_the_same_balance(measured: bool) -> None:
    fields = HARSH if measured else {**HARSH, "days_between_waterings": None}
    plan = outlook(**fields).plan
    assert plan.first_week_over(plan.high) is not None
    assert plan.changes
    case = Case(plan.container, plan.use.held_l, plan.start_ec_ms_per_cm, 0.0, len(plan.middle))
    water, limit = plan.water.ec_ms_per_cm, plan.limit_ec_ms_per_cm
    for change in plan.changes:
        changed = with_change(case, plan.waterings, change.kind, change.amount, water, limit)
        for use in (plan.use.low_l, plan.use.middle_l, plan.use.high_l):
            assert np.max(case.run(changed, use)[:, MOIST]) <= limit
        smaller = change.amount + (-5 if change.kind == "weaker_feed" else 1)
        if change.kind == "weaker_feed" and smaller == 0:
            continue
        almost = with_change(case, plan.waterings, change.kind, smaller, water, limit)
        largest = {"flush": 12, "plain_water": 12}.get(change.kind, 100)
        if smaller <= largest:
            assert np.max(case.run(almost, plan.use.high_l)[:, MOIST]) > limit


def test_pot_that_starts_too_salty_is_flushed_on_the_first_day() -> None:
    plan = outlook(start_ec_ms_per_cm=4.0).plan
    flushes = [change for change in plan.changes if change.kind == "flush"]
    assert flushes
    assert flushes[0].highest_ec_ms_per_cm < 4.0


def test_nothing_is_proposed_where_nothing_is_needed() -> None:
    planned = outlook(
        schedule=[{"kind": "feed", "ec_ms_per_cm": 0.4, "every_days": 4, "volume_ml": 600}]
    )
    assert planned.plan.changes == ()
    assert "salt_over_limit" not in planned.cautions


def test_salty_water_cannot_be_helped() -> None:
    planned = outlook(water={"ec_ms_per_cm": 3.0}, limit_ec_ms_per_cm=1.0, **HARSH)
    assert {"water_over_limit", "nothing_keeps_salt_under", "salt_over_limit"} <= planned.cautions


def test_reservoir_that_is_only_topped_up_drains_at_flushes_alone() -> None:
    fields = {
        "container": {"volume_l": 1.0, "setup": "semi_hydroponic_pot", "medium": "clay_pebbles"},
        "schedule": [{"kind": "feed", "ec_ms_per_cm": 0.8, "every_days": 7, "volume_ml": 900}],
    }
    topped = outlook(plants={"size": "large", "refill": "topped_up"}, **fields)
    drained = outlook(plants={"size": "large", "refill": "drained"}, **fields)
    assert all(week["drained_ml"] == 0.0 for week in weeks_of(topped.plan))
    assert topped.plan.middle[-1, MOIST] > 2.0 * drained.plan.middle[-1, MOIST]
    assert "salt_gathers_in_reservoir" in topped.cautions


def test_week_columns_are_the_keys_of_the_weeks() -> None:
    assert tuple(weeks_of(outlook(weeks=1).plan)[0]) == WEEK_COLUMNS


def test_average_air_counts_before_the_air_of_today() -> None:
    fields = {"days_between_waterings": None, "weeks": 4}
    today = {"humidity_percent": 90, "temperature_celsius": 22}
    humid = outlook(air=today, **fields).plan.use
    usual = outlook(air={**today, "average_humidity_percent": 40}, **fields).plan.use
    assert usual.middle_l == pytest.approx(6.0 * humid.middle_l)


def test_same_day_is_poured_flush_first_and_feed_last() -> None:
    mixed = [Watering(3, kind, 0.1, 0.5) for kind in ("feed", "water", "flush", "supplement")]
    assert [each.kind for each in in_order(mixed)] == ["flush", "water", "supplement", "feed"]
