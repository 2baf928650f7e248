"""Doses larger than the largest can."""

import numpy as np
import pytest

from service.planning.can_split import can_count, can_split
from tests.mixing import Can, dose

ASKED = {
    "plants": {"size": "large", "setup": "wet_dry_pot"},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "water": "rain",
    "product": "feed_13_3_15_ca_mg",
}


def larger(volume: float, largest: float | None) -> Can:
    tools = {} if largest is None else {"largest_can_l": largest}
    return dose(**ASKED, volume_l=volume, instruments=tools)


@pytest.mark.parametrize(
    ("volume", "largest", "count"),
    [(10, None, 1), (10, 10, 1), (10, 20, 1), (10, 5, 2), (10, 4, 3), (0.3, 0.1, 3)],
)
def test_cans_are_as_few_as_hold_it(volume: float, largest: float | None, count: int) -> None:
    can = larger(volume, largest)
    assert can_count(can.row, can.result) == count
    assert ("larger_than_the_can" in can.cautions) == (count > 1)


def test_each_can_is_measured_out_and_none_is_stronger_than_the_whole() -> None:
    can = larger(50, 12)
    split = can_split(can.row, can.result, can.catalogue)
    assert split is not None
    assert split.count == 5
    assert split.result["volume_l"] == pytest.approx(10)
    steps = split.result["amount"][0] / split.row["balance_resolution_g"]
    assert steps == pytest.approx(round(steps), abs=1e-6)
    assert split.result["amount"][0] <= split.result["exact_amount"][0] + 1e-9
    exact = float(can.result["exact_amount"][0]) / 5
    assert split.result["exact_amount"][0] == pytest.approx(exact, rel=1e-6)
    assert np.isnan(split.row["largest_can_l"])


def test_one_can_is_not_split() -> None:
    can = larger(10, 10)
    assert can_split(can.row, can.result, can.catalogue) is None
