"""Products of a concentrate: what they bring, their classes, and which may share a tank."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.chemistry.solution_density import dissolved_mass
from service.planning.products import (
    COLUMN_COUNT,
    DENSITY,
    IS_OXIDISER,
    IS_STIMULANT,
    ProductRow,
)
from service.reference.compatibility import (
    OTHERS,
    ClassRule,
    PairRule,
    chelate_limits,
    class_rules,
    pair_rules,
)
from service.reference.components import (
    BORATE,
    CITRATE,
    COMPONENT_COUNT,
    COMPONENT_NAMES,
    COPPER,
    IRON,
    IRON_CHELATE,
    MANGANESE,
    NOMINAL_CHARGE,
    PHOSPHATE,
    SULFATE,
    ZINC,
)

FloatArray = NDArray[np.float64]

MILLILITRES_PER_LITRE: Final = 1000.0
CHELATES: Final = ("iron_edta", "iron_dtpa", "iron_eddha")
UNKNOWN_CHELATE: Final = "iron_edta"
"""Chelate whose limits are taken where a label does not name its own: the narrowest range."""

BORAX_PART: Final = 0.5
"""Base to a mole of boron in borax, which is not counted: traces of it move no tank."""

FORBIDDEN: Final = "forbidden"
APART: Final = "apart"
FLAGGED: Final = "flagged"


@dataclass(frozen=True, eq=False)
class TankProduct:
    """
    One product of a recipe.

    Attributes
    ----------
    key : str
        Key of the catalogue, or the caller's name.
    name : str
        Name for people.
    liquid : bool
        Whether it is measured in millilitres rather than weighed.
    labelled : bool
        Whether it is known by its label rather than by a formula.
    amount : float
        Grams of a solid or millilitres of a liquid in a litre of the working solution.
    density_kg_per_l : float or None
        Density of a liquid; None for a solid or where it is not known.
    added_mmol_per_l : ndarray, shape (n_components,)
        Components that it brings to a litre of the working solution.
    classes : frozenset of str
        Classes of `service.reference.compatibility`.
    oxidiser : bool
        Whether it feeds a fire when dry.
    reagent : str or None
        Kind of an acid or a base; None for a product.
    """

    key: str
    name: str
    liquid: bool
    labelled: bool
    amount: float
    density_kg_per_l: float | None
    added_mmol_per_l: FloatArray
    classes: frozenset[str]
    oxidiser: bool
    reagent: str | None = None

    @property
    def mass_g_per_l(self) -> float:
        """Mass in a litre of the working solution, estimated where a density is not known [g]."""
        if not self.liquid:
            return self.amount
        if self.density_kg_per_l is not None:
            return self.amount * self.density_kg_per_l
        return self.amount * _assumed_density(self.added_mmol_per_l / self.amount)

    def shared(self, share: float) -> "TankProduct":
        """
        Return the same product with a share of its amount.

        Parameters
        ----------
        share : float
            Part of it.

        Returns
        -------
        TankProduct
            The part.
        """
        part = share * self.added_mmol_per_l
        return replace(self, amount=share * self.amount, added_mmol_per_l=part)


@dataclass(frozen=True)
class Verdict:
    """
    What two products do in one concentrate.

    Attributes
    ----------
    kind : str
        ``forbidden``, ``apart`` or ``flagged``.
    rules : tuple of PairRule
        The rules that say so, the strongest kind alone.
    """

    kind: str
    rules: tuple[PairRule, ...]


def _assumed_density(per_millilitre: FloatArray) -> float:
    """Return the density of a solution that brings this much per millilitre [kg/L]."""
    scratch = np.zeros(COMPONENT_COUNT)
    total = MILLILITRES_PER_LITRE * per_millilitre
    content = prepared_litre(np.zeros(COMPONENT_COUNT), total, REFERENCE_TEMPERATURE, scratch)
    return 1.0 if np.isnan(content) else float(content * (1.0 + dissolved_mass(scratch)))


def acidity(composition: FloatArray) -> float:
    """
    Return the acid that a composition brings beyond mono-phosphates.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each component.

    Returns
    -------
    float
        Free acid in the same unit, negative for a base; boric acid counts as no acid.
    """
    strong = float(np.dot(NOMINAL_CHARGE, composition))
    return float(composition[PHOSPHATE] + composition[CITRATE] - strong)


def _measure(rule: ClassRule, per_gram: FloatArray) -> float:
    """Return the amount by which a product belongs to a class [mmol/g]."""
    metals = float(per_gram[[MANGANESE, ZINC, COPPER]].sum())
    if rule.given_by == "trace_metals":
        return metals
    if rule.given_by == "acidity":
        return acidity(per_gram)
    if rule.given_by == "alkalinity":
        return -acidity(per_gram) - BORAX_PART * float(per_gram[BORATE])
    if rule.given_by == "alkalinity_beyond_phosphate":
        base = -acidity(per_gram) - BORAX_PART * float(per_gram[BORATE])
        return base - float(per_gram[PHOSPHATE])
    amount = float(per_gram[COMPONENT_NAMES.index(rule.subject)])
    if COMPONENT_NAMES.index(rule.subject) == SULFATE:
        amount -= metals + float(per_gram[IRON])
    return amount


def classes_of(row: ProductRow) -> frozenset[str]:
    """
    Return the classes of a product.

    Parameters
    ----------
    row : ProductRow
        The product.

    Returns
    -------
    frozenset of str
        Classes of `service.reference.compatibility`.
    """
    density = float(row.values[DENSITY])
    per_gram = np.array(row.values[:COMPONENT_COUNT])
    if row.liquid and density > 0.0:
        per_gram /= density
    found = set()
    for rule in class_rules():
        if rule.given_by == "product":
            member = row.key == rule.subject
        elif rule.given_by == "kind":
            member = bool(row.values[IS_STIMULANT] == 1.0)
        elif rule.given_by == "oxidiser":
            member = bool(row.values[IS_OXIDISER] == 1.0)
        else:
            member = _measure(rule, per_gram) >= rule.least_mmol_per_g
        if member:
            found.add(rule.name)
    return frozenset(found)


def reagent_classes(composition_mmol_per_g: FloatArray) -> frozenset[str]:
    """
    Return the classes of an acid or a base.

    Parameters
    ----------
    composition_mmol_per_g : ndarray, shape (n_components,)
        What a gram of it brings [mmol/g].

    Returns
    -------
    frozenset of str
        Classes of `service.reference.compatibility`.
    """
    values = np.zeros(COLUMN_COUNT)
    values[:COMPONENT_COUNT] = composition_mmol_per_g
    return classes_of(ProductRow("", "", False, None, (), (), values))


def _applies(rule: PairRule, first: frozenset[str], second: frozenset[str]) -> bool:
    """Tell whether a rule is about a product of the first and one of the second classes."""
    if rule.first not in first:
        return False
    if rule.second == OTHERS:
        return "alkaline" not in second
    return rule.second in second


def verdict(first: TankProduct, second: TankProduct) -> Verdict | None:
    """
    Return what two products do in one concentrate.

    Parameters
    ----------
    first, second : TankProduct
        The products.

    Returns
    -------
    Verdict or None
        The strongest verdict with its rules; None where nothing is known against them.
    """
    rules = [
        rule
        for rule in pair_rules()
        if _applies(rule, first.classes, second.classes)
        or _applies(rule, second.classes, first.classes)
    ]
    for kind in (FORBIDDEN, APART, FLAGGED):
        said = tuple(rule for rule in rules if rule.verdict == kind)
        if said:
            return Verdict(kind, said)
    return None


def own_pair(product: TankProduct) -> tuple[PairRule, ...]:
    """
    Return the forbidden pairs that one product carries in itself.

    Parameters
    ----------
    product : TankProduct
        The product.

    Returns
    -------
    tuple of PairRule
        Rules between two of its own classes, calcium or magnesium being one of them.
    """
    return tuple(
        rule
        for rule in pair_rules()
        if rule.verdict == FORBIDDEN
        and rule.first in ("calcium", "magnesium", "iron_salt")
        and {rule.first, rule.second} <= product.classes
    )


def chelates_in(products: Sequence[TankProduct]) -> tuple[str, ...]:
    """
    Return the iron chelates among products.

    Parameters
    ----------
    products : sequence of TankProduct
        The contents of a tank.

    Returns
    -------
    tuple of str
        Keys of `service.reference.compatibility.chelate_limits`; a chelate that a label does not
        name counts as EDTA.
    """
    found: dict[str, None] = {}
    for product in products:
        if not product.added_mmol_per_l[IRON_CHELATE] > 0.0:
            continue
        named = [key for key in CHELATES if key in product.classes and key in chelate_limits()]
        found |= dict.fromkeys(named or [UNKNOWN_CHELATE])
    return tuple(found)
