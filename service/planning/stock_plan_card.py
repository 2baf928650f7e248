"""What a stock plan says: amounts to weigh, water, order, limits, labels."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.chemistry.density import water_density
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.planning.stock_plan import StockPlan
from service.planning.tank_acidity import tank_ph
from service.planning.tank_chemistry import (
    MILLILITRES_PER_LITRE,
    TankLimit,
    TankLitre,
    TankWater,
    tank_litre,
    tank_solids,
)
from service.planning.tank_label import tank_label
from service.planning.tank_order import dissolving_order
from service.planning.tank_products import TankProduct
from service.reference.components import CALCIUM, PHOSPHATE, SULFATE

TANK_NAMES: Final = "ABCD"

FIRST_WATER_SHARE: Final = 0.75
"""Share of a tank's water that stands in it before anything is dissolved; common practice."""

LEAST_LISTED: Final = -3.0
"""Saturation index from which a solid is listed, if it is not among the nearest."""

ALWAYS_LISTED: Final = 3
"""Solids that are listed however far they are from coming out."""


@dataclass(frozen=True)
class Bench:
    """
    How much is made, and how it is kept.

    Attributes
    ----------
    tank_volume_l : float
        Finished concentrate of each tank.
    coldest_celsius : float
        Temperature below which no tank may stand.
    balance_resolution_g : float or None
        Step that masses are rounded to; None for no rounding.
    """

    tank_volume_l: float
    coldest_celsius: float
    balance_resolution_g: float | None


@dataclass(frozen=True, eq=False)
class NamedTank:
    """
    One tank of a plan.

    Attributes
    ----------
    name : str
        ``A`` for calcium, ``B`` for phosphate and sulfate, then by mass.
    products : tuple of TankProduct
        Contents, for a litre of the working solution.
    limit : TankLimit
        How far it can be concentrated.
    litre : TankLitre
        A litre of it.
    ph : float or None
        Estimate of its pH.
    """

    name: str
    products: tuple[TankProduct, ...]
    limit: TankLimit
    litre: TankLitre
    ph: float | None


def _brought(products: Sequence[TankProduct], *components: int) -> float:
    """Return what products bring of some components together [mmol/L]."""
    return float(sum(product.added_mmol_per_l[list(components)].sum() for product in products))


def named_tanks(found: StockPlan, water: TankWater) -> list[NamedTank]:
    """
    Return the tanks of a plan with their names.

    Parameters
    ----------
    found : StockPlan
        The plan.
    water : TankWater
        What fills the tanks up.

    Returns
    -------
    list of NamedTank
        In the order of their names; empty where there is no plan.
    """
    if found.plan is None or found.factor is None:
        return []
    pairs = list(zip(found.plan.tanks, found.plan.limits, strict=True))
    pairs.sort(key=lambda each: -sum(product.mass_g_per_l for product in each[0]))
    calcium = max(pairs, key=lambda each: _brought(each[0], CALCIUM))
    rest = [each for each in pairs if each is not calcium]
    rest.sort(key=lambda each: -_brought(each[0], PHOSPHATE, SULFATE))
    tanks = []
    for name, (products, limit) in zip(TANK_NAMES, [calcium, *rest], strict=False):
        litre = tank_litre(products, water.composition_mol_per_kg, found.factor)
        if litre is None:
            raise ArithmeticError("a plan's tank has room for water")
        ph = tank_ph(litre.composition_mol_per_kg)
        tanks.append(NamedTank(name, products, limit, litre, ph))
    return tanks


def _rounded(mass: float, step: float | None) -> float:
    """Return a mass as the scale shows it; never nothing for something."""
    if step is None:
        return mass
    return float(max(np.round(mass / step), 1.0) * step)


def tank_additions(tank: NamedTank, factor: float, bench: Bench) -> list[dict[str, Any]]:
    """
    Return what goes into a tank, in the order in which it is dissolved.

    Parameters
    ----------
    tank : NamedTank
        The tank.
    factor : float
        Concentration factor.
    bench : Bench
        How much is made.

    Returns
    -------
    list of dict
        Fields of the additions.
    """
    rows = []
    for order, (product, reason) in enumerate(dissolving_order(tank.products), start=1):
        amount = factor * product.amount * bench.tank_volume_l
        mass = None
        if not product.liquid:
            mass = _rounded(amount, bench.balance_resolution_g)
        elif product.density_kg_per_l is not None:
            mass = amount * product.density_kg_per_l
        rows.append(
            {
                "order": order,
                "product": product.key,
                "mass_g": mass,
                "volume_ml": amount if product.liquid else None,
                "g_per_l": factor * product.amount if not product.liquid else None,
                "ml_per_l": factor * product.amount if product.liquid else None,
                "reason": reason[0].upper() + reason[1:] + ".",
            }
        )
    return rows


