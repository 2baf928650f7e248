"""
Exact amounts of a recipe for a share of water in the litre, or the nearest ones that there are.

What dissolves, and the pure water of pre-stocks, leave less room for the can's own water, so that
what the water brings depends a little on the amounts: drafts follow one another until it settles.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.planning.notes import RefusalError
from service.planning.recipe_conflict import eased
from service.planning.recipe_limits import Bound, compositions_of, limit_bounds, target_bounds
from service.planning.recipe_measuring import Way, least_amounts, pre_stock_water, ways_of
from service.planning.recipe_nutrients import nutrient_row
from service.planning.recipe_optimum import Optimum, optimum, refined
from service.planning.recipe_problem import CLOSEST_PROFILE, MILLIGRAMS_PER_GRAM, RecipeProblem
from service.planning.recipe_programme import Programme, programme_of
from service.reference.components import COMPONENT_COUNT

FloatArray = NDArray[np.float64]

WATER_ROUNDS: Final = 10
WATER_TOLERANCE: Final = 1e-9
ROUNDS_OF_HOPE: Final = 2
"""Drafts in which all limits are tried, before the nearest recipe is settled on."""

UNWANTED: Final = ("sodium", "chlorine", "ammonium_nitrogen", "urea_nitrogen")
"""What epiphytes are better without, where a recipe can do without it."""

DISLIKE: Final = 100.0
"""Grams of anything that a gram of what is unwanted counts as, among equally good recipes."""


@dataclass(frozen=True, eq=False)
class Stage:
    """
    A recipe's programme for one share of water.

    Attributes
    ----------
    bounds : list of Bound
        Limits, in the order of the programme's rows.
    programme : Programme
        The programme.
    """

    bounds: list[Bound]
    programme: Programme


@dataclass(frozen=True, eq=False)
class Draft:
    """
    Amounts before they are measured.

    Attributes
    ----------
    best : Optimum
        The best scaled amounts.
    objective : str
        What was made best; closeness in the nearest recipe.
    exact : ndarray, shape (n_items,)
        Exact amounts in a litre [g/L or mL/L].
    share : float
        Share of the can's own water.
    collided : Stage or None
        The programme that nothing fulfils; None where the recipe keeps every limit.
    eased : dict of str to Bound
        Limits that gave way, by their dotted names.
    """

    best: Optimum
    objective: str
    exact: FloatArray
    share: float
    collided: Stage | None
    eased: dict[str, Bound]


def stage_of(
    problem: RecipeProblem,
    share: float,
    acid_share: float,
    *,
    banded: bool = True,
    given_way: dict[str, Bound] | None = None,
) -> Stage:
    """
    Return the programme of a recipe for one share of water.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    share : float
        Share of the can's own water in the litre.
    acid_share : float
        Most of the alkalinity that acid may take.
    banded : bool
        Whether the bands around the targets count.
    given_way : dict of str to Bound or None
        Limits that give way.

    Returns
    -------
    Stage
        Its limits and numbers.
    """
    water = share * problem.water.composition_mmol_per_l
    bounds = limit_bounds(problem, water, acid_share)
    if given_way:
        bounds = [
            replace(bound, allowed=given_way[bound.name].allowed)
            if bound.name in given_way
            else bound
            for bound in bounds
        ]
    band = problem.band_percent
    if banded and band is not None:
        bounds += target_bounds(problem, water, band)
    return Stage(bounds, programme_of(problem, bounds, water, least_amounts(problem)))


def settled_draft(problem: RecipeProblem, acid_share: float) -> Draft:
    """
    Return exact amounts, with the water that they leave room for.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    acid_share : float
        Most of the alkalinity that acid may take.

    Returns
    -------
    Draft
        The amounts.
    """
    draft = _draft(problem, 1.0, acid_share, None, hopeful=True)
    for number in range(1, WATER_ROUNDS):
        ways = ways_of(problem, draft.exact)
        share = water_share(problem, draft.exact, ways)
        if abs(share - draft.share) <= WATER_TOLERANCE:
            break
        draft = _draft(problem, share, acid_share, draft, hopeful=number < ROUNDS_OF_HOPE)
    return draft


def _draft(
    problem: RecipeProblem, share: float, acid_share: float, before: Draft | None, *, hopeful: bool
) -> Draft:
    """Return exact amounts for a share of water, near those of a draft before."""

    def best_of(stage: Stage, objective: str) -> Optimum | None:
        costs = (
            prices_of(problem) * stage.programme.scale,
            liking_of(problem) * stage.programme.scale,
        )
        same = before is not None and before.objective == objective
        if before is not None and same and bool(before.collided) == bool(collided):
            found = refined(stage.programme, objective, *costs, before.best)
            if found is not None:
                return found
        return optimum(stage.programme, objective, *costs)

    collided: Stage | None = None
    objective = problem.objective
    stage = stage_of(problem, share, acid_share)
    best = None
    if hopeful or before is None or before.collided is None:
        best = best_of(stage, objective)
    given_way: dict[str, Bound] = {}
    if best is None:
        collided, objective = stage, CLOSEST_PROFILE
        stage = stage_of(problem, share, acid_share, banded=False)
        best = best_of(stage, objective)
    if best is None:
        given_way = eased(stage.bounds, stage.programme)
        stage = stage_of(problem, share, acid_share, banded=False, given_way=given_way)
        best = best_of(stage, objective)
    if best is None:
        nothing = np.zeros(len(problem.shelf))
        best = Optimum(nothing, True, nothing, nothing)
    exact = best.scaled * stage.programme.scale
    return Draft(best, objective, exact, share, collided, given_way)


def prices_of(problem: RecipeProblem) -> FloatArray:
    """
    Return the prices of a shelf.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.

    Returns
    -------
    ndarray, shape (n_items,)
        Price of a gram or millilitre; zeros where any of them is not known.
    """
    prices = [item.price_per_unit for item in problem.shelf]
    return np.array([0.0 if None in prices or each is None else each for each in prices])


def liking_of(problem: RecipeProblem) -> FloatArray:
    """
    Return what is made least where recipes are equally good.

    First the sodium, chloride, ammonium and urea that nobody asked for, then the price, or the
    amount where prices are not known.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.

    Returns
    -------
    ndarray, shape (n_items,)
        What a gram or millilitre counts.
    """
    names = [name for name in UNWANTED if name not in problem.targets_mg_per_l]
    unwanted = np.zeros(COMPONENT_COUNT)
    for name in names:
        unwanted += nutrient_row(name) / MILLIGRAMS_PER_GRAM
    price = prices_of(problem)
    rest = price / price.max() if price.any() else np.ones(price.size)
    result: FloatArray = DISLIKE * (compositions_of(problem.shelf) @ unwanted) + rest
    return result


def water_share(problem: RecipeProblem, amounts: FloatArray, ways: Sequence[Way]) -> float:
    """
    Return the share of the can's own water, by what a litre of it would hold.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    amounts : ndarray, shape (n_items,)
        Amounts in a litre [g/L or mL/L].
    ways : sequence of Way
        How they are measured; pre-stocks bring pure water.

    Returns
    -------
    float
        Share, at most 1.

    Raises
    ------
    RefusalError
        If the amounts leave no room for water.
    """
    scratch = np.zeros(COMPONENT_COUNT)
    pure = pre_stock_water(amounts, ways)
    molal = (1.0 - pure) * problem.water.composition_mol_per_kg
    nothing = np.zeros(COMPONENT_COUNT)
    whole = problem.water.composition_mol_per_kg
    alone = prepared_litre(whole, nothing, REFERENCE_TEMPERATURE, scratch)
    added = amounts @ compositions_of(problem.shelf)
    content = prepared_litre(molal, added, REFERENCE_TEMPERATURE, scratch)
    if not np.isfinite(content) or pure >= 1.0:
        raise RefusalError("solution_too_strong", "target_mg_per_l", strength="far above 1")
    return float((1.0 - pure) * content / alone)
