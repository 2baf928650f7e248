"""
The search for tanks that stay clear: assign, look at the chemistry, forbid what clouds, again.

The integer programme of `service.planning.tank_assignment` knows pairs; that a set of salts
clouds only together, as potassium nitrate with ammonium sulfate does, is found by computing the
tank. The least set of products that clouds is then kept from sharing a tank, and the programme
asked again. A product that is too much for one tank is divided between several.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.planning.tank_assignment import MOST_TANKS, Assignment, assigned, pairs_of
from service.planning.tank_chemistry import TankLimit, TankWater, is_clear, tank_limit
from service.planning.tank_products import TankProduct

MOST_ROUNDS: Final = 30
"""Most assignments looked at for the strongest plan of one number of tanks."""

MOST_SPLITS: Final = 2
"""Most products that are divided between tanks."""

IMPROVEMENT: Final = 1.02
"""Gain of the factor that is worth looking for."""

MOST_ALIKE: Final = 24
"""Most sets of like pieces that are kept apart when one of them clouds."""

_Held = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class TankPlan:
    """
    Products in tanks, and how far each can be concentrated.

    Attributes
    ----------
    tanks : tuple of tuple of TankProduct
        Contents of each tank, for a litre of the working solution.
    limits : tuple of TankLimit
        Limit of each tank.
    """

    tanks: tuple[tuple[TankProduct, ...], ...]
    limits: tuple[TankLimit, ...]

    @property
    def limiting(self) -> int:
        """Position of the tank that clouds first."""
        return min(range(len(self.limits)), key=lambda tank: self.limits[tank].highest_factor)

    @property
    def highest_factor(self) -> float:
        """Factor that every tank carries."""
        return self.limits[self.limiting].highest_factor


class TankBook:
    """
    What has been computed of the tanks of one recipe.

    Parameters
    ----------
    products : sequence of TankProduct
        The recipe; a product that is divided stands in it more than once.
    water : TankWater
        Water and temperatures of the tanks.
    known : TankBook or None
        A book of the same products and water, divided otherwise, for what it has computed.
    """

    def __init__(
        self,
        products: Sequence[TankProduct],
        water: TankWater,
        known: "TankBook | None" = None,
    ) -> None:
        self.products = tuple(products)
        self.water = water
        self.loads = [product.mass_g_per_l for product in products]
        self.pairs = pairs_of(products)
        self._limits: dict[_Held, TankLimit] = {} if known is None else known._limits
        self._clear: dict[tuple[_Held, float], bool] = {} if known is None else known._clear

    def held(self, group: frozenset[int]) -> _Held:
        """Return what a group holds, the pieces of one product together."""
        amounts: dict[str, float] = {}
        for place in sorted(group):
            product = self.products[place]
            amounts[product.key] = amounts.get(product.key, 0.0) + product.amount
        return tuple((key, float(f"{amounts[key]:.9g}")) for key in sorted(amounts))

    def alike(self, group: frozenset[int]) -> list[frozenset[int]]:
        """Return the group, and groups of like pieces, `MOST_ALIKE` at most."""
        kinds = [(product.key, product.amount) for product in self.products]
        choices = [
            itertools.combinations(
                [place for place, kind in enumerate(kinds) if kind == each], count
            )
            for each, count in Counter(kinds[place] for place in group).items()
        ]
        every = map(frozenset, map(itertools.chain.from_iterable, itertools.product(*choices)))
        return [group, *(each for each in itertools.islice(every, MOST_ALIKE) if each != group)]

    def limit(self, group: frozenset[int]) -> TankLimit:
        """Return how far a tank with these products can be concentrated."""
        held = self.held(group)
        if held not in self._limits:
            products = [self.products[each] for each in sorted(group)]
            self._limits[held] = tank_limit(merged(products), self.water)
        return self._limits[held]

    def carries(self, group: frozenset[int], factor: float) -> bool:
        """Tell whether a tank with these products is clear at a factor."""
        held = self.held(group)
        if held in self._limits:
            return self._limits[held].highest_factor >= factor
        if (held, factor) not in self._clear:
            products = [self.products[each] for each in sorted(group)]
            self._clear[held, factor] = is_clear(merged(products), self.water, factor)
        return self._clear[held, factor]

    def plan(self, assignment: Assignment) -> TankPlan:
        """Return the plan of an assignment; empty tanks are left out."""
        groups = [group for group in assignment if group]
        return TankPlan(
            tuple(merged([self.products[each] for each in group]) for group in groups),
            tuple(self.limit(frozenset(group)) for group in groups),
        )

    def clouding(self, group: frozenset[int], factor: float) -> frozenset[int]:
        """Return a least set of these products that is not clear at a factor."""
        held = set(group)
        for each in sorted(group, key=lambda place: self.loads[place]):
            if len(held) > 1 and not self.carries(frozenset(held - {each}), factor):
                held.discard(each)
        return frozenset(held)


def merged(products: Sequence[TankProduct]) -> tuple[TankProduct, ...]:
    """
    Return products with the parts of a divided one put together again.

    Parameters
    ----------
    products : sequence of TankProduct
        Contents of a tank.

    Returns
    -------
    tuple of TankProduct
        Each product once, in the order in which they stood.
    """
    found: dict[str, TankProduct] = {}
    for product in products:
        held = found.get(product.key)
        found[product.key] = (
            product if held is None else held.shared((held.amount + product.amount) / held.amount)
        )
    return tuple(found.values())


@dataclass(frozen=True)
class _Found:
    """A plan with the assignment and the book that it came from."""

    plan: TankPlan
    assignment: Assignment
    book: TankBook


def _balanced(book: TankBook, tank_count: int) -> _Found | None:
    """Return the plan that the pairs and the loads alone ask for."""
    assignment = assigned(book.loads, book.pairs, tank_count, all_used=True)
    return None if assignment is None else _Found(book.plan(assignment), assignment, book)


def _strongest(start: _Found, tank_count: int) -> _Found:
    """
    Return the strongest plan found for one number of tanks.

    The aim is halved in on between what has been reached and what the weakest product carries
    alone. Sets of products that cloud below an aim are kept from sharing a tank at that aim, and
    are found in the tanks of the assignments that miss it.
    """
    best, book = start, start.book
    everything = range(len(book.products))
    high = min(book.limit(frozenset({place})).highest_factor for place in everything)
    clouding: dict[frozenset[int], float] = {}
    aim = high
    for _ in range(MOST_ROUNDS):
        low = best.plan.highest_factor
        if high <= IMPROVEMENT * low:
            break
        together = [group for group, limit in clouding.items() if limit < aim]
        assignment = assigned(book.loads, book.pairs, tank_count, together, all_used=True)
        if assignment is None:
            high, aim = aim, (low * aim) ** 0.5 if low > 0.0 else 0.5 * aim
            continue
        found = _Found(book.plan(assignment), assignment, book)
        if found.plan.highest_factor > low:
            best = found
        if found.plan.highest_factor >= aim:
            aim = (found.plan.highest_factor * high) ** 0.5
            continue
        for tank in assignment:
            group = frozenset(tank)
            if group and not book.carries(group, aim):
                least = book.clouding(group, aim)
                for each in book.alike(least):
                    clouding[each] = book.limit(least).highest_factor
    return best


def _divided(found: _Found, pieces: int) -> TankBook | None:
    """Return the book of the recipe with what clouds first divided, None where it is already."""
    book, reached = found.book, found.plan.highest_factor
    tank = frozenset(found.assignment[found.plan.limiting])
    group = book.clouding(tank, IMPROVEMENT * reached)
    heaviest = max(group, key=lambda place: book.loads[place])
    key = book.products[heaviest].key
    held = [each for each in book.products if each.key == key]
    if len(held) == pieces:
        return None
    part = merged(held)[0].shared(1.0 / pieces)
    rest = [each for each in book.products if each.key != key]
    return TankBook([*rest, *([part] * pieces)], book.water, book)


def _with_a_division(found: _Found, tank_count: int, factor: float) -> _Found | None:
    """
    Return the strongest plan with what clouds first divided.

    A tank for something else, such as calcium, takes none of it: as many pieces as tanks would then
    lie unevenly, so that fewer are tried as well.
    """
    best: _Found | None = None
    for pieces in range(tank_count, 1, -1):
        parts = _divided(found, pieces)
        start = None if parts is None else _balanced(parts, tank_count)
        if start is None:
            continue
        tried = _strongest(start, tank_count)
        if best is None or tried.plan.highest_factor > best.plan.highest_factor:
            best = tried
        if best.plan.highest_factor >= factor:
            break
    return best


def _searched(
    book: TankBook, tank_count: int, factor: float, fewer: _Found | None
) -> _Found | None:
    """
    Return a plan of one number of tanks.

    Whether there is one for a factor does not depend on how far the search went for another: the
    balanced plan, the strongest, and the strongest of each division are the same for every factor,
    and the first of them that carries it is taken.
    """
    reached = 0.0 if fewer is None else fewer.plan.highest_factor
    found = _balanced(book, tank_count)
    if found is None and fewer is not None and reached < factor:
        # More tanks than products, perhaps: what clouds first is divided.
        found = _with_a_division(fewer, tank_count, factor)
    if found is None or found.plan.highest_factor >= max(factor, reached):
        return found
    found = _strongest(found, tank_count)
    for _ in range(MOST_SPLITS if tank_count > 1 else 0):
        if found.plan.highest_factor >= factor:
            break
        again = _with_a_division(found, tank_count, factor)
        if again is None or again.plan.highest_factor <= found.plan.highest_factor:
            break
        found = again
    return found


def _with_a_tank_more(fewer: _Found, aim: float) -> TankPlan | None:
    """Return a plan of fewer tanks with one product moved into an empty one."""
    choices: list[tuple[float, int, TankPlan]] = []
    for tank, group in enumerate(fewer.assignment):
        for product in group:
            if len(group) < 2:
                continue
            rest = tuple(each for each in group if each != product)
            others = [each for place, each in enumerate(fewer.assignment) if place != tank]
            plan = fewer.book.plan((*others, rest, (product,)))
            if plan.highest_factor >= aim:
                heaviest = max(sum(each.mass_g_per_l for each in held) for held in plan.tanks)
                choices.append((heaviest, len(choices), plan))
    return min(choices)[2] if choices else None


def best_plans(
    products: Sequence[TankProduct], water: TankWater, factor: float, most_tanks: int
) -> dict[int, TankPlan]:
    """
    Return the best plan found for every number of tanks.

    Parameters
    ----------
    products : sequence of TankProduct
        The recipe.
    water : TankWater
        Water and temperatures of the tanks.
    factor : float
        Concentration factor that the tanks are wanted for.
    most_tanks : int
        Largest number of tanks to look at.

    Returns
    -------
    dict of int to TankPlan
        By number of tanks; a number that pairs forbid is left out, and a plan uses fewer tanks
        where one more is no use. The factor that all tanks carry never falls with their number.
    """
    book = TankBook(products, water)
    plans: dict[int, TankPlan] = {}
    fewer: _Found | None = None
    for tank_count in range(1, min(most_tanks, MOST_TANKS) + 1):
        reached = 0.0 if fewer is None else fewer.plan.highest_factor
        found = _searched(book, tank_count, factor, fewer)
        if fewer is not None and (found is None or found.plan.highest_factor < reached):
            plans[tank_count] = _with_a_tank_more(fewer, reached) or fewer.plan
        elif found is not None:
            plans[tank_count] = found.plan
            fewer = found
    return plans
