"""What to do at the bench, in order: water, products, acid, top up, measure."""

from typing import Any

from service.planning import reagents, rows
from service.planning.card import acid_portion, additions
from service.planning.catalogue import Catalogue
from service.planning.pre_dilution import (
    HAZARD_WORDS,
    LARGEST_BATCH_ML,
    SHELF_NOTES,
    batch_to_make,
)

INFEASIBLE = rows.STATUSES.index("infeasible")

FIRST_WATER_SHARE = 0.8
"""Share of the water that stands in the can before anything is added; common practice."""


def mixing_steps(row: Any, result: Any, catalogue: Catalogue) -> list[dict[str, Any]]:
    """
    Return the steps of mixing one can.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A finished row that is not rejected.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of dict
        Objects with `order`, `instruction`, `quantity` and `unit`.
    """
    volume = float(result["volume_l"])
    steps: list[tuple[str, float | None, str | None]] = []
    if result["status"] == INFEASIBLE:
        if rows.BINDING_LIMITS[result["binding_limit"]] == "acid_phosphorus":
            words = (
                "Do not mix: this much phosphoric acid brings too much phosphorus. Ask again with "
                "the acid named as nearest."
            )
            return _numbered([(words, None, None)])
        share = float(result["feasible_water_share_percent"])
        words = (
            "Do not mix: this water alone is too strong for these plants. Blend at most this share "
            "of it with rain or reverse osmosis water, and ask again with the blend."
        )
        return _numbered([(words, share, "%")])
    added = additions(row, result, catalogue)
    acid = _acid_steps(row, result)
    if not added and not acid:
        steps.append(("Use plain water, no product.", volume, "L"))
        return _numbered(steps)
    steps.append(("Fill the can with part of the water.", FIRST_WATER_SHARE * volume, "L"))
    for each in added:
        name = catalogue.product_rows[catalogue.product_positions[each["product"]]].name
        amount = each["mass_g"] if each["mass_g"] is not None else each["volume_ml"]
        unit = "g" if each["mass_g"] is not None else "mL"
        pre_stock = each["pre_stock"]
        if pre_stock is not None:
            strength = pre_stock["g_per_l"] or pre_stock["ml_per_l"]
            steps.append(
                (
                    f"Make the pre-stock: {strength:g} {unit} of {name}, made up to 1 L with pure "
                    "water. Label it; it serves for later cans too.",
                    strength,
                    unit,
                )
            )
            steps.append((f"Add pre-stock of {name} and stir.", pre_stock["volume_ml"], "mL"))
        elif amount > 0.0:
            steps.append((f"Add {name} and stir until it is clear.", amount, unit))
    steps += acid
    steps.append(("Top up with water to the full volume and stir.", volume, "L"))
    steps.append(
        (
            "Measure conductivity and pH, and compare with the predicted figures before use.",
            None,
            None,
        )
    )
    return _numbered(steps)


def _acid_steps(row: Any, result: Any) -> list[tuple[str, float | None, str | None]]:
    """Acid in portions: half, wait, measure, the rest as needed."""
    portion = acid_portion(row, result)
    if portion is None:
        return []
    if not portion["amount"] > 0.0:
        words = (
            f"Leave the {portion['name']} out: what this can needs is less than half a step of the "
            "syringe. Take a finer syringe or mix a larger can to reach the pH."
        )
        return [(words, None, None)]
    protect = "Eye and hand protection on."
    steps: list[tuple[str, float | None, str | None]] = []
    factor = float(result["acid_dilution_factor"])
    steps += _weaker_solution_steps(row, portion, factor)
    first, rest = portion["first"], portion["amount"] - portion["first"]
    name, unit = portion["name"], portion["unit"]
    if not first > 0.0 or not rest > 0.0:
        # A single step of the syringe cannot be halved.
        steps.append((f"{protect} Add the {name} and stir.", portion["amount"], unit))
        return steps
    steps.append((f"{protect} Add the first half of the {name} and stir.", first, unit))
    steps.append(("Wait 15 minutes and measure the pH.", 15.0, "min"))
    steps.append((f"Add as much of the rest of the {name} as the pH still needs.", rest, unit))
    return steps


def _weaker_solution_steps(
    row: Any, portion: dict[str, Any], factor: float
) -> list[tuple[str, float | None, str | None]]:
    """How a weaker solution is made and labelled where bottle or crystals cannot be measured."""
    dissolved = float(portion["weaker_g_per_l"])
    if factor <= 1.0 and dissolved <= 0.0:
        return []
    key = (rows.ACID_KINDS + rows.BASE_KINDS)[int(row["acid_kind"])]
    name = reagents.reagent_name(int(row["acid_kind"]))
    bottle = f"{name} {float(row['acid_percent']):g} %"
    share = dissolved / 1000.0 if dissolved > 0.0 else 1.0 / factor
    step = float(row["balance_resolution_g" if dissolved > 0.0 else "syringe_resolution_ml"])
    batch = batch_to_make(float(portion["amount"]), share, step, LARGEST_BATCH_ML)
    amount = share * batch
    first = "Eye and hand protection on. Put pure, cold water into a measuring bottle."
    made = f"{dissolved:g} g/L" if dissolved > 0.0 else f"1 in {factor:.0f}"
    label = (
        f"Label it: {bottle}, {made}, for pH only. {HAZARD_WORDS[key]} Made on ________ "
        f"{SHELF_NOTES[key]}"
    )
    if dissolved > 0.0:
        return [
            (first, 0.9 * batch, "mL"),
            (f"Put the {bottle} into that water in portions and swirl.", amount, "g"),
            ("Make it up with water to the mark.", batch, "mL"),
            (label, None, None),
        ]
    return [
        (first, batch - amount, "mL"),
        (f"Pour the {bottle} into that water, slowly, never the reverse.", amount, "mL"),
        (label, None, None),
    ]


def _numbered(
    steps: list[tuple[str, float | None, str | None]],
) -> list[dict[str, Any]]:
    return [
        {
            "order": order,
            "instruction": instruction,
            "quantity": None if quantity is None else float(f"{quantity:.4g}"),
            "unit": unit,
        }
        for order, (instruction, quantity, unit) in enumerate(steps, start=1)
    ]
