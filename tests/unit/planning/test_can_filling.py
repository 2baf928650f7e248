"""A volume divided among cans."""

import pytest

from service.planning.can_filling import fillings, marked_volume


@pytest.mark.parametrize(
    ("volume", "marked"),
    [(24.0, 24.0), (24.2, 24.5), (0.87, 0.87), (0.871, 0.875), (105.0, 105.0), (101.0, 105.0)],
)
def test_volume_is_rounded_up_to_a_mark(volume: float, marked: float) -> None:
    assert marked_volume(volume) == pytest.approx(marked, rel=1e-12)


def test_without_cans_a_mix_is_made_at_once() -> None:
    assert fillings(237.0, ()) == [(240.0, 1)]


def test_ten_litres_twice_and_four_litres_once() -> None:
    assert fillings(24.0, (10.0, 4.0)) == [(10.0, 2), (4.0, 1)]
    assert fillings(24.0, (4.0, 10.0, 10.0)) == [(10.0, 2), (4.0, 1)]


def test_the_rest_goes_into_the_smallest_can_that_holds_it() -> None:
    assert fillings(23.0, (10.0, 4.0)) == [(10.0, 2), (3.0, 1)]
    assert fillings(25.3, (10.0, 4.0)) == [(10.0, 2), (5.3, 1)]
    assert fillings(3.0, (10.0, 4.0)) == [(3.0, 1)]


def test_a_rest_that_fills_the_largest_can_is_one_more_of_it() -> None:
    assert fillings(29.99, (10.0,)) == [(10.0, 3)]
    assert fillings(0.3 * 3, (0.3,)) == [(0.3, 3)]


@pytest.mark.parametrize("volume", [0.01, 0.777, 3.3, 19.999, 20.001, 1234.5])
@pytest.mark.parametrize("cans", [(10.0, 4.0), (7.5,), (0.5, 30.0, 12.0)])
def test_fillings_hold_the_volume_and_no_can_runs_over(
    volume: float, cans: tuple[float, ...]
) -> None:
    listed = fillings(volume, cans)
    made = sum(times * filled for filled, times in listed)
    assert volume * (1.0 - 1e-8) <= made <= 1.05 * volume + 0.01
    assert all(filled <= max(cans) for filled, _ in listed)
