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
from service.planning.catalogue import Catalogue
from service.planning.ceilings import NITROGEN
from service.planning.feeding_calendar import Event, Group
from service.planning.products import IS_STIMULANT, ProductRow
from service.planning.requests import Names, fill_row
from service.planning.seasons import SiteAir
from service.planning.targets import plain_water_below
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
    """

    application: str
    shelf_place: int | None = None
    growth: str = "active"
    air: SiteAir = USUAL_AIR
    interval_days: float = 7.0


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


def can_of(event: Event, group: Group) -> Can:
    """
    Return the can of an event.

    Parameters
    ----------
    event : Event
        An event that is not a look at the bark.
    group : Group
        What the plants stand in.

    Returns
    -------
    Can
        `PLAIN_WATER` where there is no product.
    """
    if event.shelf_place is None:
        return PLAIN_WATER
    interval = float(event.gap_days)
    if group.refill == "topped_up":
        # Plain water comes between two cans, and counts as a watering.
        interval = max(0.5 * interval, 1.0)
    return Can(
        application=event.kind,
        shelf_place=event.shelf_place,
        growth=event.day.growth,
        air=event.day.air,
        interval_days=interval,
    )


def fill_cans(cans: Sequence[Can], bench: Bench, names: Names) -> tuple[np.ndarray, np.ndarray]:
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
            _request(can, bench),
            names,
            limited=True,
        )
    return requests, results


def _request(can: Can, bench: Bench) -> SimpleNamespace:
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
        strength=None,
    )


def is_too_weak(can: Can, row: Any, result: Any, catalogue: Catalogue) -> bool:
    """
    Tell whether a feed at rest is too weak to be worth mixing.

    Parameters
    ----------
    can : Can
        The can.
    row : record of `rows.DOSE_REQUEST`
        Its planned row.
    result : record of `rows.DOSE_RESULT`
        Its finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    bool
        True for a feed at rest under `plain_water_below`.
    """
    if can.application != "feed" or can.growth != "resting":
        return False
    least = plain_water_below(catalogue.profile_table[row["profile"]])
    return bool(result["meter_ppm"] < least)
