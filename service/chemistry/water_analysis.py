"""
A composition from a water analysis.

An analysis states a pH and an alkalinity or a total carbonate beside its ions. Nothing is
corrected in silence: the charge that the ions leave over is kept as a component of its own.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NO_SOLUTION,
    NOT_CONVERGED,
    speciate,
    speciate_with_reagent,
)
from service.chemistry.kernel import kernel
from service.chemistry.workspace import (
    AMOUNT,
    AMOUNT_SLOPE,
    CHARGE_IMBALANCE,
    TOTAL_CARBONATE,
)
from service.reference.components import (
    CARBONATE,
    CITRATE,
    COMPONENT_COUNT,
    NOMINAL_CHARGE,
    PHOSPHATE,
    UNMEASURED,
)

FloatArray = npt.NDArray[np.float64]

_MAXIMUM_ITERATIONS: Final = 40
_CHARGE_TOLERANCE: Final = 1e-9
"""Charge left over, relative to all charge: far below what any analysis resolves."""

_CARBONATE_TOLERANCE: Final = 1e-10
_AIRED_ROUNDS: Final = 3

_CARBONATE_ALONE: Final = constant_array(
    [1.0 if component == CARBONATE else 0.0 for component in range(COMPONENT_COUNT)], np.float64
)


@kernel
def _charge_sums(composition: FloatArray) -> tuple[float, float]:
    """
    Return the equivalents of the strong cations and anions that were measured.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].

    Returns
    -------
    cations : float
        Equivalents of cations [mol/kg].
    anions : float
        Equivalents of anions [mol/kg].
    """
    cations = 0.0
    anions = 0.0
    for component in range(COMPONENT_COUNT):
        if component == UNMEASURED:
            continue
        charge = NOMINAL_CHARGE[component] * composition[component]
        if charge > 0.0:
            cations += charge
        else:
            anions -= charge
    return cations, anions


@kernel
def _balance_error(cations: float, anions: float, weak: float) -> float:
    """
    Return by how much measured cations exceed measured anions.

    Parameters
    ----------
    cations : float
        Equivalents of strong cations [mol/kg].
    anions : float
        Equivalents of strong anions [mol/kg].
    weak : float
        Equivalents that weak acids bring as anions [mol/kg].

    Returns
    -------
    float
        Surplus in relation to the sum of both; 0 for pure water [percent].
    """
    surplus = cations - anions - weak
    size = cations + anions + abs(weak)
    if size <= 0.0:
        return 0.0
    return 100.0 * surplus / size


@kernel
def composition_from_alkalinity(
    analysis: FloatArray,
    ph: float,
    alkalinity: float,
    constants: FloatArray,
    ws: FloatArray,
    composition: FloatArray,
) -> tuple[int, float]:
    r"""
    Complete a water analysis that states pH and alkalinity.

    Total carbonate follows from the pH and the alkalinity; the charge that no measured ion
    accounts for becomes the unmeasured component, so that the stated pH is the pH computed.

    Parameters
    ----------
    analysis : ndarray, shape (COMPONENT_COUNT,)
        Measured totals; carbonate and unmeasured charge in it are not used [mol/kg].
    ph : float
        Measured pH [dimensionless].
    alkalinity : float
        Alkalinity to the carbon dioxide end point, in equivalents [mmol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the solution afterwards [mol/kg].
    composition : ndarray, shape (COMPONENT_COUNT,)
        Receives the completed composition [mol/kg].

    Returns
    -------
    status : int
        `OK`, `OUT_OF_RANGE`, `NOT_CONVERGED`, `INVALID_INPUT`, or `NO_SOLUTION` where other
        bases than carbonate already exceed the alkalinity at this pH.
    error : float
        Charge balance error of the analysis as measured, positive for too many cations [percent].

    Notes
    -----
    .. math:: U = A + T_P + T_{Cit} - \sum_j z_j T_j

    is exact by the definition of alkalinity (`alkalinity_of_composition`); total carbonate is the
    root of the charge balance at the stated pH, one more unknown of the speciation.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    composition[:] = analysis
    composition[CARBONATE] = 0.0
    composition[UNMEASURED] = 0.0
    if not (math.isfinite(alkalinity) and abs(ph) < 20.0):
        composition[:] = math.nan
        return INVALID_INPUT, math.nan
    cations, anions = _charge_sums(composition)
    weak = 1e-3 * alkalinity + composition[PHOSPHATE] + composition[CITRATE]
    composition[UNMEASURED] = 1e-3 * alkalinity - alkalinity_of_composition(composition)
    error = _balance_error(cations, anions, weak)

    # Nearly all alkalinity is bicarbonate as a rule: the carbonate is found with the species.
    guess = 1e-3 * alkalinity * (1.0 + 10.0 ** min(6.35 - ph, 12.0))
    status = speciate_with_reagent(
        composition, _CARBONATE_ALONE, guess, constants, CLOSED, ph, False, ws
    )
    if status < NOT_CONVERGED and ws[AMOUNT_SLOPE] < 0.0:
        composition[CARBONATE] = ws[AMOUNT]
        return status, error
    # What is left is water whose alkalinity other bases hold, or more than all of it.
    status = speciate(composition, constants, CLOSED, ph, False, ws)
    if status >= NOT_CONVERGED:
        composition[:] = math.nan
        return status, error
    # The charge that carbonate has to bring; its own charge number lies between 0 and 2.
    missing = ws[CHARGE_IMBALANCE]
    scale = _CHARGE_TOLERANCE * (cations + anions + abs(weak)) + 1e-15
    if missing < -scale:
        composition[:] = math.nan
        return NO_SOLUTION, error
    if missing <= scale:
        return status, error
    before, before_imbalance = 0.0, missing
    total = missing * (1.0 + 10.0 ** min(6.35 - ph, 12.0)) / (1.0 + 10.0 ** min(ph - 10.3, 0.0))
    for _ in range(_MAXIMUM_ITERATIONS):
        composition[CARBONATE] = total
        status = speciate(composition, constants, CLOSED, ph, True, ws)
        if status >= NOT_CONVERGED:
            composition[:] = math.nan
            return status, error
        imbalance = ws[CHARGE_IMBALANCE]
        slope = (imbalance - before_imbalance) / (total - before) if total != before else 0.0
        if abs(imbalance) <= scale or not slope < 0.0:
            return status, error
        before, before_imbalance = total, imbalance
        total = max(total - imbalance / slope, 0.1 * total)
        if abs(total - before) <= _CARBONATE_TOLERANCE * total:
            return status, error
    composition[:] = math.nan
    return NOT_CONVERGED, error


@kernel
def composition_from_carbonate(
    analysis: FloatArray,
    ph: float,
    constants: FloatArray,
    ws: FloatArray,
    composition: FloatArray,
) -> tuple[int, float]:
    r"""
    Complete a water analysis that states pH and total carbonate.

    Parameters
    ----------
    analysis : ndarray, shape (COMPONENT_COUNT,)
        Measured totals with the carbonate; an unmeasured charge in it is not used [mol/kg].
    ph : float
        Measured pH [dimensionless].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the solution afterwards [mol/kg].
    composition : ndarray, shape (COMPONENT_COUNT,)
        Receives the composition with the unmeasured charge that makes the pH true [mol/kg].

    Returns
    -------
    status : int
        `OK`, `OUT_OF_RANGE`, `NOT_CONVERGED` or `INVALID_INPUT`.
    error : float
        Charge balance error of the analysis as measured, positive for too many cations [percent].

    Notes
    -----
    The unmeasured charge is the negative charge imbalance at the stated pH, repeated because it
    counts towards the ionic strength.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    composition[:] = analysis
    composition[UNMEASURED] = 0.0
    if not abs(ph) < 20.0:
        composition[:] = math.nan
        return INVALID_INPUT, math.nan
    status = speciate(composition, constants, CLOSED, ph, False, ws)
    if status >= NOT_CONVERGED:
        composition[:] = math.nan
        return status, math.nan
    cations, anions = _charge_sums(composition)
    scale = 1e-13 * (cations + anions + composition[CARBONATE]) + 1e-16
    for _ in range(_MAXIMUM_ITERATIONS):
        imbalance = ws[CHARGE_IMBALANCE]
        if abs(imbalance) <= scale:
            weak = cations - anions + composition[UNMEASURED]
            return status, _balance_error(cations, anions, weak)
        composition[UNMEASURED] -= imbalance
        status = speciate(composition, constants, CLOSED, ph, True, ws)
        if status >= NOT_CONVERGED:
            composition[:] = math.nan
            return status, math.nan
    composition[:] = math.nan
    return NOT_CONVERGED, math.nan


@kernel
def composition_beside_air(
    analysis: FloatArray,
    ph: float,
    carbon_dioxide_pressure: float,
    constants: FloatArray,
    ws: FloatArray,
    composition: FloatArray,
) -> tuple[int, float]:
    r"""
    Complete a water analysis that states a pH measured in balance with a gas.

    Parameters
    ----------
    analysis : ndarray, shape (COMPONENT_COUNT,)
        Measured totals; carbonate and unmeasured charge in it are not used [mol/kg].
    ph : float
        Measured pH [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide in the gas, at least 0 [bar].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the solution afterwards [mol/kg].
    composition : ndarray, shape (COMPONENT_COUNT,)
        Receives the composition with the carbonate and the unmeasured charge that make pH and
        pressure true [mol/kg].

    Returns
    -------
    status : int
        `OK`, `OUT_OF_RANGE`, `NOT_CONVERGED` or `INVALID_INPUT`.
    error : float
        Charge balance error of the analysis as measured, positive for too many cations [percent].

    Notes
    -----
    Total carbonate at a pH and a pressure hardly depends on the unmeasured charge, by way of the
    ionic strength alone, so that three rounds settle it.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    composition[:] = analysis
    composition[UNMEASURED] = 0.0
    status, error = INVALID_INPUT, math.nan
    if abs(ph) < 20.0 and 0.0 <= carbon_dioxide_pressure < math.inf:
        for _ in range(_AIRED_ROUNDS):
            status = speciate(composition, constants, carbon_dioxide_pressure, ph, False, ws)
            if status >= NOT_CONVERGED:
                break
            composition[CARBONATE] = ws[TOTAL_CARBONATE]
            status, error = composition_from_carbonate(composition, ph, constants, ws, composition)
            if status >= NOT_CONVERGED:
                break
    if status >= NOT_CONVERGED:
        composition[:] = math.nan
        return status, math.nan
    return status, error
