"""Cans and events of a calendar in numbers, and what months and products add up to."""

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan
from service.planning.feeding_calendar import Event, Group
from service.planning.programme import RULES
from service.planning.programme_cans import (
    PLAIN_WATER,
    Bench,
    Can,
    can_of,
    fill_cans,
    is_too_weak,
    role_of,
)
from service.planning.programme_events import event_fields, monthly_summary, product_totals
from service.planning.seasons import Day, SiteAir
from service.planning.words import caution_codes
from tests.mixing import known_to

AIR = SiteAir(24.0, 18.0, 65.0)
DAY = Day(date(2027, 5, 3), "spring", "active", "request", AIR)
SHELF = ("feed_13_3_15_ca_mg", "calcium_magnesium_supplement", "seaweed_extract")
PLANTS = SimpleNamespace(profile="moth_orchid", size="large", setup="wet_dry_pot", count=10.0)
TOOLS = SimpleNamespace(
    balance_resolution_g=0.01, syringe_resolution_ml=0.1, balance_minimum_g=None, largest_can_l=None
)


def bench(**changed: Any) -> Bench:
    known: dict[str, Any] = {
        "plants": PLANTS,
        "water": "rain",
        "instruments": TOOLS,
        "volume_l": 8.0,
        "volume_per_plant_ml": 300.0,
        "products": SHELF,
    }
    return Bench(**{**known, **changed})


def event(kind: str, place: int | None = None, gap: int = 7, day: Day = DAY) -> Event:
    return Event(day, kind, place, gap, ("Because.", "And so."))


def answered(
    given: Event, can: Can | None = None, group: Group | None = None, **changed: Any
) -> tuple[dict[str, Any], Any]:
    used = can or can_of(given, group or Group())
    requests, results = fill_cans([used], bench(**changed), catalogue())
    plan(requests, results, catalogue())
    told = event_fields(given, used, requests[0], results[0], catalogue(), RULES)
    return told, (requests[0], results[0])


def test_a_feed_is_told_with_amount_strength_and_reasons() -> None:
    told, (row, result) = answered(event("feed", 0))
    # Plants, air and growth of the day decide: the plan of the same can as a single dose.
    assert (told["date"], told["kind"], told["season"]) == ("2027-05-03", "feed", "spring")
    assert told["growth"] == "active"
    assert told["reason"] == "Because. And so."
    assert told["product"] == SHELF[0]
    assert told["volume_l"] == 8.0
    assert told["product_mass_g"] == pytest.approx(float(result["amount"][0]))
    assert told["product_volume_ml"] is None
    assert told["pre_stock"] is None
    ec = float(result["predicted_ec_ms_per_cm"])
    assert told["strength"]["ec_ms_per_cm"] == pytest.approx(ec)
    assert told["strength"]["meter_scale"] == 700
    assert told["strength"]["meter_ppm"] == told["strength"]["meter_ppm_700"]
    assert told["strength"]["meter_ppm_500"] == pytest.approx(500.0 * ec)
    assert told["strength"]["meter_ppm_640"] == pytest.approx(640.0 * ec)
    assert told["strength"]["meter_ppm_700"] == pytest.approx(700.0 * ec)
    # 13 % nitrogen by mass.
    grams_per_l = told["product_mass_g"] / 8.0
    assert told["strength"]["nitrogen_mg_per_l"] == pytest.approx(130.0 * grams_per_l, rel=0.02)
    assert ec <= told["ec_ceiling_ms_per_cm"]
    assert told["predicted_ph"] == pytest.approx(float(result["predicted_ph"]))
    assert told["binding_limit"] == rows.BINDING_LIMITS[int(result["binding_limit"])]
    assert row["interval_days"] == 7.0


def test_a_liquid_is_told_in_millilitres() -> None:
    told, (_, result) = answered(event("supplement", 1))
    assert told["product_mass_g"] is None
    assert told["product_volume_ml"] == pytest.approx(float(result["amount"][0]))


