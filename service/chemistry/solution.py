"""
A dilute solution as planners see it: from amounts per litre to pH, conductivity and saturation.

One workspace holds everything that a solution needs, so that a loop over rows allocates nothing:
the constants at 25 °C, the constants at the last other temperature, a speciation workspace and
the molal composition.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.alkalinity import alkalinity
from service.chemistry.conductivity import COEFFICIENTS, conductivity
from service.chemistry.density import water_density
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED, OK, speciate_for_a_reading
from service.chemistry.equilibrium_constants import CONSTANT_COUNT, fill_constants
from service.chemistry.first_guess import guess_ph_after_opening
from service.chemistry.kernel import kernel
from service.chemistry.saturation import (
    SOLID_COUNT,
    fill_saturation_constants,
    saturation_indices,
)
from service.chemistry.species import SPECIES_COUNT
from service.chemistry.workspace import (
    IONIC_STRENGTH,
    MOLALITY,
    PH,
    TOTAL_CARBONATE,
    WORKSPACE_SIZE,
)
from service.reference.components import COMPONENT_COUNT

FloatArray = npt.NDArray[np.float64]

REFERENCE_TEMPERATURE: Final = 298.15
"""Temperature of every conductivity that is reported [K]."""

STATE_PH: Final = 0
STATE_CONDUCTIVITY: Final = 1
STATE_IONIC_STRENGTH: Final = 2
STATE_ALKALINITY: Final = 3
STATE_CARBONATE: Final = 4
STATE_SATURATION: Final = 5
STATE_COUNT: Final = STATE_SATURATION + SOLID_COUNT
"""Places of a predicted state: pH, conductivity, ionic strength, alkalinity, carbonate, solids."""

_TEMPERATURE: Final = 0
_WATER_DENSITY: Final = 1
_REFERENCE_DENSITY: Final = 2
_CONSTANTS: Final = 4
_REFERENCE_CONSTANTS: Final = _CONSTANTS + CONSTANT_COUNT
_SATURATION: Final = _REFERENCE_CONSTANTS + CONSTANT_COUNT
_MOLAL: Final = _SATURATION + SOLID_COUNT
_SPECIATION: Final = _MOLAL + COMPONENT_COUNT
SOLUTION_WORKSPACE_SIZE: Final = _SPECIATION + WORKSPACE_SIZE


def workspace() -> FloatArray:
    """
    Return a workspace for one thread, with the constants at 25 °C filled in.

    Returns
    -------
    ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Scratch of every kernel here.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    work = np.zeros(SOLUTION_WORKSPACE_SIZE)
    fill_constants(REFERENCE_TEMPERATURE, work[_REFERENCE_CONSTANTS:_SATURATION])
    work[_REFERENCE_DENSITY] = water_density(REFERENCE_TEMPERATURE)
    work[_TEMPERATURE] = math.nan
    return work


@kernel
def set_temperature(temperature: float, work: FloatArray) -> None:
    """
    Make sure that the workspace holds the constants of a temperature.

    Parameters
    ----------
    temperature : float
        Temperature [K].
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace; unchanged when it already holds this temperature [mixed].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    if work[_TEMPERATURE] == temperature:
        return
    work[_TEMPERATURE] = temperature
    work[_WATER_DENSITY] = water_density(temperature)
    fill_constants(temperature, work[_CONSTANTS:_REFERENCE_CONSTANTS])
    fill_saturation_constants(temperature, work[_SATURATION:_MOLAL])


@kernel
def density_of(work: FloatArray) -> float:
    """
    Return the density of water at the temperature of a workspace.

    Parameters
    ----------
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace after `set_temperature` [mixed].

    Returns
    -------
    float
        Density [kg/L].

    References
    ----------
    .. [1] See `service.chemistry.density.water_density`. Source key: ``kell-1975``.
    """
    return float(work[_WATER_DENSITY])


@kernel
def constants_of(work: FloatArray) -> FloatArray:
    """
    Return the equilibrium constants that a workspace holds.

    Parameters
    ----------
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace after `set_temperature` [mixed].

    Returns
    -------
    ndarray, shape (CONSTANT_COUNT,)
        Constants at its temperature [dimensionless].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    return work[_CONSTANTS:_REFERENCE_CONSTANTS]


@kernel
def speciation_of(work: FloatArray) -> FloatArray:
    """
    Return the speciation workspace inside a workspace.

    Parameters
    ----------
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace [mixed].

    Returns
    -------
    ndarray, shape (WORKSPACE_SIZE,)
        Holds the last solution that was speciated [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    return work[_SPECIATION:]


@kernel
def molal_composition(total: FloatArray, density: float, molal: FloatArray) -> None:
    r"""
    Turn amounts per litre into amounts per kilogram of water, for a dilute solution.

    Parameters
    ----------
    total : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component per litre [mmol/L].
    density : float
        Density of water at the temperature [kg/L].
    molal : ndarray, shape (COMPONENT_COUNT,)
        Receives the amounts per mass of water [mol/kg].

    Notes
    -----
    .. math:: b = 0.001\,c / \rho_w

    A litre of solution is taken to hold a litre of water: 0.1 % low at 2 g/L of salts.

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    for component in range(COMPONENT_COUNT):
        molal[component] = 0.001 * total[component] / density


