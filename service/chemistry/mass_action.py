"""
Molalities of all species from the free ligands and the hydrogen ion.

Central ions (calcium, magnesium, ...) never share a species, so that each is found exactly from
its total. Conditional constants fold the activity coefficients in.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import (
    CLASS_COUNT,
    SPECIES_CLASS,
)
from service.chemistry.equilibrium_constants import (
    CARBON_DIOXIDE_SOLUBILITY,
    CARBONATE_LIGAND,
    CENTRAL_COUNT,
    HIGHEST_PROTON_POWER,
    LIGAND_COUNT,
    LIGANDS,
    LOWEST_PROTON_POWER,
    PROTON_POWER,
    REACTING,
)
from service.chemistry.kernel import kernel
from service.chemistry.species import CARBON_DIOXIDE
from service.chemistry.species_groups import (
    CENTRAL_START,
    GROUP_LIGAND,
    GROUP_START,
    PROTONS,
    SQUARED_CHARGE,
)
from service.chemistry.workspace import (
    CENTRAL_FREE,
    CENTRAL_PROTON,
    CENTRAL_SQUARE,
    CLASS_COEFFICIENT,
    CLASS_DRIFT,
    CONDITIONAL,
    DRIFT,
    GROUP_PRESENT,
    GROUP_SUM_COUNT,
    GROUP_SUMS,
    HYDROGEN_UNKNOWN,
    IONIC_STRENGTH,
    LIGAND_FREE,
    LIGAND_PROTON,
    LIGAND_SQUARE,
    LIGAND_SUM,
    MATRIX,
    MOLALITY,
    PAIR,
    POWER,
    SOLUTE_SUM,
    STRENGTH_COLUMN,
    STRENGTH_ROW,
    TOTAL,
    UNKNOWN,
    UNKNOWN_COUNT,
    WATER_ACTIVITY,
)

FloatArray = npt.NDArray[np.float64]

ATMOSPHERE_IN_BAR: Final = 1.01325
LN_10: Final = math.log(10.0)


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
    inverse = 1.0 / max(activity, 1e-300)
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
def _sum_group(group: int, free: float, gas_drift: float, ws: FloatArray) -> None:
    """
    Set the sums of one group of species, for a free central ion of one mole.

    Parameters
    ----------
    group : int
        The group.
    free : float
        Molality of its free ligand [mol/kg].
    gas_drift : float
        Change of the logarithm of the ligand with ionic strength, beside a gas [kg/mol].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    """
    s0, s1, s2, s3, s4, s5, s6, s7 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(GROUP_START[group], GROUP_START[group + 1]):
        protons = PROTONS[k]
        squared = SQUARED_CHARGE[k]
        part = ws[CONDITIONAL + k] * ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
        drifting = (ws[DRIFT + k] + gas_drift) * part
        s0 += part
        s1 += protons * part
        s2 += protons * protons * part
        s3 += squared * part
        s4 += protons * squared * part
        s5 += drifting
        s6 += protons * drifting
        s7 += squared * drifting
    place = GROUP_SUMS + GROUP_SUM_COUNT * group
    ws[place] = free * s0
    ws[place + 1] = free * s1
    ws[place + 2] = free * s2
    ws[place + 3] = free * s3
    ws[place + 4] = free * s4
    ws[place + 5] = free * s5
    ws[place + 6] = free * s6
    ws[place + 7] = free * s7


@kernel
def evaluate(ws: FloatArray, carbonate_drift: float) -> tuple[float, float, float]:
    """
    Set the sums over all species that a Newton step needs.

    Central ions take the amounts that their totals leave.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    carbonate_drift : float
        Change of the logarithm of free carbonate with ionic strength; 0 but beside a gas [kg/mol].

    Returns
    -------
    protons : float
        Sum of the proton powers times the molalities [mol/kg].
    proton_drift : float
        Change of that sum with ionic strength [dimensionless].
    square_drift : float
        Change of the sum of squared charges times molalities with ionic strength [dimensionless].

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
    for place in range(UNKNOWN_COUNT):
        ws[LIGAND_SUM + place] = 0.0
        ws[LIGAND_PROTON + place] = 0.0
        ws[LIGAND_SQUARE + place] = 0.0
        ws[STRENGTH_COLUMN + place] = 0.0
    proton_sum, proton_square, charge_protons, solutes = 0.0, 0.0, 0.0, 0.0
    proton_drift, square_drift = 0.0, 0.0
    for central in range(CENTRAL_COUNT + 1):
        for place in range(UNKNOWN_COUNT):
            ws[PAIR + central * UNKNOWN_COUNT + place] = 0.0
        ws[CENTRAL_PROTON + central] = 0.0
        ws[CENTRAL_SQUARE + central] = 0.0
        amount, mean_drift = 1.0, 0.0
        parts, drifts = 0.0, 0.0
        first, last = CENTRAL_START[central], CENTRAL_START[central + 1]
        for group in range(first, last):
            if ws[GROUP_PRESENT + group] == 0.0:
                continue
            ligand = GROUP_LIGAND[group]
            drift = carbonate_drift if ligand == CARBONATE_LIGAND else 0.0
            _sum_group(group, ws[LIGAND_FREE + ligand], drift, ws)
            parts += ws[GROUP_SUMS + GROUP_SUM_COUNT * group]
            drifts += ws[GROUP_SUMS + GROUP_SUM_COUNT * group + 5]
        if central < CENTRAL_COUNT:
            if not parts > 0.0:
                continue
            amount = ws[TOTAL + central] / parts
            mean_drift = drifts / parts
        ws[CENTRAL_FREE + central] = amount
        central_protons, central_square = 0.0, 0.0
        for group in range(first, last):
            if ws[GROUP_PRESENT + group] == 0.0:
                continue
            ligand = GROUP_LIGAND[group]
            place = GROUP_SUMS + GROUP_SUM_COUNT * group
            molality = amount * ws[place]
            protons = amount * ws[place + 1]
            squared = amount * ws[place + 3]
            ws[PAIR + central * UNKNOWN_COUNT + ligand] = molality
            ws[LIGAND_SUM + ligand] += molality
            ws[LIGAND_PROTON + ligand] += protons
            ws[LIGAND_SQUARE + ligand] += squared
            ws[STRENGTH_COLUMN + ligand] += amount * ws[place + 5] - mean_drift * molality
            solutes += molality
            central_protons += protons
            central_square += squared
            proton_square += amount * ws[place + 2]
            charge_protons += amount * ws[place + 4]
            proton_drift += amount * ws[place + 6] - mean_drift * protons
            square_drift += amount * ws[place + 7] - mean_drift * squared
        proton_sum += central_protons
        ws[CENTRAL_PROTON + central] = central_protons
        ws[CENTRAL_SQUARE + central] = central_square
    ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN] = proton_square
    ws[STRENGTH_ROW + HYDROGEN_UNKNOWN] = charge_protons
    ws[SOLUTE_SUM] = solutes
    return proton_sum, proton_drift, square_drift


