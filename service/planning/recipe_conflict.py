"""
Why a recipe cannot be: limits that collide, and limits that could be kept.

The limits that collide are found by leaving one after the other out: a limit without which the
rest can be kept belongs to the set, any other one is dropped for good. What remains collides, and
without any single one of it nothing would. How far a limit of the set must give way is the least
excess over it while the others of the set are kept.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning.recipe_limits import Bound
from service.planning.recipe_optimum import feasible
from service.planning.recipe_problem import RecipeProblem
from service.planning.recipe_programme import Programme, solved

FloatArray = NDArray[np.float64]

MINIMUM: Final = "instruments.balance_minimum_g"
COUNT: Final = "limits.product_count"
LEAST_EXCESS: Final = 1e-7
"""Excess that is the solver's own [percent]."""

SECONDS: Final = 3.0
"""Time after which limits that may be needless stay in the set [s]."""

EASING: Final = 1e-4
"""By how much more than needed a limit gives way, so that rounded numbers keep it."""


@dataclass(frozen=True)
class _Choice:
    """Which limits of a programme count."""

    rows: tuple[int, ...]
    capped: tuple[int, ...]
    minimum: bool
    count: bool

    def of(self, programme: Programme) -> Programme:
        """Return the programme with these limits alone."""
        highest = np.full(programme.item_count, np.inf)
        capped = list(self.capped)
        highest[capped] = programme.highest[capped]
        rows = list(self.rows)
        return replace(
            programme,
            highest=highest if not (self.minimum or self.count) else programme.highest,
            least=programme.least if self.minimum else np.zeros(programme.item_count),
            rows=programme.rows[rows],
            room=programme.room[rows],
            most_products=programme.most_products if self.count else None,
        )


def colliding(
    problem: RecipeProblem, bounds: Sequence[Bound], programme: Programme
) -> list[dict[str, Any]]:
    """
    Return the limits that collide, as the contract writes them.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    bounds : sequence of Bound
        Limits, in the order of the programme's rows.
    programme : Programme
        A programme that no amounts fulfil.

    Returns
    -------
    list of dict
        `limit`, `needed`, `allowed`, `message` of an irreducible set, unless the time runs out.
    """
    everything = tuple(range(len(bounds)))
    items = tuple(range(programme.item_count))
    choice = _Choice(everything, items, minimum=False, count=False)
    if feasible(choice.of(programme)):
        choice = _Choice(
            everything,
            items,
            minimum=bool(programme.least.any()),
            count=programme.most_products is not None,
        )
        choice = _without(programme, choice, "minimum")
        choice = _without(programme, choice, "count")
    until = time.monotonic() + SECONDS
    for row in everything:
        if time.monotonic() > until:
            break
        shorter = replace(choice, rows=tuple(each for each in choice.rows if each != row))
        if not feasible(shorter.of(programme)):
            choice = shorter
    if not (choice.minimum or choice.count):
        for item in items:
            shorter = replace(choice, capped=tuple(each for each in choice.capped if each != item))
            if not feasible(shorter.of(programme)):
                choice = shorter
    found = _row_conflicts(bounds, programme, choice)
    if not (choice.minimum or choice.count):
        found += [_cap_conflict(problem, programme, choice, item) for item in choice.capped]
    if choice.minimum:
        found.append(
            {
                "limit": MINIMUM,
                "needed": None,
                "allowed": problem.least_weighed_g,
                "message": "What would be needed is less than the instruments measure in this"
                " volume. Make more at once, or allow pre-stocks of every product.",
            }
        )
    if choice.count:
        found.append(
            {
                "limit": COUNT,
                "needed": None,
                "allowed": float(programme.most_products or 0),
                "message": "So few products cannot keep the other limits named here.",
            }
        )
    return found


def _without(programme: Programme, choice: _Choice, name: str) -> _Choice:
    """Return the choice without the minimum or the count, if it stays impossible."""
    shorter = replace(choice, **{name: False})  # type: ignore[arg-type]
    return choice if feasible(shorter.of(programme)) else shorter


def _least_excess(
    programme: Programme, choice: _Choice, row: FloatArray, room: float
) -> FloatArray:
    """Return the amounts that pass one row least while the others of a choice are kept."""
    reduced = choice.of(programme)
    width = programme.item_count + 1
    rows = np.zeros((reduced.room.size + 1, width))
    rows[:-1, :-1] = reduced.rows
    rows[-1, :-1] = row
    rows[-1, -1] = -1.0
    cost = np.zeros(width)
    cost[-1] = 1.0
    high = np.append(reduced.highest, np.inf)
    found = solved(cost, rows, np.append(reduced.room, room), np.zeros(width), high)
    return np.zeros(programme.item_count) if found is None else found.values[:-1]