@kernel
def conductivity_of_total(total: FloatArray, warm: bool, work: FloatArray) -> float:
    """
    Return the conductivity of a dilute solution from its amounts per litre.

    Parameters
    ----------
    total : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mmol/L].
    warm : bool
        True to start from the solution that the workspace holds, a similar one at 25 °C.
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace [mixed].

    Returns
    -------
    float
        Conductivity at 25 °C; NaN where the speciation fails or lies outside its range [mS/cm].

    References
    ----------
    .. [1] R. B. McCleskey, D. K. Nordstrom, J. N. Ryan and J. W. Ball, Geochim. Cosmochim. Acta
       77, 369-382, 2012. Source key: ``mccleskey-2012``.
    """
    molal = work[_MOLAL:_SPECIATION]
    molal_composition(total, work[_REFERENCE_DENSITY], molal)
    state = work[_SPECIATION:]
    constants = work[_REFERENCE_CONSTANTS:_SATURATION]
    status = speciate_for_a_reading(molal, constants, CLOSED, warm, state)
    if status == NOT_CONVERGED and warm:
        status = speciate_for_a_reading(molal, constants, CLOSED, False, state)
    if status != OK:
        return math.nan
    return conductivity_of_state(work)


@kernel
def conductivity_of_state(work: FloatArray) -> float:
    """
    Return the conductivity of the solution that a workspace holds, speciated at 25 °C.

    Parameters
    ----------
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace whose last solution was speciated at `REFERENCE_TEMPERATURE` [mixed].

    Returns
    -------
    float
        Conductivity at 25 °C [mS/cm].

    References
    ----------
    .. [1] R. B. McCleskey, D. K. Nordstrom, J. N. Ryan and J. W. Ball, Geochim. Cosmochim. Acta
       77, 369-382, 2012. Source key: ``mccleskey-2012``.
    """
    state = work[_SPECIATION:]
    return conductivity(
        state[MOLALITY : MOLALITY + SPECIES_COUNT],
        state[IONIC_STRENGTH],
        REFERENCE_TEMPERATURE,
        work[_REFERENCE_DENSITY],
        COEFFICIENTS,
    )


@kernel
def predicted_state(
    total: FloatArray,
    temperature: float,
    carbon_dioxide_pressure: float,
    warm: bool,
    work: FloatArray,
    state: FloatArray,
) -> int:
    """
    Predict pH, ionic strength, alkalinity, carbonate and saturation of a dilute solution.

    Parameters
    ----------
    total : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mmol/L].
    temperature : float
        Temperature [K].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    warm : bool
        True to start from the solution that the workspace holds, a similar one at about this
        temperature.
    work : ndarray, shape (SOLUTION_WORKSPACE_SIZE,)
        Workspace; holds the speciated solution afterwards [mixed].
    state : ndarray, shape (STATE_COUNT,)
        Receives pH, conductivity at 25 °C [mS/cm] when the temperature is 25 °C and NaN
        otherwise, ionic strength [mol/kg], alkalinity [mmol/kg], carbonate [mol/kg] and the
        saturation indices [mixed].

    Returns
    -------
    int
        Status of `service.chemistry.equilibrium.speciate`.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    set_temperature(temperature, work)
    molal = work[_MOLAL:_SPECIATION]
    molal_composition(total, work[_WATER_DENSITY], molal)
    solution = work[_SPECIATION:]
    constants = work[_CONSTANTS:_REFERENCE_CONSTANTS]
    if warm and carbon_dioxide_pressure > 0.0:
        guess_ph_after_opening(constants, carbon_dioxide_pressure, solution)
    status = speciate_for_a_reading(molal, constants, carbon_dioxide_pressure, warm, solution)
    if warm and status == NOT_CONVERGED:
        status = speciate_for_a_reading(molal, constants, carbon_dioxide_pressure, False, solution)
    state[STATE_PH] = solution[PH]
    state[STATE_IONIC_STRENGTH] = solution[IONIC_STRENGTH]
    state[STATE_ALKALINITY] = alkalinity(solution)
    state[STATE_CARBONATE] = solution[TOTAL_CARBONATE]
    state[STATE_CONDUCTIVITY] = math.nan
    if temperature == REFERENCE_TEMPERATURE:
        state[STATE_CONDUCTIVITY] = conductivity_of_state(work)
    saturation_indices(solution, work[_SATURATION:_MOLAL], state[STATE_SATURATION:])
    return status
