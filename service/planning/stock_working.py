"""The waters of a stock plan, and what the plants get from its tanks."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from service.chemistry.equilibrium import CLOSED
from service.planning.card import meter_readings
from service.planning.catalogue import Catalogue
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater, known_water
from service.planning.mix_parts import MixPart
from service.planning.notes import Notes, RefusalError
from service.planning.solution import FloatArray, mixture, solution_fields
from service.planning.stock_plan import StockPlan, StockWish, limit_in_words, stock_plan
from service.planning.stock_plan_card import NamedTank
from service.planning.tank_chemistry import TankWater

PURE_PRESET = "reverse_osmosis"
SHOWN = (
    "elements_mg_per_l",
    "ec_ms_per_cm",
    "ec_low_ms_per_cm",
    "ec_high_ms_per_cm",
    "ph",
    "alkalinity_mg_per_l_caco3",
    "saturation",
)
PLACES = {"additions": "recipe", "mix": "recipe"}


def plan_in_water(
    wish: StockWish, given: KnownWater, chosen: bool, catalogue: Catalogue, notes: Notes
) -> tuple[StockPlan, StockWish, KnownWater]:
    """
    Return a plan, with pure water in the tanks where the given one would cloud them.

    Parameters
    ----------
    wish : StockWish
        What is asked for, its tanks made with the given water.
    given : KnownWater
        The water of the tanks.
    chosen : bool
        Whether the caller chose it for the tanks.
    catalogue : Catalogue
        Knows the pure water.
    notes : Notes
        Receives a caution where the water was changed.

    Returns
    -------
    (StockPlan, StockWish, KnownWater)
        The plan, the wish that it answers, and the water that the tanks are made with.
    """
    found = stock_plan(wish)
    if found.feasible or chosen:
        return found, wish, given
    pure = known_water(PURE_PRESET, catalogue, Notes(), "tank_water")
    temperatures = wish.water.temperatures_celsius
    purely = replace(wish, water=TankWater(pure.composition_mol_per_kg, temperatures))
    other = stock_plan(purely)
    better = other.feasible or (
        other.factor is not None and (found.factor is None or other.factor > found.factor)
    )
    if not better or given.preset == PURE_PRESET:
        return found, wish, given
    reason = "" if found.best is None else limit_in_words(found.best)
    notes.caution("tank_water_pure", "tank_water", reason=reason or "they cloud")
    return other, purely, pure


def working_water(
    water: KnownWater, tank_water: KnownWater, tanks: Sequence[NamedTank], factor: float | None
) -> KnownWater:
    """
    Return the water of the working solution: the given one, with what the tanks bring of theirs.

    Parameters
    ----------
    water : KnownWater
        The water that thins the tanks.
    tank_water : KnownWater
        The water that the tanks are made with.
    tanks : sequence of NamedTank
        The tanks.
    factor : float or None
        Concentration factor.

    Returns
    -------
    KnownWater
        Water of a litre of the working solution.
    """
    if factor is None or tank_water is water or not tanks:
        return water
    share = min(sum(tank.litre.water_kg_per_l for tank in tanks) / factor, 1.0)
    first, second = water.composition_mol_per_kg, tank_water.composition_mol_per_kg
    unexplained = (1.0 - share) * water.unexplained_ec_ms_per_cm
    return replace(
        water,
        composition_mol_per_kg=(1.0 - share) * first + share * second,
        unexplained_ec_ms_per_cm=unexplained + share * tank_water.unexplained_ec_ms_per_cm,
        alkalinity_known=water.alkalinity_known and tank_water.alkalinity_known,
    )


def working_fields(
    water: KnownWater, parts: Sequence[MixPart], acid: FloatArray | None, notes: Notes
) -> dict[str, Any]:
    """
    Return what the plants get.

    Parameters
    ----------
    water : KnownWater
        Water of the working solution.
    parts : sequence of MixPart
        The recipe.
    acid : ndarray or None
        Components of the acid or base [mmol/L].
    notes : Notes
        Receives cautions.

    Returns
    -------
    dict
        Fields of the working solution.

    Raises
    ------
    RefusalError
        If the recipe is too strong for a working solution.
    """
    try:
        mix = mixture(water, parts, acid, REFERENCE_CELSIUS, CLOSED)
    except RefusalError as error:
        field = error.notice.field or "recipe"
        error.notice = replace(error.notice, field=PLACES.get(field, field))
        raise
    said = Notes()
    fields = solution_fields(mix, water, said)
    notes.take(
        ({**each, "field": _placed(each["field"])} for each in said.cautions), said.assumptions
    )
    shown = {name: fields[name] for name in SHOWN}
    return {**shown, **meter_readings(mix.ec_ms_per_cm)}


def _placed(field: str | None) -> str:
    """Return the place in the answer of a stock plan of a field of a mix."""
    return f"working_solution.{field}" if field else "working_solution"
