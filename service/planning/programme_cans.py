"""
What goes into the cans of a calendar: one planned row for each kind of can, not for each day.

A year has many days and few cans that differ: the same product in the same growth and air is
planned once, through the same rows and kernels as a single dose.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.ceilings import NITROGEN
from service.planning.feeding_calendar import Event, daily_nitrogen
from service.planning.products import IS_STIMULANT, ProductRow
from service.planning.programme import ProgrammeRules
from service.planning.requests import Names, fill_row
from service.planning.seasons import SiteAir
from service.planning.targets import GROWTH_FACTORS, PLAIN_WATER_BELOW
from service.reference.components import CALCIUM, ELEMENT_NAMES, MAGNESIUM
from service.reference.elements import ELEMENT_MATRIX

INFEASIBLE: Final = rows.STATUSES.index("infeasible")
PHOSPHORUS: Final = ELEMENT_NAMES.index("phosphorus")
POTASSIUM: Final = ELEMENT_NAMES.index("potassium")

USUAL_AIR: Final = SiteAir(22.0, None, 50.0)
"""Air of a can of plain water, on which nothing depends."""

PLANT_FIELDS: Final = (
    "profile",
    "size",
    "setup",
    "refill",
    "medium",
    "count",
    "pot_diameter_cm",
    "days_since_flush",
)


@dataclass(frozen=True)
class Can:
    """
    One kind of can; equal cans are planned once.

    Attributes
    ----------
    application : str
        One of `rows.APPLICATIONS`; plain water is a ``flush`` without a product.
    shelf_place : int or None
        Place of the product on the shelf.
    growth : str
        One of `rows.GROWTHS`.
    air : SiteAir
        The air of the day.
    interval_days : float
        Days to the next can.
    nitrogen_mg_per_l : float or None
        Nitrogen that the can may hold beside the plant's own ceilings [mg/L].
    """

    application: str
    shelf_place: int | None = None
    growth: str = "active"
    air: SiteAir = USUAL_AIR
    interval_days: float = 7.0
    nitrogen_mg_per_l: float | None = None


PLAIN_WATER: Final = Can("flush")


@dataclass(frozen=True)
class Bench:
    """
    What all cans of a calendar have in common, with the attributes of the contract of doses.

    Attributes
    ----------
    plants : object or None
        The plants, None where the caller was silent.
    water : object or None
        Preset or analysis.
    instruments : object or None
        What is measured with.
    volume_l, volume_per_plant_ml : float or None
        Size of the can, as far as stated.
    products : sequence
        The products on the shelf.
    """

    plants: Any
    water: Any
    instruments: Any
    volume_l: float | None
    volume_per_plant_ml: float | None
    products: Sequence[Any]


def role_of(product: ProductRow) -> str | None:
    """
    Return the role that a product's contents give it.

    Parameters
    ----------
    product : ProductRow
        A product of the catalogue or of a label.

    Returns
    -------
    str or None
        ``stimulant``; ``feed`` for nitrogen with phosphorus or potassium; ``supplement`` for
        calcium or magnesium without either; None where the contents do not tell.
    """
    if product.values[IS_STIMULANT] == 1.0:
        return "stimulant"
    elements = ELEMENT_MATRIX @ product.values[: ELEMENT_MATRIX.shape[1]]
    complete = elements[PHOSPHORUS] > 0.0 or elements[POTASSIUM] > 0.0
    if complete:
        return "feed" if elements[NITROGEN] > 0.0 else None
    minerals = product.values[CALCIUM] > 0.0 or product.values[MAGNESIUM] > 0.0
    return "supplement" if minerals else None


def holds_nitrogen(product: ProductRow) -> bool:
    """
    Tell whether a product holds nitrogen.

    Parameters
    ----------
    product : ProductRow
        A product of the catalogue or of a label.

    Returns
    -------
    bool
        True for any nitrogen, urea included.
    """
    elements = ELEMENT_MATRIX @ product.values[: ELEMENT_MATRIX.shape[1]]
    return bool(elements[NITROGEN] > 0.0)


def can_of(event: Event, setup: str, rules: ProgrammeRules) -> Can:
    """
    Return the can of an event.

    Parameters
    ----------
    event : Event
        An event that is not a look at the bark.
    setup : str
        One of `rows.SETUPS`.
    rules : ProgrammeRules
        The numbers of the rhythm.

    Returns
    -------
    Can
        `PLAIN_WATER` where there is no product.
    """
    if event.shelf_place is None:
        return PLAIN_WATER
    factor = GROWTH_FACTORS[rows.GROWTHS.index(event.day.growth)]
    return Can(
        application=event.kind,
        shelf_place=event.shelf_place,
        growth=event.day.growth,
        air=event.day.air,
        interval_days=float(event.gap_days),
        nitrogen_mg_per_l=daily_nitrogen(rules, event, setup, factor),
    )


def fill_cans(
    cans: Sequence[Can], bench: Bench, names: Names, nitrogenous: Sequence[bool]
) -> tuple[np.ndarray, np.ndarray]:
    """
    Write one row for each kind of can.

    Parameters
    ----------
    cans : sequence of Can
        The cans, each once.
    bench : Bench
        What they have in common.
    names : Names
        Knows every product and profile that the bench names.
    nitrogenous : sequence of bool
        Whether each product of the shelf holds nitrogen, so that a limit of it can be asked for.

    Returns
    -------
    tuple of ndarray
        Records of `rows.DOSE_REQUEST` and `rows.DOSE_RESULT`, ready to be planned.
    """
    requests, results = rows.empty_requests(len(cans)), rows.empty_results(len(cans))
    for place, can in enumerate(cans):
        fill_row(
            requests[place],
            results[place],
            _request(can, bench, nitrogenous),
            names,
            limited=True,
        )
    return requests, results


def _request(can: Can, bench: Bench, nitrogenous: Sequence[bool]) -> SimpleNamespace:
    """One can as a request for a dose."""
    plants = SimpleNamespace(
        **{name: getattr(bench.plants, name, None) for name in PLANT_FIELDS}, growth=can.growth
    )
    day, night = can.air.day_temperature_celsius, can.air.night_temperature_celsius
    mean = day if day is None or night is None else 0.5 * (day + night)
    air = SimpleNamespace(
        humidity_percent=can.air.humidity_percent,
        temperature_celsius=day,
        average_humidity_percent=can.air.humidity_percent,
        average_temperature_celsius=mean,
    )
    strength = None
    if (
        can.nitrogen_mg_per_l is not None
        and can.shelf_place is not None
        and nitrogenous[can.shelf_place]
    ):
        strength = SimpleNamespace(
            basis="element",
            element="nitrogen",
            mg_per_l=can.nitrogen_mg_per_l,
            counts="whole_can",
        )
    return SimpleNamespace(
        plants=plants,
        air=air,
        application=can.application,
        interval_days=can.interval_days,
        volume_l=bench.volume_l,
        volume_per_plant_ml=bench.volume_per_plant_ml,
        water=bench.water,
        instruments=bench.instruments,
        product=None if can.shelf_place is None else bench.products[can.shelf_place],
        strength=strength,
    )


def is_too_weak(can: Can, result: Any) -> bool:
    """
    Tell whether a feed at rest is too weak to be worth mixing.

    Parameters
    ----------
    can : Can
        The can.
    result : record of `rows.DOSE_RESULT`
        Its planned row.

    Returns
    -------
    bool
        True for a feed at rest under `PLAIN_WATER_BELOW`.
    """
    weak = float(result["meter_ppm"]) < PLAIN_WATER_BELOW
    return can.application == "feed" and can.growth == "resting" and weak
