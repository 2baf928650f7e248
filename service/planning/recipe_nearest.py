"""
The nearest request that a recipe can fulfil, tried before it is proposed.

Limits and bands give way as far as the measured amounts of the nearest recipe pass them. Whole
steps of a scale may still miss such a request, because its best exact amounts are others; then
every target is set to what the measured amounts bring, which these amounts fulfil to the gram.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning.recipe_limits import Bound, limit_bounds, target_bounds
from service.planning.recipe_problem import RecipeProblem
from service.reference.components import COMPONENT_COUNT

FloatArray = NDArray[np.float64]

LIMITS: Final = "limits"
TARGETS: Final = "target_mg_per_l"


def nearest_request(
    problem: RecipeProblem,
    amounts: FloatArray,
    water_share: float,
    acid_share: float,
    achieved_mg_per_l: Mapping[str, float],
    eased: Mapping[str, Bound],
    can_be: Callable[[RecipeProblem], bool],
) -> dict[str, Any] | None:
    """
    Return fields of a request that can be fulfilled, and differ as little as was found.

    Parameters
    ----------
    problem : RecipeProblem
        The problem that cannot.
    amounts : ndarray, shape (n_items,)
        Measured amounts of the nearest recipe [g/L or mL/L].
    water_share : float
        Share of the can's own water beside them.
    acid_share : float
        Most of the alkalinity that acid may take.
    achieved_mg_per_l : mapping of str to float
        What the nearest recipe brings.
    eased : mapping of str to Bound
        Limits that gave way for it, by their dotted names.
    can_be : callable
        Tells whether a problem has a recipe.

    Returns
    -------
    dict or None
        Fields of the request to change; None where no such request was found.
    """
    for fields in _candidates(problem, amounts, water_share, acid_share, achieved_mg_per_l, eased):
        changed = replace(
            problem,
            limits=fields.get(LIMITS, problem.limits),
            targets_mg_per_l=fields.get(TARGETS, problem.targets_mg_per_l),
        )
        if can_be(changed):
            return fields
    return None


def _candidates(
    problem: RecipeProblem,
    amounts: FloatArray,
    water_share: float,
    acid_share: float,
    achieved: Mapping[str, float],
    eased: Mapping[str, Bound],
) -> Iterator[dict[str, Any]]:
    """Yield requests, those that change least first."""
    water = water_share * problem.water.composition_mmol_per_l
    passed = {
        bound.name: bound
        for bound in limit_bounds(problem, water, acid_share)
        if bound.name.startswith(f"{LIMITS}.") and bound.excess(amounts) > 0.0
    }
    given_way = {**passed, **eased}
    limits = {
        **problem.limits,
        **{name.partition(".")[2]: bound.stated_for(amounts) for name, bound in given_way.items()},
    }
    fields: dict[str, Any] = {LIMITS: limits} if given_way else {}
    missed = {**problem.targets_mg_per_l, **_missed(problem, amounts, achieved)}
    if missed != dict(problem.targets_mg_per_l):
        fields[TARGETS] = missed
    if fields:
        yield dict(fields)
    met = {name: _six(achieved[name]) for name in problem.targets_mg_per_l}
    yield {**fields, TARGETS: met}
    # A limit that the amounts touch is passed by the last digit of a share or of the water.
    touched = {
        name.partition(".")[2]: bound.stated_for(amounts)
        for name, bound in (
            (bound.name, bound) for bound in limit_bounds(problem, water, acid_share)
        )
        if name.startswith(f"{LIMITS}.") and bound.excess(amounts) > -_TOUCHING
    }
    yield {LIMITS: {**limits, **touched}, TARGETS: met}


_TOUCHING: Final = 0.1
"""How near a limit is to be touched [percent]."""


def _missed(
    problem: RecipeProblem, amounts: FloatArray, achieved: Mapping[str, float]
) -> dict[str, float]:
    """Return the targets whose band the amounts miss, as they meet them."""
    band = problem.band_percent
    if band is None:
        return {}
    found = {}
    for bound in target_bounds(problem, np.zeros(COMPONENT_COUNT), band):
        name = bound.name.partition(".")[2]
        over = achieved[name] - bound.allowed
        if (over if bound.is_maximum else -over) > 0.0:
            found[name] = _six(achieved[name])
    return found


def _six(value: float) -> float:
    """Return a number with six digits."""
    return float(f"{value:.6g}")
