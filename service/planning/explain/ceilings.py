"""The working of the ceilings of a can: what each leaves of the amounts that were asked for."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning import products, profiles, reagents, rows
from service.planning.card import INFEASIBLE
from service.planning.catalogue import Catalogue
from service.planning.ceilings import (
    MICRONUTRIENT_ELEMENTS,
    MICRONUTRIENTS,
    STIMULANT,
    SUPPLEMENT,
    reduced_nitrogen_mass,
)
from service.planning.explain.strength import profile_sources
from service.planning.explain.water import ATOMIC_WEIGHTS, water_component
from service.planning.explain.working import NUMBER, Working
from service.planning.strength import BY_ELEMENT, element_mass
from service.planning.targets import DOSING_SCALE
from service.reference.components import AMMONIUM, COMPONENT_COUNT, ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX

NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")


def base_lines(working: Working, row: Any, result: Any) -> None:
    """
    Add what of each limited element stands in the can before any product.

    Parameters
    ----------
    working : Working
        Holds the water; receives `nitrogen_before_mg_per_l` and so on.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        Holds the water and what the amounts were found beside.
    """
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


def ceiling_lines(
    working: Working, row: Any, result: Any, catalogue: Catalogue, names: Sequence[str]
) -> None:
    """
    Add the share of the requested amounts that each ceiling leaves, and the smallest.

    Parameters
    ----------
    working : Working
        Holds strength, water and requested amounts; receives `share_of_requested`.
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Knows products and profile.
    names : sequence of str
        Name of each product.
    """
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
                    f"max({ceiling} - {held}, 0) / brought_at_full_amounts_mg_per_l",
                    unit=NUMBER,
                    where={"brought_at_full_amounts_mg_per_l": content},
                )
            )
    for slot in slots:
        rate = float(table[row["product"][slot]][products.RATE_CAP])
        if rate > 0.0 and requested[slot] > 0.0:
            shares.append(
                working.computed(
                    f"share_by_rate_of_{names[slot]}",
                    f"most_of_it_per_l / {names[slot]}_requested",
                    unit=NUMBER,
                    where={"most_of_it_per_l": rate},
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
