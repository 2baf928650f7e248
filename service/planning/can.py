"""
One can: what is in it for given amounts, and the amounts for a given conductivity.

A product's row holds its composition per gram (solids) or per millilitre (liquids); an amount is
grams or millilitres per litre of can. A product whose label states its own conductivity adds
that, and its ions are left out of the computed part.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.chemistry.solution import conductivity_of_total
from service.planning import products
from service.reference.components import COMPONENT_COUNT

CONDUCTIVITY_STEPS: Final = 40
"""Steps after which the search for an amount gives up."""

CONDUCTIVITY_TOLERANCE: Final = 1e-5
"""Relative difference at which the search for an amount stops; a balance shows far less."""

CONDUCTIVITY_POWER: Final = 0.965
"""Exponent with which conductivity grows with the amount, for the first two guesses alone."""

CONDUCTIVITY_BEND: Final = 0.1
"""
Bound on half the second derivative of a conductivity over its first, times the amount: that of the
power above is 0.018, and ion pairs bend it no more than a few times as much.
"""

SECANT_TRUSTED: Final = 0.1
"""Part of the tolerance that the error of a secant may take without another look."""


@kernel
def mix(
    water: np.ndarray,
    slots: np.ndarray,
    product_table: np.ndarray,
    amount: np.ndarray,
    scale: float,
    total: np.ndarray,
    conducting: np.ndarray,
) -> float:
    """
    Fill in the composition of a can and return the conductivity that labels state.

    Parameters
    ----------
    water : ndarray, shape (n_components,)
        Composition of the water [mmol/L].
    slots : ndarray of int, shape (n_slots,)
        Position of each product in the table.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    amount : ndarray, shape (n_slots,)
        Amounts [g/L or mL/L].
    scale : float
        Factor on all amounts [dimensionless].
    total : ndarray, shape (n_components,)
        Receives the whole composition [mmol/L].
    conducting : ndarray, shape (n_components,)
        Receives the composition without products of stated conductivity [mmol/L].

    Returns
    -------
    float
        Conductivity stated by the labels of the products [mS/cm].
    """
    for component in range(COMPONENT_COUNT):
        total[component] = water[component]
        conducting[component] = water[component]
    stated = 0.0
    for slot in range(slots.size):
        product = product_table[slots[slot]]
        quantity = amount[slot] * scale
        label = product[products.LABEL_CONDUCTIVITY]
        for component in range(COMPONENT_COUNT):
            total[component] += product[component] * quantity
            if label == 0.0:
                conducting[component] += product[component] * quantity
        stated += label * quantity
    return stated


@kernel
def can_conductivity(
    water: np.ndarray,
    unexplained: float,
    slots: np.ndarray,
    product_table: np.ndarray,
    amount: np.ndarray,
    scale: float,
    warm: bool,
    scratch: np.ndarray,
    work: np.ndarray,
) -> float:
    """
    Return the conductivity of a can.

    Parameters
    ----------
    water : ndarray, shape (n_components,)
        Composition of the water [mmol/L].
    unexplained : float
        Conductivity of the water that its analysis does not explain [mS/cm].
    slots : ndarray of int, shape (n_slots,)
        Position of each product in the table.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    amount : ndarray, shape (n_slots,)
        Amounts [g/L or mL/L].
    scale : float
        Factor on all amounts [dimensionless].
    warm : bool
        True to start from the solution that the workspace holds, a similar can.
    scratch : ndarray, shape (2, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    float
        Conductivity at 25 degC, NaN when the mix cannot be solved [mS/cm].
    """
    stated = mix(water, slots, product_table, amount, scale, scratch[0], scratch[1])
    return unexplained + stated + conductivity_of_total(scratch[1], warm, work)


@kernel
def scale_for_conductivity(
    target: float,
    highest: float,
    water: np.ndarray,
    unexplained: float,
    start: float,
    first: float,
    slots: np.ndarray,
    product_table: np.ndarray,
    amount: np.ndarray,
    scratch: np.ndarray,
    work: np.ndarray,
) -> float:
    """
    Return the factor on the amounts at which a can reaches a conductivity.

    Conductivity rises with the amount and a little less than in proportion. The first two guesses
    take a power of all that the can holds; a secant through the last two points, kept inside a
    bracket, does the rest, and is believed without another look where its error is known to be
    far below the tolerance.

    Parameters
    ----------
    target : float
        Conductivity to reach [mS/cm].
    highest : float
        Largest factor to consider, above 0 [dimensionless].
    water : ndarray, shape (n_components,)
        Composition of the water and of all that does not scale [mmol/L].
    unexplained : float
        Conductivity that does not scale and is not computed [mS/cm].
    start : float
        Conductivity at factor 0 where it is known already, otherwise NaN; beside `first` it needs
        to be about right and on the right side of the target only [mS/cm].
    first : float
        Factor that is about right, such as that of a similar can, otherwise NaN [dimensionless].
    slots : ndarray of int, shape (n_slots,)
        Position of each product in the table.
    product_table : ndarray, shape (n_products, n_columns)
        Table of `service.planning.products`.
    amount : ndarray, shape (n_slots,)
        Amounts at factor 1 [g/L or mL/L].
    scratch : ndarray, shape (2, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    float
        Factor; 0 when the water is already at the target, `highest` when even that stays below,
        NaN when the mix cannot be solved [dimensionless].
    """
    if np.isnan(start):
        start = can_conductivity(
            water, unexplained, slots, product_table, amount, 0.0, True, scratch, work
        )
        if np.isnan(start):
            return np.nan
    if start >= target:
        return 0.0
    slope = 0.0
    size = 0.0
    for slot in range(slots.size):
        product = product_table[slots[slot]]
        part = product[products.CONDUCTIVITY_SLOPE] * amount[slot]
        slope += part
        size += part * amount[slot]
    if slope <= 0.0:
        return highest
    low, high = 0.0, np.inf
    last, last_value = 0.0, start
    factor = first if first > 0.0 else _first_factor(start, target, slope, size / slope)
    factor = min(factor, highest)
    for turn in range(CONDUCTIVITY_STEPS):
        value = can_conductivity(
            water, unexplained, slots, product_table, amount, factor, True, scratch, work
        )
        if np.isnan(value):
            high = factor
            factor = 0.5 * (low + high)
            continue
        if abs(value - target) <= CONDUCTIVITY_TOLERANCE * target:
            return factor
        if value > target:
            high = factor
        else:
            low = factor
            if factor >= highest:
                return highest
        step = np.nan
        if last == 0.0 and value > start:
            step = _following_factor(start, value, target, factor)
        elif value != last_value:
            step = factor + (target - value) * (factor - last) / (value - last_value)
        if not (low < step < high):
            step = 0.5 * (low + high) if high < np.inf else 2.0 * factor
        elif turn > 0 and last > 0.0 and step < highest:
            bend = CONDUCTIVITY_BEND * abs((step - factor) * (step - last)) / (step * step)
            if bend <= SECANT_TRUSTED * CONDUCTIVITY_TOLERANCE:
                return step
        last, last_value = factor, value
        factor = min(step, highest)
    return np.nan


@kernel
def _first_factor(start: float, target: float, slope: float, amount: float) -> float:
    """Factor at which products of a known slope raise a conductivity, all taken as one salt."""
    power = 1.0 / CONDUCTIVITY_POWER
    scale = slope * (amount / products.SLOPE_AMOUNT) ** (CONDUCTIVITY_POWER - 1.0)
    return float((target / scale) ** power - (start / scale) ** power)


@kernel
def _following_factor(start: float, value: float, target: float, factor: float) -> float:
    """Factor for the target when water and products together follow a power of the amount."""
    power = 1.0 / CONDUCTIVITY_POWER
    held = (start / value) ** power
    water = factor * held / (1.0 - held)
    return float((water + factor) * (target / value) ** power - water)
