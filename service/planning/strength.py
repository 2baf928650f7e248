"""
From a strength to an amount per litre, for one product or several in one can.

An element counts the whole can when it is nitrogen, whose ceiling counts the water too, and what
is added when it is any other element, unless the caller says otherwise. A conductivity or a meter
reading counts the whole can, because that is what the meter sees; beside other products, only one
product can be adjusted so, and it comes last.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.planning import products, rows
from service.planning.can import scale_for_conductivity
from service.planning.cautions import assumption_bit, caution_bit, problem_number
from service.planning.targets import DOSING_SCALE
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX

BY_ELEMENT: Final = rows.STRENGTH_BASES.index("element")
BY_PRODUCT: Final = rows.STRENGTH_BASES.index("product")
BY_CONDUCTIVITY: Final = rows.STRENGTH_BASES.index("conductivity")
BY_METER: Final = rows.STRENGTH_BASES.index("meter_ppm")
ADDED: Final = rows.COUNTS.index("added")
WHOLE_CAN: Final = rows.COUNTS.index("whole_can")
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")

BLIND_CONDUCTIVITY: Final = 0.3
"""Conductivity per 100 mg/L nitrogen under which a meter is blind to the urea [mS/cm]."""

CREDIT_NAMED: Final = 0.02
"""Share of the wanted nitrogen from which the water's credit is mentioned."""

LARGEST_FACTOR: Final = 1.0e4
"""Largest amount that a search for a conductivity considers [g/L or mL/L]."""

SCALE_ASSUMED: Final = assumption_bit("meter_scale_assumed")
WHOLE_CAN_ASSUMED: Final = assumption_bit("counts_whole_can")
ADDED_ASSUMED: Final = assumption_bit("counts_added")
NITROGEN_CREDITED: Final = caution_bit("nitrogen_credited")
ALREADY_THERE: Final = caution_bit("strength_already_in_water")

STRENGTH_MISSING: Final = problem_number("strength_missing")
BLIND: Final = problem_number("strength_blind_to_urea")
ELEMENT_MISSING: Final = problem_number("element_not_in_product")
DENSITY_NEEDED: Final = problem_number("density_needed")
SOLID_BY_VOLUME: Final = problem_number("volume_of_a_solid")
TWO_WHOLE_CANS: Final = problem_number("two_whole_can_conductivities")
NO_CONDUCTIVITY: Final = problem_number("no_conductivity")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")


@kernel
def element_mass(composition: np.ndarray, element: int) -> float:
    """
    Return the mass of one element in a composition.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amounts of the components [mmol/L, or mmol per gram or millilitre].
    element : int
        Position in `ELEMENT_NAMES`.

    Returns
    -------
    float
        Mass of the element [mg/L, or mg per gram or millilitre].
    """
    mass = 0.0
    for component in range(COMPONENT_COUNT):
        mass += ELEMENT_MATRIX[element, component] * composition[component]
    return mass


@kernel
def counts_whole_can(row: np.void, slot: int) -> bool:
    """
    Return whether a strength counts the whole can, water included.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.
    slot : int
        Which product.

    Returns
    -------
    bool
        The caller's word, or the default of the basis.
    """
    counts = row["strength_counts"][slot]
    if counts != rows.ABSENT:
        return bool(counts == WHOLE_CAN)
    basis = row["strength_basis"][slot]
    if basis == BY_ELEMENT:
        return bool(row["strength_element"][slot] == NITROGEN)
    return bool(basis in (BY_CONDUCTIVITY, BY_METER) and row["product_count"] == 1)


@kernel
def share_of_credit(row: np.void, slot: int) -> float:
    """
    Return the part of an element in the water that one product takes.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.
    slot : int
        Which product; its strength counts the whole can.

    Returns
    -------
    float
        1, or less when several products count the whole can [dimensionless].
    """
    element = row["strength_element"][slot]
    wanted = 0.0
    for other in range(row["product_count"]):
        if (
            row["strength_basis"][other] == BY_ELEMENT
            and row["strength_element"][other] == element
            and counts_whole_can(row, other)
        ):
            wanted += row["strength_value"][other]
    if wanted <= 0.0:
        return 1.0
    return float(row["strength_value"][slot] / wanted)


