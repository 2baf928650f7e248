"""The working of a mix: what a litre is made of, its pH, species, conductivity and solids."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.solution_density import dissolved_mass, solution_density
from service.chemistry.species import SPECIES_NAMES
from service.planning.explain.can import conductivity_answers, element_formula, source_of
from service.planning.explain.conductivity import explain_conductivity
from service.planning.explain.solids import explain_solids
from service.planning.explain.speciation import MOLAL, Solution, explain_ph
from service.planning.explain.species_names import species_name
from service.planning.explain.water import ATOMIC_WEIGHTS, known_water_lines, water_component
from service.planning.explain.working import NUMBER, Line, Working, signed_sum, signed_term
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater
from service.planning.mix_parts import MixPart
from service.planning.solution import LEAST_LISTED, Mixture
from service.planning.water import FREEZING_POINT
from service.reference.catalogue import products as products_by_key
from service.reference.components import (
    CITRATE,
    COMPONENT_COUNT,
    COMPONENT_NAMES,
    ELEMENT_NAMES,
    NOMINAL_CHARGE,
    PHOSPHATE,
)
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FloatArray = NDArray[np.float64]

DENSITY: Final = "laliberte-2009"


def solution_working(
    mix: Mixture, water: KnownWater, parts: Sequence[MixPart], acid: FloatArray | None
) -> list[Line]:
    """
    Return the working of a mix.

    Parameters
    ----------
    mix : Mixture
        The mix.
    water : KnownWater
        Its water.
    parts : sequence of MixPart
        Its products.
    acid : ndarray or None
        Components of its acid or base [mmol/L].

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    known_water_lines(working, water)
    litre_lines(working, mix, water, parts, acid)
    indices = {
        solid: (f"saturation.{place}.index", index)
        for place, (solid, index) in enumerate(mix.saturation.items())
    }
    state_lines(working, mix, indices, least=0.001 * LEAST_LISTED / mix.water_kg_per_l)
    working.part("answer")
    if water.alkalinity_known:
        working.answer("ph", "ph", 3)
        alkalinity_answer(working, mix, "alkalinity_mg_per_l_caco3")
    working.answer("ionic_strength_mol_per_kg", "ionic_strength", 4)
    working.known(
        "mix_density_kg_per_l",
        mix.density_kg_per_l,
        f"density at {mix.temperature_celsius:g} °C, from the volumes of the salts",
        DENSITY,
    )
    working.answer("density_kg_per_l", "mix_density_kg_per_l", 4)
    element_answers(working, mix, "elements_mg_per_l.")
    conductivity_answers(working, "mix_ec_ms_per_cm", "ec_ms_per_cm", digits=4)
    range_answers(working, mix, "")
    working.known(
        "temperature_ratio",
        mix.ec_at_temperature_ms_per_cm / mix.ec_ms_per_cm if mix.ec_ms_per_cm else 1.0,
        f"conductivity of the ions at {mix.temperature_celsius:g} °C over that at 25 °C, each"
        " summed as above",
        "onsager-1927",
        NUMBER,
    )
    working.computed(
        "mix_ec_at_temperature_ms_per_cm",
        "mix_ec_ms_per_cm * temperature_ratio",
        mix.ec_at_temperature_ms_per_cm,
    )
    working.answer("ec_at_temperature_ms_per_cm", "mix_ec_at_temperature_ms_per_cm", 4)
    if water.charge_error_percent is not None:
        working.known(
            "charge_error_percent",
            water.charge_error_percent,
            "surplus of cations in the analysis of the water: 100 * (cations - anions) /"
            " (cations + anions), alkalinity among the anions",
            None,
        )
        working.answer("water_charge_error_percent", "charge_error_percent", 3)
    for name in mix.ions_mmol_per_l:
        species = species_name(SPECIES_NAMES.index(name))
        working.answer(
            f"ions_mmol_per_l.{name}", f"1000 * water_in_the_litre_kg * {species}", 4, "mmol/L"
        )
    return working.lines


def part_names(parts: Sequence[MixPart]) -> list[str]:
    """
    Return a name for each product that formulas can use.

    Parameters
    ----------
    parts : sequence of MixPart
        The products.

    Returns
    -------
    list of str
        Each once.
    """
    names: list[str] = []
    for place, part in enumerate(parts):
        key = part.product.key
        known = key in products_by_key() and key not in names
        names.append(key if known else f"product_{place + 1}")
    return names


