"""
How much of a product dissolves, alone or beside what is in the tank already.

Grams are those of the product as sold, in a kilogram of water added: crystals bring water of their
own, which dissolves some of them too.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.density import FREEZING_POINT
from service.chemistry.solution_density import dissolved_mass, solution_density
from service.planning.concentrate import (
    ClearLimit,
    SolidState,
    brought_by,
    highest_multiple,
    molality_of_products,
    salt_alone,
    solid_states,
)
from service.planning.notes import Notes, RefusalError
from service.planning.products import IS_LABEL, IS_OXIDISER, ProductRow
from service.planning.solid_margins import ESTIMATED
from service.reference.catalogue import products

COLD_STORE: Final = 10.0
"""Temperature above which an answer reminds of colder nights [degC]; common practice."""

LEAN: Final = 1.07
"""
By how much the estimate of a mixture that nobody measured is taken lower. Pairs of salts that were
left out of the fit came out up to 15 % too high, half of them within 3 %: tests/published.
"""

OVER: Final = 1e-3
"""Saturation index from which a solid of the background is told of."""

NEAR: Final = -1.0
"""Saturation index from which a solid is listed beside the limiting one."""


@dataclass(frozen=True)
class Solubility:
    """
    How much of a product dissolves.

    Attributes
    ----------
    g_per_kg_water : float
        Best estimate, as sold, per kilogram of water added.
    safe_g_per_kg_water : float
        The same with the margin of the model taken off.
    g_per_l : float
        The best estimate in a litre of the finished solution.
    limiting_solid : str
        What comes out first.
    margin_percent : float
        How far the model may be off.
    evidence : str
        What the margin rests on.
    density_kg_per_l : float
        Of the saturated solution.
    states : tuple of SolidState
        Solids near their saturation there.
    """

    g_per_kg_water: float
    safe_g_per_kg_water: float
    g_per_l: float
    limiting_solid: str
    margin_percent: float
    evidence: str
    density_kg_per_l: float
    states: tuple[SolidState, ...]


def solubility(
    product: ProductRow,
    temperature_celsius: float,
    background: Sequence[tuple[ProductRow, float]],
    notes: Notes,
) -> Solubility:
    """
    Return how much of a product dissolves beside others.

    Parameters
    ----------
    product : ProductRow
        The product.
    temperature_celsius : float
        Temperature, 0 to 40 [degC].
    background : sequence of (ProductRow, float)
        What is dissolved already, with grams as sold in a kilogram of water added.
    notes : Notes
        Receives cautions and assumptions.

    Returns
    -------
    Solubility
        Zero where the background is saturated without it.

    Raises
    ------
    RefusalError
        Outside the temperatures, beyond the model, and for a product that nothing limits.
    """
    per_gram, own_water = brought_by(product)
    if _is_an_unknown_solid(product, per_gram):
        raise RefusalError("solubility_unknown", product=product.name)
    mixture, water = molality_of_products(background)
    limit = highest_multiple(
        per_gram / water, temperature_celsius, mixture, own_water / water, most=100_000.0
    )
    if limit.solid is None or not math.isfinite(limit.multiple):
        raise RefusalError("solubility_without_limit", product=product.name)
    grams, margin_percent = _leaning(limit)
    total = mixture * water + grams * per_gram
    all_water = water + grams * own_water
    composition = total / all_water
    density = float(
        solution_density(np.ascontiguousarray(composition), temperature_celsius + FREEZING_POINT)
    )
    mass = all_water * (1.0 + float(dissolved_mass(np.ascontiguousarray(composition))))
    states = tuple(
        state
        for state in solid_states(composition, temperature_celsius)
        if state.saturation_index > NEAR
    )
    _note(product, temperature_celsius, [each for each, _ in background], limit.evidence, notes)
    over = [state.solid for state in states if state.saturation_index > OVER]
    for solid in over:
        if solid != limit.solid:
            notes.caution("background_at_its_limit", solid=solid)
    return Solubility(
        g_per_kg_water=grams,
        safe_g_per_kg_water=limit.safe_multiple,
        g_per_l=grams * density / mass,
        limiting_solid=limit.solid,
        margin_percent=margin_percent,
        evidence=limit.evidence,
        density_kg_per_l=density,
        states=states,
    )


def _leaning(limit: ClearLimit) -> tuple[float, float]:
    """Return the figure to give and the margin that is left to the safe one [percent]."""
    if limit.evidence != ESTIMATED:
        return limit.multiple, limit.margin_percent
    margin = 100.0 * max((1.0 + limit.margin_percent / 100.0) / LEAN - 1.0, 0.0)
    return max(limit.multiple / LEAN, limit.safe_multiple), margin


def _is_an_unknown_solid(product: ProductRow, per_gram: npt.NDArray[np.float64]) -> bool:
    """Tell whether a pure substance is a solid of its own that no table here knows."""
    entry = None if product.own else products().get(product.key)
    return entry is not None and entry.formula is not None and salt_alone(per_gram) < 0


def _note(
    product: ProductRow,
    temperature_celsius: float,
    background: Sequence[ProductRow],
    evidence: str,
    notes: Notes,
) -> None:
    """Say what the answer rests on, and what to take care of."""
    everything = [product, *background]
    if any(each.values[IS_OXIDISER] == 1.0 for each in everything):
        notes.caution("oxidiser")
    if any(each.values[IS_LABEL] == 1.0 for each in everything):
        notes.assume("solubility_by_composition")
    if evidence == ESTIMATED:
        notes.caution("mixture_not_measured")
    if temperature_celsius > COLD_STORE:
        notes.caution("colder_nights", celsius=temperature_celsius)
