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
from service.planning.acid_dose import LARGEST_NEUTRALISED_SHARE
from service.planning.forward_check import UnconfirmedError
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater
from service.planning.mix_parts import MixPart, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.products import IS_STIMULANT
from service.planning.recipe_conflict import colliding
from service.planning.recipe_draft import (
    WATER_ROUNDS,
    WATER_TOLERANCE,
    Draft,
    Stage,
    liking_of,
    prices_of,
    settled_draft,
    stage_of,
    water_share,
)
from service.planning.recipe_limits import compositions_of
from service.planning.recipe_measuring import Way, pre_stock_water, ways_of
from service.planning.recipe_nearest import nearest_request
from service.planning.recipe_nutrients import SMALLEST_TARGET, nutrients_of
from service.planning.recipe_optimum import optimum
from service.planning.recipe_problem import LOWEST_COST, RecipeProblem, ShelfItem
from service.planning.recipe_rounding import rounded, yardstick_of
from service.planning.solution import BURNS_BELOW, Mixture, mixture
from service.reference.components import CALCIUM

FloatArray = NDArray[np.float64]

ACID_SHARES: Final = (LARGEST_NEUTRALISED_SHARE, 0.6, 0.3, 0.0)
"""Shares of the alkalinity that acid may take, tried until the mix is not too acid to pour."""

