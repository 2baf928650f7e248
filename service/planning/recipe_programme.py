"""
A recipe as a linear programme over scaled amounts, and its solution by HiGHS.

Amounts are scaled so that 1 is the amount that meets the target an item serves most; deviations
and limits are in per cent. So a milligram of molybdate and a gram of nitrate are numbers of one
size, and the solver's tolerance means the same for both.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning.recipe_limits import Bound, compositions_of
from service.planning.recipe_nutrients import nutrient_row, target_scale
from service.planning.recipe_problem import RecipeProblem

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

FEASIBILITY: Final = 1e-9
"""Tolerance of the solver on scaled rows and columns."""

SECONDS_FOR_WHOLE_NUMBERS: Final = 1.5
"""Time that one programme with yes-or-no variables may take [s]."""

GAP: Final = 1e-7
"""Relative difference from the best bound at which a programme of whole numbers is solved."""

HIGHEST_SCALED: Final = 100.0
"""Scaled amount that nothing needs: a hundred times a hundred per cent of a target."""

_OPTIMAL: Final = 0
_OUT_OF_TIME: Final = 1


@dataclass(frozen=True, eq=False)
class Programme:
    """
    The numbers of a recipe's programme.

    Attributes
    ----------
    scale : ndarray, shape (n_items,)
        Amount that a scaled amount of 1 stands for [g/L or mL/L].
    highest : ndarray, shape (n_items,)
        Largest scaled amounts.
    least : ndarray, shape (n_items,)
        Least scaled amount of an item that is used at all; 0 where any amount can be measured.
    deviation : ndarray, shape (n_targets, n_items)
        What a scaled amount adds to a target [percent].
    water_deviation : ndarray, shape (n_targets,)
        Deviations of the water alone [percent].
    weights : ndarray, shape (n_targets,)
        Importance of the targets.
    rows : ndarray, shape (n_bounds, n_items)
        What a scaled amount adds to the excess over each limit [percent].
    room : ndarray, shape (n_bounds,)
        What the water leaves of each limit [percent].
    most_products : int or None
        Most items that may be used.
    """

    scale: FloatArray
    highest: FloatArray
    least: FloatArray
    deviation: FloatArray
    water_deviation: FloatArray
    weights: FloatArray
    rows: FloatArray
    room: FloatArray
    most_products: int | None

    @property
    def item_count(self) -> int:
        """Number of items."""
        return int(self.scale.size)

    def deviations(self, scaled: FloatArray) -> FloatArray:
        """
        Return the deviations from the targets.

        Parameters
        ----------
        scaled : ndarray, shape (n_items,)
            Scaled amounts.

        Returns
        -------
        ndarray, shape (n_targets,)
            Deviations [percent].
        """
        found: FloatArray = self.deviation @ scaled + self.water_deviation
        return found

    def badness(self, scaled: FloatArray) -> float:
        """
        Return the weighted sum of the squared deviations.

        Parameters
        ----------
        scaled : ndarray, shape (n_items,)
            Scaled amounts.

        Returns
        -------
        float
            Weighted sum [percent squared].
        """
        return float(self.weights @ self.deviations(scaled) ** 2)


@dataclass(frozen=True, eq=False)
class Solved:
    """
    The solution of one programme.

    Attributes
    ----------
    values : ndarray
        All variables.
    objective : float
        What was minimised.
    proven : bool
        Whether nothing better exists; False when the time ran out.
    """

    values: FloatArray
    objective: float
    proven: bool


def programme_of(
    problem: RecipeProblem, bounds: Sequence[Bound], water: FloatArray, least: FloatArray
) -> Programme:
    """
    Return the programme of a recipe.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    bounds : sequence of Bound
        Limits that must be kept.
    water : ndarray, shape (n_components,)
        Components that the water brings [mmol/L].
    least : ndarray, shape (n_items,)
        Least amount of an item that is used at all [g/L or mL/L].

    Returns
    -------
    Programme
        Its numbers.
    """
    shelf = compositions_of(problem.shelf)
    names = list(problem.targets_mg_per_l)
    targets = np.array([problem.targets_mg_per_l[name] for name in names])
    scales = np.array([target_scale(name, problem.targets_mg_per_l[name]) for name in names])
    rows = np.array([nutrient_row(name) for name in names])
    brings = (rows @ shelf.T) / scales[:, None]
    most = brings.max(axis=0)
    scale = np.where(most > 0.0, 1.0 / np.where(most > 0.0, most, 1.0), 1.0)
    largest = np.array([item.largest_per_l for item in problem.shelf])
    signs = np.array([1.0 if bound.is_maximum else -1.0 for bound in bounds])
    factors = 100.0 * signs / np.array([bound.scale for bound in bounds])
    coefficients = np.reshape([bound.coefficients * scale for bound in bounds], (-1, scale.size))
    count = problem.limits.get("product_count")
    return Programme(
        scale=scale,
        highest=np.minimum(largest / scale, HIGHEST_SCALED),
        least=least / scale,
        deviation=100.0 * brings * scale,
        water_deviation=100.0 * (rows @ water - targets) / scales,
        weights=np.array([problem.weights.get(name, 1.0) for name in names]),
        rows=factors[:, None] * coefficients,
        room=factors * np.array([bound.allowed - bound.water for bound in bounds]),
        most_products=None if count is None else int(count),
    )


def solved(
    cost: FloatArray,
    rows: FloatArray,
    room: FloatArray,
    low: FloatArray,
    high: FloatArray,
    *,
    equal: FloatArray | None = None,
    equal_to: FloatArray | None = None,
    whole: BoolArray | None = None,
) -> Solved | None:
    """
    Minimise ``cost @ x`` with ``rows @ x <= room``, ``equal @ x == equal_to`` and bounds.

    Parameters
    ----------
    cost : ndarray, shape (n,)
        What is minimised.
    rows, room : ndarray
        Inequalities.
    low, high : ndarray, shape (n,)
        Bounds of the variables.
    equal, equal_to : ndarray or None
        Equalities.
    whole : ndarray of bool or None
        Which variables are whole numbers.

    Returns
    -------
    Solved or None
        None where nothing fulfils the constraints.
    """
    # Loaded when the first recipe is asked for: the service starts without it.
    from scipy.optimize import linprog

    mixed = whole is not None and bool(whole.any())
    options = {
        "primal_feasibility_tolerance": FEASIBILITY,
        "dual_feasibility_tolerance": FEASIBILITY,
    }
    if mixed:
        # Undoing its own simplifications makes the solver repair answers, and say so on the
        # standard output, whatever it is told about output.
        options = {
            "time_limit": SECONDS_FOR_WHOLE_NUMBERS,
            "mip_rel_gap": GAP,
            "presolve": False,
        }
    found = linprog(
        cost,
        A_ub=rows if room.size else None,
        b_ub=room if room.size else None,
        A_eq=equal,
        b_eq=equal_to,
        bounds=np.column_stack([low, high]),
        method="highs",
        integrality=whole.astype(int) if mixed and whole is not None else None,
        options=options,
    )
    if found.x is None or found.status not in (_OPTIMAL, _OUT_OF_TIME):
        return None
    return Solved(np.array(found.x), float(found.fun), found.status == _OPTIMAL)
