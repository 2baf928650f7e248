"""The few numbers of many rows are those of the whole card of each."""

import numpy as np
import pytest

from service.planning.card import INFEASIBLE, REJECTED, card_fields
from service.planning.compact import binding_limits, compact_numbers, figures, rounded
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


@pytest.mark.parametrize("digits", [1, 2, 3, 4, 6])
def test_figures_are_those_that_python_prints(digits):
    draw = np.random.default_rng(digits)
    column = draw.choice([-1.0, 1.0], 400) * 10.0 ** draw.uniform(-9.0, 9.0, 400)
    expected = [float(f"{value:.{digits}g}") for value in column]
    assert figures(column, digits).tolist() == expected
    assert rounded(column, digits) == expected


def test_powers_of_ten_nothing_and_what_is_not_known_stay():
    column = np.array([1e-7, 1e-3, 0.1, 1.0, 10.0, 1e5, 999_950.0, 0.0, -0.0, np.nan, np.inf])
    shown = figures(column, 4)
    assert shown[:7].tolist() == [1e-7, 1e-3, 0.1, 1.0, 10.0, 1e5, 1e6]
    assert shown[7:9].tolist() == [0.0, 0.0]
    assert not np.signbit(shown[8])
    assert np.isnan(shown[9])
    assert np.isinf(shown[10])
    listed = rounded(column[7:10], 3)
    assert listed == [0.0, 0.0, None]
    assert rounded(np.array([np.nan, 1.23456, np.nan]), 3) == [None, 1.23, None]
    assert rounded(np.array([]), 3) == []


def test_a_row_of_several_products_names_no_single_amount():
    products = [
        {"product": name, "strength": {"basis": "product", "g_per_l": 0.2}}
        for name in ("potassium_nitrate", "magnesium_sulfate_heptahydrate")
    ]
    cans = [
        dose(products=products, water="rain", volume_l=10),
        dose(products=products[:1], water="rain", volume_l=10),
        dose(product="feed_liquid_4_3_6", water="rain", volume_l=10),
    ]
    numbers = compact_numbers(
        np.array([can.row for can in cans]),
        np.array([can.result for can in cans]),
        cans[0].catalogue,
    )
    assert np.isnan(numbers["product_mass_g"]).tolist() == [True, False, True]
    assert np.isnan(numbers["product_volume_ml"]).tolist() == [True, True, False]
    assert numbers["product_mass_g"][1] == cans[1].amount()
    assert numbers["product_volume_ml"][2] == cans[2].amount()
    assert numbers["nitrogen_mg_per_l"].tolist() == [can.element("nitrogen") for can in cans]