def tank_water_kg(tank: NamedTank, factor: float) -> float:
    """
    Return the water that is poured into a litre of a tank.

    Parameters
    ----------
    tank : NamedTank
        The tank.
    factor : float
        Concentration factor.

    Returns
    -------
    float
        Mass of the litre less all that is weighed into it, so that crystal water and the water of
        liquids count as theirs [kg].
    """
    weighed = factor * sum(product.mass_g_per_l for product in tank.products)
    return tank.litre.density_kg_per_l - weighed / MILLILITRES_PER_LITRE


def tank_fields(
    tank: NamedTank,
    names: Sequence[str],
    factor: float,
    bench: Bench,
    water: TankWater,
) -> dict[str, Any]:
    """
    Return the fields of one tank.

    Parameters
    ----------
    tank : NamedTank
        The tank.
    names : sequence of str
        Names of all tanks.
    factor : float
        Concentration factor.
    bench : Bench
        How much is made.
    water : TankWater
        Temperatures at which it stands.

    Returns
    -------
    dict
        Fields of the answer.
    """
    solids = tank_solids(tank.litre, water) or {}
    ranked = sorted(solids.values(), key=lambda solid: -solid.guarded_index)
    additions = tank_additions(tank, factor, bench)
    by_key = {product.key: product for product in tank.products}
    poured = tank_water_kg(tank, factor) * bench.tank_volume_l
    water_l = poured / float(water_density(REFERENCE_TEMPERATURE))
    contents = [
        (
            by_key[each["product"]].name,
            each["mass_g"] if each["volume_ml"] is None else each["volume_ml"],
            "g" if each["volume_ml"] is None else "mL",
        )
        for each in additions
    ]
    return {
        "name": tank.name,
        "additions": additions,
        "saturation": [
            {
                "solid": solid.state.solid,
                "index": solid.state.saturation_index,
                "margin": solid.state.margin,
                "evidence": solid.state.evidence,
                "at_celsius": solid.at_celsius,
            }
            for place, solid in enumerate(ranked)
            if place < ALWAYS_LISTED or solid.state.saturation_index > LEAST_LISTED
        ],
        "highest_factor": tank.limit.highest_factor,
        "limited_by": tank.limit.limited_by,
        "limiting_solid": tank.limit.solid,
        "ph": tank.ph,
        "density_kg_per_l": tank.litre.density_kg_per_l,
        "volume_l": bench.tank_volume_l,
        "mass_kg": tank.litre.density_kg_per_l * bench.tank_volume_l,
        "water_kg": poured,
        "water_to_start_l": FIRST_WATER_SHARE * water_l,
        "label": "\n".join(
            tank_label(
                tank.name,
                contents,
                tank.products,
                factor=factor,
                volume_l=bench.tank_volume_l,
                others=[name for name in names if name != tank.name],
                coldest_celsius=bench.coldest_celsius,
            )
        ),
    }


def stock_steps(
    tanks: Sequence[dict[str, Any]], names: dict[str, str], factor: float
) -> list[dict[str, Any]]:
    """
    Return what to do, in order.

    Parameters
    ----------
    tanks : sequence of dict
        Fields of the tanks.
    names : dict of str to str
        Names for people of the products.
    factor : float
        Concentration factor.

    Returns
    -------
    list of dict
        Objects with `order`, `instruction`, `quantity` and `unit`.
    """
    steps: list[tuple[str, float | None, str | None]] = []
    for tank in tanks:
        steps.append(
            (
                f"Tank {tank['name']}: start with warm water, about 30 °C.",
                tank["water_to_start_l"],
                "L",
            )
        )
        for each in tank["additions"]:
            liquid = each["volume_ml"] is not None
            what = names[each["product"]]
            verb = "pour in" if liquid else "weigh in"
            steps.append(
                (
                    f"Tank {tank['name']}: {verb} {what} and stir until it is clear.",
                    each["volume_ml"] if liquid else each["mass_g"],
                    "mL" if liquid else "g",
                )
            )
        steps.append(
            (
                f"Tank {tank['name']}: let it come to room temperature, fill up to the mark, stir,"
                " label it and close it.",
                tank["volume_l"],
                "L",
            )
        )
    if tanks:
        each_ml = MILLILITRES_PER_LITRE / factor
        joined = ", then as much of tank ".join(str(tank["name"]) for tank in tanks)
        steps.append(
            (
                f"To use: into the water for each litre stir this much of tank {joined}; never one"
                " concentrate into another. Check the conductivity.",
                each_ml,
                "mL",
            )
        )
    return [
        {
            "order": order,
            "instruction": words,
            "quantity": None if quantity is None else float(f"{quantity:.4g}"),
            "unit": unit,
        }
        for order, (words, quantity, unit) in enumerate(steps, start=1)
    ]
