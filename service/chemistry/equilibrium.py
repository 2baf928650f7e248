"""
Speciation of a solution: which species its components form.

At fixed activity coefficients the molalities minimise a convex function of the logarithms of the
free ligands and of the hydrogen ion, so that a bounded Newton iteration finds the one solution.
The ionic strength is one more unknown, and the amount of a reagent that holds a pH another; the
activity of water follows after every step.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.constant_arrays import constant_array
from service.chemistry.kernel import kernel
from service.chemistry.mass_action import LN_10
from service.chemistry.species_solver import LAST_STEP, LAST_STEP_OF_A_READING, solve_species
from service.chemistry.statuses import (
    CLOSED,
    HIGHEST_PH,
    INVALID_INPUT,
    LOWEST_PH,
    NO_SOLUTION,
    NOT_CONVERGED,
    OK,
    OUT_OF_RANGE,
)
from service.chemistry.validity import composition_is_valid
from service.chemistry.workspace import HYDROGEN_UNKNOWN, MATRIX, RESULT_SIZE, UNKNOWN_COUNT
from service.reference.components import COMPONENT_COUNT

__all__ = [
    "CLOSED",
    "HIGHEST_PH",
    "INVALID_INPUT",
    "LOWEST_PH",
    "NOT_CONVERGED",
    "NO_SOLUTION",
    "OK",
    "OUT_OF_RANGE",
    "buffer_capacity",
    "composition_is_valid",
    "speciate",
    "speciate_for_a_reading",
    "speciate_with_reagent",
]

FloatArray = npt.NDArray[np.float64]

_NO_REAGENT: Final = constant_array([0.0] * COMPONENT_COUNT, np.float64)


@kernel
def speciate(
    composition: FloatArray,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    ph: float,
    warm: bool,
    ws: FloatArray,
) -> int:
    r"""
    Compute the species of a composition, at the pH of electroneutrality or at a given pH.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide that the solution is in equilibrium with; `CLOSED` (any
        negative number) conserves the carbonate of the composition [bar].
    ph : float
        Value of pH to hold, or NaN to find the pH at which charges balance [dimensionless].
    warm : bool
        True to start from the state that the workspace holds, of a similar solution.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; receives pH, ionic strength, water activity, charge imbalance [mol/kg], total
        carbonate, molalities and activity coefficients [mol/kg].

    Returns
    -------
    int
        `OK`, `OUT_OF_RANGE` (computed), `NOT_CONVERGED` or `INVALID_INPUT` (results NaN).

    Notes
    -----
    With :math:`m_i = K_i a_H^{n_i} \prod_j (\gamma_j m_j)^{\nu_{ij}} / \gamma_i` the equations are
    :math:`\sum_i \nu_{ij} m_i = T_j` for every component and, unless the pH is held,
    :math:`\sum_i z_i m_i = 0`. pH is :math:`-\lg a_H` with a molal activity. Validity: 0 to 40
    degrees Celsius, ionic strength to 0.5 mol/kg, pH 2 to 12. The charge imbalance at a held pH is
    positive where anions are missing.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    return solve_species(
        composition, _NO_REAGENT, 0.0, constants, carbon_dioxide_pressure, ph, warm, LAST_STEP, ws
    )


@kernel
def speciate_for_a_reading(
    composition: FloatArray,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    warm: bool,
    ws: FloatArray,
) -> int:
    """
    Compute the species of a composition as finely as a meter's reading needs them.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    warm : bool
        True to start from the state that the workspace holds, of a similar solution.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace, as of `speciate` [mol/kg].

    Returns
    -------
    int
        As `speciate`.

    Notes
    -----
    One Newton step fewer: pH, conductivity and saturation are off by less than 1e-6.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    return solve_species(
        composition,
        _NO_REAGENT,
        0.0,
        constants,
        carbon_dioxide_pressure,
        math.nan,
        warm,
        LAST_STEP_OF_A_READING,
        ws,
    )


@kernel
def speciate_with_reagent(
    composition: FloatArray,
    reagent: FloatArray,
    first_amount: float,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    ph: float,
    warm: bool,
    ws: FloatArray,
) -> int:
    r"""
    Compute a composition at a held pH with the amount of a reagent that balances its charge.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component before the reagent [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent, none negative [mol/mol].
    first_amount : float
        Where to start from, above 0 [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    ph : float
        Value of pH to hold [dimensionless].
    warm : bool
        True to start from the state that the workspace holds, of a similar solution.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; receives the amount at `AMOUNT`, how the charge changes with it at
        `AMOUNT_SLOPE`, and the solution with the reagent in it [mol/kg].

    Returns
    -------
    int
        As `speciate`; `NOT_CONVERGED` also where no positive amount balances the charge.

    Notes
    -----
    The amount is one more unknown of the same Newton iteration, and electroneutrality at the held
    pH its equation: one solution in place of one for every trial of a search.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    if not (math.isfinite(ph) and 0.0 < first_amount < math.inf):
        ws[:RESULT_SIZE] = math.nan
        return INVALID_INPUT
    return solve_species(
        composition,
        reagent,
        first_amount,
        constants,
        carbon_dioxide_pressure,
        ph,
        warm,
        LAST_STEP,
        ws,
    )


@kernel
def buffer_capacity(ws: FloatArray) -> float:
    r"""
    Return how much strong acid or base moves the pH of a speciated solution by one.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace after `speciate` with the pH of electroneutrality, not a held one [mol/kg].

    Returns
    -------
    float
        Equivalents of strong acid or base per unit of pH, 0 or more [mol/kg].

    Notes
    -----
    .. math:: \beta = \ln 10 \; \partial \sum_i z_i m_i / \partial \ln a_H

    is the last pivot of the Newton matrix, the ligands eliminated; activity coefficients are held,
    which is right to a few percent at feed strength.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 3.
       Source key: ``stumm-morgan-1996``.
    """
    return LN_10 * float(ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN])
