import math

import pytest

from service.chemistry.validity import ABOVE_RANGE, BELOW_RANGE, IN_RANGE, NOT_FINITE, range_status
from service.chemistry.vapour_pressure import (
    moisture_deficit,
    saturation_status,
    saturation_vapour_pressure,
    vapour_pressure_deficit,
)


def test_status_says_on_which_side_of_the_range_a_value_lies():
    assert range_status(0.5, 0.0, 1.0) == IN_RANGE
    assert range_status(0.0, 0.0, 1.0) == IN_RANGE
    assert range_status(1.0, 0.0, 1.0) == IN_RANGE
    assert range_status(-1e-9, 0.0, 1.0) == BELOW_RANGE
    assert range_status(1.1, 0.0, 1.0) == ABOVE_RANGE
    assert range_status(math.nan, 0.0, 1.0) == NOT_FINITE
    assert range_status(math.inf, 0.0, 1.0) == NOT_FINITE


def test_air_below_freezing_is_a_status_and_no_number():
    assert saturation_status(273.0) == BELOW_RANGE
    assert math.isnan(saturation_vapour_pressure(273.0))
    assert math.isnan(vapour_pressure_deficit(273.0, 50.0))
    assert math.isnan(moisture_deficit(273.0, 50.0))


def test_saturated_air_has_no_deficit_and_dry_air_the_whole_pressure():
    assert vapour_pressure_deficit(298.15, 100.0) == 0.0
    assert vapour_pressure_deficit(298.15, 0.0) == saturation_vapour_pressure(298.15)


@pytest.mark.parametrize("humidity", [-0.1, 100.1, math.nan, math.inf])
def test_humidity_that_cannot_be_is_no_number(humidity):
    assert math.isnan(vapour_pressure_deficit(298.15, humidity))


def test_saturation_concentration_at_20_degrees_is_17_grams_per_cubic_metre():
    assert moisture_deficit(293.15, 0.0) == pytest.approx(17.3, abs=0.05)