@kernel
def requested_amounts(
    row: np.void,
    product_table: np.ndarray,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """
    Fill in the amount per litre of every product that has a strength.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    result : record of `rows.DOSE_RESULT`
        Holds the water; receives `requested_g_per_l`, `credited_g_per_l` and assumptions.
    scratch : ndarray, shape (6, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number, 0 when all is well; `problem_product` names the product.
    """
    water = result["base_composition_mmol_per_l"]
    requested = result["requested_g_per_l"]
    credited = result["credited_g_per_l"]
    nothing = scratch[2]
    everything_else = scratch[3]
    last = -1
    for slot in range(row["product_count"]):
        result["problem_product"] = slot
        requested[slot] = np.nan
        credited[slot] = 0.0
        basis = row["strength_basis"][slot]
        if basis == rows.ABSENT:
            if row["product_count"] > 1 or row["limited"] == 0:
                return STRENGTH_MISSING
            continue
        value = row["strength_value"][slot]
        if not 0.0 <= value < np.inf:
            return STRENGTH_MISSING
        product = product_table[row["product"][slot]]
        whole = counts_whole_can(row, slot)
        if row["strength_counts"][slot] == rows.ABSENT and basis != BY_PRODUCT:
            bit = WHOLE_CAN_ASSUMED if whole else ADDED_ASSUMED
            result["assumptions"] = result["assumptions"] | bit
        if basis == BY_PRODUCT:
            problem = _by_product(row, slot, product, requested)
            if problem != 0:
                return problem
        elif basis == BY_ELEMENT:
            element = row["strength_element"][slot]
            content = element_mass(product, element)
            if content <= 0.0:
                return ELEMENT_MISSING
            wanted = value
            brought = 0.0
            if whole:
                brought = element_mass(water, element) * share_of_credit(row, slot)
            requested[slot] = max(wanted - brought, 0.0) / content
            credited[slot] = min(brought, wanted) / content
            if wanted > 0.0 and requested[slot] == 0.0:
                result["cautions"] = result["cautions"] | ALREADY_THERE
            if element == NITROGEN and brought >= CREDIT_NAMED * wanted:
                result["cautions"] = result["cautions"] | NITROGEN_CREDITED
        else:
            if 0.0 <= product[products.CONDUCTIVITY_PER_100_NITROGEN] < BLIND_CONDUCTIVITY:
                return BLIND
            if product[products.CONDUCTIVITY_SLOPE] <= products.LEAST_CONDUCTIVITY_SLOPE:
                return NO_CONDUCTIVITY
            if whole:
                if last >= 0:
                    return TWO_WHOLE_CANS
                last = slot
            else:
                for component in range(COMPONENT_COUNT):
                    nothing[component] = 0.0
                problem = _by_conductivity(
                    row, slot, product_table, nothing, 0.0, result, scratch, work
                )
                if problem != 0:
                    return problem
    if last >= 0:
        result["problem_product"] = last
        unexplained = result["unexplained_ec_ms_per_cm"]
        for component in range(COMPONENT_COUNT):
            everything_else[component] = water[component]
        for slot in range(row["product_count"]):
            if slot == last:
                continue
            product = product_table[row["product"][slot]]
            label = product[products.LABEL_CONDUCTIVITY]
            unexplained += label * requested[slot]
            if label == 0.0:
                for component in range(COMPONENT_COUNT):
                    everything_else[component] += product[component] * requested[slot]
        problem = _by_conductivity(
            row, last, product_table, everything_else, unexplained, result, scratch, work
        )
        if problem != 0:
            return problem
    result["problem_product"] = rows.ABSENT
    return 0


@kernel
def _by_product(row: np.void, slot: int, product: np.ndarray, requested: np.ndarray) -> int:
    """Amount straight from the label; a mass of a liquid needs its density."""
    liquid = product[products.IS_LIQUID] == 1.0
    value = row["strength_value"][slot]
    if row["strength_by_volume"][slot] == 1:
        if not liquid:
            return SOLID_BY_VOLUME
        requested[slot] = value
        return 0
    if not liquid:
        requested[slot] = value
        return 0
    density = product[products.DENSITY]
    if not density > 0.0:
        return DENSITY_NEEDED
    requested[slot] = value / density
    return 0


@kernel
def _by_conductivity(
    row: np.void,
    slot: int,
    product_table: np.ndarray,
    base: np.ndarray,
    unexplained: float,
    result: np.void,
    scratch: np.ndarray,
    work: np.ndarray,
) -> int:
    """Amount that brings the base to a conductivity, or to a meter reading on its scale."""
    target = row["strength_value"][slot]
    if row["strength_basis"][slot] == BY_METER:
        scale = row["strength_scale"][slot]
        if np.isnan(scale):
            scale = DOSING_SCALE
            result["assumptions"] = result["assumptions"] | SCALE_ASSUMED
        target = target / scale
    scratch[4, 0] = 1.0
    factor = scale_for_conductivity(
        target,
        LARGEST_FACTOR,
        base,
        unexplained,
        np.nan,
        np.nan,
        row["product"][slot : slot + 1],
        product_table,
        scratch[4, 0:1],
        scratch,
        work,
    )
    if np.isnan(factor):
        return NOT_SOLVABLE
    if factor == 0.0:
        result["cautions"] = result["cautions"] | ALREADY_THERE
    result["requested_g_per_l"][slot] = factor
    return 0
