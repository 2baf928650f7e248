"""
Amounts of a recipe in whole steps of the instruments.

Steps are chosen so that every limit is kept, and among those the closest or the cheapest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning.recipe_measuring import Way
from service.planning.recipe_programme import Programme

FloatArray = NDArray[np.float64]

MOST_MOVES: Final = 400
"""Steps up or down that are tried to bring rounded amounts closest."""

KEPT: Final = 1e-4
"""Excess over a limit that is called none [percent of the limit]."""


@dataclass(frozen=True, eq=False)
class Yardstick:
    """
    What rounded amounts are judged by, many at once.

    Attributes
    ----------
    rows : ndarray, shape (n_bounds, n_items)
        What a gram or millilitre in a litre adds to the excess over each limit [percent].
    room : ndarray, shape (n_bounds,)
        What the water leaves of each limit [percent].
    deviation : ndarray, shape (n_targets, n_items)
        What a gram or millilitre in a litre adds to a target [percent].
    water_deviation : ndarray, shape (n_targets,)
        Deviations of the water alone [percent].
    weights : ndarray, shape (n_targets,)
        Importance of the targets.
    largest : ndarray, shape (n_items,)
        Largest amounts [g/L or mL/L].
    cost : ndarray or None
        Price of a gram or millilitre, where cost counts before closeness.
    """

    rows: FloatArray
    room: FloatArray
    deviation: FloatArray
    water_deviation: FloatArray
    weights: FloatArray
    largest: FloatArray
    cost: FloatArray | None

    def excess(self, amounts: FloatArray) -> FloatArray:
        """
        Return the sums of the excesses over limits.

        Parameters
        ----------
        amounts : ndarray, shape (n_candidates, n_items)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        ndarray, shape (n_candidates,)
            Sums [percent]; 0 where all limits are kept.
        """
        over = np.maximum(amounts @ self.rows.T - self.room - KEPT, 0.0).sum(axis=1)
        beyond = np.maximum(amounts - self.largest * (1.0 + 1e-9), 0.0).sum(axis=1)
        total: FloatArray = over + beyond
        return total

    def badness(self, amounts: FloatArray) -> FloatArray:
        """
        Return the costs, or the weighted sums of the squared deviations.

        Parameters
        ----------
        amounts : ndarray, shape (n_candidates, n_items)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        ndarray, shape (n_candidates,)
            Sums [percent squared], or costs.
        """
        if self.cost is not None:
            price: FloatArray = amounts @ self.cost
            return price
        met = amounts @ self.deviation.T + self.water_deviation
        total: FloatArray = met**2 @ self.weights
        return total


def yardstick_of(programme: Programme, cost: FloatArray | None) -> Yardstick:
    """
    Return what the rounded amounts of a programme are judged by.

    Parameters
    ----------
    programme : Programme
        The programme.
    cost : ndarray or None
        Price of a gram or millilitre, where cost counts before closeness.

    Returns
    -------
    Yardstick
        The same limits and targets, by the gram and millilitre.
    """
    return Yardstick(
        rows=programme.rows / programme.scale,
        room=programme.room,
        deviation=programme.deviation / programme.scale,
        water_deviation=programme.water_deviation,
        weights=programme.weights,
        largest=programme.highest * programme.scale,
        cost=cost,
    )


def rounded(exact: FloatArray, ways: Sequence[Way], yardstick: Yardstick) -> FloatArray:
    """
    Return amounts in whole steps that keep the limits and are as close as steps allow.

    Nearest steps first; then single steps, and pairs of steps, up and down while that is better.

    Parameters
    ----------
    exact : ndarray, shape (n_items,)
        Exact amounts in a litre [g/L or mL/L].
    ways : sequence of Way
        How each item is measured.
    yardstick : Yardstick
        What the amounts are judged by.

    Returns
    -------
    ndarray, shape (n_items,)
        Rounded amounts in a litre [g/L or mL/L].
    """
    step = np.array([way.step_per_l for way in ways])
    movable = np.flatnonzero((step > 0.0) & (exact > 0.0))
    if not movable.size:
        return exact
    size = np.where(step > 0.0, step, 1.0)
    fewest = np.ceil(np.array([way.least_per_l for way in ways]) / size - 1e-9)
    # What is less than can be measured is none: plans that know the least do not ask for it.
    wanted = exact >= 0.999 * fewest * step
    movable = movable[wanted[movable]]
    steps = np.where(wanted, np.maximum(np.floor(exact / size + 0.5), fewest), 0.0)
    steps = np.where(exact > 0.0, steps, 0.0)
    singles = np.zeros((2 * movable.size, exact.size))
    singles[np.arange(movable.size), movable] = 1.0
    singles[movable.size + np.arange(movable.size), movable] = -1.0
    one, other = np.triu_indices(len(singles), 1)
    pairs = singles[one] + singles[other]
    moves = np.vstack([singles, pairs[np.abs(pairs).sum(axis=1) == 2.0]])

    def amounts_of(counts: FloatArray) -> FloatArray:
        return np.where(step > 0.0, counts * step, exact)

    if not movable.size:
        return amounts_of(steps)
    found = steps
    excess = float(yardstick.excess(amounts_of(found)[None, :])[0])
    badness = float(yardstick.badness(amounts_of(found)[None, :])[0])
    for _ in range(MOST_MOVES):
        tried = found + moves
        tried = tried[(tried[:, movable] >= fewest[movable]).all(axis=1)]
        if not len(tried):
            break
        excesses = yardstick.excess(amounts_of(tried))
        badnesses = yardstick.badness(amounts_of(tried))
        place = int(np.lexsort((badnesses, np.round(excesses, 9)))[0])
        worse = excesses[place] > excess - 1e-9
        if worse and (
            excesses[place] > excess + 1e-9 or badnesses[place] >= badness * (1.0 - 1e-9) - 1e-12
        ):
            break
        found, excess, badness = tried[place], float(excesses[place]), float(badnesses[place])
    return amounts_of(found)
