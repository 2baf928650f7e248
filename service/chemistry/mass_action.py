"""
Molalities of all species from the free ligands and the hydrogen ion.

Central ions (calcium, magnesium, ...) never share a species, so that each is found exactly from
its total. Conditional constants fold the activity coefficients in.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import CLASS_COUNT, SPECIES_CLASS, log10_extended_debye_hueckel
from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium_constants import (
    ACTIVITY_LINEAR,
    ACTIVITY_SIZE,
    ACTIVITY_SLOPE,
    CARBON_DIOXIDE_SOLUBILITY,
    CARBONATE_LIGAND,
    CENTRAL_COUNT,
    CENTRAL_IONS,
    CENTRAL_OF,
    HIGHEST_PROTON_POWER,
    LIGAND_COUNT,
    LIGAND_OF,
    LIGANDS,
    LOWEST_PROTON_POWER,
    PROTON_POWER,
    REACTING,
    REACTING_COUNT,
    WATER_POWER,
)
from service.chemistry.kernel import kernel
from service.chemistry.species import CARBON_DIOXIDE, SPECIES_CHARGES
from service.chemistry.workspace import (
    CENTRAL_FREE,
    CENTRAL_PROTON,
    CENTRAL_SQUARE,
    CLASS_COEFFICIENT,
    CONDITIONAL,
    HYDROGEN_UNKNOWN,
    IONIC_STRENGTH,
    LIGAND_FREE,
    LIGAND_PROTON,
    LIGAND_SQUARE,
    LIGAND_SUM,
    MATRIX,
    MOLALITY,
    PAIR,
    PART,
    POWER,
    SOLUTE_SUM,
    TOTAL,
    UNKNOWN,
    UNKNOWN_COUNT,
    WATER_ACTIVITY,
)

FloatArray = npt.NDArray[np.float64]

ATMOSPHERE_IN_BAR: Final = 1.01325
LN_10: Final = math.log(10.0)

_CENTRAL_CLASS: Final = constant_array(
    [[*(SPECIES_CLASS[i] for i in CENTRAL_IONS), CLASS_COUNT][int(k)] for k in CENTRAL_OF],
    np.uint32,
)
_LIGAND_CLASS: Final = constant_array(
    [[*(SPECIES_CLASS[i] for i in LIGANDS), CLASS_COUNT][int(k)] for k in LIGAND_OF], np.uint32
)
_SQUARED_CHARGE: Final = constant_array(
    [SPECIES_CHARGES[int(i)] ** 2 for i in REACTING], np.float64
)


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
        Workspace [mol/kg].
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
    for index in range(CLASS_COUNT):
        exponent = log10_extended_debye_hueckel(
            constants[ACTIVITY_SLOPE + index],
            constants[ACTIVITY_SIZE + index],
            constants[ACTIVITY_LINEAR + index],
            ionic_strength,
        )
        ws[CLASS_COEFFICIENT + index] = math.exp(LN_10 * exponent)
    ws[CLASS_COEFFICIENT + CLASS_COUNT] = 1.0
    for k in range(REACTING_COUNT):
        index = REACTING[k]
        value = (
            constants[index]
            * ws[CLASS_COEFFICIENT + _CENTRAL_CLASS[k]]
            * ws[CLASS_COEFFICIENT + _LIGAND_CLASS[k]]
            / ws[CLASS_COEFFICIENT + SPECIES_CLASS[index]]
        )
        if WATER_POWER[k] > 0:
            value *= activity_of_water
        elif WATER_POWER[k] < 0:
            value /= activity_of_water
        ws[CONDITIONAL + k] = value


@kernel
def set_powers(ws: FloatArray, log_activity: float) -> None:
    """
    Set the powers of the hydrogen ion activity.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    log_activity : float
        Natural logarithm of the hydrogen ion activity [dimensionless].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    base = -LOWEST_PROTON_POWER
    activity = math.exp(log_activity)
    inverse = math.exp(-log_activity)
    ws[POWER + base] = 1.0
    for power in range(1, HIGHEST_PROTON_POWER + 1):
        ws[POWER + base + power] = ws[POWER + base + power - 1] * activity
    for power in range(1, base + 1):
        ws[POWER + base - power] = ws[POWER + base - power + 1] * inverse