def litre_lines(
    working: Working,
    mix: Mixture,
    water: KnownWater,
    parts: Sequence[MixPart],
    acid: FloatArray | None,
    of_the_water: Mapping[int, str] | None = None,
) -> None:
    """
    Add what a litre holds, per kilogram of its water.

    Parameters
    ----------
    working : Working
        Holds the water; receives the lines.
    mix : Mixture
        The mix.
    water : KnownWater
        Its water.
    parts : sequence of MixPart
        Its products.
    acid : ndarray or None
        Components of its acid or base [mmol/L].
    of_the_water : mapping of int to str, optional
        Name of what the water brings of each component [mol/kg], where that stands there already.
    """
    working.part("what a litre is made of")
    names = part_names(parts)
    for name, part in zip(names, parts, strict=True):
        unit = "mL/L" if part.product.liquid else "g/L"
        if not working.knows(f"{name}_per_l"):
            working.given(f"{name}_per_l", part.amount, unit)
    content = working.solved(
        "water_in_the_litre_kg",
        mix.water_kg_per_l,
        "water that is left in a litre at 25 °C beside what is dissolved: density / (1 + mass"
        " dissolved in a kilogram of water), found by repetition",
        DENSITY,
        "kg/L",
    )
    if of_the_water is None:
        of_the_water = water_in_the_litre(working, water)
    for component in range(COMPONENT_COUNT):
        terms = []
        where: dict[str, float] = {}
        if component in of_the_water:
            terms.append(of_the_water[component])
        for name, part in zip(names, parts, strict=True):
            brought = float(part.added_mmol_per_l[component])
            if brought != 0.0 and part.amount > 0.0:
                unit = "ml" if part.product.liquid else "g"
                constant = f"{name}_mmol_per_{unit}"
                where[constant] = brought / part.amount
                terms.append(f"0.001 * {name}_per_l * {constant} / {content}")
        if acid is not None and acid[component] != 0.0:
            where["from_acid_or_base_mmol_per_l"] = float(acid[component])
            terms.append(f"0.001 * from_acid_or_base_mmol_per_l / {content}")
        if terms:
            name = f"{COMPONENT_NAMES[component]}_total"
            working.computed(
                name,
                " + ".join(terms),
                float(mix.prepared_mol_per_kg[component]),
                MOLAL,
                source_of_content(parts, component),
                where,
            )


def water_in_the_litre(working: Working, water: KnownWater) -> dict[int, str]:
    """
    Add how much water a litre of a water holds.

    Parameters
    ----------
    working : Working
        Holds the water; receives the line.
    water : KnownWater
        The water.

    Returns
    -------
    dict of int to str
        What the water brings of each component to a kilogram of it.
    """
    own = np.ascontiguousarray(water.composition_mol_per_kg)
    raw = working.known(
        "water_in_a_litre_of_the_water_kg",
        float(solution_density(own, REFERENCE_CELSIUS + FREEZING_POINT))
        / (1.0 + float(dissolved_mass(own))),
        "the same of the water as it is",
        DENSITY,
        "kg/L",
    )
    return {
        component: f"0.001 * {water_component(component)} / {raw}"
        for component in range(COMPONENT_COUNT)
        if working.knows(water_component(component))
    }


def source_of_content(parts: Sequence[MixPart], component: int) -> str | None:
    """
    Return the source of the first product that brings a component.

    Parameters
    ----------
    parts : sequence of MixPart
        The products.
    component : int
        The component.

    Returns
    -------
    str or None
        Key of a source.
    """
    for part in parts:
        if part.added_mmol_per_l[component] != 0.0:
            return source_of(part.product)
    return None


