"""
Between which bounds an answer lies where the water or a label is not fully known.

The row is planned again for each reading that what is known leaves open, and the bounds are the
least and the most of all of them. A complete analysis and products of known salts have no range.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import products, rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import assumption_bit
from service.planning.doses import own_workspace, plan_rows
from service.planning.ph_range import INCOMPLETE_MARGIN, LOW_WATER_PH, SMALLEST_MARGIN
from service.planning.water import (
    ALKALINITY,
    BICARBONATE,
    CALCIUM_COLUMN,
    CALCIUM_MASS,
    CHLORIDE_COLUMN,
    CONDUCTIVITY_COLUMN,
    HARDNESS,
    INCOMPLETE,
    PH,
    SODIUM_COLUMN,
    TEMPERATURE,
    stated_alkalinity,
)
from service.reference.formula import atomic_weights
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FloatArray = NDArray[np.float64]

IONS_PER_CONDUCTIVITY: Final = 10.0
"""Cations of a tap water per conductivity [meq/L per mS/cm]; common practice."""

BOUNDING_WATERS: Final = ("reverse_osmosis", "soft_tap", "moderate_tap", "hard_tap")
"""What the water may be when nothing is known of it, from the purest to the hardest."""

WATER_ASSUMED: Final = int(assumption_bit("water_assumed"))
REJECTED: Final = rows.STATUSES.index("rejected")
SODIUM_MASS: Final = atomic_weights()["Na"]
CHLORIDE_MASS: Final = atomic_weights()["Cl"]

REASONS: Final = {
    "water_unknown": "The water is not known: the bounds are those of pure to hard tap water.",
    "alkalinity_unknown": "The alkalinity is not known: between none and all that the conductivity"
    " allows.",
    "titration": "The alkalinity is taken to be right within 5 %, or 0.5 mg/L CaCO3.",
    "ions_not_measured": "Ions that the analysis leaves out may be calcium or sodium, with or"
    " without chloride.",
    "water_ph_unknown": "The pH of the water is not known: aired, or down to 7.0 as from a well.",
    "label_open": "Labels do not fix a conductivity: makers of one analysis differ by 12 %, and"
    " charge that a label leaves open can be read in several ways.",
    "out_of_reach": "Within these bounds the target can be out of reach: measure the alkalinity"
    " before pouring acid.",
}
"""Why an answer is a range, in words."""


Water = tuple[str, FloatArray]
"""A key of `REASONS` and a water that the analysis can mean."""


@dataclass(frozen=True, eq=False)
class OtherLabels:
    """
    What the labels of a request can mean.

    Attributes
    ----------
    rows : ndarray, shape (n_other_rows, n_columns)
        Rows that stand behind the table of products.
    products : list of list of int
        The products of the request by each reading, as positions in that table.
    """

    rows: FloatArray
    products: list[list[int]]


def range_fields(asked: Any, result: Any, catalogue: Catalogue) -> dict[str, Any] | None:
    """
    Return the bounds of an answer and why it has any.

    Parameters
    ----------
    asked : record of `rows.DOSE_REQUEST`
        The request as it was asked, before defaults were filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict or None
        Least and most of the amounts, the acid, the conductivity and the pH, and `reasons`; None
        where nothing is open.
    """
    waters = list(_waters(asked, result, catalogue))
    labels = _labels(asked, result, catalogue)
    if (not waters and labels is None) or result["status"] == REJECTED:
        return None
    found = _planned(waters, labels, asked, result, catalogue)
    reasons = list(dict.fromkeys(reason for reason, _ in waters))
    if labels is not None:
        reasons.append("label_open")
    if REJECTED in found["status"].tolist():
        reasons.append("out_of_reach")
        found = found[found["status"] != REJECTED]
    bounds: dict[str, Any] = {}
    single = int(asked["product_count"]) == 1
    if single:
        liquid = catalogue.product_rows[asked["product"][0]].liquid
        measure = ("product_volume", "ml") if liquid else ("product_mass", "g")
        bounds |= _bounds(*measure, result["amount"][0], found["amount"][:, 0])
    if result["acid_mmol_per_l"] > 0.0:
        for name, unit in (("acid_volume", "ml"), ("acid_mass", "g")):
            measured = f"{name}_{unit}"
            bounds |= _bounds(name, unit, result[measured], found[measured])
    bounds |= _bounds(
        "predicted_ec",
        "ms_per_cm",
        result["predicted_ec_ms_per_cm"],
        found["predicted_ec_ms_per_cm"],
    )
    bounds |= _bounds("predicted_ph", "", result["predicted_ph"], found["predicted_ph"])
    return {**bounds, "reasons": [REASONS[reason] for reason in reasons]}


def _planned(
    waters: Sequence[Water],
    labels: OtherLabels | None,
    asked: Any,
    result: Any,
    catalogue: Catalogue,
) -> NDArray[np.void]:
    """Return what every reading comes to; all of them are planned in one call."""
    first = len(waters)
    count = first + (0 if labels is None else len(labels.products))
    asking, found = rows.copied(asked, count), rows.empty_results(count)
    assumed = int(result["assumptions"]) & WATER_ASSUMED
    if assumed:
        found["assumptions"] = assumed
    for place, (_, water) in enumerate(waters):
        _pour(asking["water"][place], water)
    same_water = np.zeros(count, dtype=bool)
    table = catalogue.product_table
    if labels is not None:
        same_water[first + 1 :] = True
        asking["product"][first:, : int(asked["product_count"])] = labels.products
        table = np.concatenate((table, labels.rows))
        # As that of a catalogue is: for another kind, kernels are compiled anew.
        table.setflags(write=False)
    profiles = catalogue.profile_table
    plan_rows(asking, same_water, False, table, profiles, found, own_workspace())
    return found


def _bounds(name: str, unit: str, value: float, others: FloatArray) -> dict[str, float | None]:
    """Return the least and the most of a number among all readings."""
    known = [each for each in (*others.tolist(), float(value)) if math.isfinite(each)]
    suffix = f"_{unit}" if unit else ""
    return {
        f"{name}_low{suffix}": min(known) if known else None,
        f"{name}_high{suffix}": max(known) if known else None,
    }


def _waters(asked: Any, result: Any, catalogue: Catalogue) -> Iterator[Water]:
    """Yield what the water can be."""
    water = asked["water"]
    if int(result["assumptions"]) & WATER_ASSUMED:
        for name in BOUNDING_WATERS:
            yield "water_unknown", catalogue.water_rows[name]
        return
    if not int(result["cautions"]) & int(INCOMPLETE):
        return
    alkalinity = float(stated_alkalinity(water))
    if np.isnan(alkalinity):
        conductivity = float(water[CONDUCTIVITY_COLUMN])
        if np.isnan(conductivity):
            for name in BOUNDING_WATERS:
                mixed = np.where(np.isnan(water), catalogue.water_rows[name], water)
                yield "water_unknown", mixed
            return
        for share in (0.0, 1.0):
            other = water.copy()
            _set_alkalinity(other, share * IONS_PER_CONDUCTIVITY * conductivity)
            yield "alkalinity_unknown", other
        return
    margin = max(SMALLEST_MARGIN, INCOMPLETE_MARGIN * alkalinity)
    for error in (-margin, margin):
        other = water.copy()
        _set_alkalinity(other, max(alkalinity + error, 0.0))
        yield "titration", other
    for other in _ions(water, alkalinity):
        yield "ions_not_measured", other
    if np.isnan(water[PH]):
        other = water.copy()
        other[PH] = LOW_WATER_PH
        yield "water_ph_unknown", other


def _ions(water: FloatArray, alkalinity: float) -> Iterator[FloatArray]:
    """Yield the water with the ions that its analysis can have left out."""
    no_sodium = bool(np.isnan(water[SODIUM_COLUMN]))
    if np.isnan(water[CALCIUM_COLUMN]) and np.isnan(water[HARDNESS]):
        hard = water.copy()
        hard[CALCIUM_COLUMN] = 0.5 * alkalinity * CALCIUM_MASS
        yield hard
        if no_sodium:
            soft = water.copy()
            soft[SODIUM_COLUMN] = alkalinity * SODIUM_MASS
            yield soft
    unstated = bool(np.isnan(water[CHLORIDE_COLUMN]) and np.isnan(water[CONDUCTIVITY_COLUMN]))
    if no_sodium and unstated:
        # As much chloride as alkalinity, with its sodium, is what a tap water can well hold.
        salty = water.copy()
        salty[SODIUM_COLUMN] = alkalinity * SODIUM_MASS
        salty[CHLORIDE_COLUMN] = alkalinity * CHLORIDE_MASS
        if np.isnan(water[CALCIUM_COLUMN]) and np.isnan(water[HARDNESS]):
            salty[CALCIUM_COLUMN] = 0.5 * alkalinity * CALCIUM_MASS
        yield salty


def _set_alkalinity(water: FloatArray, alkalinity: float) -> None:
    """Put an alkalinity [meq/L] in the place of what the analysis states."""
    water[ALKALINITY] = alkalinity * CALCIUM_CARBONATE_MG_PER_MEQ
    water[BICARBONATE] = np.nan


def _pour(water: FloatArray, other: FloatArray) -> None:
    """Put another water of the same temperature in the place of a request's."""
    temperature = water[TEMPERATURE]
    water[:] = other
    if not np.isnan(temperature):
        water[TEMPERATURE] = temperature


