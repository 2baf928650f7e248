"""
Acidity (pH) of a solution, closed to or open to carbon dioxide.

Every kernel works on one solution and leaves its species in the workspace. Compositions are
molalities of the conserved components; the hydrogen ion follows from electroneutrality.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.equilibrium import CLOSED, speciate
from service.chemistry.equilibrium_constants import CONSTANT_COUNT, fill_constants
from service.chemistry.kernel import kernel
from service.chemistry.mass_action import ATMOSPHERE_IN_BAR
from service.chemistry.workspace import PH, WORKSPACE_SIZE

FloatArray = npt.NDArray[np.float64]
IntegerArray = npt.NDArray[np.int64]

ATMOSPHERIC_CARBON_DIOXIDE: Final = 10.0**-3.37 * ATMOSPHERE_IN_BAR
"""Partial pressure of carbon dioxide in outdoor air of the 2020s, 427 ppm of 1 atm [bar]."""


@kernel
def speciate_closed(composition: FloatArray, constants: FloatArray, ws: FloatArray) -> int:
    """
    Find the pH at which a composition is electroneutral, with its carbonate conserved.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; receives pH, ionic strength, molalities and activity coefficients [mol/kg].

    Returns
    -------
    int
        Status: `OK`, `OUT_OF_RANGE` (computed), `NOT_CONVERGED` or `INVALID_INPUT` (NaN).

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    return speciate(composition, constants, CLOSED, math.nan, False, ws)


@kernel
def speciate_open(
    composition: FloatArray, constants: FloatArray, carbon_dioxide_pressure: float, ws: FloatArray
) -> int:
    """
    Find the pH at which a composition is electroneutral beside a gas with carbon dioxide.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component; the carbonate does not matter [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure, such as `ATMOSPHERIC_CARBON_DIOXIDE`; 0 drives all carbonate out [bar].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; receives pH, total carbonate, molalities and so on [mol/kg].

    Returns
    -------
    int
        Status: `OK`, `OUT_OF_RANGE` (computed), `NOT_CONVERGED` or `INVALID_INPUT` (NaN).

    References
    ----------
    .. [1] L. N. Plummer and E. Busenberg, Geochim. Cosmochim. Acta 46, 1011-1040, 1982.
       Source key: ``plummer-busenberg-1982``.
    """
    pressure = carbon_dioxide_pressure
    if not pressure >= 0.0:
        pressure = math.nan
    return speciate(composition, constants, pressure, math.nan, False, ws)


@kernel
def speciate_at_ph(
    composition: FloatArray,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    ph: float,
    ws: FloatArray,
) -> int:
    """
    Find the species at a given pH and leave the charge imbalance in the workspace.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    ph : float
        Value of pH to hold [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; its `CHARGE_IMBALANCE` is positive where anions are missing [mol/kg].

    Returns
    -------
    int
        Status: `OK`, `OUT_OF_RANGE` (computed), `NOT_CONVERGED` or `INVALID_INPUT` (NaN).

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    held = ph if math.isfinite(ph) else 99.0
    return speciate(composition, constants, carbon_dioxide_pressure, held, False, ws)


@kernel
def ph_after_opening(
    composition: FloatArray, constants: FloatArray, carbon_dioxide_pressure: float, ws: FloatArray
) -> tuple[int, float, float]:
    """
    Return the pH of a solution as mixed and after it has stood open to air.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide in the air [bar].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; holds the open solution afterwards [mol/kg].

    Returns
    -------
    status : int
        The worse of the two statuses.
    closed : float
        Value of pH with the carbonate conserved; NaN where it cannot be computed [dimensionless].
    opened : float
        Value of pH in equilibrium with the air; NaN where it cannot be computed [dimensionless].

    References
    ----------
    .. [1] L. N. Plummer and E. Busenberg, Geochim. Cosmochim. Acta 46, 1011-1040, 1982.
       Source key: ``plummer-busenberg-1982``.
    """
    first = speciate_closed(composition, constants, ws)
    closed = ws[PH]
    second = speciate_open(composition, constants, carbon_dioxide_pressure, ws)
    return max(first, second), closed, ws[PH]


@kernel
def ph_rows(
    compositions: FloatArray,
    temperature: FloatArray,
    carbon_dioxide_pressure: FloatArray,
    ph: FloatArray,
    status: IntegerArray,
) -> None:
    """
    Find the pH of many solutions, each on its own.

    Parameters
    ----------
    compositions : ndarray, shape (n_rows, COMPONENT_COUNT)
        Amount of each component in each row [mol/kg].
    temperature : ndarray, shape (n_rows,)
        Temperature of each row [K].
    carbon_dioxide_pressure : ndarray, shape (n_rows,)
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    ph : ndarray, shape (n_rows,)
        Receives the pH; NaN where it cannot be computed [dimensionless].
    status : ndarray, shape (n_rows,)
        Receives the status of each row [dimensionless].

    Notes
    -----
    Constants are filled in anew only where the temperature differs from the row before.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    constants = np.zeros(CONSTANT_COUNT)
    ws = np.zeros(WORKSPACE_SIZE)
    last = math.nan
    for row in range(compositions.shape[0]):
        if temperature[row] != last:
            last = temperature[row]
            fill_constants(last, constants)
        status[row] = speciate(
            compositions[row], constants, carbon_dioxide_pressure[row], math.nan, False, ws
        )
        ph[row] = ws[PH]
