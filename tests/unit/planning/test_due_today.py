"""What a single can is to be today."""

from datetime import date
from types import SimpleNamespace

import pytest

from service.planning.catalogue import catalogue
from service.planning.due_today import Record, due_today

SHELF = ("feed_15_5_15_ca_mg", "calcium_nitrate_tetrahydrate", "seaweed_extract")
LATE_IN_MAY = date(2027, 5, 28)


def due(last, *, today=LATE_IN_MAY, hemisphere="north", shelf=SHELF, growth="active", **air):
    known = catalogue()
    products = [known.product_rows[known.product_positions[key]] for key in shelf]
    plants = SimpleNamespace(setup="wet_dry_pot", refill=None, growth=growth)
    found, places = due_today(
        Record(
            today, {name: date.fromisoformat(when) for name, when in last.items()}, hemisphere, 7.0
        ),
        plants,
        SimpleNamespace(temperature_celsius=22.0, humidity_percent=60.0, **air),
        products,
    )
    return found, [shelf[place] for place in places]


def test_a_supplement_that_is_overdue_takes_the_place_of_the_feed():
    found, products = due(
        {
            "feed": "2027-05-21",
            "supplement": "2027-04-20",
            "stimulant": "2027-05-20",
            "flush": "2027-05-15",
        }
    )
    assert found.kind == "supplement"
    assert products == ["calcium_nitrate_tetrahydrate"]
    assert not found.flush_first


def test_after_a_supplement_it_is_the_turn_of_the_feed():
    found, products = due(
        {"supplement": "2027-05-21", "stimulant": "2027-05-20", "flush": "2027-05-15"}
    )
    assert found.kind == "feed"
    assert products == ["feed_15_5_15_ca_mg"]


def test_before_the_interval_is_over_plain_water_is_due():
    found, products = due({"feed": "2027-05-26", "flush": "2027-05-15"})
    assert found.kind == "water"
    assert products == []
    assert "due in 5" in found.reasons[0]


def test_seaweed_rests_through_the_winter_of_its_hemisphere():
    last = {"feed": "2027-05-21", "supplement": "2027-05-14", "flush": "2027-05-15"}
    assert due(last)[0].kind == "stimulant"
    southern, _ = due(last, today=date(2027, 6, 1), hemisphere="south")
    assert southern.kind != "stimulant"


def test_a_pot_long_unflushed_is_leached_first():
    found, _ = due({"feed": "2027-05-14", "supplement": "2027-05-21", "flush": "2027-03-01"})
    assert found.flush_first
    assert "88 days ago" in found.reasons[-1]


@pytest.mark.parametrize("shelf", [("calcium_nitrate_tetrahydrate",), ("seaweed_extract",)])
def test_products_of_another_kind_stay_on_the_shelf(shelf):
    found, products = due(
        {"supplement": "2027-05-21", "stimulant": "2027-05-14", "flush": "2027-05-15"}, shelf=shelf
    )
    assert found.kind == "water"
    assert products == []
