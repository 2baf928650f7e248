"""First guesses of pH and free ligands, from which the speciation is found by Newton's method."""

import math

import numpy as np
import numpy.typing as npt

from service.chemistry.equilibrium_constants import (
    CARBONATE_LIGAND,
    CENTRAL_COUNT,
    CENTRAL_OF,
    LIGAND_COUNT,
    LOWEST_PROTON_POWER,
    PROTON_POWER,
)
from service.chemistry.kernel import kernel
from service.chemistry.mass_action import LN_10, carbonate_over_square, set_powers
from service.chemistry.species import CARBON_DIOXIDE, CARBONATE_ION
from service.chemistry.species_groups import (
    CENTRAL_START,
    GROUP_LIGAND,
    GROUP_START,
    PROTONS,
    UNPAIRED_GROUPS,
)
from service.chemistry.workspace import (
    CENTRAL_FREE,
    CONDITIONAL,
    GROUP_PRESENT,
    HYDROGEN_UNKNOWN,
    LIGAND_SUM,
    MOLALITY,
    POWER,
    TOTAL,
    UNKNOWN,
)

FloatArray = npt.NDArray[np.float64]


@kernel
def uncomplexed_imbalance(
    ws: FloatArray, log_activity: float, charge: float, carbonate: float, open_to_gas: bool
) -> float:
    """
    Return the charge imbalance when central ions and ligands do not meet.

    It falls with rising pH.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    log_activity : float
        Natural logarithm of the hydrogen ion activity [dimensionless].
    charge : float
        Charge of the totals as master species [mol/kg].
    carbonate : float
        Result of `carbonate_over_square` where a gas is present [mol/kg].
    open_to_gas : bool
        True where carbonate follows from a gas.

    Returns
    -------
    float
        Charge imbalance [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    set_powers(ws, log_activity)
    imbalance = charge
    for place in range(UNPAIRED_GROUPS.shape[0]):
        group = UNPAIRED_GROUPS[place]
        if ws[GROUP_PRESENT + group] == 0.0:
            continue
        parts, protons = 0.0, 0.0
        first = GROUP_START[group]
        for k in range(first, GROUP_START[group + 1]):
            part = ws[CONDITIONAL + k] * ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            parts += part
            protons += PROTONS[k] * part
        central = CENTRAL_OF[first]
        ligand = GROUP_LIGAND[group]
        if central < CENTRAL_COUNT:
            imbalance += ws[TOTAL + central] * protons / parts
        elif ligand == LIGAND_COUNT:
            imbalance += protons
        elif open_to_gas and ligand == CARBONATE_LIGAND:
            free = carbonate * math.exp(-2.0 * log_activity)
            imbalance += free * (protons - 2.0 * parts)
        else:
            imbalance += ws[TOTAL + CENTRAL_COUNT + ligand] * protons / parts
    return imbalance


@kernel
def guess_ph(charge: float, carbonate: float, open_to_gas: bool, ws: FloatArray) -> None:
    """
    Set a first pH by bisection without ion pairs.

    Parameters
    ----------
    charge : float
        Charge of the totals as master species [mol/kg].
    carbonate : float
        Result of `carbonate_over_square` where a gas is present [mol/kg].
    open_to_gas : bool
        True where carbonate follows from a gas.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    low, high = -LN_10 * 14.0, 0.0
    for _ in range(7):
        middle = 0.5 * (low + high)
        if uncomplexed_imbalance(ws, middle, charge, carbonate, open_to_gas) > 0.0:
            high = middle
        else:
            low = middle
    ws[UNKNOWN + HYDROGEN_UNKNOWN] = 0.5 * (low + high)


@kernel
def guess_ligands(carbonate: float, open_to_gas: bool, ws: FloatArray) -> None:
    """
    Set first free ligands from the pH and the free central ions.

    Parameters
    ----------
    carbonate : float
        Result of `carbonate_over_square` where a gas is present [mol/kg].
    open_to_gas : bool
        True where carbonate follows from a gas.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    log_activity = ws[UNKNOWN + HYDROGEN_UNKNOWN]
    set_powers(ws, log_activity)
    for place in range(LIGAND_COUNT):
        ws[LIGAND_SUM + place] = 0.0
    for central in range(CENTRAL_COUNT + 1):
        free = ws[CENTRAL_FREE + central] if central < CENTRAL_COUNT else 1.0
        for group in range(CENTRAL_START[central], CENTRAL_START[central + 1]):
            ligand = GROUP_LIGAND[group]
            if ligand == LIGAND_COUNT or ws[GROUP_PRESENT + group] == 0.0:
                continue
            parts = 0.0
            for k in range(GROUP_START[group], GROUP_START[group + 1]):
                parts += ws[CONDITIONAL + k] * ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            ws[LIGAND_SUM + ligand] += free * parts
    for place in range(LIGAND_COUNT):
        total = ws[TOTAL + CENTRAL_COUNT + place]
        if open_to_gas and place == CARBONATE_LIGAND:
            ws[UNKNOWN + place] = math.log(carbonate) - 2.0 * log_activity
        elif total > 0.0:
            ws[UNKNOWN + place] = math.log(total / ws[LIGAND_SUM + place])


@kernel
def guess_ph_after_opening(
    constants: FloatArray, carbon_dioxide_pressure: float, ws: FloatArray
) -> None:
    """
    Move the pH of a speciated solution to where it goes beside a gas, as a start of a next one.

    Bicarbonate stays about as it is when carbon dioxide comes or goes, so that the activity of the
    hydrogen ion follows that of carbon dioxide.

    Parameters
    ----------
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide [bar].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace of a solution at about this temperature [mol/kg].

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    carbonate = ws[MOLALITY + CARBONATE_ION]
    if not (carbonate > 0.0 and ws[MOLALITY + CARBON_DIOXIDE] > 0.0):
        return
    product = carbonate_over_square(constants, ws, carbon_dioxide_pressure)
    closed = math.log(carbonate) + 2.0 * ws[UNKNOWN + HYDROGEN_UNKNOWN]
    shift = math.log(product) - closed
    ws[UNKNOWN + HYDROGEN_UNKNOWN] += min(max(shift, -5.0), 5.0)
