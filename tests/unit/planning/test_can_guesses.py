"""Guesses of how much of a feed has a conductivity are exact where it is a power of the amount."""

import pytest

from service.planning.can import CONDUCTIVITY_POWER, _first_factor, _following_factor
from service.planning.products import SLOPE_AMOUNT


@pytest.mark.parametrize("water", [0.0, 0.3, 2.0])
@pytest.mark.parametrize("factor", [0.2, 1.0, 3.0])
@pytest.mark.parametrize("wanted", [0.5, 1.0, 4.0])
def test_the_next_factor_is_that_of_water_and_feed_as_one_salt(
    water: float, factor: float, wanted: float
) -> None:
    def conducts(amount: float) -> float:
        return float(1.7 * (water + amount) ** CONDUCTIVITY_POWER)

    found = _following_factor(conducts(0.0), conducts(factor), conducts(wanted), factor)
    assert found == pytest.approx(wanted)


@pytest.mark.parametrize("start", [0.0, 0.2, 0.9])
@pytest.mark.parametrize("amount", [0.25, SLOPE_AMOUNT, 2.0])
def test_the_first_factor_has_the_slope_of_the_products(start: float, amount: float) -> None:
    # Half a gram in a litre conducts what the slope says, more a little less in proportion.
    slope, wanted = 1.3 * amount, 1.5

    def conducts(factor: float) -> float:
        relative = factor * amount / SLOPE_AMOUNT
        return float(slope * factor * relative ** (CONDUCTIVITY_POWER - 1.0))

    water = (start / conducts(1.0)) ** (1.0 / CONDUCTIVITY_POWER)
    target = conducts(water + wanted)
    assert _first_factor(start, target, slope, amount) == pytest.approx(wanted)
    assert _first_factor(0.0, conducts(1.0), slope, amount) == pytest.approx(1.0)
    # At half a gram the slope is the conductivity itself.
    assert conducts(SLOPE_AMOUNT / amount) == pytest.approx(1.3 * SLOPE_AMOUNT)
