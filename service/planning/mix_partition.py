"""
Which strengths share a can: the exact cheapest split of a sorted line of strengths.

A can is as strong as the weakest plant that it serves bears, so the plants of one can are
neighbours when they are sorted by the strength that they bear. What a can costs is what its plants
get less than they bear: the volume times the missing share, summed.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.kernel import kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAME_STRENGTH: Final = 1e-4
"""Relative difference up to which two strengths count as one; no balance shows it."""

TOLERANCE_SLACK: Final = 1e-9
"""Relative difference that binary fractions may make to a tolerance."""


@kernel
def fill_levels(group: np.ndarray, strength: np.ndarray, level: np.ndarray) -> int:
    """
    Fill in which strength each row has; rows are sorted by group and then by strength.

    Parameters
    ----------
    group : ndarray of int, shape (n_rows,)
        Group of each row, ascending.
    strength : ndarray, shape (n_rows,)
        Strength that each row bears, ascending within its group, above 0 [g/L or mL/L].
    level : ndarray of int, shape (n_rows,)
        Receives the level of each row; the first row of a level is its weakest.

    Returns
    -------
    int
        Number of levels.
    """
    count = 0
    lowest = 0.0
    for row in range(group.size):
        another = row == 0 or group[row] != group[row - 1]
        if another or strength[row] > (1.0 + SAME_STRENGTH) * lowest:
            lowest = strength[row]
            count += 1
        level[row] = count - 1
    return count


@kernel
def _fill_sums(
    strength: np.ndarray, volume: np.ndarray, volumes: np.ndarray, shares: np.ndarray
) -> None:
    """Add up the volume, and of the volume over the strength, before each level."""
    volumes[0], shares[0] = 0.0, 0.0
    for level in range(strength.size):
        volumes[level + 1] = volumes[level] + volume[level]
        shares[level + 1] = shares[level] + volume[level] / strength[level]


@kernel
def fill_cheapest_splits(
    strength: np.ndarray,
    volume: np.ndarray,
    cost: np.ndarray,
    start: np.ndarray,
    sums: np.ndarray,
    queue: np.ndarray,
) -> None:
    """
    Fill in what the cheapest split into one, two, three … cans costs.

    Parameters
    ----------
    strength : ndarray, shape (n_levels,)
        Strengths, strictly ascending, above 0 [g/L or mL/L].
    volume : ndarray, shape (n_levels,)
        Volume that is needed of each, above 0 [L].
    cost : ndarray, shape (n_cans,)
        Receives the cost of 1 … n_cans cans [L].
    start : ndarray of int, shape (n_cans, n_levels)
        Receives the first level of the last can, for each number of cans and each last level.
    sums : ndarray, shape (4, n_levels + 1)
        Overwritten.
    queue : ndarray of int, shape (n_levels,)
        Overwritten.

    Notes
    -----
    A can over the levels a … b is as strong as a and costs
    ``c(a, b) = W(a, b) - x_a U(a, b)``, with the volumes W and the volumes over strengths U summed
    over a … b. One more level adds ``v (1 - x_a / x_{b+1})``, which falls when a rises, so that
    ``c(a, b) + c(a', b + 1) <= c(a, b + 1) + c(a', b)`` for a < a': the costs have the Monge
    property, and the best first level never falls when the last one rises. Here even more holds:
    with the prefix sums W_b and U_b, the cheapest cost with k cans up to b is ::

        F_k(b) = W_{b+1} + min over a of (F_{k-1}(a - 1) - W_a + x_a U_a) - x_a U_{b+1}

    which is the lower envelope of lines in U_{b+1}. The slopes fall with a and the places at which
    it is read rise with b, so that a monotone queue of lines gives every number of cans in
    O(n_levels) after sorting, exactly, and not in O(n_levels log n_levels).
    """
    levels = strength.size
    volumes, shares = sums[0], sums[1]
    _fill_sums(strength, volume, volumes, shares)
    before, offset = sums[2], sums[3]
    for last in range(levels):
        start[0, last] = 0
        before[last] = volumes[last + 1] - strength[0] * shares[last + 1]
    cost[0] = before[levels - 1]
    for cans in range(1, cost.size):
        head, tail = 0, 0
        earlier = before[cans - 1]
        for last in range(cans, levels):
            offset[last] = earlier - volumes[last] + strength[last] * shares[last]
            earlier = before[last]
            while tail - head >= 2:
                one, two = queue[tail - 2], queue[tail - 1]
                if (offset[last] - offset[one]) * (strength[two] - strength[one]) <= (
                    offset[two] - offset[one]
                ) * (strength[last] - strength[one]):
                    tail -= 1
                else:
                    break
            queue[tail] = last
            tail += 1
            place = shares[last + 1]
            while (
                tail - head >= 2
                and offset[queue[head + 1]] - strength[queue[head + 1]] * place
                <= offset[queue[head]] - strength[queue[head]] * place
            ):
                head += 1
            first = queue[head]
            start[cans, last] = first
            before[last] = max(volumes[last + 1] + offset[first] - strength[first] * place, 0.0)
        cost[cans] = before[levels - 1]


@kernel
def fill_fewest_cans(
    strength: np.ndarray,
    volume: np.ndarray,
    kept: float,
    start: np.ndarray,
    count: np.ndarray,
    sums: np.ndarray,
    stack: np.ndarray,
) -> None:
    """
    Fill in the fewest cans that keep a tolerance, and among those the cheapest split.

    Parameters
    ----------
    strength : ndarray, shape (n_levels,)
        Strengths, strictly ascending, above 0 [g/L or mL/L].
    volume : ndarray, shape (n_levels,)
        Volume that is needed of each, above 0 [L].
    kept : float
        Share of its own strength that every plant gets at least, 0 to 1 [dimensionless].
    start : ndarray of int, shape (n_levels,)
        Receives the first level of the last can, for each last level.
    count : ndarray of int, shape (n_levels,)
        Receives the number of cans up to each level.
    sums : ndarray, shape (4, n_levels + 1)
        Overwritten.
    stack : ndarray of int, shape (n_levels,)
        Overwritten.

    Notes
    -----
    Filling cans from the weakest plant upwards, each as far as the tolerance goes, gives the fewest
    cans N(b) up to every level b. A split with N(b) cans has its last can begin behind a level of
    N(b) - 1 cans, and no lower than the tolerance lets it: levels of one number of cans are
    neighbours, and the lines of the envelope (see `fill_cheapest_splits`) that they may use only
    grow in number when b falls. Read backwards, each number of cans is a monotone stack of lines,
    and the whole is O(n_levels) and exact.
    """
    levels = strength.size
    volumes, shares = sums[0], sums[1]
    _fill_sums(strength, volume, volumes, shares)
    least, offset = sums[2], sums[3]
    first = 0
    for last in range(levels):
        while strength[first] < kept * strength[last] * (1.0 - TOLERANCE_SLACK):
            first += 1
        start[last] = first
        count[last] = 1 if first == 0 else count[first - 1] + 1
    begin = 0
    while begin < levels:
        end = begin
        while end + 1 < levels and count[end + 1] == count[begin]:
            end += 1
        size, best = 0, 0
        line = begin + 1
        for last in range(end, begin - 1, -1):
            while line > start[last]:
                line -= 1
                earlier = 0.0 if line == 0 else least[line - 1]
                offset[line] = earlier - volumes[line] + strength[line] * shares[line]
                while size >= 2:
                    one, two = stack[size - 2], stack[size - 1]
                    if (offset[one] - offset[line]) * (strength[one] - strength[two]) >= (
                        offset[one] - offset[two]
                    ) * (strength[one] - strength[line]):
                        size -= 1
                    else:
                        break
                stack[size] = line
                size += 1
                best = min(best, size - 1)
            place = shares[last + 1]
            while (
                best + 1 < size
                and offset[stack[best + 1]] - strength[stack[best + 1]] * place
                <= offset[stack[best]] - strength[stack[best]] * place
            ):
                best += 1
            chosen = stack[best]
            start[last] = chosen
            least[last] = max(volumes[last + 1] + offset[chosen] - strength[chosen] * place, 0.0)
        begin = end + 1


@dataclass(frozen=True, eq=False)
class CheapestSplits:
    """
    The cheapest splits of one line of strengths into one can, two cans and so on.

    Attributes
    ----------
    cost_l : ndarray, shape (n_cans,)
        Volume times missing share, summed, with 1 … n_cans cans; it never rises [L].
    start : ndarray of int, shape (n_cans, n_levels)
        First level of the last can.
    """

    cost_l: FloatArray
    start: IntArray

    def firsts(self, cans: int) -> list[int]:
        """
        Return the first level of every can, weakest first.

        Parameters
        ----------
        cans : int
            Number of cans, from 1.

        Returns
        -------
        list of int
            Ascending; the first is 0.
        """
        firsts = []
        last = self.start.shape[1] - 1
        for count in range(cans - 1, -1, -1):
            firsts.append(int(self.start[count, last]))
            last = firsts[-1] - 1
        return firsts[::-1]


def cheapest_splits(strength: FloatArray, volume_l: FloatArray, most: int) -> CheapestSplits:
    """
    Return the cheapest splits into up to so many cans.

    Parameters
    ----------
    strength : ndarray, shape (n_levels,)
        Strengths, strictly ascending, above 0 [g/L or mL/L].
    volume_l : ndarray, shape (n_levels,)
        Volume that is needed of each [L].
    most : int
        Largest number of cans, from 1; more than there are levels help nobody.

    Returns
    -------
    CheapestSplits
        Exact, for every number of cans.
    """
    levels = strength.size
    cans = min(most, levels)
    cost = np.zeros(cans)
    start = np.zeros((cans, levels), dtype=np.int64)
    sums = np.zeros((4, levels + 1))
    fill_cheapest_splits(strength, volume_l, cost, start, sums, np.zeros(levels, dtype=np.int64))
    # Sums of many volumes may round by their last digit; a can more is never worse.
    return CheapestSplits(np.minimum.accumulate(np.maximum(cost, 0.0)), start)


def fewest_cans(strength: FloatArray, volume_l: FloatArray, tolerance_percent: float) -> list[int]:
    """
    Return the cheapest split among those with the fewest cans that keep a tolerance.

    Parameters
    ----------
    strength : ndarray, shape (n_levels,)
        Strengths, strictly ascending, above 0 [g/L or mL/L].
    volume_l : ndarray, shape (n_levels,)
        Volume that is needed of each [L].
    tolerance_percent : float
        Most by which a plant may get less than its own strength, 0 to 100 [percent].

    Returns
    -------
    list of int
        First level of every can, weakest first.
    """
    levels = strength.size
    start, count = np.zeros((2, levels), dtype=np.int64)
    sums = np.zeros((4, levels + 1))
    kept = 1.0 - tolerance_percent / 100.0
    stack = np.zeros(levels, dtype=np.int64)
    fill_fewest_cans(strength, volume_l, kept, start, count, sums, stack)
    firsts = []
    last = levels - 1
    while last >= 0:
        firsts.append(int(start[last]))
        last = firsts[-1] - 1
    return firsts[::-1]


def allotted(costs: list[FloatArray], most: int) -> list[int]:
    """
    Return how many cans each group gets so that all together cost least.

    Parameters
    ----------
    costs : list of ndarray
        Cost of 1, 2, 3 … cans in each group [L].
    most : int
        Cans to share out, at least one for each group.

    Returns
    -------
    list of int
        Cans of each group; no can is given out that saves nothing.

    Notes
    -----
    Exact dynamic programme over the groups: the least cost of the first groups with so many cans
    is the least, over the cans of the last of them, of what the others cost with the rest.
    """
    spare = most - len(costs)
    least = np.zeros(spare + 1)
    taken: list[IntArray] = []
    for cost in costs:
        reach = min(cost.size - 1, spare)
        table = np.full((reach + 1, spare + 1), np.inf)
        for more in range(reach + 1):
            table[more, more:] = least[: spare + 1 - more] + cost[more]
        taken.append(np.argmin(table, axis=0))
        least = np.min(table, axis=0)
    places = np.flatnonzero(least <= least[spare] * (1.0 + 1e-12))
    left = int(places[0])
    cans = []
    for each in reversed(taken):
        more = int(each[left])
        cans.append(1 + more)
        left -= more
    return cans[::-1]
