"""What is in a litre of the working solution that a stock plan concentrates."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.planning.mix_parts import MixPart
from service.planning.notes import Notes, RefusalError
from service.planning.recipe import Recipe, RecipeAmount
from service.planning.solution import FloatArray
from service.planning.tank_products import TankProduct
from service.planning.tank_reagent import reagent_product, tank_product, tank_reagent


@dataclass(frozen=True, eq=False)
class StockRecipe:
    """
    What is in a litre of the working solution.

    Attributes
    ----------
    parts : tuple of MixPart
        The products.
    reagents : tuple of TankProduct
        Acids and bases.
    acid_mmol_per_l : ndarray or None
        What acids and bases bring together.
    deviation_percent : mapping of str to float or None
        By how much targets are missed, where the recipe was made for some.
    conflicts : tuple of dict
        Why targets could not be met within the limits.
    """

    parts: tuple[MixPart, ...]
    reagents: tuple[TankProduct, ...]
    acid_mmol_per_l: FloatArray | None
    deviation_percent: Mapping[str, float | None] | None = None
    conflicts: tuple[dict[str, Any], ...] = ()

    @property
    def reagent_kinds(self) -> tuple[str, ...]:
        """Kinds of its acids and bases."""
        return tuple(each.reagent for each in self.reagents if each.reagent is not None)

    def tank_products(self, notes: Notes) -> tuple[TankProduct, ...]:
        """
        Return what is to be concentrated.

        Parameters
        ----------
        notes : Notes
            Receives what is assumed.

        Returns
        -------
        tuple of TankProduct
            Products and acids, those without an amount left out.

        Raises
        ------
        RefusalError
            If a product stands there twice, or nothing has an amount.
        """
        found: dict[str, TankProduct] = {}
        given = [tank_product(part) for part in self.parts if part.amount > 0.0]
        for product in (*given, *self.reagents):
            if product.key in found:
                raise RefusalError("product_twice", product=product.key)
            found[product.key] = product
            if product.liquid and product.density_kg_per_l is None:
                notes.assume("density_of_liquid_estimated", product=product.key)
        if not found:
            raise RefusalError("recipe_brings_nothing")
        return tuple(found.values())


def stated_recipe(
    parts: Sequence[MixPart], acid: Any, acid_mmol_per_l: FloatArray | None
) -> StockRecipe:
    """
    Return a recipe that was stated product by product.

    Parameters
    ----------
    parts : sequence of MixPart
        The products.
    acid : object or None
        Attributes `kind` and `percent` of an acid or base.
    acid_mmol_per_l : ndarray or None
        What it brings [mmol/L].

    Returns
    -------
    StockRecipe
        The recipe.
    """
    if acid_mmol_per_l is None or not acid_mmol_per_l.any():
        return StockRecipe(tuple(parts), (), None)
    return StockRecipe(tuple(parts), (tank_reagent(acid, acid_mmol_per_l),), acid_mmol_per_l)


def found_recipe(recipe: Recipe) -> StockRecipe:
    """
    Return a recipe that was found for targets.

    Parameters
    ----------
    recipe : Recipe
        The recipe of the planner.

    Returns
    -------
    StockRecipe
        The same.
    """
    return StockRecipe(
        parts=tuple(recipe.parts),
        reagents=tuple(_reagent(each) for each in recipe.amounts if each.item.kind is not None),
        acid_mmol_per_l=recipe.acid_mmol_per_l,
        deviation_percent=recipe.deviation_percent,
        conflicts=() if recipe.feasible else tuple(recipe.conflicts),
    )


def _reagent(amount: RecipeAmount) -> TankProduct:
    """Return an acid or base of a recipe as a product of a tank."""
    item = amount.item
    if item.kind is None or item.percent is None:
        raise ValueError("an acid has a kind and a strength")
    density = item.density_kg_per_l if item.liquid else 1.0
    grams = amount.per_l * (1.0 if density is None else density)
    brought = amount.per_l * item.composition_mmol_per_unit
    return reagent_product(item.kind, item.percent, grams, brought)
