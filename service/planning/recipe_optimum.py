"""
The best amounts of a recipe: closest profile, lowest cost or fewest products.

Closeness is the weighted sum of squared deviations. A square is the upper envelope of its
tangents, so that the programme stays linear: it is solved, tangents are added where its answer
lies, and it is solved again until the tangents touch. With yes-or-no variables (the least that a
scale weighs, a number of products) the same steps end at the true optimum, because a programme of
tangents never lies above the squares.
"""

import time
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning.recipe_problem import FEWEST_PRODUCTS, LOWEST_COST
from service.planning.recipe_programme import Programme, Solved, solved

FloatArray = NDArray[np.float64]

ROUNDS: Final = 60
BADNESS_TOLERANCE: Final = 1e-6
RELATIVE_TOLERANCE: Final = 1e-7
"""By how much the squared deviations may exceed their lower bound [percent squared, 1]."""

CHOICE_TOLERANCE: Final = 1e-3
RELATIVE_CHOICE_TOLERANCE: Final = 1e-4
"""The same where items are chosen, which takes longer [percent squared, 1]."""

SECONDS: Final = 3.0
"""Time after which the best choice so far is taken [s]."""

SEEDS: Final = np.array([0.0, *(sign * 0.001 * 3.0**k for k in range(16) for sign in (-1, 1))])
"""Deviations at which tangents stand from the start [percent]."""

SNAPPED: Final = 0.01
"""Deviation that is taken as none, if the limits allow it [percent]."""

NEGLIGIBLE: Final = 1e-4
"""Scaled amount that is left out where nothing is the worse for it."""

COST_SLACK: Final = 1e-7


@dataclass(frozen=True, eq=False)
class Optimum:
    """
    The best amounts.

    Attributes
    ----------
    scaled : ndarray, shape (n_items,)
        Scaled amounts.
    proven : bool
        Whether nothing better exists.
    low, high : ndarray, shape (n_items,)
        Bounds of the scaled amounts once items are chosen.
    too_small : frozenset of int
        Items of which less would be taken than can be measured, if it could.
    """

    scaled: FloatArray
    proven: bool
    low: FloatArray
    high: FloatArray
    too_small: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class _Frame:
    """A programme with its choices: bounds, yes-or-no items and rows on top."""

    programme: Programme
    low: FloatArray
    high: FloatArray
    choices: tuple[int, ...]
    most_chosen: int | None
    rows: FloatArray
    room: FloatArray

    def with_support(self, chosen: NDArray[np.bool_]) -> "_Frame":
        """Return the frame with its yes-or-no items settled."""
        low, high = self.low.copy(), self.high.copy()
        for place, item in enumerate(self.choices):
            if chosen[place]:
                low[item] = self.programme.least[item]
            else:
                high[item] = 0.0
        return replace(self, low=low, high=high, choices=(), most_chosen=None)

    def with_row(self, row: FloatArray, room: float) -> "_Frame":
        """Return the frame with one more row."""
        return replace(self, rows=np.vstack([self.rows, row]), room=np.append(self.room, room))

    def solve(
        self, cost: FloatArray, choice_cost: float, tangents: list[FloatArray] | None
    ) -> Solved | None:
        """
        Minimise a cost of the amounts, of the choices, and of the squares if there are tangents.

        The variables are amounts, deviations, squares, choices.
        """
        programme = self.programme
        items, targets, choices = programme.item_count, programme.weights.size, len(self.choices)
        squares = targets if tangents is not None else 0
        width = items + 2 * squares + choices
        blocks = [np.hstack([self.rows, np.zeros((self.room.size, width - items))])]
        rooms = [self.room]
        equal = equal_to = None
        if tangents is not None:
            place = np.repeat(np.arange(targets), [points.size for points in tangents])
            points = np.concatenate(tangents)
            block = np.zeros((points.size, width))
            count = np.arange(points.size)
            block[count, items + place] = 2.0 * points
            block[count, items + targets + place] = -1.0
            blocks.append(block)
            rooms.append(points**2)
            equal = np.zeros((targets, width))
            equal[:, :items] = programme.deviation
            equal[:, items : items + targets] = -np.eye(targets)
            equal_to = -programme.water_deviation
        if choices:
            block = np.zeros((2 * choices, width))
            for number, item in enumerate(self.choices):
                block[2 * number, item] = 1.0
                block[2 * number, width - choices + number] = -self.high[item]
                block[2 * number + 1, item] = -1.0
                block[2 * number + 1, width - choices + number] = programme.least[item]
            blocks.append(block)
            rooms.append(np.zeros(2 * choices))
            if self.most_chosen is not None:
                row = np.zeros((1, width))
                row[0, width - choices :] = 1.0
                blocks.append(row)
                rooms.append(np.array([float(self.most_chosen)]))
        whole = np.zeros(width, dtype=bool)
        whole[width - choices :] = True
        free = np.full(squares, np.inf)
        return solved(
            np.concatenate(
                [
                    cost,
                    np.zeros(squares),
                    programme.weights if squares else np.zeros(0),
                    np.full(choices, choice_cost),
                ]
            ),
            np.vstack(blocks),
            np.concatenate(rooms),
            np.concatenate([self.low, -free, np.zeros(squares), np.zeros(choices)]),
            np.concatenate([self.high, free, free, np.ones(choices)]),
            equal=equal,
            equal_to=equal_to,
            whole=whole,
        )


