"""The working of a dose or a dilution: strength, ceilings, amounts, acid, the finished can."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning import reagents, rows
from service.planning.card import INFEASIBLE, mixing_order
from service.planning.catalogue import Catalogue
from service.planning.explain.acid import bottle_lines, is_weighed
from service.planning.explain.amounts import amount_lines, measured_lines
from service.planning.explain.can import (
    composition_lines,
    conductivity_answers,
    conductivity_lines,
    element_lines,
    product_names,
    state_lines,
)
from service.planning.explain.ceilings import base_lines, ceiling_lines
from service.planning.explain.strength import strength_lines
from service.planning.explain.water import water_balance_lines, water_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.finished_can import DAYS_PER_MONTH
from service.planning.volumes import (
    MOUNT_MILLILITRES,
    POT_LITRES_PER_CUBIC_DECIMETRE,
    WATERING_SHARES,
)
from service.planning.water import stated_alkalinity
from service.reference.components import ELEMENT_NAMES

FLUSH: Final = rows.APPLICATIONS.index("flush")
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")


def dose_working(row: Any, result: Any, catalogue: Catalogue) -> Working:
    """
    Return the working of a dose that one can holds.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    Working
        The last lines are the fields of the answer.
    """
    working = Working()
    amounts = dose_lines(working, row, result, catalogue)
    working.part("answer")
    if working.knows("air_deficit_kpa"):
        working.answer("vapour_pressure_deficit_kpa", "air_deficit_kpa", 3)
    working.answer("volume_l", "volume_l", 4)
    if np.isfinite(result["volume_per_plant_ml"]):
        working.answer("volume_per_plant_ml", "volume_per_plant_ml", 4)
    _can_answers(working, result, "predicted_ec_ms_per_cm")
    _strength_answers(working, row, catalogue, amounts)
    if np.isfinite(result["nitrogen_mg_per_plant_per_month"]):
        working.computed(
            "monthly_nitrogen_mg_per_plant",
            f"nitrogen_in_the_can_mg_per_l * volume_per_plant_ml / 1000 * {DAYS_PER_MONTH!r}"
            " / interval_days",
            result["nitrogen_mg_per_plant_per_month"],
            "mg",
        )
        working.answer("nitrogen_mg_per_plant_per_month", "monthly_nitrogen_mg_per_plant", 4, "mg")
    _acid_answers(working, result)
    _amount_answers(working, row, result, catalogue)
    return working


def dose_lines(working: Working, row: Any, result: Any, catalogue: Catalogue) -> list[str]:
    """
    Add everything of a dose but the fields of its answer.

    Parameters
    ----------
    working : Working
        Receives the lines.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of str
        Name of the amount of each product in a litre.
    """
    with_air = np.isfinite(result["limiting_deficit_kpa"])
    if with_air and np.isfinite(result["ec_ceiling_ms_per_cm"]):
        strength_lines(working, row, result, catalogue)
    return _mixed(working, row, result, catalogue)


def dilution_working(row: Any, result: Any, catalogue: Catalogue) -> list[Line]:
    """
    Return the working of a dilution.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    _mixed(working, row, result, catalogue)
    working.part("answer")
    _can_answers(working, result, "ec_ms_per_cm")
    _amount_answers(working, row, result, catalogue)
    return working.lines


def _mixed(working: Working, row: Any, result: Any, catalogue: Catalogue) -> list[str]:
    """Add everything from the volume to the finished can; return the amounts in a litre."""
    _volume_lines(working, row, result)
    water_lines(working, row, result)
    water_balance_lines(working, row, result)
    names = product_names(row, catalogue)
    base_lines(working, row, result)
    working.part("amounts")
    amount_lines(working, row, result, catalogue, names)
    if row["limited"] == 1 and row["product_count"] > 0:
        ceiling_lines(working, row, result, catalogue, names)
    else:
        working.computed("share_of_requested", "1", result["share_of_requested"], NUMBER)
    working.part("what is weighed and measured")
    amounts = measured_lines(working, row, result, catalogue, names)
    reagent = None
    if result["acid_mmol_per_l"] > 0.0:
        working.part("acid or base")
        kind = int(row["acid_kind"])
        reagent = reagents.COMPOSITION[kind]
        working.given("target_ph", row["target_ph"], NUMBER)
        weighed = ", rounded down to whole steps of the balance" if is_weighed(row, kind) else ""
        working.solved(
            "acid_in_the_can_mmol_per_l",
            result["acid_mmol_per_l"],
            f"{reagents.reagent_name(kind)} with which all charges of the can balance at"
            f" `target_ph`{weighed}; the balances under `pH of the can, as mixed` check it",
            "stumm-morgan-1996",
        )
        bottle_lines(working, row, result, "acid_in_the_can_mmol_per_l")
    working.part("composition of the can")
    held = composition_lines(working, row, result, catalogue, amounts, reagent)
    element_lines(working, result, held)
    known = bool(np.isfinite(stated_alkalinity(row["water"])))
    state_lines(working, row, result, held, ph_known=known)
    conductivity_lines(working, row, result, catalogue, amounts)
    return amounts


