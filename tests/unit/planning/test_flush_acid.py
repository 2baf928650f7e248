"""Acid and base of a flush: what they bring, and what they may not."""

import pytest

from tests.mixing import dose


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
