"""Volumes of a stirred reservoir, by hand, and outside their ranges."""

import math

import pytest

from service.chemistry.reservoir import diluting_volume, drained_volume, mixed_conductivity


def test_mixed_conductivity_weighs_by_volume() -> None:
    # (30 x 1.2 + 10 x 0.4) / 40
    assert mixed_conductivity(30.0, 1.2, 10.0, 0.4) == pytest.approx(1.0)
    assert mixed_conductivity(30.0, 1.2, 0.0, 0.4) == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("volume", "conductivity", "entering", "target"),
    [(50.0, 1.2, 0.1, 0.9), (3.0, 4.0, 0.0, 0.2), (700.0, 0.81, 0.4, 0.8)],
)
def test_diluting_volume_mixed_gives_the_target(
    volume: float, conductivity: float, entering: float, target: float
) -> None:
    added = diluting_volume(volume, conductivity, entering, target)
    assert mixed_conductivity(volume, conductivity, added, entering) == pytest.approx(target)


def test_drained_and_filled_up_gives_the_target() -> None:
    leaves = drained_volume(90.0, 100.0, 2.0, 0.2, 0.8)
    # A third of the full reservoir stays: (0.8 - 0.2) / (2.0 - 0.2).
    assert leaves == pytest.approx(90.0 - 100.0 / 3.0)
    kept = 90.0 - leaves
    assert mixed_conductivity(kept, 2.0, 100.0 - kept, 0.2) == pytest.approx(0.8)
    assert drained_volume(10.0, 100.0, 1.0, 0.2, 0.8) == 0.0


def test_water_as_salty_as_the_target_never_dilutes() -> None:
    assert math.isnan(diluting_volume(10.0, 1.0, 0.8, 0.8))
    assert math.isnan(drained_volume(10.0, 10.0, 1.0, 0.8, 0.8))
    assert diluting_volume(10.0, 0.8, 0.9, 0.8) == 0.0
    assert drained_volume(10.0, 10.0, 0.8, 0.9, 0.8) == 0.0


@pytest.mark.parametrize("wrong", [-1.0, 0.0, math.inf, math.nan])
def test_volume_outside_its_range_is_not_a_number(wrong: float) -> None:
    assert math.isnan(mixed_conductivity(wrong, 1.0, 1.0, 0.1))
    assert math.isnan(diluting_volume(wrong, 1.0, 0.1, 0.5))
    assert math.isnan(drained_volume(wrong, 10.0, 1.0, 0.1, 0.5))


@pytest.mark.parametrize("wrong", [-1.0, math.inf, math.nan])
def test_conductivity_outside_its_range_is_not_a_number(wrong: float) -> None:
    assert math.isnan(mixed_conductivity(10.0, wrong, 1.0, 0.1))
    assert math.isnan(diluting_volume(10.0, 1.0, wrong, 0.5))
    assert math.isnan(drained_volume(10.0, 10.0, wrong, 0.1, 0.5))