def _row_conflicts(
    bounds: Sequence[Bound], programme: Programme, choice: _Choice
) -> list[dict[str, Any]]:
    """Return the limits of the set; the two sides of one band are one of them."""
    found = []
    sides = [bounds[row].name for row in choice.rows]
    for row in choice.rows:
        bound = bounds[row]
        if sides.count(bound.name) == 1:
            found.append(_row_conflict(bound, programme, choice, row))
        elif bound.is_maximum:
            band = 100.0 * (bound.allowed - bound.stated) / bound.scale
            message = (
                f"{_spoken(bound.name)} within {band:.3g} % of {bound.stated:.4g}"
                f" {_unit(bound.name)} cannot be had beside the other limits named here."
            )
            found.append(
                {
                    "limit": bound.name,
                    "needed": None,
                    "allowed": bound.stated,
                    "message": message,
                }
            )
    return found


def _row_conflict(bound: Bound, programme: Programme, choice: _Choice, row: int) -> dict[str, Any]:
    """Return one limit of the set, and how far it would have to give way."""
    word, unit = "at most" if bound.is_maximum else "at least", _unit(bound.name)
    allowed = bound.allowed if bound.is_target else bound.stated
    needed = None
    others = replace(choice, rows=tuple(each for each in choice.rows if each != row))
    if choice.minimum or choice.count:
        why = "not beside the other limits named here."
    else:
        scaled = _least_excess(programme, others, programme.rows[row], float(programme.room[row]))
        amounts = scaled * programme.scale
        needed = bound.reported(amounts)
        if bound.nitrogen is not None and not (others.rows or others.capped):
            needed = None
            surplus = bound.value(np.zeros_like(amounts))
            why = f"the water alone brings {surplus:.3g} mg/L of nitrogen in excess of it."
        elif others.rows or others.capped:
            why = f"with the other limits named here {needed:.4g} {unit} is the nearest."
        elif bound.is_maximum:
            why = f"the water alone brings {needed:.4g} {unit}."
        else:
            why = f"nothing on the shelf brings more than {needed:.4g} {unit}."
    return {
        "limit": bound.name,
        "needed": None if needed is None else _six(needed),
        "allowed": _six(allowed),
        "message": f"{_spoken(bound.name)} {word} {allowed:.4g} {unit} cannot be kept: {why}",
    }


def _cap_conflict(
    problem: RecipeProblem, programme: Programme, choice: _Choice, item: int
) -> dict[str, Any]:
    """Return the largest amount of an item that is in the set."""
    others = replace(choice, capped=tuple(each for each in choice.capped if each != item))
    row = np.zeros(programme.item_count)
    row[item] = 1.0
    scaled = _least_excess(programme, others, row, float(programme.highest[item]))
    shelf = problem.shelf[item]
    needed = float(scaled[item] * programme.scale[item])
    allowed = float(programme.highest[item] * programme.scale[item])
    unit = "mL/L" if shelf.liquid else "g/L"
    return {
        "limit": shelf.largest_name,
        "needed": _six(needed),
        "allowed": _six(allowed),
        "message": f"At most {allowed:.4g} {unit} of {shelf.name}: with the other limits named"
        f" here {needed:.4g} would be needed.",
    }


def _six(value: float) -> float:
    """Return a number with six digits."""
    return float(f"{value:.6g}")


UNITS: Final = {"_mg_per_l_caco3": "mg/L CaCO3", "_mg_per_l": "mg/L", "_percent": "%"}
"""Ends of the names of limits, and the units that they stand for; targets have no such end."""


def _spoken(name: str) -> str:
    """Return what a dotted name limits, in words."""
    last = name.rpartition(".")[2]
    for end in UNITS:
        last = last.removesuffix(end)
    return last.replace("_", " ")


def _unit(name: str) -> str:
    """Return the unit of a limit."""
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "mg/L")


def eased(bounds: Sequence[Bound], programme: Programme) -> dict[str, Bound]:
    """
    Return limits that give way as little as possible, so that amounts exist that keep them.

    Parameters
    ----------
    bounds : sequence of Bound
        Limits that collide.
    programme : Programme
        Their programme.

    Returns
    -------
    dict of str to Bound
        The limits that give way, by name; the sum of their relative excesses is the least.
    """
    items, rows = programme.item_count, len(bounds)
    matrix = np.hstack([programme.rows, -np.eye(rows)])
    cost = np.append(np.zeros(items), np.ones(rows))
    # What keeps acid and base safe does not give way.
    gives = np.array([bound.name.startswith("limits.") for bound in bounds])
    high = np.append(programme.highest, np.where(gives, np.inf, 0.0))
    found = solved(cost, matrix, programme.room, np.zeros(items + rows), high)
    if found is None:
        return {}
    excess = found.values[items:].tolist()
    return {
        bound.name: _eased(bound, over)
        for bound, over in zip(bounds, excess, strict=True)
        if over > LEAST_EXCESS
    }


def _eased(bound: Bound, over: float) -> Bound:
    """Return one limit, widened by an excess in per cent and a little more."""
    wider = bound.allowed + over / 100.0 * bound.scale
    allowed = float(f"{wider + EASING * max(wider, bound.scale):.6g}")
    stated = bound.stated if bound.nitrogen is not None else allowed
    return replace(bound, allowed=allowed, stated=stated)
