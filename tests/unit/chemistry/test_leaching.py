import math

import pytest

from service.chemistry.leaching import (
    field_leaching_requirement,
    leaching_fraction,
    steady_drainage,
    steady_leaching_fraction,
    water_with_leaching,
)


def test_fraction_and_drainage_are_inverse() -> None:
    fraction = steady_leaching_fraction(0.8, 1.6)
    assert fraction == pytest.approx(0.5)
    assert steady_drainage(0.8, fraction) == pytest.approx(1.6)


def test_drainage_thinner_than_the_feed_gives_a_fraction_above_one() -> None:
    assert steady_leaching_fraction(1.0, 0.5) == 2.0


@pytest.mark.parametrize(
    "value",
    [
        steady_leaching_fraction(-0.1, 1.0),
        steady_leaching_fraction(1.0, 0.0),
        steady_leaching_fraction(math.nan, 1.0),
        steady_leaching_fraction(1.0, math.inf),
        steady_drainage(1.0, 0.0),
        steady_drainage(1.0, 1.01),
        steady_drainage(-1.0, 0.5),
        leaching_fraction(1.0, 0.0),
        leaching_fraction(1.1, 1.0),
        leaching_fraction(-0.1, 1.0),
        water_with_leaching(1.0, 1.0),
        water_with_leaching(-1.0, 0.5),
        field_leaching_requirement(1.5, 0.3),
        field_leaching_requirement(1.5, 0.2),
        field_leaching_requirement(-1.0, 1.0),
        field_leaching_requirement(1.0, math.nan),
    ],
)
def test_value_outside_its_range_is_nan(value: float) -> None:
    assert math.isnan(value)


def test_nothing_drains_when_everything_is_used() -> None:
    assert leaching_fraction(2.0, 2.0) == 0.0
    assert water_with_leaching(2.0, 0.0) == 2.0
