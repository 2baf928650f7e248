"""
Activity coefficients and conditional constants of the species that a solution holds.

A conditional constant folds the activity coefficients into the constant, so that molalities stand
in place of activities; it is kept with its change with the ionic strength.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import (
    CLASS_COUNT,
    log10_extended_debye_hueckel,
    slope_of_extended_debye_hueckel,
)
from service.chemistry.equilibrium_constants import (
    ACTIVITY_LINEAR,
    ACTIVITY_SIZE,
    ACTIVITY_SLOPE,
    CARBONATE_LIGAND,
    CENTRAL_COUNT,
    LIGAND_COUNT,
    REACTING,
    WATER_POWER,
)
from service.chemistry.kernel import kernel
from service.chemistry.species_groups import (
    CENTRAL_CLASS,
    CENTRAL_START,
    GROUP_LIGAND,
    GROUP_START,
    LIGAND_CLASS,
    REACTING_CLASS,
)
from service.chemistry.workspace import (
    CLASS_COEFFICIENT,
    CLASS_DRIFT,
    CLASS_INVERSE,
    CLASS_PRESENT,
    CONDITIONAL,
    DRIFT,
    GROUP_PRESENT,
    IONIC_STRENGTH,
    TOTAL,
    WATER_ACTIVITY,
)

FloatArray = npt.NDArray[np.float64]

_LN_10: Final = math.log(10.0)
_CARBONATE_CLASS: Final = int(LIGAND_CLASS[CARBONATE_LIGAND])


@kernel
def mark_present(ws: FloatArray) -> None:
    """
    Note which groups of species the solution holds, and which activity classes they need.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace that holds the totals [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    for index in range(CLASS_COUNT):
        ws[CLASS_PRESENT + index] = 0.0
    # Beside a gas the carbonate is there without a total.
    ws[CLASS_PRESENT + _CARBONATE_CLASS] = 1.0
    for central in range(CENTRAL_COUNT + 1):
        held = central == CENTRAL_COUNT or ws[TOTAL + central] > 0.0
        for group in range(CENTRAL_START[central], CENTRAL_START[central + 1]):
            ligand = GROUP_LIGAND[group]
            present = held and (ligand == LIGAND_COUNT or ws[TOTAL + CENTRAL_COUNT + ligand] > 0.0)
            ws[GROUP_PRESENT + group] = 1.0 if present else 0.0
            if not present:
                continue
            if central < CENTRAL_COUNT:
                ws[CLASS_PRESENT + CENTRAL_CLASS[central]] = 1.0
            if ligand < LIGAND_COUNT:
                ws[CLASS_PRESENT + LIGAND_CLASS[ligand]] = 1.0
            for k in range(GROUP_START[group], GROUP_START[group + 1]):
                ws[CLASS_PRESENT + REACTING_CLASS[k]] = 1.0


@kernel
def fill_class_coefficients(constants: FloatArray, ws: FloatArray, present: float) -> None:
    """
    Set the activity coefficients at the ionic strength of the workspace, and their change with it.

    Parameters
    ----------
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    present : float
        1 for the classes of the species that the solution holds, 0 for all others.

    References
    ----------
    .. [1] A. H. Truesdell and B. F. Jones, *WATEQ*, U.S. Geological Survey Journal of Research
       2, 233-248, 1974. Source key: ``truesdell-jones-1974``.
    """
    ionic_strength = ws[IONIC_STRENGTH]
    for index in range(CLASS_COUNT):
        if ws[CLASS_PRESENT + index] != present:
            continue
        slope = constants[ACTIVITY_SLOPE + index]
        size = constants[ACTIVITY_SIZE + index]
        linear = constants[ACTIVITY_LINEAR + index]
        exponent = log10_extended_debye_hueckel(slope, size, linear, ionic_strength)
        coefficient = math.exp(_LN_10 * exponent)
        ws[CLASS_COEFFICIENT + index] = coefficient
        ws[CLASS_INVERSE + index] = 1.0 / coefficient
        ws[CLASS_DRIFT + index] = _LN_10 * slope_of_extended_debye_hueckel(
            slope, size, linear, ionic_strength
        )
    ws[CLASS_COEFFICIENT + CLASS_COUNT] = 1.0
    ws[CLASS_DRIFT + CLASS_COUNT] = 0.0


@kernel
def update_conditional(
    constants: FloatArray, ws: FloatArray, ionic_strength: float, activity_of_water: float
) -> None:
    """
    Set activity coefficients and conditional constants for an ionic strength.

    Parameters
    ----------
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace after `mark_present` [mol/kg].
    ionic_strength : float
        Ionic strength [mol/kg].
    activity_of_water : float
        Activity of water [dimensionless].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    ws[IONIC_STRENGTH] = ionic_strength
    ws[WATER_ACTIVITY] = activity_of_water
    fill_class_coefficients(constants, ws, 1.0)
    for central in range(CENTRAL_COUNT + 1):
        of_central = ws[CLASS_COEFFICIENT + CENTRAL_CLASS[central]]
        drift_of_central = ws[CLASS_DRIFT + CENTRAL_CLASS[central]]
        for group in range(CENTRAL_START[central], CENTRAL_START[central + 1]):
            if ws[GROUP_PRESENT + group] == 0.0:
                continue
            ligand = GROUP_LIGAND[group]
            of_pair = of_central * ws[CLASS_COEFFICIENT + LIGAND_CLASS[ligand]]
            drift = drift_of_central + ws[CLASS_DRIFT + LIGAND_CLASS[ligand]]
            for k in range(GROUP_START[group], GROUP_START[group + 1]):
                value = constants[REACTING[k]] * of_pair * ws[CLASS_INVERSE + REACTING_CLASS[k]]
                if WATER_POWER[k] > 0:
                    value *= activity_of_water
                elif WATER_POWER[k] < 0:
                    value /= activity_of_water
                ws[CONDITIONAL + k] = value
                ws[DRIFT + k] = drift - ws[CLASS_DRIFT + REACTING_CLASS[k]]
