"""The working of a water: from the columns of an analysis to the amounts of its components."""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.explain.speciation import Solution, explain_ph, molal_lines, molal_of
from service.planning.explain.working import Working, signed_sum, signed_term
from service.planning.known_water import KnownWater
from service.planning.water import (
    CONDUCTIVITY_COLUMN,
    FREEZING_POINT,
    NITRATE_COLUMN,
    NITRATE_MASS,
    NITRATE_NITROGEN,
    NITROGEN_MASS,
    PH,
    SIMPLE_IONS,
    TEMPERATURE,
    stated_alkalinity,
)
from service.reference.components import (
    CARBONATE,
    CITRATE,
    COMPONENT_COUNT,
    COMPONENT_NAMES,
    NITRATE,
    NOMINAL_CHARGE,
    PHOSPHATE,
    UNMEASURED,
)
from service.units.canonical import BICARBONATE_MG_PER_MEQ, CALCIUM_CARBONATE_MG_PER_MEQ

ATOMIC_WEIGHTS: Final = "prohaska-2022"
ALKALINITY: Final = "alkalinity_mg_per_l_caco3"
RAW: Final = "raw_"
BICARBONATE: Final = "bicarbonate_mg_per_l"


def water_component(component: int, prefix: str = "") -> str:
    """
    Return the name of the amount of a component in the water.

    Parameters
    ----------
    component : int
        The component.
    prefix : str
        Put before the name, where there are several waters.

    Returns
    -------
    str
        Name for formulas.
    """
    return f"{prefix}water_{COMPONENT_NAMES[component]}_mmol_per_l"


def water_lines(working: Working, row: Any, result: Any, prefix: str = "") -> None:
    """
    Add the water of a row.

    Parameters
    ----------
    working : Working
        Receives the lines; the last is `water_ec_ms_per_cm`.
    row : record of `rows.DOSE_REQUEST`
        The request, or any record with the same water.
    result : record of `rows.DOSE_RESULT`
        Holds the water's composition.
    prefix : str
        Put before every name, where there are several waters.
    """
    working.part(f"{prefix.removesuffix('_')} water".strip())
    columns = row["water"]
    given: dict[str, str] = {}
    for column, field in enumerate(rows.WATER_FIELDS):
        if np.isfinite(columns[column]) and column != TEMPERATURE:
            given[field] = working.given(f"{prefix}stated_{field}", columns[column])
    composition = result["water_composition_mmol_per_l"]
    masses = {component: (field, mass) for field, component, mass in SIMPLE_IONS}
    if np.isfinite(columns[NITRATE_COLUMN]):
        masses[NITRATE] = ("nitrate_mg_per_l", NITRATE_MASS)
    elif np.isfinite(columns[NITRATE_NITROGEN]):
        masses[NITRATE] = ("nitrate_nitrogen_mg_per_l", NITROGEN_MASS)
    for component in range(COMPONENT_COUNT):
        amount = float(composition[component])
        if amount == 0.0 or component in (CARBONATE, UNMEASURED):
            continue
        field, mass = masses.get(component, ("", 1.0))
        if field in given:
            working.computed(
                water_component(component, prefix),
                f"{given[field]} / molar_mass",
                amount,
                source=ATOMIC_WEIGHTS,
                where={"molar_mass": mass},
            )
        else:
            words = "what the hardness leaves, or its usual share"
            working.known(water_component(component, prefix), amount, words, None)
    _alkalinity_lines(working, row, result, given, prefix)
    unexplained = float(result["unexplained_ec_ms_per_cm"])
    computed = float(result["water_ec_ms_per_cm"]) - unexplained
    ions = working.known(
        f"{prefix}water_ions_ec_ms_per_cm",
        computed,
        "sum over the ions of the water at 25 °C, as for the mix",
        "onsager-1927",
    )
    if np.isfinite(columns[CONDUCTIVITY_COLUMN]):
        working.computed(
            f"{prefix}unexplained_ec_ms_per_cm",
            f"max({given[rows.WATER_FIELDS[CONDUCTIVITY_COLUMN]]} - {ions}, 0)",
            unexplained,
        )
    else:
        working.computed(f"{prefix}unexplained_ec_ms_per_cm", "0", unexplained)
    working.computed(
        f"{prefix}water_ec_ms_per_cm",
        f"{ions} + {prefix}unexplained_ec_ms_per_cm",
        result["water_ec_ms_per_cm"],
    )


