"""Recipes and tanks from short names, for the tests of stock plans."""

from collections.abc import Mapping
from typing import Any

from service.planning.catalogue import Catalogue, catalogue
from service.planning.known_water import known_water
from service.planning.mix_parts import MixPart, acid_part, mix_part
from service.planning.notes import Notes
from service.planning.stock_plan import StockPlan, StockWish, stock_plan
from service.planning.tank_chemistry import TankWater, temperatures_between
from service.planning.tank_products import FORBIDDEN, TankProduct, verdict
from service.planning.tank_reagent import tank_product, tank_reagent
from service.reference.acids import acids

COMPLETE = {
    "calcium_nitrate_tetrahydrate": 1.18,
    "potassium_nitrate": 0.5055,
    "monopotassium_phosphate": 0.1361,
    "magnesium_sulfate_heptahydrate": 0.493,
}
"""Hoagland solution 1 from its salts, grams to a litre: 5, 5, 1 and 2 mmol."""

TRACES = {
    "iron_edta": 0.01,
    "boric_acid": 0.0028,
    "manganese_sulfate_monohydrate": 0.0015,
    "zinc_sulfate_heptahydrate": 0.0002,
    "copper_sulfate_pentahydrate": 0.0001,
    "sodium_molybdate_dihydrate": 0.0001,
}


def part(key: str, amount: float, known: Catalogue | None = None) -> MixPart:
    """Return an amount of a product, in grams or millilitres as it is measured."""
    known = catalogue() if known is None else known
    row = known.product_rows[known.product_positions[key]]
    grams, millilitres = (None, amount) if row.liquid else (amount, None)
    return mix_part(row, grams, millilitres, None, "recipe.0", Notes())


def product(key: str, amount: float = 1.0, known: Catalogue | None = None) -> TankProduct:
    """Return a product of a tank; an acid or base by its kind, of full strength."""
    if key in acids():
        return reagent(key, 1000.0 * amount / acids()[key].molar_mass_g_per_mol, 100.0)
    return tank_product(part(key, amount, known))


def recipe(amounts: Mapping[str, float]) -> tuple[TankProduct, ...]:
    """Return the products of a recipe."""
    return tuple(product(key, amount) for key, amount in amounts.items())


class Reagent:
    """An acid or base as a request states it."""

    def __init__(self, kind: str, percent: float | None, mmol_per_l: float) -> None:
        self.kind, self.percent, self.mmol_per_l = kind, percent, mmol_per_l
        self.ml_per_l = self.g_per_l = None


def reagent(kind: str, mmol_per_l: float, percent: float | None = None) -> TankProduct:
    """Return an acid or base as a product of a tank."""
    stated = Reagent(kind, percent, mmol_per_l)
    return tank_reagent(stated, acid_part(stated, Notes()))


def tank_water(
    preset: Any = "reverse_osmosis", coldest: float = 10.0, warmest: float = 30.0
) -> TankWater:
    """Return what tanks are filled up with, and how cold and warm they stand."""
    water = known_water(preset, catalogue(), Notes())
    return TankWater(water.composition_mol_per_kg, temperatures_between(coldest, warmest))


def planned(
    products: tuple[TankProduct, ...],
    factor: float,
    tank_count: int | None = None,
    water: TankWater | None = None,
) -> StockPlan:
    """Plan tanks."""
    filled = tank_water() if water is None else water
    return stock_plan(StockWish(products, filled, factor, tank_count, by_ratio=False))


def forbidden_pairs(tank: tuple[TankProduct, ...]) -> list[tuple[str, str]]:
    """Return the forbidden pairs that share a tank, every pair looked at."""
    return [
        (first.key, second.key)
        for place, first in enumerate(tank)
        for second in tank[place + 1 :]
        if (said := verdict(first, second)) is not None and said.kind == FORBIDDEN
    ]
