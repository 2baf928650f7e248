"""How near tanks are to clouding, at every temperature."""

import pytest

from service.planning.tank_chemistry import is_clear
from service.planning.tank_saturation import saturation_temperatures, tank_saturation
from tests.stocking import recipe, tank_water


def test_temperatures_hold_the_plan_and_reach_beyond_it() -> None:
    assert saturation_temperatures(10, 30) == (0, 5, 10, 15, 20, 25, 30, 35, 40)
    assert saturation_temperatures(18, 22) == (10, 15, 18, 20, 22, 25, 30)


def test_a_tank_is_clear_below_a_hundred_percent_and_not_above() -> None:
    products = recipe({"potassium_nitrate": 0.6, "monopotassium_phosphate": 0.14})
    water = tank_water(coldest=10, warmest=20)
    points = tank_saturation(products, water, 200.0)
    assert points[0].celsius == 0
    for point in points:
        alone = tank_water(coldest=point.celsius, warmest=point.celsius)
        carried = 200.0 * 100.0 / point.percent
        assert is_clear(products, alone, 0.999 * carried)
        assert not is_clear(products, alone, 1.001 * carried)
    assert [each.solid for each in points[:2]] == ["potassium_nitrate"] * 2


def test_potassium_nitrate_clouds_sooner_in_the_cold() -> None:
    products = recipe({"potassium_nitrate": 1.0})
    percents = [each.percent for each in tank_saturation(products, tank_water(), 100.0)]
    assert percents == sorted(percents, reverse=True)
    assert percents[-1] < 0.5 * percents[0]


def test_twice_the_factor_is_twice_the_percent() -> None:
    products = recipe({"potassium_nitrate": 1.0})
    once = tank_saturation(products, tank_water(), 50.0)
    twice = tank_saturation(products, tank_water(), 100.0)
    for one, two in zip(once, twice, strict=True):
        assert two.percent == pytest.approx(2.0 * one.percent)
