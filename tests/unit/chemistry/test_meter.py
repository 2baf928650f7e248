import math

import pytest

from service.chemistry.compensation import (
    LINEAR,
    LINEAR_COEFFICIENT,
    NATURAL_WATER,
    compensation_factor,
    conductivity_at_25,
    linear_factor,
    natural_water_factor,
    reading_at_temperature,
)
from service.chemistry.meter import (
    SCALE_442,
    SCALE_500,
    SCALE_NAMES,
    conductivity_from_reading,
    meter_reading,
)


def test_factor_scales_are_proportional():
    assert meter_reading(SCALE_500, 2.0) == 1000.0
    assert conductivity_from_reading(SCALE_500, 1000.0) == 2.0


def test_tabulated_scale_is_proportional_below_its_first_row_and_ends_with_its_last():
    assert meter_reading(SCALE_442, 0.0115) == pytest.approx(7.37, rel=1e-12)
    assert math.isnan(meter_reading(SCALE_442, 80.1))
    assert math.isnan(conductivity_from_reading(SCALE_442, 79689.0))


@pytest.mark.parametrize("scale", range(len(SCALE_NAMES)))
@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_a_reading_that_cannot_be_is_no_number(scale, bad):
    assert math.isnan(meter_reading(scale, bad))
    assert math.isnan(conductivity_from_reading(scale, bad))


@pytest.mark.parametrize("scale", [-1, len(SCALE_NAMES)])
def test_an_unknown_scale_is_no_number(scale):
    assert math.isnan(meter_reading(scale, 1.0))
    assert math.isnan(conductivity_from_reading(scale, 1.0))


def test_natural_water_factor_is_interpolated_and_ends_at_35_degrees():
    assert natural_water_factor(293.65) == pytest.approx(0.5 * (1.116 + 1.091), rel=1e-9)
    assert natural_water_factor(308.15) == pytest.approx(0.822, rel=1e-9)
    assert math.isnan(natural_water_factor(309.0))
    assert math.isnan(natural_water_factor(273.0))


def test_linear_factor_is_one_at_25_degrees_and_ends_where_the_line_passes_zero():
    assert linear_factor(298.15, LINEAR_COEFFICIENT) == 1.0
    assert linear_factor(288.15, LINEAR_COEFFICIENT) == pytest.approx(1.25)
    assert math.isnan(linear_factor(240.0, LINEAR_COEFFICIENT))


@pytest.mark.parametrize("method", [NATURAL_WATER, LINEAR])
def test_a_reading_goes_to_25_degrees_and_back(method):
    at_25 = conductivity_at_25(0.8, method, 288.15, LINEAR_COEFFICIENT)
    assert at_25 == pytest.approx(1.0, rel=0.01)
    back = reading_at_temperature(at_25, method, 288.15, LINEAR_COEFFICIENT)
    assert back == pytest.approx(0.8, rel=1e-12)


def test_an_unknown_method_is_no_number():
    assert math.isnan(compensation_factor(2, 298.15, LINEAR_COEFFICIENT))
    assert math.isnan(reading_at_temperature(1.0, 2, 298.15, LINEAR_COEFFICIENT))
