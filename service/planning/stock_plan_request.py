"""A stock plan from what was asked: defaults, the plan, and the fields of its answer."""

from dataclasses import dataclass
from typing import Any, Final

from service.planning.catalogue import Catalogue
from service.planning.injector import PARTS_IN, PARTS_TO, Injector, factor_of_ratio
from service.planning.known_water import KnownWater
from service.planning.notes import Notes, RefusalError
from service.planning.stock_plan import StockPlan, StockWish
from service.planning.stock_plan_card import (
    Bench,
    NamedTank,
    named_tanks,
    stock_steps,
    tank_fields,
)
from service.planning.stock_plan_notes import note_injector, note_own_solids, note_tanks
from service.planning.stock_recipe import StockRecipe
from service.planning.stock_working import plan_in_water, working_fields, working_water
from service.planning.tank_check import confirm_tanks
from service.planning.tank_chemistry import TankWater, temperatures_between

USUAL_COLDEST: Final = 10.0
USUAL_WARMEST: Final = 30.0
"""Temperatures of a shed or greenhouse from winter to summer [degC]; our choice."""


USUAL_TANK_L: Final = 10.0
"""Volume of a tank that nobody states [L], common practice; amounts grow with it."""


@dataclass(frozen=True)
class StockTerms:
    """
    How a recipe is to be concentrated, defaults filled in.

    Attributes
    ----------
    concentration_factor, injector_ratio : float or None
        One of them.
    counts : str
        ``parts_in`` or ``parts_to``.
    tank_volume_l : float
        Finished concentrate of each tank.
    tank_count : int or None
        Number of tanks.
    coldest_celsius, warmest_celsius : float
        Temperatures at which they stand.
    daily_use_l : float or None
        Working solution used in a day.
    balance_resolution_g : float or None
        Step of the scale.
    """

    concentration_factor: float | None
    injector_ratio: float | None
    counts: str
    tank_volume_l: float
    tank_count: int | None
    coldest_celsius: float
    warmest_celsius: float
    daily_use_l: float | None
    balance_resolution_g: float | None

    @classmethod
    def of(cls, asked: Any, notes: Notes) -> "StockTerms":
        """
        Return the terms of a request.

        Parameters
        ----------
        asked : object
            Has the attributes of this class, `injector_counts` for `counts`.
        notes : Notes
            Receives what is assumed.

        Returns
        -------
        StockTerms
            With defaults.

        Raises
        ------
        RefusalError
            If the warmest temperature lies below the coldest.
        """
        coldest, warmest = asked.coldest_celsius, asked.warmest_celsius
        unsaid = coldest is None or warmest is None
        if coldest is None:
            coldest = USUAL_COLDEST if warmest is None else min(USUAL_COLDEST, warmest)
        if warmest is None:
            warmest = max(USUAL_WARMEST, coldest)
        if warmest < coldest:
            raise RefusalError("warmest_below_coldest")
        if unsaid:
            notes.assume("coldest_assumed", coldest=coldest, warmest=warmest)
        volume = asked.tank_volume_l
        if volume is None:
            volume = USUAL_TANK_L
            notes.assume("tank_volume_assumed", litres=volume)
        if asked.injector_ratio is not None and asked.injector_counts is None:
            notes.assume("injector_counts_assumed")
        return cls(
            concentration_factor=asked.concentration_factor,
            injector_ratio=asked.injector_ratio,
            counts=asked.injector_counts or PARTS_IN,
            tank_volume_l=volume,
            tank_count=asked.tank_count,
            coldest_celsius=coldest,
            warmest_celsius=warmest,
            daily_use_l=asked.daily_use_l,
            balance_resolution_g=asked.balance_resolution_g,
        )

    @property
    def factor(self) -> float:
        """Concentration factor: the one given, or that of the injector."""
        if self.concentration_factor is not None:
            return self.concentration_factor
        if self.injector_ratio is None:
            raise ValueError("terms have a factor or a ratio")
        return factor_of_ratio(self.injector_ratio, self.counts)


@dataclass(frozen=True, eq=False)
class StockAnswer:
    """
    The plan of a request.

    Attributes
    ----------
    plan : StockPlan
        The plan.
    tank_water : KnownWater
        What the tanks are made with.
    conflicts : tuple of dict
        Limits that collide, those of the recipe first.
    fields : dict
        Flat results.
    tanks : tuple of NamedTank
        The tanks, in the order of their names; empty where there is no plan.
    filling : TankWater
        Water and temperatures of the tanks.
    mixed_in : KnownWater
        Water of the working solution.
    """

    plan: StockPlan
    tank_water: KnownWater
    conflicts: tuple[dict[str, Any], ...]
    fields: dict[str, Any]
    tanks: tuple[NamedTank, ...]
    filling: TankWater
    mixed_in: KnownWater


