"""
Recipes: amounts of what is on the shelf for a profile of elements, with the water counted.

Amounts are found by `service.planning.recipe_optimum`, brought to steps of the instruments, and
computed forward as a solution; what the solution holds is what the answer says.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED
from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.planning.acid_dose import LARGEST_NEUTRALISED_SHARE
from service.planning.known_water import REFERENCE_CELSIUS
from service.planning.mix_parts import MixPart, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.products import IS_STIMULANT
from service.planning.recipe_conflict import colliding, eased
from service.planning.recipe_limits import compositions_of, limit_bounds, target_bounds
from service.planning.recipe_measuring import Way, least_amounts, rounded, way_of, yardstick_of
from service.planning.recipe_nutrients import nutrient_row, nutrients_of
from service.planning.recipe_optimum import Optimum, optimum, refined
from service.planning.recipe_problem import (
    CLOSEST_PROFILE,
    LOWEST_COST,
    MILLIGRAMS_PER_GRAM,
    RecipeProblem,
    ShelfItem,
)
from service.planning.recipe_programme import Programme, programme_of
from service.planning.solution import BURNS_BELOW, Mixture, mixture
from service.reference.components import CALCIUM, COMPONENT_COUNT

FloatArray = NDArray[np.float64]

ACID_SHARES: Final = (LARGEST_NEUTRALISED_SHARE, 0.6, 0.3, 0.0)
"""Shares of the alkalinity that acid may take, tried until the mix is not too acid to pour."""

WATER_ROUNDS: Final = 8
WATER_TOLERANCE: Final = 1e-9
CHECK_TOLERANCE: Final = 1e-6
"""Relative difference between plan and solution above which no answer is given."""

UNWANTED: Final = ("sodium", "chlorine", "ammonium_nitrogen", "urea_nitrogen")
"""What epiphytes are better without, where a recipe can do without it."""

DISLIKE: Final = 100.0
"""Grams of anything that a gram of what is unwanted counts as, among equally good recipes."""

STEPS: Final = "instruments"


@dataclass(frozen=True, eq=False)
class RecipeAmount:
    """
    How much of one item is taken.

    Attributes
    ----------
    item : ShelfItem
        The item.
    per_l : float
        Amount in a litre, as it is measured [g/L or mL/L].
    exact_per_l : float
        Amount in a litre before rounding [g/L or mL/L].
    way : Way
        How it is measured out.
    """

    item: ShelfItem
    per_l: float
    exact_per_l: float
    way: Way


@dataclass(frozen=True, eq=False)
class Recipe:
    """
    A recipe.

    Attributes
    ----------
    feasible : bool
        Whether it keeps every limit; otherwise it is the nearest one that there is.
    proven : bool
        Whether no better one exists; False when the time for choosing ran out.
    amounts : tuple of RecipeAmount
        What is used, in the order to add it.
    left_out : tuple of ShelfItem
        Items that were left out, or taken more of, because too little would be weighed.
    achieved_mg_per_l : dict of str to float
        All of `service.planning.recipe_nutrients.NUTRIENTS`, the water included.
    water_mg_per_l : dict of str to float
        What the water brings of them.
    deviation_percent : dict of str to float or None
        Deviations of the targets; None for a target of zero.
    badness : float
        Weighted sum of the squared deviations [percent squared].
    cost : float or None
        Price of what is used, for the volume or for a litre; None where a price is not known.
    conflicts : list of dict
        Limits that collide.
    nearest : dict or None
        Fields of a request that would be feasible.
    parts : tuple of MixPart
        Products, for `service.planning.solution.mixture`.
    acid_mmol_per_l : ndarray or None
        Components of acid and base.
    mix : Mixture
        The solution at 25 degC, closed.
    """

    feasible: bool
    proven: bool
    amounts: tuple[RecipeAmount, ...]
    left_out: tuple[ShelfItem, ...]
    achieved_mg_per_l: dict[str, float]
    water_mg_per_l: dict[str, float]
    deviation_percent: dict[str, float | None]
    badness: float
    cost: float | None
    conflicts: list[dict[str, Any]]
    nearest: dict[str, Any] | None
    parts: tuple[MixPart, ...]
    acid_mmol_per_l: FloatArray | None
    mix: Mixture


@dataclass(frozen=True, eq=False)
class _Draft:
    """Amounts before they are a solution."""

    best: Optimum
    programme: Programme
    objective: str
    exact: FloatArray
    conflicts: list[dict[str, Any]]
    changed_limits: dict[str, float]


def plan_recipe(problem: RecipeProblem, notes: Notes) -> Recipe:
    """
    Find the amounts of a recipe.

    Parameters
    ----------
    problem : RecipeProblem
        What it shall be.
    notes : Notes
        Receives what labels leave open and what is to be handled with care.

    Returns
    -------
    Recipe
        The recipe, or the nearest one and the limits that collide.

    Raises
    ------
    RefusalError
        If acid stands beside a water of unknown alkalinity, a price is missing where the lowest
        cost is asked for, or the solution is stronger than the chemistry holds for.
    ArithmeticError
        If the solution is not what was planned.
    """
    _check(problem)
    has_acid = any(item.is_acid for item in problem.shelf)
    for share in ACID_SHARES if has_acid else ACID_SHARES[:1]:
        attempt = Notes()
        recipe = _planned(problem, share, attempt)
        acid_used = any(amount.item.is_acid for amount in recipe.amounts)
        if not acid_used or recipe.mix.ph >= BURNS_BELOW:
            break
    notes.take(attempt.cautions, attempt.assumptions)
    return recipe


def _check(problem: RecipeProblem) -> None:
    """Refuse what cannot be planned."""
    for item in problem.shelf:
        if item.is_acid and not problem.water.alkalinity_known:
            raise RefusalError("acid_alkalinity_unknown", item.place)
        if problem.objective == LOWEST_COST and item.price_per_unit is None:
            unit = "price_per_l" if item.liquid else "price_per_kg"
            raise RefusalError("price_needed", f"{item.place}.{unit}", product=item.name)


def _planned(problem: RecipeProblem, acid_share: float, notes: Notes) -> Recipe:
    """Plan with a bound on the acid, and compute the solution."""
    share = 1.0
    draft: _Draft | None = None
    for _ in range(WATER_ROUNDS):
        draft = _draft(problem, share, acid_share, draft)
        following = _water_share(problem, draft.exact)
        if abs(following - share) <= WATER_TOLERANCE:
            break
        share = following
    if draft is None:
        raise ValueError("a recipe is drafted at least once")
    exact, ways, measured, over = _measured(problem, draft)
    conflicts = draft.conflicts
    if not conflicts and over > 0.0:
        conflicts = [_step_conflict(problem)]
    return _recipe(problem, draft, exact, ways, measured, conflicts, notes)


def _draft(
    problem: RecipeProblem, share: float, acid_share: float, before: _Draft | None
) -> _Draft:
    """Return exact amounts for a share of water in the litre, near those of a draft before."""
    water = share * problem.water.composition_mmol_per_l
    limits = limit_bounds(problem, water, acid_share)
    band = problem.band_percent
    targets = [] if band is None else target_bounds(problem, water, band)
    least = least_amounts(problem)
    price, liking = _price(problem), _liking(problem)

    def best_of(programme: Programme, objective: str) -> Optimum | None:
        costs = price * programme.scale, liking * programme.scale
        if before is not None and before.objective == objective:
            found = refined(programme, objective, *costs, before.best)
            if found is not None:
                return found
        return optimum(programme, objective, *costs)

    bounds = limits + targets
    programme = programme_of(problem, bounds, water, least)
    objective = problem.objective
    best = best_of(programme, objective) if before is None or not before.conflicts else None
    conflicts: list[dict[str, Any]] = []
    changed: dict[str, float] = {}
    if best is None:
        conflicts = colliding(problem, bounds, programme) if before is None else before.conflicts
        bounds, objective = limits, CLOSEST_PROFILE
        programme = programme_of(problem, bounds, water, least)
        best = best_of(programme, objective)
    if best is None:
        bounds = eased(limits, programme)
        changed = {
            new.name.partition(".")[2]: new.stated
            for old, new in zip(limits, bounds, strict=True)
            if new is not old
        }
        programme = programme_of(problem, bounds, water, least)
        best = best_of(programme, objective)
    if best is None:
        nothing = np.zeros(len(problem.shelf))
        best = Optimum(nothing, True, nothing, nothing)
    exact = best.scaled * programme.scale
    return _Draft(best, programme, objective, exact, conflicts, changed)


def _price(problem: RecipeProblem) -> FloatArray:
    """Return the prices of a gram or millilitre, zeros where one is not known."""
    prices = [item.price_per_unit for item in problem.shelf]
    return np.array([0.0 if None in prices or each is None else each for each in prices])


def _liking(problem: RecipeProblem) -> FloatArray:
    """
    Return what is made least where recipes are equally good.

    First the sodium, chloride, ammonium and urea that nobody asked for, then the price, or the
    amount where prices are not known.
    """
    names = [name for name in UNWANTED if name not in problem.targets_mg_per_l]
    unwanted = np.sum([nutrient_row(name) for name in names], axis=0) / MILLIGRAMS_PER_GRAM
    price = _price(problem)
    rest = price / price.max() if price.any() else np.ones(price.size)
    result: FloatArray = DISLIKE * (compositions_of(problem.shelf) @ unwanted) + rest
    return result


def _water_share(problem: RecipeProblem, amounts: FloatArray) -> float:
    """Return the share of the litre that is left for the water, by what pure water would be."""
    scratch = np.zeros(COMPONENT_COUNT)
    nothing = np.zeros(COMPONENT_COUNT)
    molal = problem.water.composition_mol_per_kg
    alone = prepared_litre(molal, nothing, REFERENCE_TEMPERATURE, scratch)
    added = amounts @ compositions_of(problem.shelf)
    content = prepared_litre(molal, added, REFERENCE_TEMPERATURE, scratch)
    if not np.isfinite(content):
        raise RefusalError("solution_too_strong", "target_mg_per_l", strength="far above 1")
    return float(content / alone)


def _measured(
    problem: RecipeProblem, draft: _Draft
) -> tuple[FloatArray, list[Way], FloatArray, float]:
    """Return exact amounts, ways, amounts in steps, and by how much these pass the limits."""
    yardstick = yardstick_of(draft.programme)
    exact = draft.exact
    ways = [way_of(problem, *pair) for pair in zip(problem.shelf, exact.tolist(), strict=True)]
    measured = rounded(exact, ways, yardstick)
    over = float(yardstick.excess(measured[None, :])[0])
    if over <= 0.0 or draft.conflicts:
        return exact, ways, measured, over
    # No steps near the optimum keep the limits: stay away from them by half a step of everything.
    steps = np.array([way.step_per_l for way in ways]) * (exact > 0.0)
    away = np.abs(yardstick.rows) @ (0.5 * steps)
    tight = replace(draft.programme, room=draft.programme.room - away)
    scale = tight.scale
    best = optimum(tight, CLOSEST_PROFILE, np.zeros(scale.size), _liking(problem) * scale)
    if best is None:
        return exact, ways, measured, over
    second = best.scaled * scale
    second_ways = [
        way_of(problem, *pair) for pair in zip(problem.shelf, second.tolist(), strict=True)
    ]
    stepped = rounded(second, second_ways, yardstick)
    remaining = float(yardstick.excess(stepped[None, :])[0])
    if remaining < over:
        return second, second_ways, stepped, remaining
    return exact, ways, measured, over


def _step_conflict(problem: RecipeProblem) -> dict[str, Any]:
    """Return the conflict of limits that exact amounts keep and measured ones do not."""
    return {
        "limit": STEPS,
        "needed": None,
        "allowed": problem.balance_resolution_g,
        "message": "Exact amounts keep every limit, whole steps of these instruments do not. Make"
        " more at once, allow pre-stocks of every product, or use a finer balance.",
    }


def _order(pair: tuple[int, ShelfItem]) -> tuple[bool, bool, bool, int]:
    """Return the place of an item among the others: acid first, calcium late."""
    place, item = pair
    stimulant = item.product is not None and bool(item.product.values[IS_STIMULANT])
    calcium = bool(item.composition_mmol_per_unit[CALCIUM] > 0.0)
    return item.kind is None, stimulant, calcium, place


def _recipe(
    problem: RecipeProblem,
    draft: _Draft,
    exact: FloatArray,
    ways: Sequence[Way],
    measured: FloatArray,
    conflicts: list[dict[str, Any]],
    notes: Notes,
) -> Recipe:
    """Compute the solution of measured amounts and hold it against the plan."""
    used = [pair for pair in enumerate(problem.shelf) if measured[pair[0]] > 0.0]
    amounts = tuple(
        RecipeAmount(item, float(measured[place]), float(exact[place]), ways[place])
        for place, item in sorted(used, key=_order)
    )
    parts = tuple(_part(amount, notes) for amount in amounts if amount.item.product is not None)
    reagents = [each for each in amounts if each.item.product is None]
    acid = None
    if reagents:
        acid = np.sum([a.per_l * a.item.composition_mmol_per_unit for a in reagents], axis=0)
    try:
        mix = mixture(problem.water, parts, acid, REFERENCE_CELSIUS, CLOSED)
    except RefusalError as error:
        raise RefusalError(
            error.notice.code, "target_mg_per_l", strength="above 0.5", ph=np.nan
        ) from error
    share = _water_share(problem, measured)
    water = share * problem.water.composition_mmol_per_l
    total = water + measured @ compositions_of(problem.shelf)
    achieved = nutrients_of(total)
    for name, value in mix.elements_mg_per_l.items():
        if abs(value - achieved[name]) > CHECK_TOLERANCE * max(abs(value), 1e-3):
            message = f"{name}: planned {achieved[name]}, computed {value}"
            raise ArithmeticError(message)
    deviations = {
        name: 100.0 * (achieved[name] - target) / target if target > 0.0 else None
        for name, target in problem.targets_mg_per_l.items()
    }
    badness = draft.programme.badness(measured / draft.programme.scale)
    return Recipe(
        feasible=not conflicts,
        proven=draft.best.proven,
        amounts=amounts,
        left_out=tuple(problem.shelf[place] for place in sorted(draft.best.too_small)),
        achieved_mg_per_l=achieved,
        water_mg_per_l=nutrients_of(water),
        deviation_percent=deviations,
        badness=badness,
        cost=_cost(problem, amounts),
        conflicts=conflicts,
        nearest=_nearest(problem, draft, achieved) if conflicts else None,
        parts=parts,
        acid_mmol_per_l=acid,
        mix=mix,
    )


def _part(amount: RecipeAmount, notes: Notes) -> MixPart:
    """Return one product as a part of the mix."""
    item = amount.item
    if item.product is None:
        raise ValueError("an acid is no part of the products")
    grams, millilitres = (None, amount.per_l) if item.liquid else (amount.per_l, None)
    return mix_part(item.product, grams, millilitres, item.label, item.place, notes)


def _cost(problem: RecipeProblem, amounts: Sequence[RecipeAmount]) -> float | None:
    """Return the price of what is used, None where a price is not known."""
    volume = 1.0 if problem.volume_l is None else problem.volume_l
    total = 0.0
    for amount in amounts:
        if amount.item.price_per_unit is None:
            return None
        total += amount.item.price_per_unit * amount.per_l * volume
    return total


def _nearest(problem: RecipeProblem, draft: _Draft, achieved: dict[str, float]) -> dict[str, Any]:
    """Return fields of a request that the nearest recipe fulfils."""
    found: dict[str, Any] = {}
    if draft.changed_limits:
        found["limits"] = {**problem.limits, **draft.changed_limits}
    band = problem.band_percent
    if band is not None:
        targets = dict(problem.targets_mg_per_l)
        for bound in target_bounds(problem, np.zeros(COMPONENT_COUNT), band):
            name = bound.name.partition(".")[2]
            value = achieved[name]
            missed = value > bound.allowed if bound.is_maximum else value < bound.allowed
            if missed:
                targets[name] = float(f"{value:.6g}")
        found["target_mg_per_l"] = targets
    return found