def _alkalinity_lines(
    working: Working, row: Any, result: Any, given: dict[str, str], prefix: str
) -> None:
    """Add the alkalinity, the carbonate and the charge that the analysis leaves open."""
    composition = result["water_composition_mmol_per_l"]
    alkalinity = stated_alkalinity(row["water"])
    if ALKALINITY in given:
        working.computed(
            f"{prefix}water_alkalinity_meq_per_l",
            f"{given[ALKALINITY]} / {CALCIUM_CARBONATE_MG_PER_MEQ!r}",
            alkalinity,
            source=ATOMIC_WEIGHTS,
        )
    elif BICARBONATE in given:
        working.computed(
            f"{prefix}water_alkalinity_meq_per_l",
            f"{given[BICARBONATE]} / {BICARBONATE_MG_PER_MEQ!r}",
            alkalinity,
            source=ATOMIC_WEIGHTS,
        )
    terms = [
        signed_term(NOMINAL_CHARGE[component], water_component(component, prefix))
        for component in range(COMPONENT_COUNT)
        if NOMINAL_CHARGE[component] != 0
        and composition[component] != 0.0
        and component != UNMEASURED
    ]
    acids = [
        water_component(component, prefix)
        for component in (PHOSPHATE, CITRATE)
        if composition[component] != 0.0
    ]
    charge = signed_sum(terms) or "0"
    if not working.knows(f"{prefix}water_alkalinity_meq_per_l"):
        working.computed(
            f"{prefix}water_alkalinity_meq_per_l",
            f"max({' - '.join([charge, *acids])}, 0)",
            source="stumm-morgan-1996",
        )
    if composition[UNMEASURED] != 0.0:
        working.computed(
            water_component(UNMEASURED, prefix),
            f"{' + '.join([prefix + 'water_alkalinity_meq_per_l', *acids])} - ({charge})",
            float(composition[UNMEASURED]),
            source="stumm-morgan-1996",
        )
    if composition[CARBONATE] != 0.0:
        words = (
            "carbonate at which all charges balance at the stated pH"
            if np.isfinite(row["water"][PH])
            else "carbonate beside the air, 427 ppm of carbon dioxide, at this alkalinity"
        )
        working.solved(
            water_component(CARBONATE, prefix),
            float(composition[CARBONATE]),
            words,
            "stumm-morgan-1996",
        )


def water_balance_lines(working: Working, row: Any, result: Any) -> None:
    """
    Add the species of a water at its own pH, so that its carbonate can be checked.

    Parameters
    ----------
    working : Working
        Holds the water; receives the lines.
    row : record of `rows.DOSE_REQUEST`
        The request, or any record with the same water.
    result : record of `rows.DOSE_RESULT`
        Holds the water's composition.
    """
    if working.brief or not working.knows(water_component(CARBONATE)):
        return
    celsius = float(row["water"][TEMPERATURE])
    composition = np.array(result["water_composition_mmol_per_l"])
    working.part("water at its own pH")
    present = {
        component: water_component(component)
        for component in range(COMPONENT_COUNT)
        if working.knows(water_component(component))
    }
    temperature = celsius + FREEZING_POINT
    molal_lines(working, present, celsius, RAW)
    explain_ph(working, Solution(molal_of(composition, temperature), temperature, np.nan), RAW)


def known_water_lines(working: Working, water: KnownWater, prefix: str = "") -> None:
    """
    Add a water that was read by itself.

    Parameters
    ----------
    working : Working
        Receives the lines.
    water : KnownWater
        The water.
    prefix : str
        Put before every name, where there are several waters.
    """
    columns = np.full(len(rows.WATER_FIELDS), np.nan)
    for name, value in water.analysis.items():
        columns[rows.WATER_FIELDS.index(name)] = value
    if not water.alkalinity_known:
        columns[PH] = np.nan
    result = {
        "water_composition_mmol_per_l": water.composition_mmol_per_l,
        "unexplained_ec_ms_per_cm": water.unexplained_ec_ms_per_cm,
        "water_ec_ms_per_cm": water.ec_ms_per_cm,
    }
    water_lines(working, {"water": columns}, result, prefix)
