"""What is taken where the caller is silent, and that it is said."""

import pytest

from service.planning import rows
from tests.mixing import by_element, dilution, dose

FED = {
    "product": "potassium_nitrate",
    "strength": by_element("nitrogen", 30),
    "water": "rain",
    "volume_l": 10,
}
PLANT = {"size": "large", "setup": "wet_dry_pot"}


def text(can, name, table):
    return table[can.row[name]]


def test_silent_grower_gets_the_careful_reading_of_everything():
    can = dose(**FED)
    assert text(can, "size", rows.SIZES) == "mini"
    assert text(can, "setup", rows.SETUPS) == "wet_dry_pot"
    assert text(can, "growth", rows.GROWTHS) == "active"
    assert text(can, "application", rows.APPLICATIONS) == "feed"
    assert can.row["humidity_percent"] == 40.0
    assert can.row["temperature_celsius"] == 22.0
    assert can.row["interval_days"] == 7.0
    assert can.row["balance_resolution_g"] == 0.1
    assert can.row["syringe_resolution_ml"] == 0.1
    assert can.assumptions >= {
        "profile_assumed",
        "size_assumed",
        "setup_assumed",
        "growth_assumed",
        "air_assumed",
        "application_assumed",
        "interval_assumed",
        "balance_assumed",
        "syringe_assumed",
        "water_temperature_assumed",
    }


def test_what_the_caller_says_is_kept_and_not_called_an_assumption():
    can = dose(
        **FED,
        plants={**PLANT, "growth": "in_bloom", "profile": "cattleya"},
        air={
            "humidity_percent": 70,
            "temperature_celsius": 25,
            "average_humidity_percent": 65,
            "average_temperature_celsius": 23,
        },
        application="feed",
        interval_days=14,
        instruments={"balance_resolution_g": 0.01, "syringe_resolution_ml": 0.5},
    )
    assert can.assumptions == {"water_temperature_assumed", "counts_whole_can"}
    assert "single_reading" not in can.cautions
    assert text(can, "growth", rows.GROWTHS) == "in_bloom"
    assert can.row["interval_days"] == 14.0


def test_known_temperature_is_not_called_assumed_when_only_humidity_is_missing():
    can = dose(**FED, plants=PLANT, air={"temperature_celsius": 30})
    assert can.row["temperature_celsius"] == 30.0
    assert "humidity_assumed" in can.assumptions
    assert "air_assumed" not in can.assumptions


def test_reservoir_is_taken_as_drained_and_only_there():
    assert "refill_assumed" in dose(**FED, plants={"setup": "semi_hydroponic_pot"}).assumptions
    assert "refill_assumed" not in dose(**FED, plants={"setup": "mount"}).assumptions


def test_dilution_assumes_nothing_about_plants_or_air():
    can = dilution(**FED)
    assert can.row["size"] == rows.ABSENT
    assert can.row["setup"] == rows.ABSENT
    assert not can.assumptions & {"size_assumed", "air_assumed", "interval_assumed"}


@pytest.mark.parametrize("nonsense", [0.0, -1.0])
def test_instrument_without_a_step_is_taken_as_an_ordinary_one(nonsense):
    can = dose(**FED, instruments={"balance_resolution_g": nonsense, "syringe_resolution_ml": 0.1})
    assert can.row["balance_resolution_g"] == 0.1
    assert "balance_assumed" in can.assumptions


def test_application_auto_is_chosen_by_the_products():
    fed = {key: value for key, value in FED.items() if key not in ("product", "strength")}

    def chosen(*keys):
        products = [
            {"product": key, "strength": {"basis": "product", amount: 0.1}} for key, amount in keys
        ]
        return text(
            dose(**fed, products=products, application="auto"), "application", rows.APPLICATIONS
        )

    feed = ("potassium_nitrate", "g_per_l")
    supplement = ("calcium_magnesium_supplement", "ml_per_l")
    stimulant = ("seaweed_extract", "ml_per_l")
    assert chosen(feed) == "feed"
    assert chosen(supplement) == "supplement"
    assert chosen(stimulant) == "stimulant"
    assert chosen(supplement, stimulant) == "supplement"
    assert chosen(stimulant, supplement) == "supplement"
    assert chosen(supplement, feed, stimulant) == "feed"


def test_flush_is_plain_water_whatever_product_is_named():
    can = dose(**FED, application="flush")
    assert can.status == "ok"
    assert can.row["product_count"] == 0
    assert can.element("nitrogen") < 1.0
    assert dose(water="rain", volume_l=5, application="flush").status == "ok"