def optimum(
    programme: Programme, objective: str, price: FloatArray, liking: FloatArray
) -> Optimum | None:
    """
    Return the best amounts of a programme.

    Parameters
    ----------
    programme : Programme
        The programme.
    objective : str
        One of `service.planning.recipe_problem.OBJECTIVES`.
    price : ndarray, shape (n_items,)
        Price of a scaled amount.
    liking : ndarray, shape (n_items,)
        What of equally good recipes is made least, for a scaled amount.

    Returns
    -------
    Optimum or None
        None where no amounts keep the limits.
    """
    everything = objective == FEWEST_PRODUCTS or programme.most_products is not None
    choices = set(range(programme.item_count)) if everything else set()
    too_small: set[int] = set()
    while True:
        frame = _frame(programme, tuple(sorted(choices)))
        found = _best(frame, objective, price, liking)
        if found is None:
            return None
        scaled = found.scaled
        small = (scaled > 0.0) & (scaled < programme.least * (1.0 - 1e-9))
        added = {int(item) for item in np.flatnonzero(small)} - choices
        if not added:
            return replace(found, too_small=frozenset(too_small))
        choices |= added
        too_small |= added


def refined(
    programme: Programme, objective: str, price: FloatArray, liking: FloatArray, before: Optimum
) -> Optimum | None:
    """
    Return the best amounts of a programme that differs a little from one that was solved.

    Parameters
    ----------
    programme : Programme
        The programme.
    objective : str
        One of `service.planning.recipe_problem.OBJECTIVES`.
    price, liking : ndarray, shape (n_items,)
        As for `optimum`.
    before : Optimum
        The solution, whose choice of items is kept.

    Returns
    -------
    Optimum or None
        None where that choice keeps the limits no more.
    """
    frame = replace(_frame(programme, ()), low=before.low, high=before.high)
    found = _best(frame, objective, price, liking)
    if found is None:
        return None
    return replace(found, proven=before.proven, too_small=before.too_small)


def feasible(programme: Programme) -> bool:
    """
    Tell whether any amounts keep the limits of a programme.

    Parameters
    ----------
    programme : Programme
        The programme.

    Returns
    -------
    bool
        True when some do.
    """
    nothing = np.zeros(programme.item_count)
    loose = _frame(replace(programme, most_products=None), ())
    if loose.solve(nothing, 0.0, None) is None:
        return False
    if programme.most_products is None and not programme.least.any():
        return True
    frame = _frame(programme, tuple(range(programme.item_count)))
    return frame.solve(nothing, 0.0, None) is not None


def _frame(programme: Programme, choices: tuple[int, ...]) -> _Frame:
    """Return the programme without settled choices."""
    return _Frame(
        programme=programme,
        low=np.zeros(programme.item_count),
        high=_useful(programme) if choices else programme.highest,
        choices=choices,
        most_chosen=programme.most_products,
        rows=programme.rows,
        room=programme.room,
    )


