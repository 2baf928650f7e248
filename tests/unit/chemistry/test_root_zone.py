import math

import pytest

from service.chemistry.root_zone import displaced, displacing_volume, salt_after_pouring


def test_volume_and_displacement_are_inverse() -> None:
    volume = displacing_volume(2.0, 0.1, 0.8, 0.3, 0.6)
    assert displaced(2.0, 0.1, volume, 0.3, 0.6) == pytest.approx(0.8)


def test_one_held_volume_that_mixes_fully_leaves_the_share_e() -> None:
    assert displaced(1.0, 0.0, 0.4, 0.4, 1.0) == pytest.approx(math.exp(-1.0))


def test_pot_at_its_target_needs_no_water() -> None:
    assert displacing_volume(0.8, 0.1, 0.8, 0.3, 0.5) == 0.0
    assert displacing_volume(0.8, 2.0, 0.9, 0.3, 0.5) == 0.0


@pytest.mark.parametrize("water", [0.8, 0.9])
def test_water_as_salty_as_the_target_never_reaches_it(water: float) -> None:
    assert math.isnan(displacing_volume(2.0, water, 0.8, 0.3, 0.5))


def test_watering_below_the_room_stays_in_the_pot() -> None:
    assert salt_after_pouring(0.2, 0.1, 0.3, 0.1, 0.8, 0.5) == pytest.approx(0.28)


def test_surplus_takes_salt_along() -> None:
    after = salt_after_pouring(0.6, 0.3, 0.3, 0.6, 0.0, 0.5)
    assert after == pytest.approx(0.6 * math.exp(-1.0))


@pytest.mark.parametrize(
    "value",
    [
        displaced(1.0, 0.1, -0.1, 0.3, 0.5),
        displaced(1.0, 0.1, 0.1, 0.0, 0.5),
        displaced(1.0, 0.1, 0.1, 0.3, 1.1),
        displaced(-1.0, 0.1, 0.1, 0.3, 0.5),
        displaced(1.0, math.nan, 0.1, 0.3, 0.5),
        displacing_volume(1.0, 0.1, 0.5, 0.0, 0.5),
        displacing_volume(1.0, 0.1, 0.5, 0.3, 0.0),
        displacing_volume(1.0, 0.1, math.nan, 0.3, 0.5),
        displacing_volume(math.inf, 0.1, 0.5, 0.3, 0.5),
        salt_after_pouring(0.1, 0.0, 0.3, 0.1, 0.8, 0.5),
        salt_after_pouring(0.1, 0.4, 0.3, 0.1, 0.8, 0.5),
        salt_after_pouring(0.1, 0.2, 0.3, -0.1, 0.8, 0.5),
        salt_after_pouring(-0.1, 0.2, 0.3, 0.1, 0.8, 0.5),
    ],
)
def test_value_outside_its_range_is_nan(value: float) -> None:
    assert math.isnan(value)
