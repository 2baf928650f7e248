"""
The amounts of a recipe in steps of the instruments, or through pre-stocks.

A product is weighed or measured directly, or so little of it is needed that a pre-stock is made,
where one dilution is not enough a weaker one out of it, and millilitres of the last one are dosed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning.instruments import PRE_STOCK_STRENGTHS, TRUSTED_STEPS
from service.planning.recipe_nutrients import brings_traces_alone
from service.planning.recipe_problem import (
    MILLILITRES_PER_LITRE,
    MINIMUM_STEPS,
    RecipeProblem,
    ShelfItem,
)

FloatArray = NDArray[np.float64]

LARGEST_DILUTION: Final = 100.0
"""Most that one pre-stock is diluted to the next: 10 mL in a litre; common practice."""


@dataclass(frozen=True)
class PreStockStage:
    """
    One litre of a pre-stock.

    Attributes
    ----------
    per_l : float
        Product in it [g/L or mL/L].
    amount : float or None
        Product that is weighed or measured into it [g or mL]; None for a later stage.
    taken_ml : float or None
        Volume of the stage before that goes into it [mL]; None for the first one.
    """

    per_l: float
    amount: float | None
    taken_ml: float | None


@dataclass(frozen=True)
class Way:
    """
    How an item is measured out.

    Attributes
    ----------
    step_per_l : float
        Amount in a litre that one step of the instrument makes; 0 where nothing is rounded.
    stages : tuple of PreStockStage
        Pre-stocks, none where the item itself is measured.
    least_per_l : float
        Least amount in a litre that can be measured so.
    """

    step_per_l: float
    stages: tuple[PreStockStage, ...]
    least_per_l: float


def may_be_pre_stocked(problem: RecipeProblem, item: ShelfItem) -> bool:
    """
    Tell whether an item may be dosed from a pre-stock.

    Parameters
    ----------
    problem : RecipeProblem
        Says which products may.
    item : ShelfItem
        The item.

    Returns
    -------
    bool
        True for all by default, if a litre of pre-stock can be weighed; acids count as traces.
    """
    if problem.pre_stocks == "none" or not _first_strengths(problem, item):
        return False
    return (
        problem.pre_stocks == "all"
        or item.kind is not None
        or brings_traces_alone(item.composition_mmol_per_unit)
    )


def _first_strengths(problem: RecipeProblem, item: ShelfItem) -> list[float]:
    """Return the strengths of a litre of pre-stock that can be weighed and that dissolve."""
    least = TRUSTED_STEPS * _step(problem, item) * (1.0 - 1e-9)
    return [float(s) for s in PRE_STOCK_STRENGTHS if least <= s <= item.strongest_pre_stock]


def least_amounts(problem: RecipeProblem) -> FloatArray:
    """
    Return the least amount of each item that is used at all.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.

    Returns
    -------
    ndarray, shape (n_items,)
        0 where any amount can be measured [g/L or mL/L].
    """
    if problem.volume_l is None:
        return np.zeros(len(problem.shelf))
    return np.array(
        [
            0.0 if may_be_pre_stocked(problem, item) else _least(problem, item) / problem.volume_l
            for item in problem.shelf
        ]
    )


def _step(problem: RecipeProblem, item: ShelfItem) -> float:
    """Return the step of the instrument that measures an item [g or mL]."""
    return problem.syringe_resolution_ml if item.liquid else problem.balance_resolution_g


def _least(problem: RecipeProblem, item: ShelfItem) -> float:
    """Return the least amount of an item that is measured directly [g or mL]."""
    step = _step(problem, item)
    if item.liquid:
        return MINIMUM_STEPS * step
    return step * float(np.ceil(max(problem.least_weighed_g, step) / step - 1e-9))


def way_of(problem: RecipeProblem, item: ShelfItem, per_l: float) -> Way:
    """
    Return how an amount of an item is measured out.

    Parameters
    ----------
    problem : RecipeProblem
        Volume and instruments.
    item : ShelfItem
        The item.
    per_l : float
        Its amount in a litre [g/L or mL/L].

    Returns
    -------
    Way
        Directly, or by pre-stocks where it is less than `TRUSTED_STEPS` of the instrument.
    """
    volume = problem.volume_l
    if volume is None:
        return Way(0.0, (), 0.0)
    step, amount = _step(problem, item), per_l * volume
    direct = Way(step / volume, (), _least(problem, item) / volume)
    if amount >= TRUSTED_STEPS * step * (1.0 - 1e-9) and amount >= direct.least_per_l * volume:
        return direct
    if not may_be_pre_stocked(problem, item):
        return direct
    stages = pre_stock_stages(amount, step, problem.syringe_resolution_ml, item.strongest_pre_stock)
    if not stages:
        return direct
    dosed = problem.syringe_resolution_ml * stages[-1].per_l / MILLILITRES_PER_LITRE / volume
    return Way(dosed, stages, dosed)


def pre_stock_stages(
    amount: float, step: float, syringe_step: float, strongest: float
) -> tuple[PreStockStage, ...]:
    """
    Return the pre-stocks of which the syringe can measure an amount.

    The last is the strongest of which twenty steps of the syringe hold no more than the amount,
    so that as little pure water as can be comes with it. The first holds at least twenty steps of
    the instrument that measures the product itself.

    Parameters
    ----------
    amount : float
        Product for the can, above 0 [g or mL].
    step : float
        Step of the instrument that measures the product [g or mL].
    syringe_step : float
        Step of the syringe [mL].
    strongest : float
        Strongest pre-stock that the product dissolves to [g/L or mL/L].

    Returns
    -------
    tuple of PreStockStage
        Each made up to one litre; empty where no pre-stock helps.
    """
    dissolving = [float(each) for each in PRE_STOCK_STRENGTHS if each <= strongest]
    weighable = [each for each in dissolving if each >= TRUSTED_STEPS * step * (1.0 - 1e-9)]
    wanted = MILLILITRES_PER_LITRE * amount / (TRUSTED_STEPS * syringe_step)
    fitting = [each for each in dissolving if each <= wanted * (1.0 + 1e-9)]
    if not weighable or not fitting:
        return ()
    last = fitting[0]
    if last >= weighable[-1]:
        return (PreStockStage(last, last, None),)
    first = weighable[-1]
    stages = [PreStockStage(first, first, None)]
    most = min(LARGEST_DILUTION, MILLILITRES_PER_LITRE / (TRUSTED_STEPS * syringe_step))
    if most < 2.0:
        return ()
    strength = first
    while strength > last * (1.0 + 1e-9):
        factor = min(most, strength / last)
        stages.append(PreStockStage(strength / factor, None, MILLILITRES_PER_LITRE / factor))
        strength /= factor
    return tuple(stages)


def ways_of(problem: RecipeProblem, amounts: FloatArray) -> list[Way]:
    """
    Return how the amounts of a shelf are measured out.

    Parameters
    ----------
    problem : RecipeProblem
        Volume and instruments.
    amounts : ndarray, shape (n_items,)
        Amounts in a litre [g/L or mL/L].

    Returns
    -------
    list of Way
        One for each item.
    """
    return [way_of(problem, *pair) for pair in zip(problem.shelf, amounts.tolist(), strict=True)]


def pre_stock_water(amounts: FloatArray, ways: Sequence[Way]) -> float:
    """
    Return the share of a can that is the pure water of pre-stocks.

    Parameters
    ----------
    amounts : ndarray, shape (n_items,)
        Amounts in a litre [g/L or mL/L].
    ways : sequence of Way
        How they are measured.

    Returns
    -------
    float
        Share by volume.
    """
    return float(
        sum(
            amount / way.stages[-1].per_l
            for amount, way in zip(amounts.tolist(), ways, strict=True)
            if way.stages
        )
    )