def test_a_look_at_the_bark_has_no_can() -> None:
    told = event_fields(event("repot_check"), None, None, None, catalogue(), RULES)
    assert told["kind"] == "repot_check"
    assert told["cautions"] == []
    empty = {name for name, value in told.items() if value is None}
    assert empty == {
        "product", "product_name", "product_mass_g", "product_volume_ml", "pre_stock", "volume_l",
        "strength", "ec_ceiling_ms_per_cm", "binding_limit", "predicted_ph",
    }  # fmt: skip


def test_plain_water_is_one_can_and_a_flush_three() -> None:
    assert answered(event("water"))[0]["volume_l"] == 8.0
    told, _ = answered(event("flush"))
    assert told["volume_l"] == 24.0
    assert told["product"] is None
    assert told["strength"] is None


def test_of_plain_water_only_what_holds_for_water_is_said() -> None:
    told, (_, result) = answered(event("water"), water="softened_tap")
    assert "softened_water" in told["cautions"]
    assert "calcium_missing" in caution_codes(result)
    assert "calcium_missing" not in told["cautions"]


def test_a_feed_at_rest_that_is_too_weak_is_plain_water() -> None:
    resting = Day(date(2027, 1, 4), "winter", "resting", "request", SiteAir(18.0, 12.0, 35.0))
    given = event("feed", 0, day=resting)
    can = can_of(given, Group())
    told, (row, result) = answered(given, can)
    assert result["meter_ppm"] < 150.0
    assert is_too_weak(can, row, result, catalogue())
    assert told["kind"] == "water"
    assert told["volume_l"] == 8.0
    assert told["product"] is None
    assert told["reason"] == (
        f"At rest only {result['meter_ppm']:.0f} meter ppm would be left, too weak to be worth "
        "mixing: plain water."
    )
    result["meter_ppm"] = 150.0
    assert not is_too_weak(can, row, result, catalogue())
    for other in (Can("supplement", 1, "resting"), Can("feed", 0, "in_bloom")):
        result["meter_ppm"] = 1.0
        assert not is_too_weak(other, row, result, catalogue())


def test_a_can_that_no_water_allows_names_the_product_and_no_amount() -> None:
    strong = SimpleNamespace(**dict.fromkeys(rows.WATER_FIELDS))
    strong.sodium_mg_per_l, strong.chloride_mg_per_l = 700.0, 1080.0
    strong.alkalinity_mg_per_l_caco3, strong.ph = 60.0, 7.5
    told, (_, result) = answered(event("feed", 0), water=strong)
    assert rows.STATUSES[result["status"]] == "infeasible"
    assert told["product"] == SHELF[0]
    assert told["volume_l"] == 8.0
    assert told["strength"] is None
    assert told["product_mass_g"] is None
    assert told["cautions"]


def test_the_can_of_a_day_has_its_growth_air_and_interval() -> None:
    can = can_of(event("feed", 2, gap=9), Group())
    assert can == Can("feed", 2, "active", AIR, 9.0)
    assert can_of(event("water"), Group()) is PLAIN_WATER
    # Plain water comes between two cans of a reservoir, and counts as a watering.
    topped = Group("semi_hydroponic_pot", "topped_up", "clay_pebbles")
    assert can_of(event("feed", 0, gap=9), topped).interval_days == 4.5
    assert can_of(event("feed", 0, gap=1), topped).interval_days == 1.0
    drained = Group("semi_hydroponic_pot", "drained", "clay_pebbles")
    assert can_of(event("feed", 0, gap=9), drained).interval_days == 9.0


def test_the_usual_temperature_is_the_middle_of_day_and_night() -> None:
    for air, mean in ((AIR, 21.0), (SiteAir(24.0, None, 65.0), 24.0)):
        requests, _ = fill_cans([Can("feed", 0, "active", air)], bench(), catalogue())
        row = requests[0]
        assert (row["temperature_celsius"], row["average_temperature_celsius"]) == (24.0, mean)
        assert row["humidity_percent"] == row["average_humidity_percent"] == 65.0
    requests, _ = fill_cans([PLAIN_WATER], bench(), catalogue())
    assert requests["product_count"].tolist() == [0]
    assert rows.APPLICATIONS[requests["application"][0]] == "flush"