@kernel
def fill_molalities(ws: FloatArray, change: float) -> float:
    """
    Set the molality of every reacting species after a last small change of ionic strength.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace with unknowns and conditional constants [mol/kg].
    change : float
        Change of the ionic strength since the conditional constants were set, so small that its
        square does not count [mol/kg].

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
    ws[IONIC_STRENGTH] += change
    for index in range(CLASS_COUNT):
        ws[CLASS_COEFFICIENT + index] *= 1.0 + change * ws[CLASS_DRIFT + index]
    set_powers(ws, ws[UNKNOWN + HYDROGEN_UNKNOWN])
    for place in range(LIGAND_COUNT):
        ws[LIGAND_SUM + place] = 0.0
        if ws[TOTAL + CENTRAL_COUNT + place] > 0.0:
            ws[LIGAND_FREE + place] = math.exp(ws[UNKNOWN + place])
    ws[LIGAND_SUM + LIGAND_COUNT] = 0.0
    proton_sum, solutes = 0.0, 0.0
    for central in range(CENTRAL_COUNT + 1):
        parts = 0.0
        first, last = CENTRAL_START[central], CENTRAL_START[central + 1]
        for group in range(first, last):
            present = ws[GROUP_PRESENT + group] > 0.0
            free = ws[LIGAND_FREE + GROUP_LIGAND[group]]
            for k in range(GROUP_START[group], GROUP_START[group + 1]):
                part = 0.0
                if present:
                    power = ws[POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
                    part = ws[CONDITIONAL + k] * (1.0 + change * ws[DRIFT + k]) * power * free
                ws[MOLALITY + REACTING[k]] = part
                parts += part
        amount = 1.0
        if central < CENTRAL_COUNT:
            if not parts > 0.0:
                continue
            amount = ws[TOTAL + central] / parts
        ws[CENTRAL_FREE + central] = amount
        for group in range(first, last):
            if ws[GROUP_PRESENT + group] == 0.0:
                continue
            held = 0.0
            for k in range(GROUP_START[group], GROUP_START[group + 1]):
                molality = amount * ws[MOLALITY + REACTING[k]]
                ws[MOLALITY + REACTING[k]] = molality
                held += molality
                proton_sum += PROTONS[k] * molality
            ws[LIGAND_SUM + GROUP_LIGAND[group]] += held
            solutes += held
    ws[SOLUTE_SUM] = solutes
    return proton_sum
