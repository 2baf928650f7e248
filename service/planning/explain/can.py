"""The working of a finished can: amounts per litre, elements, pH, conductivity, solids."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.planning import products, rows
from service.planning.card import METER_SCALES
from service.planning.catalogue import Catalogue
from service.planning.explain.conductivity import explain_conductivity
from service.planning.explain.solids import explain_solids
from service.planning.explain.speciation import (
    Solution,
    explain_ph,
    molal_lines,
    molal_of,
)
from service.planning.explain.water import ATOMIC_WEIGHTS, water_component
from service.planning.explain.working import Working
from service.planning.water import FREEZING_POINT, TEMPERATURE
from service.reference.catalogue import products as products_by_key
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX

FloatArray = NDArray[np.float64]

REFERENCE_CELSIUS: Final = 25.0


def product_names(row: Any, catalogue: Catalogue) -> list[str]:
    """
    Return a name for each product of a row that formulas can use.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Names the products.
    catalogue : Catalogue
        Knows them.

    Returns
    -------
    list of str
        One for each slot, each once.
    """
    names: list[str] = []
    for slot in range(int(row["product_count"])):
        key = catalogue.product_rows[row["product"][slot]].key
        # A caller's name may be anything; it stays out of formulas.
        names.append(
            key if key in products_by_key() and key not in names else f"product_{slot + 1}"
        )
    return names


def source_of(product: Any) -> str | None:
    """
    Return the first source of a product, None for the label of a caller.

    Parameters
    ----------
    product : ProductRow
        The product.

    Returns
    -------
    str or None
        Key of a source.
    """
    return product.sources[0] if product.sources else None


def can_component(component: int) -> str:
    """
    Return the name of the amount of a component in the can.

    Parameters
    ----------
    component : int
        The component.

    Returns
    -------
    str
        Name for formulas.
    """
    return f"{COMPONENT_NAMES[component]}_mmol_per_l"


def composition_lines(
    working: Working,
    row: Any,
    result: Any,
    catalogue: Catalogue,
    amounts: Sequence[str],
    reagent: FloatArray | None,
    water_share: str | None = None,
) -> dict[int, str]:
    """
    Add what is in a litre of the can.

    Parameters
    ----------
    working : Working
        Holds the water and the amounts; receives the lines.
    row : record of `rows.DOSE_REQUEST` or of `ph_adjustment_rows.PH_REQUEST`
        Names the products.
    result : record
        Holds the finished composition.
    catalogue : Catalogue
        Knows the products.
    amounts : sequence of str
        Name of the amount of each product in a litre.
    reagent : ndarray or None
        Components in a mole of the acid or base, whose amount is `acid_in_the_can_mmol_per_l`.
    water_share : str, optional
        Name of the part of the water that is left beside what is poured.

    Returns
    -------
    dict of int to str
        Name of the amount of each component that is there.
    """
    names: dict[int, str] = {}
    for component in range(COMPONENT_COUNT):
        terms = []
        constants: dict[str, float] = {}
        if working.knows(water_component(component)):
            share = "" if water_share is None else f"{water_share} * "
            terms.append(f"{share}{water_component(component)}")
        for slot, amount in enumerate(amounts):
            product = catalogue.product_table[row["product"][slot]]
            content = float(product[component])
            if content != 0.0:
                unit = "ml" if catalogue.product_rows[row["product"][slot]].liquid else "g"
                constant = f"{amount.removesuffix('_per_l')}_mmol_per_{unit}"
                constants[constant] = content
                terms.append(f"{amount} * {constant}")
        if reagent is not None and reagent[component] != 0.0:
            terms.append(f"acid_in_the_can_mmol_per_l * {float(reagent[component]):g}")
        if not terms:
            continue
        value = float(result["composition_mmol_per_l"][component])
        names[component] = working.computed(
            can_component(component), " + ".join(terms), value, where=constants
        )
    return names


def element_formula(element: int, names: dict[int, str]) -> str:
    """
    Return the formula of an element in a can.

    Parameters
    ----------
    element : int
        Position in `ELEMENT_NAMES`.
    names : dict of int to str
        Name of the amount of each component.

    Returns
    -------
    str
        Sum of amounts times masses, ``0`` without any.
    """
    terms = [
        f"{float(ELEMENT_MATRIX[element, component])!r} * {name}"
        for component, name in names.items()
        if ELEMENT_MATRIX[element, component] != 0.0
    ]
    return " + ".join(terms) or "0"


def element_lines(working: Working, result: Any, names: dict[int, str]) -> None:
    """
    Add the elements of a can.

    Parameters
    ----------
    working : Working
        Receives the lines `nitrogen_in_the_can_mg_per_l` and so on.
    result : record of `rows.DOSE_RESULT`
        Holds the elements.
    names : dict of int to str
        Name of the amount of each component.
    """
    for element, name in enumerate(ELEMENT_NAMES):
        working.computed(
            f"{name}_in_the_can_mg_per_l",
            element_formula(element, names),
            float(result["elements_mg_per_l"][element]),
            source=ATOMIC_WEIGHTS,
        )


def state_lines(
    working: Working,
    row: Any,
    result: Any,
    names: dict[int, str],
    *,
    ph_known: bool,
) -> None:
    """
    Add pH and solids of a can, as mixed and open to the air.

    Parameters
    ----------
    working : Working
        Receives the lines and the answers `predicted_ph`, `predicted_ph_open`, `saturation`.
    row : record with a `water`
        Its temperature counts.
    result : record of `rows.DOSE_RESULT` or of `ph_adjustment_rows.PH_RESULT`
        The finished can.
    names : dict of int to str
        Name of the amount of each component.
    ph_known : bool
        Whether the pH is answered.
    """
    celsius = float(row["water"][TEMPERATURE])
    temperature = celsius + FREEZING_POINT
    working.part("pH of the can, as mixed")
    molal_lines(working, names, celsius)
    molal = molal_of(result["composition_mmol_per_l"], temperature)
    closed = float(result["predicted_ph"]) if ph_known else np.nan
    explain_ph(working, Solution(molal, temperature, closed))
    _solids(working, temperature, result["saturation"], "index", "")
    working.part("pH of the can, once it stood open to the air")
    opened = float(result["predicted_ph_open"]) if ph_known else np.nan
    explain_ph(working, Solution(molal, temperature, opened, ATMOSPHERIC_CARBON_DIOXIDE), "open_")
    _solids(working, temperature, result["saturation_open"], "index_open", "open_")
    if ph_known:
        working.answer("predicted_ph", "ph", 3)
        working.answer("predicted_ph_open", "open_ph", 3)


def _solids(working: Working, temperature: float, indices: Any, field: str, prefix: str) -> None:
    """Add the saturation indices that answers list."""
    places = {
        solid: (f"saturation.{place}.{field}", float(indices[place]))
        for place, solid in enumerate(rows.SOLIDS_IN_ANSWERS)
    }
    explain_solids(working, temperature, places, prefix)


def conductivity_lines(
    working: Working,
    row: Any,
    result: Any,
    catalogue: Catalogue,
    amounts: Sequence[str],
) -> str:
    """
    Add the conductivity of a can: its ions, what labels state, what the water does not explain.

    Parameters
    ----------
    working : Working
        Receives the lines.
    row : record of `rows.DOSE_REQUEST`
        Names the products.
    result : record of `rows.DOSE_RESULT`
        The finished can.
    catalogue : Catalogue
        Knows the products.
    amounts : sequence of str
        Name of the amount of each product in a litre.

    Returns
    -------
    str
        Name of the conductivity.
    """
    working.part("conductivity of the can")
    conducting = np.array(result["composition_mmol_per_l"])
    stated: list[str] = []
    for slot, amount in enumerate(amounts):
        product = catalogue.product_table[row["product"][slot]]
        label = float(product[products.LABEL_CONDUCTIVITY])
        if label > 0.0:
            conducting -= product[:COMPONENT_COUNT] * working.value(amount)
            stated.append(
                working.computed(
                    f"stated_conductivity_{slot + 1}_ms_per_cm",
                    f"{amount} * stated",
                    source=source_of(catalogue.product_rows[row["product"][slot]]),
                    where={"stated": label},
                )
            )
    total = float(result["predicted_ec_ms_per_cm"])
    unexplained = working.value("unexplained_ec_ms_per_cm")
    ions = total - unexplained - sum(working.value(name) for name in stated)
    molal = molal_of(conducting, REFERENCE_CELSIUS + FREEZING_POINT)
    explain_conductivity(working, molal, "ions_ec", ions)
    return working.computed(
        "can_ec_ms_per_cm", " + ".join(["ions_ec", *stated, "unexplained_ec_ms_per_cm"]), total
    )


def conductivity_answers(
    working: Working, name: str, field: str, prefix: str = "", digits: int = 3
) -> None:
    """
    Add a conductivity and what the three meter scales show as fields of the answer.

    Parameters
    ----------
    working : Working
        Receives the lines.
    name : str
        Name of the conductivity.
    field : str
        Field of the conductivity.
    prefix : str
        Put before the fields, such as ``strength.``.
    digits : int
        Significant digits of the fields.
    """
    working.answer(f"{prefix}{field}", name, digits)
    for scale in METER_SCALES:
        working.answer(f"{prefix}meter_ppm_{scale}", f"{name} * {scale}", digits)