def _volume_lines(working: Working, row: Any, result: Any) -> None:
    """Add the volume of the can and of one plant."""
    working.part("volume")
    count = ""
    if np.isfinite(row["count"]):
        count = working.given("count", row["count"], NUMBER)
    per_plant = float(result["volume_per_plant_ml"])
    if np.isfinite(row["volume_per_plant_ml"]):
        working.given("volume_per_plant_ml", per_plant)
    elif np.isfinite(per_plant) and not np.isfinite(row["volume_l"]):
        if rows.SETUPS[row["setup"]] == "mount":
            working.known("volume_per_plant_ml", MOUNT_MILLILITRES, "a mount takes so much", None)
        else:
            diameter = working.given("pot_diameter_cm", row["pot_diameter_cm"])
            medium = rows.MEDIA[row["medium"]] if row["medium"] >= 0 else "of the setup"
            cube = POT_LITRES_PER_CUBIC_DECIMETRE * 1000.0
            share = per_plant / (cube * (float(row["pot_diameter_cm"]) / 10.0) ** 3)
            nearest = float(WATERING_SHARES[np.argmin(np.abs(WATERING_SHARES - share))])
            working.known(
                "watering_share", nearest, f"of a pot with medium `{medium}`", None, NUMBER
            )
            working.computed(
                "volume_per_plant_ml",
                f"1000 * watering_share * {POT_LITRES_PER_CUBIC_DECIMETRE:g}"
                f" * ({diameter} / 10) ** 3",
                per_plant,
            )
    if np.isfinite(row["volume_l"]):
        working.given("volume_l", result["volume_l"])
        if np.isfinite(per_plant) and not working.knows("volume_per_plant_ml"):
            working.computed("volume_per_plant_ml", f"1000 * volume_l / {count}", per_plant)
    elif working.knows("volume_per_plant_ml") and count:
        working.computed("volume_l", f"volume_per_plant_ml * {count} / 1000", result["volume_l"])
    else:
        working.given("volume_l", result["volume_l"])


def _can_answers(working: Working, result: Any, field: str) -> None:
    """Add the fields of the finished can."""
    for name in ELEMENT_NAMES:
        working.answer(f"elements_mg_per_l.{name}", f"{name}_in_the_can_mg_per_l", 4)
    working.answer("nitrogen_mg_per_l", "nitrogen_in_the_can_mg_per_l", 4)
    conductivity_answers(working, "can_ec_ms_per_cm", field)


def _strength_answers(
    working: Working, row: Any, catalogue: Catalogue, amounts: Sequence[str]
) -> None:
    """Add the fields of `strength`."""
    if len(amounts) == 1:
        liquid = catalogue.product_rows[row["product"][0]].liquid
        field = "product_ml_per_l" if liquid else "product_g_per_l"
        working.answer(f"strength.{field}", amounts[0], 4)
    working.answer("strength.nitrogen_mg_per_l", "nitrogen_in_the_can_mg_per_l", 4)
    conductivity_answers(working, "can_ec_ms_per_cm", "ec_ms_per_cm", "strength.")


def _amount_answers(working: Working, row: Any, result: Any, catalogue: Catalogue) -> None:
    """Add what is weighed and measured, where anything may be."""
    if result["status"] == INFEASIBLE:
        return
    names = product_names(row, catalogue)
    for order, slot in enumerate(mixing_order(row, result, catalogue)):
        liquid = catalogue.product_rows[row["product"][slot]].liquid
        kind = "volume_ml" if liquid else "mass_g"
        place = f"additions.{order}"
        if result["pre_stock_g_per_l"][slot] > 0.0:
            strength = "ml_per_l" if liquid else "g_per_l"
            working.answer(f"{place}.pre_stock.{strength}", f"{names[slot]}_pre_stock", 4)
            working.answer(f"{place}.pre_stock.volume_ml", f"{names[slot]}_pre_stock_ml", 4)
        working.answer(f"{place}.exact_{kind}", f"{names[slot]}_exact", 4)
        working.answer(f"{place}.{kind}", f"{names[slot]}_measured", 4)
    if len(names) == 1:
        kind = "volume_ml" if catalogue.product_rows[row["product"][0]].liquid else "mass_g"
        working.answer(f"product_{kind}", f"{names[0]}_measured", 4)


def _acid_answers(working: Working, result: Any) -> None:
    """Add the acid or base, where any may be poured."""
    if result["status"] == INFEASIBLE:
        return
    if result["acid_mmol_per_l"] > 0.0:
        working.answer("acid_mmol_per_l", "acid_in_the_can_mmol_per_l", 4)
        working.answer("acid_mass_g", "bottle_mass_g", 4)
        if working.knows("bottle_volume_ml"):
            working.answer("acid_volume_ml", "bottle_volume_ml", 4)
        factor = f"{float(result['acid_dilution_factor']):g}"
        working.answer("acid_dilution_factor", factor, 4)
    else:
        for name in ("acid_mmol_per_l", "acid_mass_g", "acid_volume_ml"):
            working.answer(name, "0", 4)
        working.answer("acid_dilution_factor", "1", 4)
