"""A recipe as it is asked for: targets, shelf, water, limits, instruments."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.density import REAGENT_NAMES, reagent_concentration, reagent_density
from service.planning.acid_dose import ACID_TEMPERATURE
from service.planning.instruments import USUAL_PRE_STOCK
from service.planning.known_water import KnownWater
from service.planning.mix_parts import LabelText
from service.planning.notes import Notes, RefusalError
from service.planning.products import (
    DENSITY,
    RATE_CAP,
    STRONGEST_PRE_STOCK,
    ProductRow,
)
from service.reference.acids import acids
from service.reference.components import COMPONENT_COUNT

FloatArray = NDArray[np.float64]

CLOSEST_PROFILE: Final = "closest_profile"
LOWEST_COST: Final = "lowest_cost"
FEWEST_PRODUCTS: Final = "fewest_products"
OBJECTIVES: Final = (CLOSEST_PROFILE, LOWEST_COST, FEWEST_PRODUCTS)

DEFAULT_TOLERANCE: Final = 5.0
"""By how much a target may be missed where the objective is not closeness [percent]; our choice."""

MINIMUM_STEPS: Final = 5.0
"""Steps of a display under which it does not weigh or measure truly; common practice."""

PRE_STOCK_CHOICES: Final = ("all", "traces", "none")

MILLILITRES_PER_LITRE: Final = 1000.0
MILLIGRAMS_PER_GRAM: Final = 1000.0


def _none() -> Mapping[str, float]:
    return MappingProxyType({})


@dataclass(frozen=True, eq=False)
class ShelfItem:
    """
    One thing on the shelf.

    Attributes
    ----------
    name : str
        Key or name, for the answer.
    liquid : bool
        Whether it is measured in millilitres rather than weighed.
    composition_mmol_per_unit : ndarray, shape (n_components,)
        Components of a gram or of a millilitre.
    largest_per_l : float
        Most of it in a litre of the solution [g/L or mL/L].
    price_per_unit : float or None
        Price of a gram or of a millilitre, in the caller's money.
    strongest_pre_stock : float
        Strongest pre-stock that it dissolves to [g/L or mL/L].
    density_kg_per_l : float or None
        Density of a liquid, where it is known.
    product : ProductRow or None
        The product; None for an acid or a base.
    label : LabelText or None
        The label that the product is known by.
    kind : str or None
        Kind of the acid or base; None for a product.
    percent : float or None
        Strength of the acid or base, by mass.
    place : str
        Dotted name in the request.
    own_largest : bool
        Whether the caller set `largest_per_l`.
    """

    name: str
    liquid: bool
    composition_mmol_per_unit: FloatArray
    largest_per_l: float
    price_per_unit: float | None
    strongest_pre_stock: float
    density_kg_per_l: float | None
    product: ProductRow | None
    label: LabelText | None
    kind: str | None
    percent: float | None
    place: str
    own_largest: bool

    @property
    def is_acid(self) -> bool:
        """Whether it is an acid, which may take no more than a share of the alkalinity."""
        return self.kind is not None and acids()[self.kind].role == "acid"

    @property
    def is_base(self) -> bool:
        """Whether it is a base."""
        return self.kind is not None and acids()[self.kind].role == "base"

    @property
    def largest_name(self) -> str:
        """Dotted name of the bound on its amount."""
        return f"{self.place}.{'largest_ml_per_l' if self.liquid else 'largest_g_per_l'}"


@dataclass(frozen=True, eq=False)
class RecipeProblem:
    """
    What a recipe is asked to be.

    Attributes
    ----------
    targets_mg_per_l : mapping of str to float
        Targets by the names of `service.planning.recipe_nutrients.NUTRIENTS`.
    shelf : tuple of ShelfItem
        What may be used.
    water : KnownWater
        The water; what it brings counts.
    limits : mapping of str to float
        Limits by the names of `service.planning.recipe_limits.LIMIT_NAMES`.
    objective : str
        One of `OBJECTIVES`.
    tolerance_percent : float or None
        By how much a target may be missed at most; None for no bound, or `DEFAULT_TOLERANCE` where
        the objective needs one.
    weights : mapping of str to float
        Importance of single targets, 1 if absent.
    volume_l : float or None
        Volume that is made; None for a litre of which nothing is rounded.
    balance_resolution_g, syringe_resolution_ml : float
        Steps of the instruments.
    balance_minimum_g : float or None
        Least that the balance weighs truly; `MINIMUM_STEPS` of its display if None.
    pre_stocks : str
        Which products may be dosed from a pre-stock; one of `PRE_STOCK_CHOICES`.
    """

    targets_mg_per_l: Mapping[str, float]
    shelf: tuple[ShelfItem, ...]
    water: KnownWater
    limits: Mapping[str, float] = field(default_factory=_none)
    objective: str = CLOSEST_PROFILE
    tolerance_percent: float | None = None
    weights: Mapping[str, float] = field(default_factory=_none)
    volume_l: float | None = None
    balance_resolution_g: float = 0.1
    balance_minimum_g: float | None = None
    syringe_resolution_ml: float = 0.1
    pre_stocks: str = "all"

    @property
    def least_weighed_g(self) -> float:
        """Least that the balance weighs truly."""
        if self.balance_minimum_g is not None:
            return self.balance_minimum_g
        return MINIMUM_STEPS * self.balance_resolution_g

    @property
    def band_percent(self) -> float | None:
        """By how much a target may be missed, None where nothing bounds it."""
        if self.tolerance_percent is not None:
            return self.tolerance_percent
        return None if self.objective == CLOSEST_PROFILE else DEFAULT_TOLERANCE


def product_item(
    product: ProductRow,
    *,
    label: LabelText | None = None,
    price_per_unit: float | None = None,
    largest_per_l: float | None = None,
    place: str = "shelf",
) -> ShelfItem:
    """
    Return a product as an item of the shelf.

    Parameters
    ----------
    product : ProductRow
        The product.
    label : LabelText or None
        The label, for a product that is known by it.
    price_per_unit : float or None
        Price of a gram or of a millilitre.
    largest_per_l : float or None
        Most of it in a litre; that of any product in a can if absent [g/L or mL/L].
    place : str
        Dotted name in the request.

    Returns
    -------
    ShelfItem
        The item.
    """
    cap, density = float(product.values[RATE_CAP]), float(product.values[DENSITY])
    return ShelfItem(
        name=product.key,
        liquid=product.liquid,
        composition_mmol_per_unit=np.array(product.values[:COMPONENT_COUNT]),
        largest_per_l=cap if largest_per_l is None else min(cap, largest_per_l),
        price_per_unit=price_per_unit,
        strongest_pre_stock=float(product.values[STRONGEST_PRE_STOCK]),
        density_kg_per_l=density if product.liquid and density > 0.0 else None,
        product=product,
        label=label,
        kind=None,
        percent=None,
        place=place,
        own_largest=largest_per_l is not None and largest_per_l <= cap,
    )


def acid_item(
    acid: Any,
    notes: Notes,
    *,
    price_per_unit: float | None = None,
    largest_per_l: float | None = None,
    place: str = "shelf",
) -> ShelfItem:
    """
    Return an acid or a base as an item of the shelf.

    Parameters
    ----------
    acid : object
        Attributes `kind` and `percent`, the mass of acid in the mass of what is in the bottle.
    notes : Notes
        Receives what is assumed.
    price_per_unit : float or None
        Price of a gram or of a millilitre.
    largest_per_l : float or None
        Most of it in a litre [g/L or mL/L].
    place : str
        Dotted name in the request.

    Returns
    -------
    ShelfItem
        The item; measured in millilitres where the density of that strength is known.
    """
    reagent = acids()[acid.kind]
    percent = acid.percent
    if percent is None:
        percent = reagent.default_strength_percent
        notes.assume("acid_strength_assumed", f"{place}.acid.percent")
    share = percent / 100.0
    name = f"{reagent.key}_acid" if reagent.role == "acid" else reagent.key
    number = REAGENT_NAMES.index(name)
    density = float(reagent_density(number, share, ACID_TEMPERATURE))
    liquid = bool(np.isfinite(density))
    if liquid:
        molar_mass = reagent.molar_mass_g_per_mol
        concentration = reagent_concentration(number, share, molar_mass, ACID_TEMPERATURE)
        amount = float(concentration) / MILLILITRES_PER_LITRE
    else:
        amount = MILLIGRAMS_PER_GRAM * share / reagent.molar_mass_g_per_mol
    return ShelfItem(
        name=name,
        liquid=liquid,
        composition_mmol_per_unit=amount * reagent.composition_mol_per_mol,
        largest_per_l=np.inf if largest_per_l is None else largest_per_l,
        price_per_unit=price_per_unit,
        strongest_pre_stock=USUAL_PRE_STOCK,
        density_kg_per_l=density if liquid else None,
        product=None,
        label=None,
        kind=acid.kind,
        percent=percent,
        place=place,
        own_largest=largest_per_l is not None,
    )


def with_largest(item: ShelfItem, grams: float | None, millilitres: float | None) -> ShelfItem:
    """
    Return an item with the most of it that a caller allows.

    Parameters
    ----------
    item : ShelfItem
        The item.
    grams, millilitres : float or None
        Most of it in a litre, in one of the units or in none.

    Returns
    -------
    ShelfItem
        The item with its bound in the unit that it is measured in.

    Raises
    ------
    RefusalError
        For a volume of what is weighed, or a mass of a liquid of unknown density.
    """
    largest = millilitres if item.liquid else grams
    if millilitres is not None and not item.liquid:
        raise RefusalError("volume_of_a_solid", f"{item.place}.largest_ml_per_l")
    if grams is not None and item.liquid:
        if item.density_kg_per_l is None:
            raise RefusalError("density_needed", f"{item.place}.largest_g_per_l")
        largest = grams / item.density_kg_per_l
    if largest is None:
        return item
    return replace(
        item,
        largest_per_l=min(largest, item.largest_per_l),
        own_largest=largest <= item.largest_per_l,
    )