CHECK_TOLERANCE: Final = 1e-6
"""Relative difference between plan and solution above which no answer is given."""

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
    UnconfirmedError
        If the solution is not what was planned.
    """
    _check(problem)
    planned, acid_share, attempt = _settled(problem)
    notes.take(attempt.cautions, attempt.assumptions)
    recipe = planned.recipe
    if recipe.feasible:
        return recipe
    nearest = nearest_request(
        problem,
        planned.measured.amounts,
        water_share(problem, planned.measured.amounts, planned.measured.ways),
        acid_share,
        recipe.achieved_mg_per_l,
        planned.draft.eased,
        _can_be,
    )
    return replace(recipe, nearest=nearest)


def _can_be(problem: RecipeProblem) -> bool:
    """Tell whether a problem has a recipe."""
    try:
        return _settled(problem)[0].recipe.feasible
    except RefusalError:
        return False


def _settled(problem: RecipeProblem) -> tuple["_Planned", float, Notes]:
    """Plan with less and less acid, until the mix is not too acid to pour."""
    has_acid = any(item.is_acid for item in problem.shelf)
    for share in ACID_SHARES if has_acid else ACID_SHARES[:1]:
        attempt = Notes()
        planned = _planned(problem, share, attempt)
        acid_used = any(amount.item.is_acid for amount in planned.recipe.amounts)
        if not acid_used or planned.recipe.mix.ph >= BURNS_BELOW:
            break
    return planned, share, attempt


def _check(problem: RecipeProblem) -> None:
    """Refuse what cannot be planned."""
    for item in problem.shelf:
        if item.is_acid and not problem.water.alkalinity_known:
            raise RefusalError("acid_alkalinity_unknown", item.place)
        if problem.objective == LOWEST_COST and item.price_per_unit is None:
            raise RefusalError("price_needed", f"{item.place}.price", product=item.name)


@dataclass(frozen=True, eq=False)
class _Planned:
    """A recipe with the amounts that it was made from."""

    recipe: Recipe
    draft: Draft
    measured: "_Measured"


def _planned(problem: RecipeProblem, acid_share: float, notes: Notes) -> _Planned:
    """Plan with a bound on the acid, and compute the solution."""
    draft = settled_draft(problem, acid_share)
    conflicts: list[dict[str, Any]] = []
    if draft.collided is not None:
        conflicts = colliding(problem, draft.collided.bounds, draft.collided.programme)
    measured = _measured(problem, draft, acid_share)
    if not conflicts and measured.over > 0.0:
        conflicts = [_step_conflict(problem)]
    return _Planned(_recipe(problem, draft, measured, conflicts, notes), draft, measured)


@dataclass(frozen=True, eq=False)
class _Measured:
    """Amounts as they are measured, and by how much they pass the limits [percent]."""

    exact: FloatArray
    ways: list[Way]
    amounts: FloatArray
    over: float
    stage: Stage


def _measured(problem: RecipeProblem, draft: Draft, acid_share: float) -> _Measured:
    """Bring exact amounts to steps that keep the limits, if there are such."""
    first = _stepped(problem, draft, acid_share, draft.exact)
    if first.over <= 0.0 or draft.collided is not None:
        return first
    # No steps near the optimum keep the limits: stay away from them by half a step of everything.
    programme = first.stage.programme
    steps = np.array([way.step_per_l for way in first.ways]) * (draft.exact > 0.0)
    away = np.abs(programme.rows / programme.scale) @ (0.5 * steps)
    tight = replace(programme, room=programme.room - away)
    costs = prices_of(problem) * programme.scale, liking_of(problem) * programme.scale
    best = optimum(tight, draft.objective, *costs)
    if best is None:
        return first
    second = _stepped(problem, draft, acid_share, best.scaled * programme.scale)
    return second if second.over < first.over else first


def _stepped(
    problem: RecipeProblem, draft: Draft, acid_share: float, exact: FloatArray
) -> _Measured:
    """Bring amounts to steps, with the water that these leave room for."""
    cost = prices_of(problem) if draft.objective == LOWEST_COST else None
    ways = ways_of(problem, exact)
    share = draft.share
    for _ in range(WATER_ROUNDS):
        stage = stage_of(
            problem,
            share,
            acid_share,
            banded=draft.collided is None,
            given_way=draft.eased,
        )
        yardstick = yardstick_of(stage.programme, cost)
        amounts = rounded(exact, ways, yardstick)
        following = water_share(problem, amounts, ways)
        if abs(following - share) <= WATER_TOLERANCE:
            break
        share = following
    over = float(yardstick.excess(amounts[None, :])[0])
    return _Measured(exact, ways, amounts, over, stage)


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
    draft: Draft,
    measured: _Measured,
    conflicts: list[dict[str, Any]],
    notes: Notes,
) -> Recipe:
    """Compute the solution of measured amounts and hold it against the plan."""
    taken, exact, ways = measured.amounts, measured.exact, measured.ways
    used = [pair for pair in enumerate(problem.shelf) if taken[pair[0]] > 0.0]
    amounts = tuple(
        RecipeAmount(item, float(taken[place]), float(exact[place]), ways[place])
        for place, item in sorted(used, key=_order)
    )
    parts = tuple(_part(amount, notes) for amount in amounts if amount.item.product is not None)
    reagents = [each for each in amounts if each.item.product is None]
    acid = None
    if reagents:
        acid = np.sum([a.per_l * a.item.composition_mmol_per_unit for a in reagents], axis=0)
    try:
        mix = mixture(_thinned(problem, taken, ways), parts, acid, REFERENCE_CELSIUS, CLOSED)
    except RefusalError as error:
        raise RefusalError(
            error.notice.code, "target_mg_per_l", strength="above 0.5", ph=np.nan
        ) from error
    share = water_share(problem, taken, ways)
    water = share * problem.water.composition_mmol_per_l
    total = water + taken @ compositions_of(problem.shelf)
    achieved = nutrients_of(total)
    for name, value in mix.elements_mg_per_l.items():
        if abs(value - achieved[name]) > CHECK_TOLERANCE * max(abs(value), 1e-3):
            message = f"{name}: planned {achieved[name]}, computed {value}"
            raise UnconfirmedError(message)
    deviations = {
        name: 100.0 * (achieved[name] - target) / target if target > SMALLEST_TARGET else None
        for name, target in problem.targets_mg_per_l.items()
    }
    badness = measured.stage.programme.badness(taken / measured.stage.programme.scale)
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
        nearest=None,
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


def _thinned(problem: RecipeProblem, amounts: FloatArray, ways: Sequence[Way]) -> KnownWater:
    """Return the water of the can, thinned by the pure water that comes with pre-stocks."""
    part = 1.0 - pre_stock_water(amounts, ways)
    water = problem.water
    if part == 1.0:
        return water
    return replace(
        water,
        composition_mmol_per_l=part * water.composition_mmol_per_l,
        composition_mol_per_kg=part * water.composition_mol_per_kg,
        ec_ms_per_cm=part * water.ec_ms_per_cm,
        unexplained_ec_ms_per_cm=part * water.unexplained_ec_ms_per_cm,
    )
