"""Which product goes into which tank: an integer programme over pairs that must not meet."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning.tank_products import APART, FORBIDDEN, TankProduct, verdict

MOST_TANKS: Final = 4
MOST_NODES: Final = 2_000
"""Most nodes of the search; a plan found by then is taken, balanced or not."""

GAP: Final = 0.02
"""Balance that is not worth searching for, as a share."""

LOAD_PARTS: Final = 1000
"""Parts that all loads together are counted in, whole ones; traces weigh nothing."""

APART_WEIGHT: Final = 4.0
"""Imbalance that one pair kept apart is worth, in loads of the whole recipe."""

Assignment = tuple[tuple[int, ...], ...]
"""Positions of the products in each tank."""


@dataclass(frozen=True)
class Pairs:
    """
    What pairs of a recipe's products do, by their positions.

    Attributes
    ----------
    forbidden, apart : tuple of tuple of int
        Pairs that never share a tank, and pairs that share none where it can be helped.
    """

    forbidden: tuple[tuple[int, int], ...]
    apart: tuple[tuple[int, int], ...]


def pairs_of(products: Sequence[TankProduct]) -> Pairs:
    """
    Return the pairs of a recipe that must or should not meet.

    Parameters
    ----------
    products : sequence of TankProduct
        The recipe.

    Returns
    -------
    Pairs
        By position.
    """
    found: dict[str, list[tuple[int, int]]] = {FORBIDDEN: [], APART: []}
    for first, product in enumerate(products):
        for second in range(first + 1, len(products)):
            said = verdict(product, products[second])
            if said is not None and said.kind in found:
                found[said.kind].append((first, second))
    return Pairs(tuple(found[FORBIDDEN]), tuple(found[APART]))


class _Programme:
    """Rows of an integer programme, added one at a time."""

    def __init__(self, column_count: int) -> None:
        self.column_count = column_count
        self.rows: list[NDArray[np.float64]] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def add(self, entries: Sequence[tuple[int, float]], lower: float, upper: float) -> None:
        """Add `lower <= sum of entries <= upper`."""
        row = np.zeros(self.column_count)
        for column, factor in entries:
            row[column] += factor
        self.rows.append(row)
        self.lower.append(lower)
        self.upper.append(upper)


def assigned(
    loads: Sequence[float],
    pairs: Pairs,
    tank_count: int,
    never_together: Collection[frozenset[int]] = (),
    *,
    all_used: bool = False,
) -> Assignment | None:
    """
    Assign products to tanks.

    Parameters
    ----------
    loads : sequence of float
        Mass of each product, which the tanks share evenly.
    pairs : Pairs
        What must and should not meet.
    tank_count : int
        Number of tanks, at most `MOST_TANKS`.
    never_together : collection of frozenset of int
        Sets of products of which no tank may hold all.
    all_used : bool
        Whether no tank may stay empty.

    Returns
    -------
    tuple of tuple of int or None
        Positions of the products of each tank; None when there is no such plan.

    Notes
    -----
    A product is in one tank, a forbidden pair in none; the objective is the heaviest tank as a
    share of all loads, and a penalty for each pair that is better kept apart. The first product
    stands in the first tank and the next in the first two, since tanks have no names yet.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    count = len(loads)
    parts = [float(round(LOAD_PARTS * load / sum(loads))) for load in loads]
    if all_used and count < tank_count:
        return None
    placed = count * tank_count
    heaviest = placed
    programme = _Programme(placed + 1 + len(pairs.apart))
    upper = np.ones(programme.column_count)
    upper[heaviest] = sum(parts)
    for product in range(count):
        row = [(product * tank_count + tank, 1.0) for tank in range(tank_count)]
        programme.add(row, 1.0, 1.0)
        for tank in range(product + 1, tank_count):
            upper[product * tank_count + tank] = 0.0
    for tank in range(tank_count):
        held = [product * tank_count + tank for product in range(count)]
        weighed = [(column, parts[place]) for place, column in enumerate(held)]
        programme.add([*weighed, (heaviest, -1.0)], -np.inf, 0.0)
        if all_used:
            programme.add([(column, 1.0) for column in held], 1.0, np.inf)
        for first, second in pairs.forbidden:
            programme.add([(held[first], 1.0), (held[second], 1.0)], -np.inf, 1.0)
        for number, (first, second) in enumerate(pairs.apart):
            both = [(held[first], 1.0), (held[second], 1.0), (heaviest + 1 + number, -1.0)]
            programme.add(both, -np.inf, 1.0)
        for group in never_together:
            programme.add([(held[each], 1.0) for each in group], -np.inf, len(group) - 1.0)
    objective = np.zeros(programme.column_count)
    objective[heaviest] = 1.0
    objective[heaviest + 1 :] = APART_WEIGHT * LOAD_PARTS
    found: Any = milp(
        objective,
        integrality=np.ones(programme.column_count),
        bounds=Bounds(np.zeros(programme.column_count), upper),
        constraints=LinearConstraint(np.array(programme.rows), programme.lower, programme.upper),
        options={"mip_rel_gap": GAP, "node_limit": MOST_NODES},
    )
    if found.x is None:
        return None
    chosen = np.round(found.x[:placed]).reshape(count, tank_count)
    return tuple(
        tuple(int(product) for product in np.flatnonzero(chosen[:, tank]))
        for tank in range(tank_count)
    )