def _labels(asked: Any, result: Any, catalogue: Catalogue) -> OtherLabels | None:
    """Return what the labels can mean; None where nothing is open."""
    slots = asked["product"][: int(asked["product_count"])].tolist()
    open_slots = list(
        dict.fromkeys(slot for slot in slots if catalogue.product_rows[slot].conductivity_is_open)
    )
    if not open_slots or not result["predicted_ec_ms_per_cm"] > 0.0:
        return None
    table = catalogue.product_table
    volume = float(result["volume_l"])
    alone = sum(
        float(table[slot, products.CONDUCTIVITY_SLOPE]) * float(amount) / volume
        for slot, amount in zip(slots, result["amount"], strict=False)
    )
    brought = float(result["predicted_ec_ms_per_cm"] - result["water_ec_ms_per_cm"])
    if not (alone > 0.0 and brought > 0.0):
        return None
    others = np.concatenate([catalogue.product_rows[slot].other_readings for slot in open_slots])
    starts = {}
    start = 0
    for slot in open_slots:
        starts[slot] = start
        for column in (
            products.LABEL_CONDUCTIVITY,
            products.CONDUCTIVITY_SLOPE,
            products.DILUTE_CONDUCTIVITY_SLOPE,
        ):
            others[start : start + 2, column] *= brought / alone
        start += len(catalogue.product_rows[slot].other_readings)
    known = len(catalogue.product_rows)
    # Conductivities of all labels are off together; compositions one by one.
    read = [
        [known + starts[slot] + place if slot in starts else slot for slot in slots]
        for place in (0, 1)
    ]
    for other, start in starts.items():
        for place in range(2, len(catalogue.product_rows[other].other_readings)):
            read.append([known + start + place if slot == other else slot for slot in slots])
    return OtherLabels(others, read)