def _useful(programme: Programme) -> FloatArray:
    """
    Return upper bounds that no best recipe passes; narrow ones make the solver's choices exact.

    Where using nothing keeps the limits, no single deviation of the best recipe is larger than
    what using nothing would cost; and nothing takes away what an item brings.
    """
    positive = (programme.rows >= 0.0).all(axis=1) & (programme.room >= 0.0)
    highest = programme.highest
    for row, room in zip(programme.rows[positive], programme.room[positive], strict=True):
        inside = np.where(row > 0.0, room / np.where(row > 0.0, row, 1.0), np.inf)
        highest = np.minimum(highest, inside * (1.0 + 1e-9) + 1e-9)
    if (programme.room < 0.0).any():
        return highest
    nothing = programme.badness(np.zeros(programme.item_count))
    most = programme.deviation.max(axis=0)
    served = programme.deviation.argmax(axis=0)
    room = np.sqrt(nothing / programme.weights[served])
    useful = np.where(most > 0.0, (100.0 + room) / np.maximum(most, 1e-300), highest)
    return np.minimum(highest, useful)


def _best(frame: _Frame, objective: str, price: FloatArray, liking: FloatArray) -> Optimum | None:
    """Return the best amounts among those that the frame leaves open."""
    nothing = np.zeros(price.size)
    proven = True
    if objective == LOWEST_COST:
        cheapest = frame.solve(price, 0.0, None)
        if cheapest is None:
            return None
        proven = cheapest.proven
        unit = max(cheapest.objective, 1e-9 * float(price.max(initial=0.0)), 1e-30)
        frame = frame.with_row(100.0 * price / unit, 100.0 * (1.0 + COST_SLACK))
    elif objective == FEWEST_PRODUCTS:
        fewest = frame.solve(nothing, 1.0, None)
        if fewest is None:
            return None
        proven = fewest.proven
        frame = replace(frame, most_chosen=round(fewest.objective))
    close = _closest(frame)
    if close is None:
        return None
    scaled = _without_needless(close[1], close[0], liking)
    return Optimum(scaled, proven and close[2], close[1].low, close[1].high)


def _closest(frame: _Frame) -> tuple[FloatArray, _Frame, bool] | None:
    """Return the amounts of least squares, the frame with its choices settled, and the proof."""
    programme = frame.programme
    nothing = np.zeros(programme.item_count)
    tangents = [SEEDS] * programme.weights.size
    best: tuple[float, FloatArray, _Frame] | None = None
    proven = True
    absolute, relative = BADNESS_TOLERANCE, RELATIVE_TOLERANCE
    if frame.choices:
        absolute, relative = CHOICE_TOLERANCE, RELATIVE_CHOICE_TOLERANCE
    until = time.monotonic() + SECONDS
    for _ in range(ROUNDS):
        found = frame.solve(nothing, 0.0, tangents)
        if found is None:
            break
        proven = proven and found.proven
        amounts = np.clip(found.values[: programme.item_count], frame.low, frame.high)
        settled = frame
        if frame.choices:
            settled = frame.with_support(found.values[-len(frame.choices) :] > 0.5)
            inner = _closest(settled)
            if inner is None:
                break
            amounts = inner[0]
        badness = programme.badness(amounts)
        if best is None or badness < best[0]:
            best = badness, amounts, settled
        if best[0] - found.objective <= absolute + relative * best[0]:
            break
        if frame.choices and time.monotonic() > until:
            proven = False
            break
        met = programme.deviations(amounts)
        items = programme.item_count
        seen = found.values[items : items + met.size]
        tangents = [
            np.unique(np.append(points, [here, there]))
            for points, here, there in zip(tangents, met, seen, strict=True)
        ]
    return None if best is None else (best[1], best[2], proven)


def _without_needless(frame: _Frame, scaled: FloatArray, cost: FloatArray) -> FloatArray:
    """Return the best liked of the amounts that are as close, without traces of items."""
    programme = frame.programme
    met = programme.deviations(scaled)
    snapped = np.where(np.abs(met) < SNAPPED, 0.0, met)
    unit = float(cost @ scaled) or 1.0
    for deviations in (snapped, met):
        found = solved(
            100.0 * cost / unit,
            frame.rows,
            frame.room,
            frame.low,
            frame.high,
            equal=programme.deviation,
            equal_to=deviations - programme.water_deviation,
        )
        if found is not None:
            scaled = np.clip(found.values, frame.low, frame.high)
            break
    for item in np.flatnonzero((scaled > 0.0) & (scaled < NEGLIGIBLE)):
        without = scaled.copy()
        without[item] = 0.0
        kept = not frame.room.size or (frame.rows @ without - frame.room).max() <= 1e-7
        if frame.low[item] == 0.0 and kept:
            scaled = without
    return scaled
