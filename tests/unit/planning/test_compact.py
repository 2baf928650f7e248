"""The few numbers of many rows are those of the whole card of each."""

import numpy as np
import pytest

from service.planning.card import INFEASIBLE, REJECTED, card_fields
from service.planning.compact import binding_limits, compact_numbers
from tests.mixing import dose

CANS = {
    "solid": {"product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": 10},
    "liquid": {"product": "feed_liquid_4_3_6", "water": "rain", "volume_l": 10},
    "with acid": {
        "product": "feed_13_3_15_ca_mg",
        "water": {"ph": 7.4, "alkalinity_mg_per_l_caco3": 90, "calcium_mg_per_l": 36},
        "volume_l": 10,
        "plants": {"size": "large"},
        "target_ph": 6.0,
        "acid": {"kind": "nitric", "percent": 38},
    },
    "infeasible": {
        "product": "feed_20_20_20",
        "water": "hard_tap",
        "volume_l": 3,
        "plants": {"size": "mini"},
    },
    "plain water": {"application": "flush", "water": "rain", "volume_l": 10},
}


@pytest.mark.parametrize("name", CANS)
def test_compact_numbers_are_those_of_the_card(name):
    can = dose(**CANS[name])
    card = card_fields(can.row, can.result, can.catalogue)
    numbers = compact_numbers(np.array([can.row]), np.array([can.result]), can.catalogue)
    for field, column in numbers.items():
        assert (None if np.isnan(column[0]) else column[0]) == card[field], field
    assert binding_limits(np.array([can.result])) == [card["binding_limit"]]
    assert (can.result["status"] == INFEASIBLE) == (name == "infeasible")
    assert (card["acid_volume_ml"] or 0.0) > 0.0 if name == "with acid" else True


def test_a_row_without_an_answer_has_no_number():
    can = dose(product="feed_13_3_15_ca_mg", water="rain", volume_l=10)
    results = np.array([can.result])
    results["status"] = REJECTED
    numbers = compact_numbers(np.array([can.row]), results, can.catalogue)
    assert all(np.isnan(column[0]) for column in numbers.values())
    assert binding_limits(results) == [None]
