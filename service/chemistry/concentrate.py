"""
Concentrates: how near their solids are, and how far they can be strengthened.

One object holds everything that depends on the temperature alone, so that a tank is judged at many
strengths for the price of one.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.concentrate_solids import (
    SOLID_COUNT,
    fill_saturation,
    fill_solid_constants,
)
from service.chemistry.concentrate_species import (
    LN_WATER_ACTIVITY,
    OK,
    PH,
    STATE_SIZE,
    dissolve,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.kernel import kernel
from service.chemistry.pitzer import debye_hueckel_osmotic_slope
from service.chemistry.pitzer_coefficients import PAIRS, TRIPLETS, salts_at
from service.reference.components import COMPONENT_COUNT

FloatArray = npt.NDArray[np.float64]

LOWEST_TEMPERATURE: Final = 273.15
HIGHEST_TEMPERATURE: Final = 313.15

_STEPS: Final = 48
_BISECTIONS: Final = 44
_DECADES: Final = 5.0


@dataclass(frozen=True, eq=False)
class Brine:
    """
    The model of concentrates at one temperature.

    Attributes
    ----------
    temperature : float
        Temperature [K].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants of the weak acids.
    slope : float
        Debye-Hueckel slope of the osmotic coefficient.
    salts, pairs, triplets : ndarray
        Coefficients of the ion-interaction model.
    solid_constants : ndarray, shape (SOLID_COUNT,)
        Natural logarithms of the constants of the solids.
    """

    temperature: float
    constants: FloatArray
    slope: float
    salts: FloatArray
    pairs: FloatArray
    triplets: FloatArray
    solid_constants: FloatArray


@dataclass(frozen=True, eq=False)
class Saturation:
    """
    A concentrate, computed.

    Attributes
    ----------
    status : int
        Status of `service.chemistry.concentrate_species.dissolve`.
    ph, water_activity : float
        Of the concentrate; the pH is on the scale of the model and rough in strong solutions.
    indices : ndarray, shape (SOLID_COUNT,)
        Saturation indices, NaN where an ion is absent.
    """

    status: int
    ph: float
    water_activity: float
    indices: FloatArray


def brine(temperature: float, pairs: FloatArray = PAIRS, triplets: FloatArray = TRIPLETS) -> Brine:
    """
    Prepare the model of concentrates for a temperature.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].
    pairs : ndarray, shape (ION_COUNT, ION_COUNT)
        Coefficients of two ions of like sign, those of the tables if not given [kg/mol].
    triplets : ndarray, shape (ION_COUNT, ION_COUNT, ION_COUNT)
        Coefficients of three ions, those of the tables if not given [kg^2/mol^2].

    Returns
    -------
    Brine
        The model.
    """
    constants, solid_constants = constants_array(), np.zeros(SOLID_COUNT)
    fill_constants(temperature, constants)
    slope = float(debye_hueckel_osmotic_slope(temperature))
    salts = salts_at(temperature)
    # Copies, so that compiled code sees one kind of array.
    pairs, triplets = pairs.copy(), triplets.copy()
    fill_solid_constants(temperature, constants, slope, salts, pairs, triplets, solid_constants)
    return Brine(temperature, constants, slope, salts, pairs, triplets, solid_constants)


def saturation(composition: FloatArray, model: Brine) -> Saturation:
    """
    Compute how near the solids of a concentrate are.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components per mass of all water [mol/kg].
    model : Brine
        The model at the temperature.

    Returns
    -------
    Saturation
        Saturation indices and what they were computed with.
    """
    state, indices = np.zeros(STATE_SIZE), np.full(SOLID_COUNT, np.nan)
    status = dissolve(
        composition,
        model.constants,
        model.slope,
        model.salts,
        model.pairs,
        model.triplets,
        state,
    )
    if status == OK:
        fill_saturation(state, model.constants, model.solid_constants, indices)
    return Saturation(status, float(state[PH]), float(np.exp(state[LN_WATER_ACTIVITY])), indices)


@kernel
def most_saturated(
    composition: FloatArray,
    offsets: FloatArray,
    constants: FloatArray,
    slope: float,
    salts: FloatArray,
    pairs: FloatArray,
    triplets: FloatArray,
    solid_constants: FloatArray,
    state: FloatArray,
    indices: FloatArray,
) -> int:
    """
    Return the solid that stands highest above its allowance.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components [mol/kg].
    offsets : ndarray, shape (SOLID_COUNT,)
        Added to each saturation index; minus infinity leaves a solid out [dimensionless].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    slope : float
        Debye-Hueckel slope of the osmotic coefficient [kg^0.5/mol^0.5].
    salts : ndarray
        Coefficients of single salts [kg/mol and powers of it].
    pairs : ndarray
        Coefficients of two ions of like sign [kg/mol].
    triplets : ndarray
        Coefficients of three ions [kg^2/mol^2].
    solid_constants : ndarray, shape (SOLID_COUNT,)
        Constants of the solids [dimensionless].
    state : ndarray, shape (STATE_SIZE,)
        Workspace [mol/kg].
    indices : ndarray, shape (SOLID_COUNT,)
        Receives the saturation indices with their offsets [dimensionless].

    Returns
    -------
    int
        Position in `SOLID_NAMES`; -1 where no solid can form, -2 where nothing could be computed
        [dimensionless].
    """
    if dissolve(composition, constants, slope, salts, pairs, triplets, state) != OK:
        return -2
    fill_saturation(state, constants, solid_constants, indices)
    best = -1
    for solid in range(SOLID_COUNT):
        indices[solid] += offsets[solid]
        if indices[solid] > -math.inf and (best < 0 or indices[solid] > indices[best]):
            best = solid
    return best


@kernel
def first_saturation(
    fixed: FloatArray,
    added: FloatArray,
    water: float,
    highest: float,
    offsets: FloatArray,
    constants: FloatArray,
    slope: float,
    salts: FloatArray,
    pairs: FloatArray,
    triplets: FloatArray,
    solid_constants: FloatArray,
    result: FloatArray,
) -> int:
    r"""
    Find how much can be added before the first solid is saturated.

    Parameters
    ----------
    fixed : ndarray, shape (n_components,)
        What is there in a kilogram of water before anything is added [mol].
    added : ndarray, shape (n_components,)
        What one unit of the addition brings [mol].
    water : float
        Water that one unit of the addition brings along [kg].
    highest : float
        Most units that are tried, above 0 [dimensionless].
    offsets : ndarray, shape (SOLID_COUNT,)
        Allowance of each solid: a solid counts as saturated where index plus offset reach 0;
        minus infinity leaves it out [dimensionless].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    slope : float
        Debye-Hueckel slope of the osmotic coefficient [kg^0.5/mol^0.5].
    salts : ndarray
        Coefficients of single salts [kg/mol and powers of it].
    pairs : ndarray
        Coefficients of two ions of like sign [kg/mol].
    triplets : ndarray
        Coefficients of three ions [kg^2/mol^2].
    solid_constants : ndarray, shape (SOLID_COUNT,)
        Constants of the solids [dimensionless].
    result : ndarray, shape (1,)
        Receives the units; infinity where nothing comes out, 0 where a solid is saturated before
        anything is added [dimensionless].

    Returns
    -------
    int
        Position of the solid in `SOLID_NAMES`; -1 where none comes out, -2 where nothing could be
        computed [dimensionless].

    Notes
    -----
    Contents per mass of water are (fixed + n added) / (1 + n water). The first crossing on a
    geometric scan, then bisection: a coefficient that falls with strength cannot hide the first
    solid behind a later, clear strength.
    """
    composition = np.zeros(COMPONENT_COUNT)
    state, indices = np.zeros(STATE_SIZE), np.zeros(SOLID_COUNT)
    result[0] = math.nan
    low, high = 0.0, 0.0
    units = 0.0
    found = False
    factor = math.pow(10.0, _DECADES / _STEPS)
    for step in range(_STEPS + 2):
        units = 0.0 if step == 0 else highest * math.pow(factor, step - 1.0 - _STEPS)
        for component in range(COMPONENT_COUNT):
            composition[component] = (fixed[component] + units * added[component]) / (
                1.0 + units * water
            )
        solid = most_saturated(
            composition,
            offsets,
            constants,
            slope,
            salts,
            pairs,
            triplets,
            solid_constants,
            state,
            indices,
        )
        if solid == -2:
            return -2
        if solid >= 0 and indices[solid] >= 0.0:
            high = units
            found = True
            break
        low = units
    if not found:
        result[0] = math.inf
        return -1
    limiting = solid
    if high > 0.0:
        for _ in range(_BISECTIONS):
            units = 0.5 * (low + high)
            for component in range(COMPONENT_COUNT):
                composition[component] = (fixed[component] + units * added[component]) / (
                    1.0 + units * water
                )
            solid = most_saturated(
                composition,
                offsets,
                constants,
                slope,
                salts,
                pairs,
                triplets,
                solid_constants,
                state,
                indices,
            )
            if solid >= 0 and indices[solid] >= 0.0:
                high = units
                limiting = solid
            else:
                low = units
    result[0] = 0.5 * (low + high)
    return limiting