@kernel
def carbonate_over_square(constants: FloatArray, ws: FloatArray, pressure: float) -> float:
    """
    Return the carbonate molality times squared hydrogen ion activity beside a gas.

    Parameters
    ----------
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    pressure : float
        Partial pressure of carbon dioxide [bar].

    Returns
    -------
    float
        Molality times squared activity [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    carbonate = LIGANDS[CARBONATE_LIGAND]
    coefficient = ws[CLASS_COEFFICIENT + SPECIES_CLASS[carbonate]]
    activity = constants[CARBON_DIOXIDE_SOLUBILITY] * pressure / ATMOSPHERE_IN_BAR
    product: float = activity * ws[WATER_ACTIVITY] / (constants[CARBON_DIOXIDE] * coefficient)
    return product


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
    for place in range(CENTRAL_COUNT + 1):
        ws[CENTRAL_PROTON + place] = 0.0
        ws[CENTRAL_FREE + place] = 0.0
    for place in range(LIGAND_COUNT + 1):
        ws[LIGAND_PROTON + place] = 0.0
        ws[LIGAND_SUM + place] = 0.0
    imbalance = charge
    for k in range(REACTING_COUNT):
        central = CENTRAL_OF[k]
        ligand = LIGAND_OF[k]
        power = PROTON_POWER[k]
        if central < CENTRAL_COUNT and ligand < LIGAND_COUNT:
            continue
        part = ws[CONDITIONAL + k] * ws[POWER + power - LOWEST_PROTON_POWER]
        if central < CENTRAL_COUNT:
            ws[CENTRAL_FREE + central] += part
            ws[CENTRAL_PROTON + central] += power * part
        elif ligand < LIGAND_COUNT:
            ws[LIGAND_SUM + ligand] += part
            ws[LIGAND_PROTON + ligand] += power * part
        else:
            imbalance += power * part
    for place in range(CENTRAL_COUNT):
        imbalance += ws[TOTAL + place] * ws[CENTRAL_PROTON + place] / ws[CENTRAL_FREE + place]
    for place in range(LIGAND_COUNT):
        if open_to_gas and place == CARBONATE_LIGAND:
            free = carbonate * math.exp(-2.0 * log_activity)
            imbalance += free * (ws[LIGAND_PROTON + place] - 2.0 * ws[LIGAND_SUM + place])
        else:
            total = ws[TOTAL + CENTRAL_COUNT + place]
            imbalance += total * ws[LIGAND_PROTON + place] / ws[LIGAND_SUM + place]
    return imbalance


@kernel
def evaluate(ws: FloatArray) -> float:
    """
    Set molalities and the sums that Newton needs.

    Central ions take the amounts that their totals leave.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    Returns
    -------
    float
        Sum of the proton powers times the molalities [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    set_powers(ws, ws[UNKNOWN + HYDROGEN_UNKNOWN])
    for place in range(LIGAND_COUNT):
        free = 0.0
        if ws[TOTAL + CENTRAL_COUNT + place] > 0.0:
            free = math.exp(ws[UNKNOWN + place])
        ws[LIGAND_FREE + place] = free
    ws[LIGAND_FREE + LIGAND_COUNT] = 1.0
    for place in range(CENTRAL_COUNT + 1):
        ws[CENTRAL_FREE + place] = 0.0
        ws[CENTRAL_PROTON + place] = 0.0
        ws[CENTRAL_SQUARE + place] = 0.0
    for place in range((CENTRAL_COUNT + 1) * UNKNOWN_COUNT):
        ws[PAIR + place] = 0.0
    for place in range(UNKNOWN_COUNT):
        ws[LIGAND_SUM + place] = 0.0
        ws[LIGAND_PROTON + place] = 0.0
        ws[LIGAND_SQUARE + place] = 0.0
    for k in range(REACTING_COUNT):
        part = (
            ws[CONDITIONAL + k]
            * ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            * ws[LIGAND_FREE + LIGAND_OF[k]]
        )
        ws[PART + k] = part
        ws[CENTRAL_FREE + CENTRAL_OF[k]] += part
    for place in range(CENTRAL_COUNT):
        ws[CENTRAL_FREE + place] = ws[TOTAL + place] / ws[CENTRAL_FREE + place]
    ws[CENTRAL_FREE + CENTRAL_COUNT] = 1.0
    proton_sum = 0.0
    proton_square = 0.0
    charge_protons = 0.0
    solutes = 0.0
    for k in range(REACTING_COUNT):
        central = CENTRAL_OF[k]
        ligand = LIGAND_OF[k]
        power = PROTON_POWER[k]
        molality = ws[PART + k] * ws[CENTRAL_FREE + central]
        ws[MOLALITY + REACTING[k]] = molality
        protons = power * molality
        ws[CENTRAL_PROTON + central] += protons
        ws[PAIR + central * UNKNOWN_COUNT + ligand] += molality
        ws[LIGAND_SUM + ligand] += molality
        ws[LIGAND_PROTON + ligand] += protons
        proton_sum += protons
        proton_square += power * protons
        squared = _SQUARED_CHARGE[k] * molality
        ws[CENTRAL_SQUARE + central] += squared
        ws[LIGAND_SQUARE + ligand] += squared
        charge_protons += power * squared
        solutes += molality
    ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN] = proton_square
    ws[LIGAND_SQUARE + LIGAND_COUNT + 1] = charge_protons
    ws[SOLUTE_SUM] = solutes
    return proton_sum


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
    for k in range(REACTING_COUNT):
        if LIGAND_OF[k] < LIGAND_COUNT:
            part = ws[CONDITIONAL + k] * ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            if CENTRAL_OF[k] < CENTRAL_COUNT:
                part *= ws[CENTRAL_FREE + CENTRAL_OF[k]]
            ws[LIGAND_SUM + LIGAND_OF[k]] += part
    for place in range(LIGAND_COUNT):
        total = ws[TOTAL + CENTRAL_COUNT + place]
        if open_to_gas and place == CARBONATE_LIGAND:
            ws[UNKNOWN + place] = math.log(carbonate) - 2.0 * log_activity
        elif total > 0.0:
            ws[UNKNOWN + place] = math.log(total / ws[LIGAND_SUM + place])
