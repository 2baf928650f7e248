"""What makes rows of one kind, column by column of the key."""

from typing import Any

import numpy as np
import pytest

from service.planning import rows
from service.planning.mix_kinds import KEY_COLUMNS, SAME_PROPORTION, SLOTS, fill_keys, kinds

pytestmark = pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
"""Digests of kinds wrap around; without compiling numpy says so."""

PROPORTIONS, WATER = slice(SLOTS, 2 * SLOTS), slice(2 * SLOTS, KEY_COLUMNS - 4)


def keyed(*given: dict[str, Any]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return products, amounts and keys of rows of 10 L."""
    requests, results = rows.empty_requests(len(given)), rows.empty_results(len(given))
    results["volume_l"] = 10.0
    requests["water"] = np.nan
    requests["target_ph"] = requests["acid_percent"] = np.nan
    for row, result, each in zip(requests, results, given, strict=True):
        for slot, (product, grams) in enumerate(each.pop("amounts", ())):
            row["product"][slot] = product
            result["exact_amount"][slot] = grams
            row["product_count"] = slot + 1
        for name, value in each.items():
            (result if name == "volume_l" else row)[name] = value
    products = np.zeros((len(given), SLOTS), dtype=np.int64)
    amounts, keys = np.zeros((len(given), SLOTS)), np.zeros((len(given), KEY_COLUMNS))
    fill_keys(requests, results, products, amounts, keys)
    return products, amounts, keys


def test_products_stand_in_order_with_what_a_litre_gets_and_none_of_which_there_is_nothing() -> (
    None
):
    products, amounts, _ = keyed(
        {"amounts": [(7, 4.0), (3, 2.0), (5, 0.0), (2, 6.0)]},
        {"amounts": [(4, 3.0)], "volume_l": 2.0},
        {"amounts": [(4, 3.0)], "volume_l": 0.0},
    )
    absent = [rows.ABSENT] * (SLOTS - 3)
    assert products[0].tolist() == [2, 3, 7, *absent]
    assert amounts[0].tolist() == pytest.approx([0.6, 0.2, 0.4] + [0.0] * (SLOTS - 3))
    assert (products[1, 0], amounts[1, 0]) == (4, 1.5)
    assert products[2].tolist() == [rows.ABSENT] * SLOTS
    assert amounts[2].tolist() == [0.0] * SLOTS


def test_proportions_count_and_strength_does_not() -> None:
    _, _, keys = keyed(
        {"amounts": [(1, 2.0), (2, 1.0)]},
        {"amounts": [(2, 3.0), (1, 6.0)]},
        {"amounts": [(1, 2.0), (2, 1.0 * (1.0 + 0.4 * SAME_PROPORTION))]},
        {"amounts": [(1, 2.0), (2, 1.0 * (1.0 + 1.6 * SAME_PROPORTION))]},
    )
    assert kinds(keys)[0].tolist() == [0, 0, 0, 1]
    # Half as much: ln(1/2) in steps of a thousandth.
    assert keys[0, PROPORTIONS].tolist()[:2] == [0.0, -693.0]


@pytest.mark.parametrize(
    ("name", "one", "other", "column"),
    [
        ("target_ph", 5.8, 6.0, KEY_COLUMNS - 4),
        ("acid_kind", 0, 1, KEY_COLUMNS - 3),
        ("acid_percent", 38.0, 60.0, KEY_COLUMNS - 2),
        ("application", 0, 1, KEY_COLUMNS - 1),
    ],
)
def test_what_else_is_asked_of_a_can_makes_a_kind(
    name: str, one: float, other: float, column: int
) -> None:
    amounts = [(1, 2.0)]
    _, _, keys = keyed(
        {"amounts": amounts, name: one}, {"amounts": amounts, name: other},
        {"amounts": amounts, name: one},
    )  # fmt: skip
    assert keys[:, column].tolist() == [one, other, one]
    assert kinds(keys)[0].tolist() == [0, 1, 0]
    assert kinds(keys)[1] == 2


def test_waters_are_compared_field_by_field() -> None:
    count = len(rows.WATER_FIELDS)
    waters = np.full((count + 1, count), np.nan)
    waters[np.arange(count), np.arange(count)] = 1.0 + np.arange(count)
    _, _, keys = keyed(*({"amounts": [(1, 2.0)], "water": water} for water in waters))
    np.testing.assert_array_equal(keys[:, WATER], waters)
    assert kinds(keys)[0].tolist() == list(range(count + 1))


def test_zero_has_one_pattern_of_bits_and_so_has_what_is_not_said() -> None:
    other_nan = np.array([0x7FF8000000000001], dtype=np.uint64).view(np.float64)[0]
    first, second = np.full((2, len(rows.WATER_FIELDS)), np.nan)
    first[0], second[0], second[1] = 0.0, -0.0, other_nan
    _, _, keys = keyed(
        {"amounts": [(1, 2.0)], "water": first}, {"amounts": [(1, 2.0)], "water": second}
    )
    assert kinds(keys)[0].tolist() == [0, 0]


def test_kinds_are_numbered_as_they_first_appear() -> None:
    numbers, count = kinds(np.array([[9.0], [1.0], [5.0], [1.0], [9.0], [2.0]]))
    assert (numbers.tolist(), count) == ([0, 1, 2, 1, 0, 3], 4)
