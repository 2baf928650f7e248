"""
Amount of an acid or a base for a target pH or a target alkalinity.

A reagent is what one mole of it brings of each component: nitric acid one nitrate, phosphoric acid
one phosphate, sulfuric acid one sulfate, citric acid one citrate, potassium hydroxide one
potassium, potassium bicarbonate one potassium and one carbonate, potassium carbonate two and one.
The composition is whatever the reagent goes into: the water alone, or the water with the feed in.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.equilibrium import (
    INVALID_INPUT,
    NO_SOLUTION,
    NOT_CONVERGED,
    OK,
    composition_is_valid,
    speciate,
    speciate_with_reagent,
)
from service.chemistry.kernel import kernel
from service.chemistry.workspace import AMOUNT, AMOUNT_SLOPE, CHARGE_IMBALANCE
from service.reference.components import CARBONATE, COMPONENT_COUNT, PHOSPHATE

FloatArray = npt.NDArray[np.float64]

HIGHEST_AMOUNT: Final = 1.0
"""No answer is sought above this amount of reagent [mol/kg]."""

_MAXIMUM_ITERATIONS: Final = 60


@kernel
def _mix(composition: FloatArray, reagent: FloatArray, amount: float, mixture: FloatArray) -> None:
    """
    Add an amount of reagent to a composition.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        What the reagent goes into [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    amount : float
        Moles of reagent per kilogram of water [mol/kg].
    mixture : ndarray, shape (COMPONENT_COUNT,)
        Receives the sum [mol/kg].
    """
    for component in range(COMPONENT_COUNT):
        mixture[component] = composition[component] + amount * reagent[component]


@kernel
def _first_amount(
    composition: FloatArray, reagent: FloatArray, ph: float, carbon_dioxide_pressure: float
) -> float:
    """
    Return about how much reagent brings a composition to a pH, from its alkalinity alone.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        What the reagent goes into [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    ph : float
        Target pH [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].

    Returns
    -------
    float
        Amount, above 0 [mol/kg].
    """
    bicarbonate = 1.0 / (1.0 + 10.0 ** min(6.35 - ph, 12.0))
    hydrogenphosphate = 1.0 / (1.0 + 10.0 ** min(6.9 - ph, 12.0))
    left = hydrogenphosphate * composition[PHOSPHATE]
    taken = alkalinity_of_composition(reagent) - hydrogenphosphate * reagent[PHOSPHATE]
    if carbon_dioxide_pressure < 0.0:
        left += bicarbonate * composition[CARBONATE]
        taken -= bicarbonate * reagent[CARBONATE]
    surplus = alkalinity_of_composition(composition) - left
    amount = 1e-4
    if taken != 0.0 and math.isfinite(surplus):
        amount = abs(surplus / taken)
    return min(max(amount, 1e-6), 0.1 * HIGHEST_AMOUNT)


@kernel
def reagent_beside_species(
    composition: FloatArray,
    reagent: FloatArray,
    ph: float,
    first_amount: float,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    warm: bool,
    ws: FloatArray,
    mixture: FloatArray,
) -> tuple[int, float]:
    """
    Return the amount of a reagent for a pH as one more unknown of the speciation.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        What the reagent goes into [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    ph : float
        Target pH [dimensionless].
    first_amount : float
        About the amount, or NaN where nothing is known of it [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide to be in equilibrium with, or `CLOSED` [bar].
    warm : bool
        True to start from the state that the workspace holds, of a similar solution.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the mixture at the target pH afterwards, and at `AMOUNT_SLOPE` whether
        the reagent takes charge, as an acid does, or brings it [mol/kg].
    mixture : ndarray, shape (COMPONENT_COUNT,)
        Receives the composition with the reagent in it [mol/kg].

    Returns
    -------
    status : int
        `OK`, `OUT_OF_RANGE`, or `NOT_CONVERGED` and worse where no positive amount was found.
    amount : float
        Moles of reagent per kilogram of water; NaN unless computed [mol/kg].

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    start = first_amount
    if not start > 0.0:
        start = _first_amount(composition, reagent, ph, carbon_dioxide_pressure)
    status = speciate_with_reagent(
        composition, reagent, start, constants, carbon_dioxide_pressure, ph, warm, ws
    )
    amount = ws[AMOUNT]
    if status < NOT_CONVERGED and not (ws[AMOUNT_SLOPE] != 0.0 and amount < HIGHEST_AMOUNT):
        status = NOT_CONVERGED
    if status >= NOT_CONVERGED:
        mixture[:] = math.nan
        return status, math.nan
    _mix(composition, reagent, amount, mixture)
    return status, amount


@kernel
def reagent_for_ph(
    composition: FloatArray,
    reagent: FloatArray,
    ph: float,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    ws: FloatArray,
    mixture: FloatArray,
) -> tuple[int, float]:
    r"""
    Return the amount of an acid or a base that brings a solution to a pH.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        What the reagent goes into [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    ph : float
        Target pH [dimensionless].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide to be in equilibrium with, or `CLOSED` [bar].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the mixture at the target pH afterwards [mol/kg].
    mixture : ndarray, shape (COMPONENT_COUNT,)
        Receives the composition with the reagent in it [mol/kg].

    Returns
    -------
    status : int
        `OK`, `OUT_OF_RANGE`, `NOT_CONVERGED`, `INVALID_INPUT`, or `NO_SOLUTION` where the reagent
        moves the pH the other way or cannot reach it.
    amount : float
        Moles of reagent per kilogram of water; NaN unless computed [mol/kg].

    Notes
    -----
    The amount is one more unknown of the speciation at the target pH (`reagent_beside_species`).
    Where that finds none, the charge imbalance of composition plus x times reagent, almost a
    straight line in x, is followed by the secant rule, which tells why. Validity: as for
    `speciate`.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    mixture[:] = composition
    if not (composition_is_valid(reagent) and abs(ph) < 20.0):
        mixture[:] = math.nan
        return INVALID_INPUT, math.nan
    status, amount = reagent_beside_species(
        composition, reagent, ph, math.nan, constants, carbon_dioxide_pressure, False, ws, mixture
    )
    if status < NOT_CONVERGED:
        return status, amount
    mixture[:] = composition
    status = speciate(mixture, constants, carbon_dioxide_pressure, ph, False, ws)
    if status >= NOT_CONVERGED:
        mixture[:] = math.nan
        return status, math.nan
    imbalance = ws[CHARGE_IMBALANCE]
    size = 1e-15
    for component in range(COMPONENT_COUNT):
        size += abs(composition[component])
    if abs(imbalance) <= 1e-14 * size:
        return status, 0.0
    # The first slope is that of the alkalinity, with what carbonate holds back at this pH.
    slope = alkalinity_of_composition(reagent)
    if carbon_dioxide_pressure < 0.0:
        slope -= reagent[CARBONATE] / (1.0 + 10.0 ** min(6.35 - ph, 12.0))
    if slope == 0.0:
        slope = -1.0 if imbalance > 0.0 else 1.0
    before, before_imbalance = 0.0, imbalance
    amount = min(abs(imbalance / slope), HIGHEST_AMOUNT)
    for _ in range(_MAXIMUM_ITERATIONS):
        _mix(composition, reagent, amount, mixture)
        status = speciate(mixture, constants, carbon_dioxide_pressure, ph, True, ws)
        if status >= NOT_CONVERGED:
            break
        imbalance = ws[CHARGE_IMBALANCE]
        slope = (imbalance - before_imbalance) / (amount - before)
        if slope == 0.0 or not math.isfinite(slope):
            status = NO_SOLUTION
            break
        step = -imbalance / slope
        if abs(step) <= 1e-11 * amount + 1e-15:
            return status, amount
        before, before_imbalance = amount, imbalance
        amount += step
        if not -1e-15 < amount < HIGHEST_AMOUNT:
            # A straight line would leave the range on the wrong side: the reagent cannot do it.
            status = NO_SOLUTION
            break
        amount = max(amount, 0.0)
    else:
        status = NOT_CONVERGED
    mixture[:] = math.nan
    return status, math.nan


@kernel
def reagent_for_alkalinity(
    composition: FloatArray, reagent: FloatArray, alkalinity: float, mixture: FloatArray
) -> tuple[int, float]:
    r"""
    Return the amount of an acid or a base that leaves an alkalinity.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        What the reagent goes into, electroneutral [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    alkalinity : float
        Alkalinity to be left, to the carbon dioxide end point, in equivalents [mmol/kg].
    mixture : ndarray, shape (COMPONENT_COUNT,)
        Receives the composition with the reagent in it [mol/kg].

    Returns
    -------
    status : int
        `OK`, `INVALID_INPUT`, or `NO_SOLUTION` where the reagent moves the alkalinity the other
        way or more than `HIGHEST_AMOUNT` would be needed.
    amount : float
        Moles of reagent per kilogram of water; NaN unless computed [mol/kg].

    Notes
    -----
    Exact, because alkalinity is conserved: phosphoric acid takes one equivalent per mole (it
    becomes H2PO4- at the end point), sulfuric acid two, citric acid one (it becomes H2Cit-).

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    mixture[:] = math.nan
    if not (
        composition_is_valid(composition)
        and composition_is_valid(reagent)
        and math.isfinite(alkalinity)
    ):
        return INVALID_INPUT, math.nan
    change = 1e-3 * alkalinity - alkalinity_of_composition(composition)
    per_mole = alkalinity_of_composition(reagent)
    if change == 0.0:
        mixture[:] = composition
        return OK, 0.0
    if per_mole == 0.0 or change / per_mole < 0.0 or change / per_mole > HIGHEST_AMOUNT:
        return NO_SOLUTION, math.nan
    amount = change / per_mole
    _mix(composition, reagent, amount, mixture)
    return OK, amount
