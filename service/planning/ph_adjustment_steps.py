"""How to adjust a can at the bench without harm: half, wait, measure, the rest as needed."""

from typing import Any, Final

import numpy as np

from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.catalogue import Catalogue
from service.planning.instruments import rounded_amount
from service.planning.pre_dilution import pre_dilution
from service.planning.products import IS_STIMULANT
from service.planning.steps import FIRST_WATER_SHARE
from service.reference.components import CALCIUM

WAIT_MINUTES: Final = 15.0
"""Time for a can to mix and settle before the next portion; common practice."""

Step = tuple[str, float | None, str | None]


def ph_steps(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the steps of an adjustment.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of dict
        Objects with `order`, `instruction`, `quantity` and `unit`; empty where nothing may be
        poured.
    """
    if rows.STATUSES[result["status"]] != "ok":
        return []
    volume = float(row["volume_l"])
    feed = _feed_steps(row, result, catalogue)
    dosed = bool(result["acid_mmol_per_l"] > 0.0)
    steps: list[Step] = []
    if dosed:
        steps.append(("Put goggles and gloves on and open a window.", None, None))
        steps += pre_dilution_steps(row, result)
    if dosed or feed:
        steps.append(
            ("Fill the can with part of the water.", FIRST_WATER_SHARE * volume, "L"),
        )
    acid = _acid_steps(row, result) if dosed else []
    before = ph_rows.ACID_PLACES[row["acid_goes"]] == "before_feed"
    steps += acid + feed if before else feed + acid
    if dosed or feed:
        steps.append(("Top up with water to the full volume and stir.", volume, "L"))
    if not dosed:
        steps.append(("Add neither acid nor base: the target is met as it is.", None, None))
    if dosed:
        steps.append(
            (
                f"Measure the pH: about {_ph(result['predicted_ph'])} as mixed, about "
                f"{_ph(result['predicted_ph_open'])} after a day in the air.",
                None,
                None,
            )
        )
        steps.append(("Close the bottle, rinse what it touched and put it away.", None, None))
    return [
        {
            "order": order,
            "instruction": instruction,
            "quantity": None if quantity is None else float(f"{quantity:.4g}"),
            "unit": unit,
        }
        for order, (instruction, quantity, unit) in enumerate(steps, start=1)
    ]


def _ph(value: Any) -> str:
    return f"{float(value):.1f}"


def _feed_steps(row: Any, result: Any, catalogue: Catalogue) -> list[Step]:
    """One step a product: calcium last among the feeds, a stimulant after everything else."""

    def place(slot: int) -> tuple[bool, bool, int]:
        product = catalogue.product_table[row["product"][slot]]
        return bool(product[IS_STIMULANT]), bool(product[CALCIUM] > 0.0), slot

    steps: list[Step] = []
    for slot in sorted(range(int(row["product_count"])), key=place):
        product = catalogue.product_rows[row["product"][slot]]
        amount = float(result["amount_per_l"][slot] * row["volume_l"])
        if amount > 0.0:
            unit = "mL" if product.liquid else "g"
            steps.append((f"Add {product.name} and stir until it is clear.", amount, unit))
    return steps


def pre_dilution_steps(row: Any, result: Any) -> list[Step]:
    """
    Return how the weaker solution is made that a dose is measured with.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request, defaults filled in.
    result : record of `ph_adjustment_rows.PH_RESULT`
        The finished row.

    Returns
    -------
    list of tuple
        Words, quantity and unit; empty where the bottle itself is measured.
    """
    card = pre_dilution(row, result)
    if card is None:
        return []
    name = reagents.reagent_name(int(row["acid_kind"]))
    steps: list[Step] = [
        (
            "Put pure, cold water into a measuring bottle for the weaker solution.",
            card["water_ml"] if card["acid_mass_g"] is None else 0.9 * card["water_ml"],
            "mL",
        )
    ]
    if card["acid_mass_g"] is None:
        steps.append(
            (
                f"Pour the {name} into that water, slowly, never the reverse.",
                card["acid_volume_ml"],
                "mL",
            )
        )
    else:
        steps.append(
            (f"Put the {name} into that water in portions and swirl.", card["acid_mass_g"], "g")
        )
        steps.append(("Make it up with water to the mark.", card["batch_volume_ml"], "mL"))
    steps.append((f"Label it: {card['label']} {card['shelf_note']}", None, None))
    return steps


def _acid_steps(row: Any, result: Any) -> list[Step]:
    kind = int(row["acid_kind"])
    name = reagents.reagent_name(kind)
    by_mass = bool(np.isnan(result["dose_volume_ml"]))
    resolution = float(row["balance_resolution_g"] if by_mass else row["syringe_resolution_ml"])
    dose = float(result["dose_mass_g"] if by_mass else result["dose_volume_ml"])
    unit = "g" if by_mass else "mL"
    half = rounded_amount(0.5 * dose, resolution, True)
    weaker = result["acid_dilution_factor"] > 1.0 or result["pre_solution_g_per_l"] > 0.0
    what = f"weaker solution of {name}" if weaker else name
    way = "up" if reagents.IS_BASE[kind] else "down"
    by_alkalinity = bool(np.isfinite(row["target_alkalinity_mg_per_l_caco3"]))
    if by_alkalinity:
        target = f"{float(row['target_alkalinity_mg_per_l_caco3']):.0f} mg/L CaCO3 of alkalinity"
        measure = "measure the alkalinity with a drop test"
    else:
        target = f"pH {float(row['target_ph']):.1f}"
        measure = "measure the pH"
    if half <= 0.0:
        return [(f"Add the {what} to the water, never the reverse, and stir.", dose, unit)]
    return [
        (
            f"Add the first half of the {what} to the water, never the reverse, and stir.",
            half,
            unit,
        ),
        (f"Wait 15 minutes and {measure}; it goes {way} towards {target}.", WAIT_MINUTES, "min"),
        (
            f"Add of the second half as much as is still needed to reach {target}, in small "
            "portions; never more than this.",
            dose - half,
            unit,
        ),
    ]
