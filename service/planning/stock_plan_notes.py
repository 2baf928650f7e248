"""What is to be known about a stock plan before anything is weighed."""

from collections.abc import Sequence
from typing import Final

from service.planning.injector import PARTS_IN, Injector
from service.planning.instruments import TRUSTED_STEPS
from service.planning.known_water import KnownWater
from service.planning.notes import Notes
from service.planning.stock_plan import StockPlan
from service.planning.stock_plan_card import NamedTank
from service.planning.tank_chemistry import TankWater
from service.planning.tank_products import APART, FLAGGED, chelates_in, own_pair, verdict
from service.reference.compatibility import chelate_limits
from service.reference.components import CALCIUM, CARBONATE, MAGNESIUM

USUAL_STEP_G: Final = 0.1
"""Step of a household scale [g]; common practice."""

CORROSIVE_PH: Final = 2.5
"""pH under which a concentrate eats metal and seals; common practice, our choice."""

HARD_WATER_MMOL_PER_L: Final = {CALCIUM: 60.0 / 40.078, MAGNESIUM: 30.0 / 24.305}
HARD_CARBONATE_MMOL_PER_L: Final = 150.0 / 61.017
"""
Hardness and bicarbonate of a water in which a concentrate throws lime; rottenberg-compatibility,
60 mg/L Ca, 30 mg/L Mg and 150 mg/L HCO3.
"""


def note_tanks(
    found: StockPlan,
    tanks: Sequence[NamedTank],
    tank_water: KnownWater,
    tank_volume_l: float,
    balance_resolution_g: float | None,
    notes: Notes,
) -> None:
    """
    Note what is to be known about the tanks.

    Parameters
    ----------
    found : StockPlan
        The plan.
    tanks : sequence of NamedTank
        Its tanks.
    tank_water : KnownWater
        What fills them up.
    tank_volume_l : float
        Finished concentrate of each tank [L].
    balance_resolution_g : float or None
        Step of the scale [g].
    notes : Notes
        Receives cautions.
    """
    _note_pairs(tanks, notes)
    _note_chelates(tanks, notes)
    for tank in tanks:
        for product in tank.products:
            for rule in own_pair(product):
                notes.caution(
                    "product_carries_its_own_pair", "tanks", product=product.key, tank=tank.name,
                    first=rule.first, second=rule.second, reason=rule.reason,
                    highest=tank.limit.highest_factor,
                )  # fmt: skip
                break
        acids = [each.key for each in tank.products if "acid" in each.classes and not each.labelled]
        if acids:
            notes.caution("acid_in_tank", "tanks", acid=", ".join(acids), tank=tank.name)
        sour = any("acid" in each.classes for each in tank.products)
        if sour and (tank.ph is None or tank.ph < CORROSIVE_PH):
            notes.caution("tank_corrosive", "tanks", tank=tank.name)
    divided: dict[str, list[str]] = {}
    for tank in tanks:
        for product in tank.products:
            divided.setdefault(product.key, []).append(tank.name)
    for key, names in divided.items():
        if len(names) > 1:
            notes.caution("product_divided", "tanks", product=key, tanks=" and ".join(names))
    if found.factor is not None:
        _note_small_masses(tanks, found.factor, tank_volume_l, balance_resolution_g, notes)
    _note_water(tank_water, notes)
    if tanks:
        notes.caution("tanks_never_meet" if len(tanks) > 1 else "tank_is_strong", "tanks")
        notes.caution("tanks_labelled_and_locked", "tanks")
        if any(product.oxidiser for tank in tanks for product in tank.products) or any(
            "acid" in product.classes for tank in tanks for product in tank.products
        ):
            notes.caution("nitrates_and_acids_regulated", "tanks")


def _note_pairs(tanks: Sequence[NamedTank], notes: Notes) -> None:
    """Note pairs that share a tank although they are better apart, and dry ones to keep apart."""
    for tank in tanks:
        for place, product in enumerate(tank.products):
            for other in tank.products[place + 1 :]:
                said = verdict(product, other)
                if said is not None and said.kind == APART:
                    notes.caution(
                        "better_apart", "tanks", first=product.key, second=other.key,
                        tank=tank.name, reason=said.rules[0].reason,
                    )  # fmt: skip
    everything = [product for tank in tanks for product in tank.products]
    burning = sorted({each.key for each in everything if each.oxidiser})
    organic = sorted({each.key for each in everything if "organic" in each.classes})
    flagged = any(
        (said := verdict(first, second)) is not None and said.kind == FLAGGED
        for place, first in enumerate(everything)
        for second in everything[place + 1 :]
    )
    if flagged and burning and organic:
        notes.caution("oxidiser_and_organic", "tanks", oxidiser=burning[0], organic=organic[0])


def _note_chelates(tanks: Sequence[NamedTank], notes: Notes) -> None:
    """Note chelates in a tank outside the range of pH in which they keep."""
    for tank in tanks:
        for chelate in chelates_in(tank.products):
            limits = chelate_limits()[chelate]
            name = chelate.replace("iron_", "").upper()
            if tank.ph is None:
                notes.caution("chelate_ph_unknown", "tanks", chelate=name, tank=tank.name)
            elif not limits.lower_ph <= tank.ph <= limits.upper_ph:
                notes.caution(
                    "chelate_outside_its_ph", "tanks", chelate=name, tank=tank.name, ph=tank.ph,
                    lower=limits.lower_ph, upper=limits.upper_ph,
                )  # fmt: skip


def _note_small_masses(
    tanks: Sequence[NamedTank],
    factor: float,
    tank_volume_l: float,
    balance_resolution_g: float | None,
    notes: Notes,
) -> None:
    """Note products of which the scale sees too little."""
    step = balance_resolution_g or USUAL_STEP_G
    small = []
    for tank in tanks:
        for product in tank.products:
            mass = factor * product.mass_g_per_l * tank_volume_l
            if not product.liquid and mass < TRUSTED_STEPS * step:
                small.append(f"{product.key} ({mass:.3g} g)")
    if small:
        notes.caution("weigh_traces_finer", "tanks", products=", ".join(small), step=step)


def note_own_solids(water: TankWater, notes: Notes) -> None:
    """
    Note what the water of the tanks is saturated with before anything goes in.

    Parameters
    ----------
    water : TankWater
        Water and temperatures of the tanks.
    notes : Notes
        Receives a caution.
    """
    solids = sorted({solid for solid, _ in water.own_solids})
    if solids:
        listed = ", ".join(solid.replace("_", " ") for solid in solids)
        notes.caution("tank_water_saturated", "tank_water", solids=listed)


def _note_water(water: KnownWater, notes: Notes) -> None:
    """Note a water that is too hard for concentrates."""
    content = water.composition_mmol_per_l
    hard = any(content[each] > least for each, least in HARD_WATER_MMOL_PER_L.items())
    if hard and content[CARBONATE] > HARD_CARBONATE_MMOL_PER_L:
        notes.caution("hard_water_in_tanks", "tank_water")


def note_injector(injector: Injector, notes: Notes) -> None:
    """
    Note what the other reading of a ratio would do.

    Parameters
    ----------
    injector : Injector
        How the concentrates are thinned.
    notes : Notes
        Receives cautions.
    """
    code = "ratio_counts_in" if injector.counts == PARTS_IN else "ratio_counts_to"
    notes.caution(
        code, "injector_ratio", ratio=injector.ratio, other=injector.other_factor,
        strength=injector.other_strength_percent,
    )  # fmt: skip
