"""Stock plans: concentrates in tanks that stay clear, or why there are none."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Any, Final

from service.planning.tank_assignment import MOST_TANKS
from service.planning.tank_chemistry import MODEL, RANGE, ROOM, TankLimit, TankWater, tank_limit
from service.planning.tank_products import FORBIDDEN, TankProduct, verdict
from service.planning.tank_search import TankPlan, best_plans

SIGNIFICANT_DIGITS: Final = 3


@dataclass(frozen=True, eq=False)
class StockPlan:
    """
    Tanks for a recipe.

    Attributes
    ----------
    feasible : bool
        Whether the tanks are those that were asked for, rather than the nearest that there are.
    plan : TankPlan or None
        The tanks; None where no number of tanks keeps the products apart, or none is clear.
    factor : float or None
        Concentration factor of the tanks.
    best : TankLimit or None
        What limits the tanks when they are concentrated further.
    one_tank : TankLimit
        How far everything could be concentrated in one tank, by its chemistry.
    apart : tuple of tuple
        Pairs of products that share no tank, with what happens if they do.
    conflicts : tuple of dict
        Limits that collide, where it is not feasible.
    nearest : dict or None
        Fields of a request that would be feasible.
    """

    feasible: bool
    plan: TankPlan | None
    factor: float | None
    best: TankLimit | None
    one_tank: TankLimit
    apart: tuple[tuple[str, str, str], ...]
    conflicts: tuple[dict[str, Any], ...] = ()
    nearest: dict[str, Any] | None = None


@dataclass(frozen=True, eq=False)
class StockWish:
    """
    What is asked for.

    Attributes
    ----------
    products : tuple of TankProduct
        The recipe, for a litre of the working solution.
    water : TankWater
        Water and temperatures of the tanks.
    factor : float
        Concentration factor.
    tank_count : int or None
        Number of tanks; None for the fewest that carry the factor.
    by_ratio : bool
        Whether the factor was given as the ratio of an injector.
    beside_water : bool
        Whether that ratio counts what is added beside the water, rather than in the whole.
    """

    products: tuple[TankProduct, ...]
    water: TankWater
    factor: float
    tank_count: int | None
    by_ratio: bool
    beside_water: bool = False

    def nearest(self, factor: float, tank_count: int) -> dict[str, Any]:
        """Return the fields of a request for a factor and a number of tanks."""
        given = factor - 1.0 if self.beside_water else factor
        return {self.factor_name: given, "tank_count": tank_count}

    @property
    def factor_name(self) -> str:
        """Name of the field that gave the factor."""
        return "injector_ratio" if self.by_ratio else "concentration_factor"


def pairs_apart(products: Sequence[TankProduct]) -> tuple[tuple[str, str, str], ...]:
    """
    Return the pairs of products that must not share a tank.

    Parameters
    ----------
    products : sequence of TankProduct
        The recipe.

    Returns
    -------
    tuple of (str, str, str)
        Two names and what happens.
    """
    found = []
    for place, product in enumerate(products):
        for other in products[place + 1 :]:
            said = verdict(product, other)
            if said is not None and said.kind == FORBIDDEN:
                reasons = dict.fromkeys(rule.reason for rule in said.rules)
                found.append((product.key, other.key, "; ".join(reasons)))
    return tuple(found)


def rounded_down(factor: float) -> float:
    """
    Return a factor that is safely below another one, in few digits.

    Parameters
    ----------
    factor : float
        More than 0.

    Returns
    -------
    float
        Three significant digits, rounded down.
    """
    step = 10.0 ** (floor(log10(factor)) - SIGNIFICANT_DIGITS + 1)
    return float(f"{floor(factor / step + 1e-9) * step:.6g}")


def limit_in_words(limit: TankLimit) -> str:
    """
    Return what stops a tank from being stronger.

    Parameters
    ----------
    limit : TankLimit
        Its limit.

    Returns
    -------
    str
        Part of a sentence.
    """
    if limit.limited_by == ROOM:
        return "the products then fill the tank and leave no room for water"
    if limit.limited_by == MODEL:
        return "the chemistry of the model holds no further"
    if limit.solid is None:
        return "nothing comes out in the range that is looked at"
    name = limit.solid.replace("_", " ")
    return f"{name} comes out at {limit.at_celsius:.0f} °C"


def stock_plan(wish: StockWish) -> StockPlan:
    """
    Return tanks for a recipe.

    Parameters
    ----------
    wish : StockWish
        What is asked for.

    Returns
    -------
    StockPlan
        The tanks, or the nearest that there are.
    """
    one_tank = tank_limit(wish.products, wish.water)
    apart = pairs_apart(wish.products)
    asked = wish.tank_count
    wanted = wish.factor
    plans = best_plans(wish.products, wish.water, wanted, asked or MOST_TANKS)
    chosen = _carrying(plans, wish) if asked is None else _asked(plans, wish, asked)
    if chosen is not None:
        plan = plans[chosen]
        return StockPlan(
            feasible=True,
            plan=plan,
            factor=wish.factor,
            best=plan.limits[plan.limiting],
            one_tank=one_tank,
            apart=apart,
        )
    if asked is not None and asked < MOST_TANKS:
        more = best_plans(wish.products, wish.water, wanted, MOST_TANKS)
        plans = {**more, **plans}
    return _infeasible(wish, plans, one_tank, apart)


def _fits(plan: TankPlan, factor: float) -> bool:
    """Tell whether tanks carry a factor, and whether so many litres go into one at all."""
    return plan.highest_factor >= factor and len(plan.tanks) <= factor


def _carrying(plans: dict[int, TankPlan], wish: StockWish) -> int | None:
    """Return the fewest tanks that carry the factor."""
    for count in sorted(plans):
        if _fits(plans[count], wish.factor):
            return count
    return None


def _asked(plans: dict[int, TankPlan], wish: StockWish, asked: int) -> int | None:
    """Return the number of tanks that was asked for, if so many carry the factor."""
    plan = plans.get(asked)
    if plan is None or not _fits(plan, wish.factor):
        return None
    return asked


def _nearest_count(plans: dict[int, TankPlan], wish: StockWish) -> int | None:
    """Return the number of tanks that comes nearest to the factor; the fewest where several do."""
    best, reached = None, 0.0
    for count, plan in sorted(plans.items()):
        used = len(plan.tanks)
        carried = min(plan.highest_factor, max(wish.factor, float(used)))
        if plan.highest_factor >= used and carried > reached:
            best, reached = count, carried
            if carried >= wish.factor:
                break
    return best


def _infeasible(
    wish: StockWish,
    plans: dict[int, TankPlan],
    one_tank: TankLimit,
    apart: tuple[tuple[str, str, str], ...],
) -> StockPlan:
    """Return why there is no plan, and the nearest there is."""
    asked = wish.tank_count
    conflicts: list[dict[str, Any]] = []
    fewest = min(plans) if plans else None
    if fewest is None or (asked is not None and asked < fewest):
        conflicts.append(_count_conflict(wish, apart, fewest, one_tank))
    carrying = _carrying(plans, wish)
    if carrying is not None:
        plan = plans[carrying]
        nearest: dict[str, Any] | None = {"tank_count": carrying}
        factor: float | None = wish.factor
        if not conflicts and asked is not None:
            conflicts.append(_factor_conflict(wish, plans[asked]))
        return StockPlan(
            False, plan, factor, plan.limits[plan.limiting], one_tank, apart,
            tuple(conflicts), nearest,
        )  # fmt: skip
    best = _nearest_count(plans, wish)
    if best is None:
        if fewest is not None:
            conflicts.append(_factor_conflict(wish, plans[max(plans)]))
        limit = plans[max(plans)].limits[plans[max(plans)].limiting] if plans else None
        return StockPlan(False, None, None, limit, one_tank, apart, tuple(conflicts), None)
    plan = plans[best]
    wanted = wish.factor
    factor = rounded_down(plan.highest_factor)
    if len(plan.tanks) > wanted:
        factor = float(len(plan.tanks))
        conflicts.append(
            {
                "limit": wish.factor_name,
                "needed": wanted,
                "allowed": factor,
                "message": f"{len(plan.tanks)} concentrates of factor {wanted:g} are more than a"
                " litre to each litre of working solution: make them stronger.",
            }
        )
    else:
        conflicts.append(_factor_conflict(wish, plan))
    nearest = wish.nearest(factor, best)
    return StockPlan(
        False, plan, factor, plan.limits[plan.limiting], one_tank, apart,
        tuple(conflicts), nearest,
    )  # fmt: skip


def _count_conflict(
    wish: StockWish,
    apart: tuple[tuple[str, str, str], ...],
    fewest: int | None,
    one_tank: TankLimit,
) -> dict[str, Any]:
    """Return the conflict of products that must not meet with the number of tanks."""
    first, second, reason = apart[0]
    others = len(apart) - 1
    more = f", nor must {others} other pair{'s' if others > 1 else ''}" if others else ""
    needs = "more than four tanks" if fewest is None else f"{fewest} tanks at least"
    if one_tank.limited_by == RANGE:
        alone = "Saturation would not show it: what happens needs no strength"
    else:
        shown = f"{one_tank.highest_factor:.3g}"
        alone = f"In one tank it would cloud from {shown} times strength on"
        alone += f" ({limit_in_words(one_tank)})"
    message = (
        f"{first} and {second} must not share a concentrate ({reason}){more}: the recipe needs"
        f" {needs}. {alone}."
    )
    asked = wish.tank_count
    return {
        "limit": "tank_count",
        "needed": None if fewest is None else float(fewest),
        "allowed": float(MOST_TANKS if asked is None else asked),
        "message": message,
    }


def _factor_conflict(wish: StockWish, plan: TankPlan) -> dict[str, Any]:
    """Return the conflict of the factor with what a tank carries."""
    wanted = wish.factor
    held = plan.tanks[plan.limiting]
    names = ", ".join(product.key for product in held)
    limit = plan.limits[plan.limiting]
    shown = limit.highest_factor
    return {
        "limit": wish.factor_name,
        "needed": wanted,
        "allowed": rounded_down(shown) if shown > 0.0 else 0.0,
        "message": f"{len(plan.tanks)} tank{'s' if len(plan.tanks) > 1 else ''} of factor"
        f" {wanted:g} do not stay clear: in the tank with {names}, {limit_in_words(limit)} above"
        f" factor {shown:.3g}.",
    }
