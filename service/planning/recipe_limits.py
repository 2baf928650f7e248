"""Limits of a recipe, each as a bound on a sum over what the shelf brings."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.alkalinity import alkalinity_of_composition
from service.planning.acid_dose import LARGEST_BASE
from service.planning.recipe_nutrients import (
    NITROGEN,
    NUTRIENTS,
    SULFATE_ROW,
    nutrient_row,
    target_scale,
)
from service.planning.recipe_problem import RecipeProblem, ShelfItem
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FloatArray = NDArray[np.float64]

_SALT_NAMES: Final = {"chlorine": "chloride", "fluorine": "fluoride"}
CONCENTRATIONS: Final = {f"{_SALT_NAMES.get(name, name)}_mg_per_l": name for name in NUTRIENTS}
"""Limits on a nutrient, and the nutrient that each of them bounds."""

SULFATE: Final = "sulfate_mg_per_l"
ALKALINITY: Final = "alkalinity_mg_per_l_caco3"
SHARES: Final = {
    "ammonium_share_percent": ("ammonium_nitrogen",),
    "urea_share_percent": ("urea_nitrogen",),
    "ammonium_and_urea_share_percent": ("ammonium_nitrogen", "urea_nitrogen"),
}
"""Limits on a share of the total nitrogen, and the forms that each of them bounds."""

PRODUCT_COUNT: Final = "product_count"
LIMIT_NAMES: Final = (*CONCENTRATIONS, SULFATE, ALKALINITY, *SHARES, PRODUCT_COUNT)

SMALLEST_SCALE: Final = 1e-3
"""What a limit of zero is scaled by, in its own unit."""

EASED_SHARE: Final = 1.001
"""By how much more than reached a share is stated, so that rounded numbers keep it."""

ACID_SHARE: Final = "acid_neutralised_share_percent"
BASE_AMOUNT: Final = "base_alkalinity_mg_per_l_caco3"


@dataclass(frozen=True, eq=False)
class Bound:
    """
    One limit, as ``coefficients @ amounts + water <= allowed``, or ``>=``.

    Attributes
    ----------
    name : str
        Dotted name in the request, such as ``limits.chloride_mg_per_l``.
    coefficients : ndarray, shape (n_items,)
        What a gram or millilitre in a litre adds, in the unit of the limit.
    water : float
        What the water brings.
    allowed : float
        The limit; 0 for a share, which is written as a surplus of the form over its share.
    scale : float
        What counts as 100 % of it.
    is_maximum : bool
        Whether it is the most or the least.
    is_target : bool
        Whether it is the band around a target, which gives way before a limit does.
    stated : float
        The limit as the caller states it.
    nitrogen : ndarray or None
        Of a share, the nitrogen of a gram or millilitre and, last, of the water; else None.
    """

    name: str
    coefficients: FloatArray
    water: float
    allowed: float
    scale: float
    is_maximum: bool
    is_target: bool
    stated: float
    nitrogen: FloatArray | None = None

    def value(self, amounts: FloatArray) -> float:
        """
        Return what these amounts come to.

        Parameters
        ----------
        amounts : ndarray, shape (n_items,)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        float
            In the unit of the limit.
        """
        return float(self.coefficients @ amounts) + self.water

    def excess(self, amounts: FloatArray) -> float:
        """
        Return by how much of itself the limit is passed.

        Parameters
        ----------
        amounts : ndarray, shape (n_items,)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        float
            Percent of `scale`, at most 0 where the limit is kept.
        """
        over = self.value(amounts) - self.allowed
        return 100.0 * (over if self.is_maximum else -over) / self.scale

    def reported(self, amounts: FloatArray) -> float:
        """
        Return what these amounts come to, as the caller states the limit.

        Parameters
        ----------
        amounts : ndarray, shape (n_items,)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        float
            A share in per cent, everything else in the unit of the limit.
        """
        value = self.value(amounts)
        if self.nitrogen is not None:
            total = float(self.nitrogen[:-1] @ amounts + self.nitrogen[-1])
            return self.stated + 100.0 * value / total if total > 0.0 else 0.0
        if self.name == ACID_SHARE:
            return self.stated * value / self.scale
        return value

    def stated_for(self, amounts: FloatArray) -> float:
        """
        Return the limit that these amounts keep, as a caller would state it.

        Parameters
        ----------
        amounts : ndarray, shape (n_items,)
            Amounts in a litre [g/L or mL/L].

        Returns
        -------
        float
            A share in per cent, everything else in the unit of the limit.
        """
        if self.nitrogen is None and self.value(amounts) <= self.allowed:
            return self.stated
        return float(f"{max(self.reported(amounts), self.stated) * EASED_SHARE:.6g}")


def alkalinity_of(composition: FloatArray) -> float:
    """
    Return the alkalinity that a composition brings.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Components [mmol/L].

    Returns
    -------
    float
        Alkalinity, negative for an acid [mg/L CaCO3].
    """
    return float(alkalinity_of_composition(composition)) * CALCIUM_CARBONATE_MG_PER_MEQ


def compositions_of(shelf: Sequence[ShelfItem]) -> FloatArray:
    """
    Return the compositions of a shelf, one row per item.

    Parameters
    ----------
    shelf : sequence of ShelfItem
        The shelf.

    Returns
    -------
    ndarray, shape (n_items, n_components)
        Components of a gram or a millilitre.
    """
    return np.array([item.composition_mmol_per_unit for item in shelf])


def target_bounds(problem: RecipeProblem, water: FloatArray, band: float) -> list[Bound]:
    """
    Return the bands around the targets.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    water : ndarray, shape (n_components,)
        Components that the water brings [mmol/L].
    band : float
        Half their width [percent of the target].

    Returns
    -------
    list of Bound
        Two for each target, the lower one left out where it is no bound.
    """
    shelf = compositions_of(problem.shelf)
    found = []
    for name, target in problem.targets_mg_per_l.items():
        row = nutrient_row(name)
        scale = target_scale(name, target)
        common = (f"target_mg_per_l.{name}", shelf @ row, float(row @ water))
        room = scale * band / 100.0
        found.append(Bound(*common, target + room, scale, True, True, target))
        if target - room > 0.0:
            found.append(Bound(*common, target - room, scale, False, True, target))
    return found


def limit_bounds(problem: RecipeProblem, water: FloatArray, acid_share: float) -> list[Bound]:
    """
    Return the limits that a recipe must keep, those of the caller and those on acid and base.

    Parameters
    ----------
    problem : RecipeProblem
        The problem.
    water : ndarray, shape (n_components,)
        Components that the water brings [mmol/L].
    acid_share : float
        Most of the water's alkalinity that acid may take, 0 to 1.

    Returns
    -------
    list of Bound
        One for each limit.
    """
    shelf = compositions_of(problem.shelf)
    found = []
    for name, allowed in problem.limits.items():
        where = f"limits.{name}"
        if name in CONCENTRATIONS or name == SULFATE:
            row = SULFATE_ROW if name == SULFATE else nutrient_row(CONCENTRATIONS[name])
            found.append(_maximum(where, shelf @ row, float(row @ water), allowed))
        elif name == ALKALINITY:
            brings = np.array([alkalinity_of(each) for each in shelf])
            found.append(_maximum(where, brings, alkalinity_of(water), allowed))
        elif name in SHARES:
            found.append(_share(problem, shelf, water, name, allowed))
    return found + _reagent_bounds(problem, shelf, water, acid_share)


def _reagent_bounds(
    problem: RecipeProblem, shelf: FloatArray, water: FloatArray, acid_share: float
) -> list[Bound]:
    """Return the bounds on acid and base that keep a can safe."""
    found = []
    acids = np.array([item.is_acid for item in problem.shelf])
    bases = np.array([item.is_base for item in problem.shelf])
    brings = np.array([alkalinity_of(each) for each in shelf])
    if acids.any():
        allowed = max(acid_share * alkalinity_of(water), 0.0)
        taken = np.where(acids, -brings, 0.0)
        found.append(_maximum(ACID_SHARE, taken, 0.0, allowed, stated=100.0 * acid_share))
    if bases.any():
        allowed = LARGEST_BASE * CALCIUM_CARBONATE_MG_PER_MEQ
        found.append(_maximum(BASE_AMOUNT, np.where(bases, brings, 0.0), 0.0, allowed))
    return found


def _share(
    problem: RecipeProblem, shelf: FloatArray, water: FloatArray, name: str, allowed: float
) -> Bound:
    """Return the limit on a share of the nitrogen, as a surplus of the forms over their share."""
    nitrogen = nutrient_row(NITROGEN)
    row = -allowed / 100.0 * nitrogen
    for form in SHARES[name]:
        row = row + nutrient_row(form)
    return Bound(
        name=f"limits.{name}",
        coefficients=shelf @ row,
        water=float(row @ water),
        allowed=0.0,
        scale=_share_scale(problem, allowed),
        is_maximum=True,
        is_target=False,
        stated=allowed,
        nitrogen=np.append(shelf @ nitrogen, nitrogen @ water),
    )


def _maximum(
    name: str, coefficients: FloatArray, water: float, allowed: float, stated: float | None = None
) -> Bound:
    scale = max(allowed, SMALLEST_SCALE)
    said = allowed if stated is None else stated
    return Bound(name, coefficients, water, allowed, scale, True, False, said)


def _share_scale(problem: RecipeProblem, share: float) -> float:
    """Return the nitrogen that a share is measured by [mg/L]."""
    targets = problem.targets_mg_per_l
    forms = sum(value for name, value in targets.items() if name.endswith("_nitrogen"))
    nitrogen = max(targets.get(NITROGEN, 0.0), forms, 1.0)
    return nitrogen * max(share, 1.0) / 100.0