def plan_stock(
    recipe: StockRecipe,
    water: KnownWater,
    tank_water: KnownWater | None,
    terms: StockTerms,
    catalogue: Catalogue,
    notes: Notes,
) -> StockAnswer:
    """
    Plan the tanks of a recipe.

    Parameters
    ----------
    recipe : StockRecipe
        What is in a litre of the working solution.
    water : KnownWater
        Its water.
    tank_water : KnownWater or None
        The water of the tanks where the caller chose one.
    terms : StockTerms
        How it is to be concentrated.
    catalogue : Catalogue
        Knows the pure water.
    notes : Notes
        Receives cautions and assumptions.

    Returns
    -------
    StockAnswer
        The plan and the fields of the answer.

    Raises
    ------
    RefusalError
        If the recipe is empty or too strong for a working solution.
    UnconfirmedError
        If the tanks together are not the recipe.
    """
    products = recipe.tank_products(notes)
    if tank_water is None:
        notes.assume("tank_water_as_water")
    filling = water if tank_water is None else tank_water
    temperatures = temperatures_between(terms.coldest_celsius, terms.warmest_celsius)
    wish = StockWish(
        products=products,
        water=TankWater(filling.composition_mol_per_kg, temperatures),
        factor=terms.factor,
        tank_count=terms.tank_count,
        by_ratio=terms.concentration_factor is None,
        beside_water=terms.concentration_factor is None and terms.counts == PARTS_TO,
    )
    found, wish, filling = plan_in_water(wish, filling, tank_water is not None, catalogue, notes)
    tanks = named_tanks(found, wish.water)
    note_tanks(found, tanks, filling, terms.tank_volume_l, terms.balance_resolution_g, notes)
    note_own_solids(wish.water, notes)
    if terms.tank_count is not None and tanks and found.feasible and len(tanks) < terms.tank_count:
        notes.caution("tank_left_out", used=len(tanks), asked=terms.tank_count)
    mixed_in = working_water(water, filling, tanks, found.factor)
    working = working_fields(mixed_in, recipe.parts, recipe.acid_mmol_per_l, notes)
    fields = _fields(found, tanks, wish, terms, notes)
    if recipe.conflicts:
        fields["status"] = "infeasible"
    told = {
        "recipe": _recipe_lines(wish),
        "deviation_percent": None
        if recipe.deviation_percent is None
        else {name: each for name, each in recipe.deviation_percent.items() if each is not None},
        "working_solution": working,
    }
    conflicts = (*recipe.conflicts, *found.conflicts)
    return StockAnswer(
        found, filling, conflicts, {**fields, **told}, tuple(tanks), wish.water, mixed_in
    )


def _recipe_lines(wish: StockWish) -> list[dict[str, Any]]:
    """Return what is in a litre of the working solution."""
    return [
        {
            "product": product.key,
            "g_per_l": None if product.liquid else product.amount,
            "ml_per_l": product.amount if product.liquid else None,
        }
        for product in wish.products
    ]


def _fields(
    found: StockPlan,
    tanks: list[NamedTank],
    wish: StockWish,
    terms: StockTerms,
    notes: Notes,
) -> dict[str, Any]:
    """Return the flat results of a plan."""
    bench = Bench(terms.tank_volume_l, terms.coldest_celsius, terms.balance_resolution_g)
    factor = found.factor
    names = [tank.name for tank in tanks]
    shown: list[dict[str, Any]] = []
    injector = None
    if factor is not None and tanks:
        shown = [tank_fields(tank, names, factor, bench, wish.water) for tank in tanks]
        step = terms.balance_resolution_g or 0.0
        confirm_tanks(wish.products, shown, factor * terms.tank_volume_l, step)
        injector = _injector(Injector(factor, len(tanks), terms.counts), notes)
    limiting = min(tanks, key=lambda tank: tank.limit.highest_factor) if tanks else None
    best = found.best
    volume = None if factor is None else factor * terms.tank_volume_l
    lasts = None if volume is None or terms.daily_use_l is None else volume / terms.daily_use_l
    people = {product.key: product.name for product in wish.products}
    return {
        "status": "ok" if found.feasible else "infeasible",
        "concentration_factor": factor,
        "tank_count": len(tanks) or None,
        "highest_factor": None if best is None else best.highest_factor,
        "limiting_solid": None if best is None else best.solid,
        "limiting_tank": None if limiting is None else limiting.name,
        "tanks": shown,
        "one_tank": {
            "highest_factor": found.one_tank.highest_factor,
            "limiting_solid": found.one_tank.solid,
            "allowed": not found.apart,
        },
        "kept_apart": [
            {"products": [first, second], "reason": reason} for first, second, reason in found.apart
        ],
        "injector": injector,
        "working_volume_l": volume,
        "lasts_days": lasts,
        "steps": [] if factor is None else stock_steps(shown, people, factor),
    }


def _injector(injector: Injector, notes: Notes) -> dict[str, Any] | None:
    """Return what the ratio of an injector means; None where there is no plain water left."""
    if not injector.ratio >= 1.0:
        return None
    note_injector(injector, notes)
    return {
        "counts": injector.counts,
        "injector_ratio": injector.ratio,
        "concentrate_ml_per_l": injector.concentrate_ml_per_l,
        "water_ml_per_l": injector.water_ml_per_l,
        "other_reading_strength_percent": injector.other_strength_percent,
        "other_reading_factor": injector.other_factor,
    }
