"""The working of a solubility: what is in a kilogram of water when the first solid comes out."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.solution_density import dissolved_mass
from service.planning.concentrate import brought_by
from service.planning.explain.can import source_of
from service.planning.explain.concentrates import PITZER, explain_solid
from service.planning.explain.speciation import MOLAL
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.products import ProductRow
from service.planning.solubility import Solubility
from service.reference.catalogue import products as products_by_key
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES

FloatArray = NDArray[np.float64]

FIT: Final = "salt-mixtures-fit"
DENSITY: Final = "laliberte-2009"


def solubility_working(
    product: ProductRow,
    celsius: float,
    background: Sequence[tuple[ProductRow, float]],
    found: Solubility,
) -> list[Line]:
    """
    Return the working of a solubility.

    Parameters
    ----------
    product : ProductRow
        The product.
    celsius : float
        Temperature [degC].
    background : sequence of (ProductRow, float)
        What is dissolved already [g/kg water].
    found : Solubility
        The finished answer.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    working.part("what is dissolved")
    working.given("tank_celsius", celsius, "°C")
    grams = _grams_lines(working, product, background, found)
    composition = _composition_lines(working, [(product, 0.0), *background], grams)
    working.part("solids")
    for place, state in enumerate(found.states):
        name = f"{state.solid}_index"
        if (
            explain_solid(
                working, composition, celsius, state.solid, name, "", state.saturation_index
            )
            is None
        ):
            working.solved(
                name,
                state.saturation_index,
                "saturation index by the ion-interaction equations",
                PITZER,
                NUMBER,
            )
        working.answer(f"saturation.{place}.index", name, 3, NUMBER)
        margin = working.known(
            f"{state.solid}_margin_percent",
            state.margin_percent,
            f"how far the model may be off; evidence: {state.evidence}",
            FIT,
        )
        working.answer(f"saturation.{place}.margin_percent", margin, 3)
        working.known(
            f"{state.solid}_margin",
            state.margin,
            "ions in the formula * log10(1 + margin / 100)",
            FIT,
            NUMBER,
        )
        working.answer(f"saturation.{place}.margin", f"{state.solid}_margin", 3, NUMBER)
    _answers(working, found)
    return working.lines


def _grams_lines(
    working: Working,
    product: ProductRow,
    background: Sequence[tuple[ProductRow, float]],
    found: Solubility,
) -> list[str]:
    """Add the grams of everything, the product's own as they were found."""
    alone = not background
    words = (
        f"adopted solubility of {found.limiting_solid}"
        if alone and found.evidence == "single_salt"
        else f"grams at which {found.limiting_solid} comes out first, found by halving; a tenth is"
        " taken off where no such mixture was measured. Its index below is about 0 before that"
    )
    names = [
        working.solved(
            "grams_of_the_product",
            found.g_per_kg_water,
            words,
            "crc-handbook-98" if alone else FIT,
            "g/kg water",
        )
    ]
    for place, (each, grams) in enumerate(background):
        name = each.key if each.key in products_by_key() else f"product_{place + 1}"
        if working.knows(f"grams_of_{name}"):
            name = f"{name}_{place + 1}"
        names.append(working.given(f"grams_of_{name}", grams, "g/kg water"))
    return names


def _composition_lines(
    working: Working, products: Sequence[tuple[ProductRow, float]], grams: Sequence[str]
) -> FloatArray:
    """Add the components in a kilogram of all water; return them."""
    brought = [brought_by(product) for product, _ in products]
    water = {f"water_of_{place}": own for place, (_, own) in enumerate(brought) if own > 0.0}
    terms = [f"{grams[int(name.rpartition('_')[2])]} * {name}" for name in water]
    working.computed(
        "all_water_kg", " + ".join(["1", *terms]), unit="kg", source=DENSITY, where=water
    )
    composition = np.zeros(COMPONENT_COUNT)
    for component in range(COMPONENT_COUNT):
        where = {
            f"content_{place}": float(contents[component])
            for place, (contents, _) in enumerate(brought)
            if contents[component] != 0.0
        }
        if not where:
            continue
        total = " + ".join(f"{grams[int(name.rpartition('_')[2])]} * {name}" for name in where)
        name = working.computed(
            f"{COMPONENT_NAMES[component]}_total",
            f"({total}) / all_water_kg",
            None,
            MOLAL,
            source_of(products[0][0]),
            where,
        )
        composition[component] = working.value(name)
    return composition


def _answers(working: Working, found: Solubility) -> None:
    """Add the fields of the answer."""
    working.part("answer")
    working.answer("solubility_g_per_kg_water", "grams_of_the_product", 4)
    working.solved(
        "safe_grams_of_the_product",
        found.safe_g_per_kg_water,
        "grams at which index + margin of the first solid is 0",
        FIT,
        "g/kg water",
    )
    working.answer("safe_g_per_kg_water", "safe_grams_of_the_product", 4)
    working.known(
        "model_margin_percent",
        found.margin_percent,
        f"how far the model may be off for {found.limiting_solid}",
        FIT,
    )
    working.answer("margin_percent", "model_margin_percent", 3)
    density = working.known(
        "saturated_density_kg_per_l",
        found.density_kg_per_l,
        "density of the saturated solution, from the volumes of the salts",
        DENSITY,
    )
    working.answer("density_kg_per_l", density, 4)
    composition = np.array(
        [
            working.value(f"{name}_total") if working.knows(f"{name}_total") else 0.0
            for name in COMPONENT_NAMES
        ]
    )
    working.known(
        "dissolved_kg_per_kg_water",
        float(dissolved_mass(composition)),
        "mass of all components, charges closed with hydrogen or hydroxide ions",
        "prohaska-2022",
        "kg/kg",
    )
    working.computed(
        "grams_in_a_litre",
        f"grams_of_the_product * {density} / (all_water_kg * (1 + dissolved_kg_per_kg_water))",
        found.g_per_l,
        "g/L",
    )
    working.answer("solubility_g_per_l", "grams_in_a_litre", 4)
