"""What balances and syringes can show, and the pre-stock where they cannot."""

import pytest

from service.planning.instruments import pre_stock_strength, rounded_amount
from tests.mixing import by_element, dilution, dose


@pytest.mark.parametrize(
    ("exact", "resolution", "down", "nearest"),
    [(2.46, 0.1, 2.4, 2.5), (2.44, 0.1, 2.4, 2.4), (7.0, 5.0, 5.0, 5.0), (0.04, 0.1, 0.0, 0.0)],
)
def test_amount_is_a_whole_number_of_steps(exact, resolution, down, nearest):
    assert rounded_amount(exact, resolution, True) == pytest.approx(down)
    assert rounded_amount(exact, resolution, False) == pytest.approx(nearest)


def test_amount_that_is_a_whole_number_of_steps_is_not_rounded_away():
    for steps in range(1, 200):
        assert rounded_amount(steps * 0.1, 0.1, True) == pytest.approx(steps * 0.1, rel=1e-12)


def test_pre_stock_is_the_weakest_that_is_handy_and_can_be_weighed():
    # A gram in ten litres, a kitchen balance: 100 mL of 10 g/L, a litre of which weighs 10 g.
    assert pre_stock_strength(1.0, 0.1, 0.1, 50.0, 10.0) == 10.0
    # With a balance of 0.001 g even 1 g/L can be weighed; 1000 mL of it are not handy.
    assert pre_stock_strength(1.0, 0.001, 0.1, 50.0, 10.0) == 10.0
    assert pre_stock_strength(0.1, 0.001, 0.1, 50.0, 10.0) == 1.0


def test_pre_stock_never_needs_a_mass_that_the_balance_cannot_weigh():
    for exact in (0.002, 0.02, 0.2):
        for resolution in (0.001, 0.01, 0.1, 1.0):
            strength = pre_stock_strength(exact, resolution, 0.1, 50.0, 10.0)
            assert strength == 0.0 or strength >= 20 * resolution * (1 - 1e-9)


def test_pre_stock_takes_no_large_part_of_a_small_can():
    assert pre_stock_strength(0.02, 0.001, 0.1, 50.0, 0.05) == 10.0


def test_pre_stock_stays_below_what_dissolves():
    assert pre_stock_strength(0.5, 0.01, 0.1, 10.0, 10.0) <= 10.0
    assert pre_stock_strength(0.5, 0.001, 0.1, 1.0, 10.0) == 1.0


def test_there_is_no_pre_stock_where_nothing_can_be_weighed_or_drawn():
    assert pre_stock_strength(1e-9, 0.001, 0.1, 50.0, 1.0) == 0.0
    assert pre_stock_strength(1.0, 10.0, 0.1, 50.0, 1.0) == 0.0


def test_few_steps_of_the_syringe_are_the_last_resort():
    # 10 mg with a kitchen balance: 1.0 mL of 10 g/L is ten steps of the syringe.
    assert pre_stock_strength(0.01, 0.1, 0.1, 50.0, 10.0) == 10.0


FED = {"product": "potassium_nitrate", "water": "reverse_osmosis"}


def test_twenty_steps_are_weighed_directly_and_fewer_by_pre_stock():
    at_least = dilution(**FED, strength={"basis": "product", "g_per_l": 1.0}, volume_l=2.0)
    assert at_least.result["pre_stock_g_per_l"][0] == 0.0
    fewer = dilution(**FED, strength={"basis": "product", "g_per_l": 1.2}, volume_l=1.6)
    assert fewer.result["pre_stock_g_per_l"][0] == 50.0
    assert fewer.result["pre_stock_ml"][0] == pytest.approx(38.4)
    assert fewer.amount() == pytest.approx(1.92)


def test_dose_is_rounded_down_and_dilution_to_the_nearest_step():
    strength = {"basis": "product", "g_per_l": 0.2987}
    coarse = {"balance_resolution_g": 0.1}
    plants = {"size": "large"}
    air = {"humidity_percent": 80}
    down = dose(**FED, strength=strength, volume_l=10, instruments=coarse, plants=plants, air=air)
    nearest = dilution(**FED, strength=strength, volume_l=10, instruments=coarse)
    assert down.exact() == pytest.approx(2.987)
    assert down.amount() == pytest.approx(2.9)
    assert nearest.amount() == pytest.approx(3.0)


def test_liquid_is_measured_in_steps_of_the_syringe():
    can = dilution(
        product="feed_liquid_4_3_6",
        strength={"basis": "product", "ml_per_l": 1.234},
        water="rain",
        volume_l=10,
        instruments={"syringe_resolution_ml": 0.5},
    )
    assert can.amount() == pytest.approx(12.5)


def test_amount_below_every_step_is_nothing_and_said():
    can = dilution(
        product="boric_acid",
        strength=by_element("boron", 0.001),
        water="reverse_osmosis",
        volume_l=1,
    )
    assert can.amount() == 0.0
    assert "nothing_to_measure" in can.cautions
