"""
Which rows of a batch share a can.

Rows can share what is the same solution at different strengths: the same products in the same
proportions, the same water, pH target and acid, for the same application. Within such a kind
strength is the one thing that differs, and `mix_partition` splits it.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.mix_kinds import KEY_COLUMNS, SLOTS, fill_keys, kinds
from service.planning.mix_partition import (
    allotted,
    cheapest_splits,
    fewest_cans,
    fill_levels,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NO_MIX: Final = -1
"""Number of the mix of a row that is in none."""

LEFT_OUT: Final = ("", "rejected", "infeasible", "plain_water", "no_common_can", "too_many_kinds")
"""Why a row is in no mix; the first word is that of a row that is in one."""

SERVED, REJECTED, INFEASIBLE, PLAIN_WATER, NO_COMMON_CAN, TOO_MANY_KINDS = range(len(LEFT_OUT))

MOST_MIXES: Final = 1_000
"""Most cans that an answer lists; nobody mixes more in a day."""

MOST_SPLIT: Final = 100
"""Cans into which the rows are split at most when a tolerance asks for more than are listed."""

DEFAULT_TOLERANCE: Final = 10.0
"""Most that a plant gets less than it bears when nothing is said [percent]; our choice."""

FLUSH: Final = rows.APPLICATIONS.index("flush")
_STATUS_REASON: Final = np.array(
    [{"ok": SERVED, "infeasible": INFEASIBLE}.get(word, REJECTED) for word in rows.STATUSES]
)


@dataclass(frozen=True)
class MixWishes:
    """
    What is asked of the mixes.

    Attributes
    ----------
    max_count : int or None
        Most cans over the whole batch.
    tolerance_percent : float or None
        Most by which a plant may get less than its own strength.
    reserve_percent : float
        How much more than needed is mixed.
    can_volumes_l : tuple of float
        Volumes of the cans on hand; empty when each mix is made at once.
    """

    max_count: int | None
    tolerance_percent: float | None
    reserve_percent: float
    can_volumes_l: tuple[float, ...] = ()

    def settled(self) -> "MixWishes":
        """
        Return wishes that say something: the usual tolerance when nothing is said.

        Returns
        -------
        MixWishes
            The same, if it says how many cans or how much less.
        """
        if self.max_count is None and self.tolerance_percent is None:
            return replace(self, tolerance_percent=DEFAULT_TOLERANCE)
        return self


@dataclass(frozen=True, eq=False)
class Grouping:
    """
    Rows by the can that they share.

    Attributes
    ----------
    mix : ndarray of int, shape (n_rows,)
        Mix of each row, or `NO_MIX`; mixes of one kind follow each other, the strongest first.
    kind : ndarray of int, shape (n_mixes,)
        Kind of each mix; kinds cannot share a can.
    kind_count : int
        Number of kinds.
    left_out : ndarray of int, shape (n_rows,)
        Position in `LEFT_OUT`.
    products : ndarray of int, shape (n_rows, n_slots)
        Products of each row in ascending order, `ABSENT` behind them.
    amounts : ndarray, shape (n_rows, n_slots)
        What the row bears of each, 0 behind them [g/L or mL/L].
    strength : ndarray, shape (n_rows,)
        What it bears of the first product of which it gets any [g/L or mL/L].
    fewest_count : int or None
        Cans that the tolerance needs; None when nothing is tolerated by number.
    """

    mix: IntArray
    kind: IntArray
    kind_count: int
    left_out: IntArray
    products: IntArray
    amounts: FloatArray
    strength: FloatArray
    fewest_count: int | None

    @property
    def count(self) -> int:
        """Number of mixes."""
        return int(self.kind.size)


def grouped(requests: NDArray[np.void], results: NDArray[np.void], wishes: MixWishes) -> Grouping:
    """
    Return which rows share a can.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Planned requests, defaults filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Their plans.
    wishes : MixWishes
        Settled. With a tolerance the fewest cans that keep it; `max_count` is then a bound, and
        where the two collide `max_count` is kept. Without a tolerance at most `max_count` cans. Of
        all such groupings the one whose plants lack least, by volume. Kinds that cannot share a can
        get one each, however many they are.

    Returns
    -------
    Grouping
        Rows without a dose, and rows of plain water, are in no mix.
    """
    left_out = _STATUS_REASON[results["status"]]
    products = np.empty((requests.size, SLOTS), dtype=np.int64)
    amounts = np.empty((requests.size, SLOTS))
    keys = np.empty((requests.size, KEY_COLUMNS))
    fill_keys(requests, results, products, amounts, keys)
    plain = (requests["application"] == FLUSH) | ~(amounts[:, 0] > 0.0)
    left_out[plain & (left_out == SERVED)] = PLAIN_WATER
    served = np.flatnonzero(left_out == SERVED)
    mix = np.full(requests.size, NO_MIX, dtype=np.int64)
    strength = amounts[:, 0].copy()
    kind, kind_count = kinds(keys if served.size == keys.shape[0] else keys[served])
    if kind_count > MOST_MIXES:
        left_out[served] = TOO_MANY_KINDS
        none = np.empty(0, dtype=np.int64)
        return Grouping(mix, none, kind_count, left_out, products, amounts, strength, kind_count)
    order = np.lexsort((strength[served], kind))
    sorted_rows, sorted_kind = served[order], kind[order]
    level = np.empty(served.size, dtype=np.int64)
    level_count = fill_levels(sorted_kind, strength[sorted_rows], level)
    first_of_level = np.flatnonzero(np.diff(level, prepend=-1))
    level_strength = strength[sorted_rows][first_of_level]
    volume: FloatArray = results["volume_l"][sorted_rows]
    level_volume: FloatArray = np.add.reduceat(volume, first_of_level)
    bounds = np.searchsorted(sorted_kind[first_of_level], np.arange(kind_count + 1))
    lines = [
        (level_strength[begin:end], level_volume[begin:end]) for begin, end in pairwise(bounds)
    ]
    splits, fewest = _split(lines, wishes)
    mix_of_level = np.empty(level_count, dtype=np.int64)
    kind_of_mix: list[int] = []
    for number, firsts in enumerate(splits):
        begin, end = bounds[number], bounds[number + 1]
        can = np.searchsorted(firsts, np.arange(end - begin), side="right") - 1
        # Splits begin with the weakest can, mixes with the strongest.
        mix_of_level[begin:end] = len(kind_of_mix) + len(firsts) - 1 - can
        kind_of_mix += [number] * len(firsts)
    mix[sorted_rows] = mix_of_level[level]
    return Grouping(
        mix,
        np.array(kind_of_mix, dtype=np.int64),
        kind_count,
        left_out,
        products,
        amounts,
        strength,
        fewest,
    )


def _split(
    lines: list[tuple[FloatArray, FloatArray]], wishes: MixWishes
) -> tuple[list[list[int]], int | None]:
    """First levels of the cans of every kind, and the cans that the tolerance needs."""
    tolerance = wishes.tolerance_percent
    fewest = None
    if tolerance is not None:
        splits = [fewest_cans(strength, volume, tolerance) for strength, volume in lines]
        fewest = sum(map(len, splits))
        if fewest <= min(wishes.max_count or MOST_MIXES, MOST_MIXES):
            return splits, fewest
    most = max(wishes.max_count or MOST_SPLIT, len(lines))
    each = most - len(lines) + 1
    cheapest = [cheapest_splits(strength, volume, each) for strength, volume in lines]
    cans = allotted([split.cost_l for split in cheapest], most)
    return [split.firsts(count) for split, count in zip(cheapest, cans, strict=True)], fewest
