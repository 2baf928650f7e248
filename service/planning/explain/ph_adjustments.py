"""The working of a pH adjustment: alkalinity, acid or base, what is poured, the can after it."""

from typing import Any, Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition
from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.catalogue import Catalogue
from service.planning.explain.acid import acid_source
from service.planning.explain.can import (
    composition_lines,
    product_names,
    source_of,
    state_lines,
)
from service.planning.explain.pre_dilutions import pre_dilution_answers
from service.planning.explain.water import ATOMIC_WEIGHTS, water_balance_lines, water_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.ph_adjustment import BEFORE_FEED
from service.planning.ph_range import (
    INCOMPLETE,
    INCOMPLETE_MARGIN,
    SMALLEST_MARGIN,
    TITRATION_MARGIN,
)
from service.planning.pre_dilution import pre_dilution
from service.planning.products import DENSITY
from service.planning.reagent_dose import bottle_density, bottle_mass
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

ACID: Final = "acid_in_the_can_mmol_per_l"
ALKALINITY: Final = "stumm-morgan-1996"
BOTTLE_DENSITY: Final = "laliberte-2009"


def ph_adjustment_working(row: Any, result: Any, catalogue: Catalogue) -> list[Line]:
    """
    Return the working of a pH adjustment.

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
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    working.part("volume")
    working.given("volume_l", row["volume_l"])
    water_lines(working, row, result)
    water_balance_lines(working, row, result)
    amounts = _feed_lines(working, row, result, catalogue)
    start = _start_lines(working, row, result, catalogue, amounts)
    _acid_lines(working, row, result, start)
    _poured_lines(working, row, result)
    working.part("composition of the can")
    reagent = reagents.COMPOSITION[int(row["acid_kind"])] if _used(result) else None
    names = composition_lines(
        working, row, result, catalogue, amounts, reagent, "water_left_beside_what_is_poured"
    )
    state_lines(working, row, result, names, ph_known=True)
    _range_lines(working, row, result)
    _answers(working, row, result)
    return working.lines


def _used(result: Any) -> bool:
    return bool(result["acid_mmol_per_l"] > 0.0)


def _feed_lines(working: Working, row: Any, result: Any, catalogue: Catalogue) -> list[str]:
    """Add what of each product a litre holds."""
    working.part("feed")
    amounts = []
    for slot, name in enumerate(product_names(row, catalogue)):
        product = catalogue.product_rows[row["product"][slot]]
        unit = "mL/L" if product.liquid else "g/L"
        amount = f"{name}_per_l"
        if product.liquid and row["addition_by_volume"][slot] != 1:
            mass = working.given(f"{name}_g_per_l", row["addition_per_l"][slot], "g/L")
            density = float(catalogue.product_table[row["product"][slot]][DENSITY])
            working.computed(
                amount,
                f"{mass} / density",
                float(result["amount_per_l"][slot]),
                unit,
                source_of(product),
                {"density": density},
            )
        else:
            working.given(amount, result["amount_per_l"][slot], unit)
        amounts.append(amount)
    return amounts


def _start_lines(
    working: Working, row: Any, result: Any, catalogue: Catalogue, amounts: list[str]
) -> str:
    """Add alkalinity and pH without acid, of the water and of what of the feed the acid meets."""
    working.part("where it stands without acid or base")
    terms = []
    contents: dict[str, float] = {}
    for slot, amount in enumerate(amounts):
        product = catalogue.product_table[row["product"][slot]]
        content = float(alkalinity_of_composition(product[:COMPONENT_COUNT]))
        if content != 0.0:
            contents[f"alkalinity_of_product_{slot + 1}"] = content
            terms.append(f"{amount} * alkalinity_of_product_{slot + 1}")
    working.computed(
        "feed_alkalinity_meq_per_l", " + ".join(terms) or "0", source=ALKALINITY, where=contents
    )
    feed = "" if row["acid_goes"] == BEFORE_FEED else " + feed_alkalinity_meq_per_l"
    start = working.computed(
        "starting_alkalinity_meq_per_l",
        f"water_alkalinity_meq_per_l{feed}",
        result["starting_alkalinity_meq_per_l"],
    )
    words = ph_rows.CARBON_DIOXIDE[row["carbon_dioxide"]] if row["carbon_dioxide"] >= 0 else ""
    working.solved(
        "ph_without_acid",
        result["starting_ph"],
        f"pH at which all charges balance, {words or 'closed'} to the air, as for the can below",
        "parkhurst-appelo-2013",
        NUMBER,
    )
    return start


def _acid_lines(working: Working, row: Any, result: Any, start: str) -> None:
    """Add the amount of acid or base, and how much of the alkalinity it neutralises."""
    working.part("acid or base")
    kind = int(row["acid_kind"])
    name = reagents.reagent_name(kind)
    percent = working.given("acid_percent", row["acid_percent"])
    per_mole = float(alkalinity_of_composition(reagents.COMPOSITION[kind]))
    equivalents = working.known(
        "alkalinity_of_the_reagent",
        per_mole,
        f"what a mole of {name} brings; less than 0 for an acid",
        ALKALINITY,
        "eq/mol",
    )
    dilution = working.computed(
        "dilution", f"{float(result['acid_dilution_factor']):g}", unit=NUMBER
    )
    density = float(bottle_density(kind, float(row["acid_percent"])))
    mass = working.computed(
        "bottle_mass_per_mmol",
        f"molar_mass / (10 * {percent})",
        bottle_mass(kind, float(row["acid_percent"]), 1.0),
        "g/mmol",
        acid_source(kind),
        {"molar_mass": float(reagents.MOLAR_MASS[kind])},
    )
    strength = float(result["pre_solution_g_per_l"])
    poured = "0"
    if strength > 0.0:
        working.known(
            "pre_solution_g_per_l",
            strength,
            "weakest handy solution of which the syringe measures the dose well",
            None,
        )
        poured = f"{mass} / pre_solution_g_per_l"
    elif np.isfinite(density):
        bottle = working.known(
            "bottle_density_kg_per_l",
            density,
            f"density of {name} of this strength at 20 °C",
            BOTTLE_DENSITY,
        )
        poured = f"0.001 * {mass} * {dilution} / {bottle}"
    volume = working.computed("poured_volume_per_mmol", poured, unit="L/mmol")
    wanted = float(row["target_alkalinity_mg_per_l_caco3"])
    if np.isfinite(wanted):
        target = working.given("target_alkalinity_mg_per_l_caco3", wanted)
        formula = (
            f"max(({start} - {target} / {CALCIUM_CARBONATE_MG_PER_MEQ!r})"
            f" / ({volume} * water_alkalinity_meq_per_l - {equivalents}), 0)"
        )
        working.computed(ACID, formula, result["acid_mmol_per_l"], source=ALKALINITY)
    else:
        working.given("target_ph", row["target_ph"], NUMBER)
        working.solved(
            ACID,
            result["acid_mmol_per_l"],
            f"{name} with which all charges balance at `target_ph`; the balances of the can check"
            " it, and 0 where the target is met already",
            ALKALINITY,
        )
    working.computed(
        "water_left_beside_what_is_poured",
        f"1 - {volume} * {ACID}" if _used(result) else "1",
        unit=NUMBER,
    )
    if not reagents.IS_BASE[kind]:
        _neutralised_lines(working, row, result, start)


def _neutralised_lines(working: Working, row: Any, result: Any, start: str) -> None:
    """Add the share of the alkalinity that an acid neutralises."""
    value = float(result["neutralised_percent"])
    if not np.isfinite(value):
        return
    if not _used(result):
        working.computed("neutralised_share_percent", "0", value)
    elif int(row["acid_kind"]) == reagents.CITRIC:
        working.known(
            "neutralised_share_percent",
            value,
            "share of the bicarbonate alone, for citrate does not last: 1 - bicarbonate with the"
            " acid / bicarbonate without, both from the balances",
            ALKALINITY,
        )
    else:
        working.computed(
            "neutralised_share_percent",
            f"-100 * alkalinity_of_the_reagent * {ACID} / {start}"
            if working.value(start) >= working.value("water_alkalinity_meq_per_l")
            else f"100 * (1 - ({start} + alkalinity_of_the_reagent * {ACID})"
            " / water_alkalinity_meq_per_l)",
            value,
            "%",
        )


def _poured_lines(working: Working, row: Any, result: Any) -> None:
    """Add what is weighed or measured."""
    if not _used(result):
        return
    working.part("what is poured")
    mass = working.computed(
        "bottle_mass_g", f"{ACID} * bottle_mass_per_mmol * volume_l", result["acid_mass_g"]
    )
    syringe = working.given("syringe_resolution_ml", row["syringe_resolution_ml"])
    balance = working.given("balance_resolution_g", row["balance_resolution_g"])
    if working.knows("bottle_density_kg_per_l"):
        working.computed(
            "bottle_volume_ml", f"{mass} / bottle_density_kg_per_l", result["acid_volume_ml"]
        )
    if result["pre_solution_g_per_l"] > 0.0:
        working.computed(
            "measured_volume_ml",
            f"floor(1000 * {mass} / pre_solution_g_per_l / {syringe} + 1e-9) * {syringe}",
            result["dose_volume_ml"],
        )
    elif working.knows("bottle_volume_ml"):
        working.computed(
            "measured_volume_ml",
            f"floor(bottle_volume_ml * dilution / {syringe} + 1e-9) * {syringe}",
            result["dose_volume_ml"],
        )
    else:
        working.computed(
            "measured_mass_g",
            f"floor({mass} / {balance} + 1e-9) * {balance}",
            result["dose_mass_g"],
        )


def _range_lines(working: Working, row: Any, result: Any) -> None:
    """Add between which bounds the dose and the pH lie."""
    working.part("how far it may be off")
    relative = TITRATION_MARGIN
    if int(result["cautions"]) & int(INCOMPLETE):
        relative = INCOMPLETE_MARGIN
    margin = working.computed(
        "alkalinity_margin_meq_per_l",
        f"max({SMALLEST_MARGIN:g}, {relative:g} * water_alkalinity_meq_per_l)",
        result["alkalinity_margin_meq_per_l"],
    )
    for end, sign in (("low", "less"), ("high", "more")):
        words = f"found as above with `{margin}` {sign} alkalinity, and `range_reasons` counted"
        amount = float(result[f"acid_{end}_mmol_per_l"])
        if np.isfinite(amount):
            name = f"acid_{end}_mmol_per_l"
            working.solved(name, amount, words, ALKALINITY)
            working.computed(
                f"bottle_mass_{end}_g",
                f"{name} * bottle_mass_per_mmol * volume_l",
                result[f"acid_mass_{end}_g"],
            )
            if working.knows("bottle_density_kg_per_l"):
                working.computed(
                    f"bottle_volume_{end}_ml",
                    f"bottle_mass_{end}_g / bottle_density_kg_per_l",
                    result[f"acid_volume_{end}_ml"],
                )
        ph = float(result[f"predicted_ph_{end}"])
        if np.isfinite(ph):
            working.solved(
                f"ph_{end}",
                ph,
                f"pH of the can with `{margin}` {sign} alkalinity",
                "parkhurst-appelo-2013",
                NUMBER,
            )


def _answers(working: Working, row: Any, result: Any) -> None:
    """Add the fields of the answer."""
    working.part("answer")
    working.answer("starting_ph", "ph_without_acid", 3)
    after = float(result["ph_after_acid"])
    if np.isfinite(after):
        if row["acid_goes"] == BEFORE_FEED and int(row["product_count"]) > 0:
            working.solved(
                "ph_before_feed",
                after,
                "pH of the water with the acid, before the feed, as for the can",
                "parkhurst-appelo-2013",
                NUMBER,
            )
            working.answer("ph_after_acid", "ph_before_feed", 3)
        else:
            working.answer("ph_after_acid", "ph", 3)
    for end in ("low", "high"):
        if working.knows(f"ph_{end}"):
            working.answer(f"predicted_ph_{end}", f"ph_{end}", 3)
    if working.knows("neutralised_share_percent"):
        working.answer("neutralised_percent", "neutralised_share_percent", 3)
    working.computed(
        "left_alkalinity_meq_per_l",
        "water_left_beside_what_is_poured * water_alkalinity_meq_per_l + feed_alkalinity_meq_per_l"
        f" + alkalinity_of_the_reagent * {ACID}",
        result["residual_alkalinity_meq_per_l"],
    )
    working.answer(
        "residual_alkalinity_mg_per_l_caco3",
        f"{CALCIUM_CARBONATE_MG_PER_MEQ!r} * left_alkalinity_meq_per_l",
        4,
    )
    contents = ELEMENT_MATRIX @ reagents.COMPOSITION[int(row["acid_kind"])]
    for element, name in enumerate(ELEMENT_NAMES):
        if contents[element] > 0.0:
            working.computed(
                f"{name}_of_the_reagent_mg_per_l",
                f"{ACID} * {float(contents[element])!r}",
                float(result["added_mg_per_l"][element]),
                source=ATOMIC_WEIGHTS,
            )
            working.answer(f"added_mg_per_l.{name}", f"{name}_of_the_reagent_mg_per_l", 4)
    working.answer("acid_mmol_per_l", ACID, 4)
    if rows.STATUSES[result["status"]] == "ok":
        _poured_answers(working, row, result)


def _poured_answers(working: Working, row: Any, result: Any) -> None:
    """Add what is to be poured, where it may be."""
    if not _used(result):
        _nothing_answers(working, result)
        return
    for end in ("_low", "_high", ""):
        if working.knows(f"bottle_mass{end}_g"):
            working.answer(f"acid_mass{end}_g", f"bottle_mass{end}_g", 4)
        if working.knows(f"bottle_volume{end}_ml"):
            working.answer(f"acid_volume{end}_ml", f"bottle_volume{end}_ml", 4)
    card = pre_dilution(row, result)
    if card is not None:
        pre_dilution_answers(working, card, "measured_volume_ml", f"{ACID} * volume_l")
    for name in ("volume_ml", "mass_g"):
        if working.knows(f"measured_{name}"):
            working.answer(f"dose_{name}", f"measured_{name}", 4)


def _nothing_answers(working: Working, result: Any) -> None:
    """Add the zeros of an answer that needs nothing, and the bounds that may need something."""
    for name in ("acid_mass_g", "acid_volume_ml", "dose_volume_ml", "dose_mass_g"):
        if np.isfinite(result[name]):
            working.answer(name, "0", 4)
    for end in ("low", "high"):
        for kind in ("mass", "volume"):
            unit = "g" if kind == "mass" else "ml"
            if working.knows(f"bottle_{kind}_{end}_{unit}"):
                working.answer(f"acid_{kind}_{end}_{unit}", f"bottle_{kind}_{end}_{unit}", 4)
