"""
Which rows are one kind: the same solution, though at different strengths.

The same products in the same proportions, the same water, pH target and acid, for the same
application. Rows of different kinds cannot share a can.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.kernel import kernel
from service.planning import rows

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAME_PROPORTION: Final = 1e-3
"""Relative step in which proportions of products are compared."""

SLOTS: Final = rows.MAXIMUM_PRODUCTS
WATER_COLUMNS: Final = len(rows.WATER_FIELDS)
KEY_COLUMNS: Final = 2 * SLOTS + WATER_COLUMNS + 4

MIXER: Final = np.uint64(0x9E3779B97F4A7C15)
"""Odd multiplier that spreads the bits of a digest (2^64 over the golden ratio)."""


@kernel
def fill_keys(
    requests: np.ndarray,
    results: np.ndarray,
    products: np.ndarray,
    amounts: np.ndarray,
    keys: np.ndarray,
) -> None:
    """
    Fill in what each row bears of its products, and what makes its kind.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Planned requests, defaults filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Their plans.
    products : ndarray of int, shape (n_rows, n_slots)
        Receives the products of which a row gets any, ascending, and `ABSENT` behind them.
    amounts : ndarray, shape (n_rows, n_slots)
        Receives what it bears of each, and 0 behind them [g/L or mL/L].
    keys : ndarray, shape (n_rows, n_key_columns)
        Receives the same numbers for rows of one kind.
    """
    for index in range(requests.size):
        row, result = requests[index], results[index]
        product, amount, key = products[index], amounts[index], keys[index]
        volume = result["volume_l"]
        count = 0
        for slot in range(SLOTS):
            product[slot] = rows.ABSENT
            amount[slot] = 0.0
        for slot in range(row["product_count"]):
            exact = result["exact_amount"][slot]
            if not (exact > 0.0 and volume > 0.0):
                continue
            place = count
            while place > 0 and product[place - 1] > row["product"][slot]:
                product[place] = product[place - 1]
                amount[place] = amount[place - 1]
                place -= 1
            product[place] = row["product"][slot]
            amount[place] = exact / volume
            count += 1
        for slot in range(SLOTS):
            key[slot] = product[slot]
            share = 0.0
            if amount[slot] > 0.0:
                share = np.rint(np.log(amount[slot] / amount[0]) / SAME_PROPORTION)
            key[SLOTS + slot] = share + 0.0
        for column in range(WATER_COLUMNS):
            key[2 * SLOTS + column] = row["water"][column]
        key[KEY_COLUMNS - 4] = row["target_ph"]
        key[KEY_COLUMNS - 3] = row["acid_kind"]
        key[KEY_COLUMNS - 2] = row["acid_percent"]
        key[KEY_COLUMNS - 1] = row["application"]
        for column in range(KEY_COLUMNS):
            # Zero and not-a-number have several bit patterns; keys have one of each.
            value = key[column]
            if value == 0.0:
                key[column] = 0.0
            elif value != value:
                key[column] = np.nan


def _digests(bits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Return one number for each row of bits; different rows hardly ever have the same."""
    digests = np.zeros(bits.shape[0], dtype=np.uint64)
    fill_digests(bits, digests)
    return digests


@kernel
def fill_digests(bits: np.ndarray, digests: np.ndarray) -> None:
    """
    Fill in one number for each row of bits.

    Parameters
    ----------
    bits : ndarray of uint64, shape (n_rows, n_key_columns)
        Bit patterns of the keys.
    digests : ndarray of uint64, shape (n_rows,)
        Receives the digests, which begin at 0.
    """
    for column in range(bits.shape[1]):
        for index in range(bits.shape[0]):
            digest = (digests[index] ^ bits[index, column]) * MIXER
            digests[index] = digest ^ (digest >> np.uint64(29))


def kinds(keys: FloatArray) -> tuple[IntArray, int]:
    """
    Return which kind each row is.

    Parameters
    ----------
    keys : ndarray, shape (n_rows, n_key_columns)
        Keys of `fill_keys`.

    Returns
    -------
    tuple of ndarray and int
        Kind of each row, numbered as they first appear, and how many there are.
    """
    bits = keys.view(np.uint64)
    _, first, kind = np.unique(_digests(bits), return_index=True, return_inverse=True)
    if not np.array_equal(bits, bits[first[kind]]):
        # Two kinds with one digest: compare them whole.
        _, first, kind = np.unique(bits, axis=0, return_index=True, return_inverse=True)
    number = np.empty(first.size, dtype=np.int64)
    number[np.argsort(first)] = np.arange(first.size)
    return number[kind.reshape(-1)], int(first.size)
