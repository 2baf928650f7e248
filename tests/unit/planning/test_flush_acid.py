"""Acid and base of a flush: what they bring, and what they may not."""

import pytest

from tests.mixing import dose

RAISED_FLUSH = {
    "application": "flush",
    "plants": {"profile": "disa"},
    "volume_l": 10,
    "water": {"ph": 5.8, "alkalinity_mg_per_l_caco3": 40.0},
    "target_ph": 7.0,
    "acid": {"kind": "potassium_hydroxide", "percent": 30},
}


def test_base_of_a_flush_keeps_what_the_plants_stand_and_may_raise_a_water_within_it():
    refused = dose(**RAISED_FLUSH)
    assert refused["predicted_ec_ms_per_cm"] > 0.2
    for target in (6.0, 6.2, 6.4, 6.6, 6.8, 7.0, 7.2):
        can = dose(**{**RAISED_FLUSH, "target_ph": target})
        assert can.status == "rejected" or can["predicted_ec_ms_per_cm"] <= 0.2
    within = dose(**{**RAISED_FLUSH, "target_ph": 6.0})
    assert within.status == "ok"
    assert within["acid_mmol_per_l"] > 0.0


def test_flush_without_a_base_is_not_refused_for_a_salty_water():
    salty = {"ph": 7.5, "alkalinity_mg_per_l_caco3": 150.0, "ec_ms_per_cm": 0.9}
    plain = dose(application="flush", plants={"profile": "disa"}, volume_l=10, water=salty)
    assert plain.status == "ok"
    met = dose(**{**RAISED_FLUSH, "water": salty, "target_ph": 6.5})
    assert met.status == "ok"
    assert met["acid_mmol_per_l"] == 0.0


@pytest.mark.parametrize(
    ("kind", "element"), [("nitric", "nitrogen"), ("phosphoric", "phosphorus")]
)
def test_acid_that_feeds_in_a_flush_is_named_by_what_it_brings(kind, element):
    can = dose(
        application="flush",
        water="moderate_tap",
        volume_l=10,
        target_ph=6.2,
        acid={"kind": kind},
    )
    assert "flush_acid_feeds" in can.cautions
    added = can.element(element)
    said = next(words for words in can.words if "feeds as it rinses" in words)
    assert f" mg/L {element}" in said
    assert 10.0 < float(said.split(" brings ")[1].split(" ")[0]) <= added + 1.0


def test_little_phosphoric_acid_in_a_flush_is_not_called_a_feed():
    can = dose(
        application="flush",
        water={"ph": 7.0, "alkalinity_mg_per_l_caco3": 12.0},
        volume_l=10,
        target_ph=6.5,
        acid={"kind": "phosphoric"},
    )
    assert can.status == "ok"
    assert 0.0 < can.element("phosphorus") < 10.0
    assert "flush_acid_feeds" not in can.cautions
