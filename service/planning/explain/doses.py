"""The working of a dose or a dilution: strength, ceilings, amounts, acid, the finished can."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning import products, profiles, reagents, rows
from service.planning.card import INFEASIBLE, mixing_order
from service.planning.catalogue import Catalogue
from service.planning.ceilings import (
    MICRONUTRIENT_ELEMENTS,
    MICRONUTRIENTS,
    STIMULANT,
    SUPPLEMENT,
    reduced_nitrogen_mass,
)
from service.planning.explain.acid import bottle_lines
from service.planning.explain.amounts import amount_lines, measured_lines
from service.planning.explain.can import (
    composition_lines,
    conductivity_answers,
    conductivity_lines,
    element_lines,
    product_names,
    state_lines,
)
from service.planning.explain.strength import profile_sources, strength_lines
from service.planning.explain.water import ATOMIC_WEIGHTS, water_component, water_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.finished_can import DAYS_PER_MONTH
from service.planning.strength import BY_ELEMENT, element_mass
from service.planning.targets import DOSING_SCALE
from service.planning.volumes import (
    MOUNT_MILLILITRES,
    POT_LITRES_PER_CUBIC_DECIMETRE,
    WATERING_SHARES,
)
from service.planning.water import stated_alkalinity
from service.reference.components import AMMONIUM, COMPONENT_COUNT, ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX

FLUSH: Final = rows.APPLICATIONS.index("flush")
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")


def dose_working(row: Any, result: Any, catalogue: Catalogue) -> list[Line]:
    """
    Return the working of a dose.

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
    return working.lines


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
    names = product_names(row, catalogue)
    _base_lines(working, row, result)
    working.part("amounts")
    amount_lines(working, row, result, catalogue, names)
    if row["limited"] == 1 and row["product_count"] > 0:
        _ceiling_lines(working, row, result, catalogue, names)
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
        working.solved(
            "acid_in_the_can_mmol_per_l",
            result["acid_mmol_per_l"],
            f"{reagents.reagent_name(kind)} with which all charges of the can balance at"
            " `target_ph`; the balances under `pH of the can, as mixed` check it",
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


def _base_lines(working: Working, row: Any, result: Any) -> None:
    """Add what of each limited element stands in the can before any product."""
    water = result["water_composition_mmol_per_l"]
    base = result["base_composition_mmol_per_l"]
    reagent = np.zeros(COMPONENT_COUNT)
    if row["acid_kind"] >= 0:
        reagent = reagents.COMPOSITION[int(row["acid_kind"])]
        place = int(np.argmax(reagent))
        credited = float((base[place] - water[place]) / reagent[place])
        if credited != 0.0:
            working.solved(
                "credited_acid_mmol_per_l",
                credited,
                "acid or base that these amounts take; amounts and acid are found in turn until"
                " both stay",
                "stumm-morgan-1996",
            )
    elements = {NITROGEN, *(int(each) for each in MICRONUTRIENT_ELEMENTS)}
    for slot in range(int(row["product_count"])):
        if row["strength_basis"][slot] == BY_ELEMENT:
            elements.add(int(row["strength_element"][slot]))
    weights = {
        f"{ELEMENT_NAMES[element]}_before_mg_per_l": ELEMENT_MATRIX[element]
        for element in sorted(elements)
    }
    reduced = np.zeros(COMPONENT_COUNT)
    reduced[[AMMONIUM, UREA]] = ELEMENT_MATRIX[NITROGEN, [AMMONIUM, UREA]]
    weights["ammonium_and_urea_before_mg_per_l"] = reduced
    for name, weight in weights.items():
        terms = []
        for component in np.flatnonzero(weight).tolist():
            if working.knows(water_component(component)):
                terms.append(f"{float(weight[component])!r} * {water_component(component)}")
            if reagent[component] != 0.0 and working.knows("credited_acid_mmol_per_l"):
                mass = float(weight[component] * reagent[component])
                terms.append(f"{mass!r} * credited_acid_mmol_per_l")
        if terms or weight is reduced:
            working.computed(
                name, " + ".join(terms) or "0", float(weight @ base), source=ATOMIC_WEIGHTS
            )


def _ceiling_lines(
    working: Working, row: Any, result: Any, catalogue: Catalogue, names: Sequence[str]
) -> None:
    """Add the share of the requested amounts that each ceiling leaves, and the smallest."""
    working.part("ceilings")
    table = catalogue.product_table
    profile = catalogue.profile_table[row["profile"]]
    sources = profile_sources(row, catalogue)
    slots = range(int(row["product_count"]))
    requested = [float(result["requested_g_per_l"][slot]) for slot in slots]
    total = sum(
        (table[row["product"][slot]][:COMPONENT_COUNT] * requested[slot] for slot in slots),
        start=np.zeros(COMPONENT_COUNT),
    )
    limits: list[tuple[str, str, str, float]] = [
        (
            "total_nitrogen",
            "feed_nitrogen_ceiling_mg_per_l",
            "nitrogen_before_mg_per_l",
            float(element_mass(total, NITROGEN)),
        ),
        (
            "ammonium_and_urea_nitrogen",
            "feed_ammonium_ceiling_mg_per_l",
            "ammonium_and_urea_before_mg_per_l",
            float(reduced_nitrogen_mass(total)),
        ),
    ]
    for place, name in enumerate(MICRONUTRIENTS):
        content = float(element_mass(total, int(MICRONUTRIENT_ELEMENTS[place])))
        ceiling = f"{name}_ceiling_mg_per_l"
        if content > 0.0 or rows.BINDING_LIMITS[result["binding_limit"]] == name:
            working.known(
                ceiling,
                profile[profiles.FIRST_MICRONUTRIENT_MAXIMUM + place],
                f"most {name} in a can for this profile",
                sources.get(name),
            )
            limits.append((name, ceiling, f"{name}_before_mg_per_l", content))
    shares = []
    for name, ceiling, before, content in limits:
        if content > 0.0:
            held = before if working.knows(before) else "0"
            shares.append(
                working.computed(
                    f"share_by_{name}",
                    f"max({ceiling} - {held}, 0) / brought_at_full_amounts",
                    unit=NUMBER,
                    where={"brought_at_full_amounts": content},
                )
            )
    for slot in slots:
        rate = float(table[row["product"][slot]][products.RATE_CAP])
        if rate > 0.0 and requested[slot] > 0.0:
            shares.append(
                working.computed(
                    f"share_by_rate_of_{names[slot]}",
                    f"most_of_it / {names[slot]}_requested",
                    unit=NUMBER,
                    where={"most_of_it": rate},
                )
            )
    ceiling = _conductivity_ceiling(working, row, result, catalogue)
    share = float(result["share_of_requested"])
    if result["status"] == INFEASIBLE and share == 0.0:
        working.solved(
            "share_of_requested",
            share,
            f"nothing: the water alone passes the ceiling of"
            f" `{rows.BINDING_LIMITS[result['binding_limit']]}`",
            None,
            NUMBER,
        )
        if np.isfinite(result["feasible_water_share_percent"]):
            working.solved(
                "blend_share_percent",
                result["feasible_water_share_percent"],
                "share of this water, beside pure water, at which it takes half of each ceiling"
                " that it passes",
                None,
            )
            working.answer("feasible_water_share_percent", "blend_share_percent", 3)
        return
    if rows.BINDING_LIMITS[result["binding_limit"]] == "conductivity":
        shares.append(
            working.solved(
                "share_by_conductivity",
                share,
                f"the share at which the ions of the whole can reach `{ceiling}`, found by"
                " iteration and kept a hundred-thousandth below it; the conductivity of the can"
                " checks it",
                "onsager-1927",
                NUMBER,
            )
        )
    if np.isfinite(row["strength_value"][0]) or int(row["product_count"]) > 1:
        shares.append("1")
    listed = ", ".join(shares)
    working.computed(
        "share_of_requested", f"min({listed})" if len(shares) > 1 else listed, share, NUMBER
    )


def _conductivity_ceiling(working: Working, row: Any, result: Any, catalogue: Catalogue) -> str:
    """Add the conductivity that the can may have, which depends on what it is for."""
    name = "ec_ceiling_of_the_can_ms_per_cm"
    if row["application"] not in (SUPPLEMENT, STIMULANT):
        return working.computed(name, "feed_ec_ceiling_ms_per_cm", result["ec_ceiling_ms_per_cm"])
    constants = {
        f"usual_{slot + 1}": float(
            catalogue.product_table[row["product"][slot]][products.SUPPLEMENT_METER_PPM]
        )
        for slot in range(int(row["product_count"]))
    }
    listed = ", ".join(["air_ppm", "largest_plant_ppm", *constants])
    return working.computed(
        name,
        f"min(min({listed}) / {DOSING_SCALE:g}, profile_ec_ceiling_ms_per_cm)",
        where=constants,
    )


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