def state_lines(
    working: Working,
    mix: Mixture,
    indices: dict[str, tuple[str, float]],
    least: float | None = None,
) -> None:
    """
    Add pH, species, solids and conductivity of a mix.

    Parameters
    ----------
    working : Working
        Holds what the litre is made of; receives the lines.
    mix : Mixture
        The mix.
    indices : dict of str to (str, float)
        Field of the answer and index of each solid.
    least : float, optional
        Molality from which a species is shown [mol/kg].
    """
    temperature = mix.temperature_celsius + FREEZING_POINT
    working.part("pH of the mix")
    explain_ph(
        working,
        Solution(mix.prepared_mol_per_kg, temperature, mix.ph, mix.carbon_dioxide_bar, least),
    )
    explain_solids(working, temperature, indices)
    working.part("conductivity of the mix")
    settled = np.ascontiguousarray(mix.settled_mol_per_kg)
    reference = REFERENCE_CELSIUS + FREEZING_POINT
    content = float(solution_density(settled, reference)) / (1.0 + float(dissolved_mass(settled)))
    explain_conductivity(working, settled, "ions_ec", mix.ions_ec_ms_per_cm, content)
    terms = ["ions_ec"]
    if mix.stated_surplus_ms_per_cm != 0.0:
        working.known(
            "stated_surplus_ms_per_cm",
            mix.stated_surplus_ms_per_cm,
            "by how much labels state more than their ions carry, scaled from 100 mg/L nitrogen",
            None,
        )
        terms.append("stated_surplus_ms_per_cm")
    unexplained = mix.ec_ms_per_cm - mix.ions_ec_ms_per_cm - mix.stated_surplus_ms_per_cm
    working.known(
        "carried_unexplained_ec_ms_per_cm",
        unexplained if abs(unexplained) > 1e-12 else 0.0,
        "measured conductivity of the water that its analysis does not explain",
        None,
    )
    terms.append("carried_unexplained_ec_ms_per_cm")
    working.computed("mix_ec_ms_per_cm", " + ".join(terms), mix.ec_ms_per_cm)


def alkalinity_answer(working: Working, mix: Mixture, field: str) -> None:
    """
    Add the alkalinity of a mix.

    Parameters
    ----------
    working : Working
        Holds the amounts of the components; receives the lines.
    mix : Mixture
        The mix.
    field : str
        Field of the answer.
    """
    terms = []
    for component in range(COMPONENT_COUNT):
        name = f"{COMPONENT_NAMES[component]}_total"
        number = NOMINAL_CHARGE[component] - (component in (PHOSPHATE, CITRATE))
        if number != 0 and working.knows(name):
            terms.append(signed_term(float(number), name))
    charge = signed_sum(terms) or "0"
    working.computed(
        "mix_alkalinity_mg_per_l_caco3",
        f"1000 * {CALCIUM_CARBONATE_MG_PER_MEQ!r} * water_in_the_litre_kg * ({charge})",
        mix.alkalinity_mg_per_l_caco3,
        source="stumm-morgan-1996",
    )
    working.answer(field, "mix_alkalinity_mg_per_l_caco3", 4)


def element_answers(working: Working, mix: Mixture, prefix: str) -> None:
    """
    Add the elements of a mix.

    Parameters
    ----------
    working : Working
        Holds the amounts of the components; receives the lines.
    mix : Mixture
        The mix.
    prefix : str
        What the fields of the answer begin with.
    """
    totals = {
        component: f"{COMPONENT_NAMES[component]}_total"
        for component in range(COMPONENT_COUNT)
        if working.knows(f"{COMPONENT_NAMES[component]}_total")
    }
    for element, name in enumerate(ELEMENT_NAMES):
        working.computed(
            f"{name}_in_the_mix_mg_per_l",
            f"1000 * water_in_the_litre_kg * ({element_formula(element, totals)})",
            mix.elements_mg_per_l[name],
            source=ATOMIC_WEIGHTS,
        )
        working.answer(f"{prefix}{name}", f"{name}_in_the_mix_mg_per_l", 4, "mg/L")


def range_answers(working: Working, mix: Mixture, prefix: str) -> None:
    """
    Add the ends of a conductivity that labels leave open.

    Parameters
    ----------
    working : Working
        Receives the lines.
    mix : Mixture
        The mix.
    prefix : str
        What the fields of the answer begin with.
    """
    for end, value in (("low", mix.ec_low_ms_per_cm), ("high", mix.ec_high_ms_per_cm)):
        if value is not None:
            working.known(
                f"mix_ec_{end}_ms_per_cm",
                value,
                "as above with the label read the other way, and 12 % of what the product adds at"
                " the least",
                "delaware-extension-2008",
            )
            working.answer(f"{prefix}ec_{end}_ms_per_cm", f"mix_ec_{end}_ms_per_cm", 4)