@pytest.mark.parametrize(
    ("label", "role"),
    [
        ({"nitrate_n_percent": 10.0, "k2o_percent": 10.0}, "feed"),
        ({"nitrate_n_percent": 10.0, "p2o5_percent": 10.0}, "feed"),
        ({"p2o5_percent": 52.0, "k2o_percent": 34.0}, None),
        ({"nitrate_n_percent": 15.0, "ca_percent": 19.0}, "supplement"),
        ({"mg_percent": 9.6}, "supplement"),
        ({"fe_percent": 1.0}, None),
        ({"nitrate_n_percent": 10.0, "ca_percent": 1.0, "k2o_percent": 1.0}, "feed"),
    ],
)
def test_contents_tell_what_a_product_is_for(label: dict[str, float], role: str | None) -> None:
    known = known_to({"own": {"form": "solid", "label": label}})
    assert role_of(known.product_rows[known.product_positions["own"]]) == role


def test_seaweed_is_a_stimulant_whatever_it_holds() -> None:
    known = catalogue()
    assert role_of(known.product_rows[known.product_positions["seaweed_extract"]]) == "stimulant"


def entry(when: str, kind: str, **changed: Any) -> dict[str, Any]:
    plain = {"date": when, "kind": kind, "product": None, "product_name": None,
             "product_mass_g": None, "product_volume_ml": None, "strength": None}  # fmt: skip
    return {**plain, **changed}


def fed(when: str, grams: float, nitrogen: float | None) -> dict[str, Any]:
    return entry(
        when, "feed", product="a", product_name="A", product_mass_g=grams,
        strength={"nitrogen_mg_per_l": nitrogen},
    )  # fmt: skip


EVENTS = [
    entry("2027-04-30", "flush"),
    fed("2027-04-30", 2.5, 100.0),
    fed("2027-05-07", 2.0, 80.0),
    entry("2027-05-14", "supplement", product="b", product_name="B", product_volume_ml=8.0,
          strength={"nitrogen_mg_per_l": None}),
    fed("2027-05-21", 1.5, 60.0),
    entry("2027-05-28", "water"),
    entry("2027-05-29", "repot_check"),
    entry("2027-06-02", "stimulant", product="b", product_name="B", product_volume_ml=4.0),
]  # fmt: skip


def test_months_count_events_and_add_up_nitrogen() -> None:
    april, may, june = monthly_summary(EVENTS, 250.0)
    assert [each["month"] for each in (april, may, june)] == ["2027-04", "2027-05", "2027-06"]
    counted = {name: value for name, value in may.items() if name.endswith("_count")}
    assert counted == {
        "feed_count": 2, "supplement_count": 1, "stimulant_count": 0, "water_count": 1,
        "flush_count": 0, "repot_check_count": 1,
    }  # fmt: skip
    assert (april["flush_count"], april["feed_count"], june["stimulant_count"]) == (1, 1, 1)
    # A quarter of a litre of 80 and of 60 mg/L.
    assert may["nitrogen_mg_per_plant_per_month"] == pytest.approx(35.0)
    assert april["nitrogen_mg_per_plant_per_month"] == pytest.approx(25.0)
    assert june["nitrogen_mg_per_plant_per_month"] == 0
    assert may["products"] == product_totals(EVENTS[2:7])


def test_without_a_share_of_the_can_no_plant_has_a_month() -> None:
    assert [each["nitrogen_mg_per_plant_per_month"] for each in monthly_summary(EVENTS, None)] == [
        None
    ] * 3
    assert monthly_summary([], 250.0) == []


def test_products_add_up_in_the_order_of_first_use() -> None:
    assert product_totals(EVENTS) == [
        {"product": "a", "product_name": "A", "mass_g": 6.0, "volume_ml": None, "can_count": 3},
        {"product": "b", "product_name": "B", "mass_g": None, "volume_ml": 12.0, "can_count": 2},
    ]
