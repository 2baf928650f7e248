"""
Speciation of a solution: which species its components form.

At fixed activity coefficients the molalities minimise a convex function of the logarithms of the
free ligands and of the hydrogen ion, so that a bounded Newton iteration finds the one solution.
Ionic strength and water activity follow after every step.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import (
    HIGHEST_IONIC_STRENGTH,
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    SPECIES_CLASS,
    water_activity,
)
from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium_constants import (
    ACTIVITY_SLOPE,
    CARBONATE_LIGAND,
    CENTRAL_COUNT,
    CENTRAL_IONS,
    LIGAND_COUNT,
    LIGANDS,
    REACTING,
    TEMPERATURE,
)
from service.chemistry.kernel import kernel
from service.chemistry.mass_action import (
    LN_10,
    carbonate_over_square,
    evaluate,
    guess_ligands,
    guess_ph,
    update_conditional,
)
from service.chemistry.newton_step import fill_matrix, ionic_strength_after_step, solve_matrix
from service.chemistry.species import (
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    UNMEASURED_ANION,
    UNMEASURED_CATION,
)
from service.chemistry.workspace import (
    ACTIVITY_COEFFICIENT,
    CENTRAL_FREE,
    CENTRAL_SQUARE,
    CHARGE_IMBALANCE,
    CLASS_COEFFICIENT,
    HYDROGEN_UNKNOWN,
    IONIC_STRENGTH,
    ITERATIONS,
    LIGAND_SUM,
    MATRIX,
    MOLALITY,
    PH,
    RESIDUAL,
    RESULT_SIZE,
    SOLUTE_SUM,
    TOTAL,
    TOTAL_CARBONATE,
    UNKNOWN,
    UNKNOWN_COUNT,
    WATER_ACTIVITY,
)
from service.reference.components import CARBONATE, COMPONENT_COUNT, UNMEASURED

FloatArray = npt.NDArray[np.float64]

OK: Final = 0
OUT_OF_RANGE: Final = 1
"""Computed, but outside the published range of temperature, ionic strength or pH."""
NOT_CONVERGED: Final = 2
INVALID_INPUT: Final = 3
NO_SOLUTION: Final = 4
"""No amount of what may change reaches what was asked."""

LOWEST_PH: Final = 2.0
HIGHEST_PH: Final = 12.0

CLOSED: Final = -1.0
"""Stands for a carbon dioxide pressure when total carbon is conserved."""

_MAXIMUM_STEP: Final = 3.0
_MAXIMUM_ITERATIONS: Final = 100
_STEP_TOLERANCE: Final = 1e-10
_STRENGTH_TOLERANCE: Final = 1e-8
_ACTIVITY_TOLERANCE: Final = 1e-8
_STRONGEST: Final = 2.0
"""Ionic strength at which the activity model has long lost all meaning [mol/kg]."""

_REACTING_SET: Final = {int(index) for index in REACTING}
_INERT: Final = constant_array(
    [
        index
        for index in range(SPECIES_COUNT)
        if index not in _REACTING_SET and index not in (UNMEASURED_CATION, UNMEASURED_ANION)
    ],
    np.uint32,
)
_INERT_COMPONENT: Final = constant_array(
    [int(np.flatnonzero(SPECIES_COMPOSITION[int(i)])[0]) for i in _INERT], np.uint32
)
_INERT_CHARGE: Final = constant_array([SPECIES_CHARGES[int(i)] for i in _INERT], np.float64)
_MASTER_COMPONENT: Final = constant_array(
    [int(np.flatnonzero(SPECIES_COMPOSITION[i])[0]) for i in (*CENTRAL_IONS, *LIGANDS)], np.uint32
)
_MASTER_CHARGE: Final = constant_array(
    [SPECIES_CHARGES[i] for i in (*CENTRAL_IONS, *LIGANDS)], np.float64
)


@kernel
def composition_is_valid(composition: FloatArray) -> bool:
    """
    Tell whether every amount is finite and none but the unmeasured charge negative.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].

    Returns
    -------
    bool
        False for NaN, infinite or negative amounts.
    """
    for component in range(COMPONENT_COUNT):
        amount = composition[component]
        if not math.isfinite(amount):
            return False
        if amount < 0.0 and component != UNMEASURED:
            return False
    return True


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
    fixed_ph = not math.isnan(ph)
    open_to_gas = carbon_dioxide_pressure >= 0.0
    if (
        not composition_is_valid(composition)
        or not constants[ACTIVITY_SLOPE] <= 0.0
        or math.isnan(carbon_dioxide_pressure)
        or (fixed_ph and not abs(ph) < 20.0)
    ):
        ws[:RESULT_SIZE] = math.nan
        return INVALID_INPUT

    charge = composition[UNMEASURED]
    fixed_square = abs(charge)
    fixed_sum = abs(charge)
    ws[MOLALITY + UNMEASURED_CATION] = max(charge, 0.0)
    ws[MOLALITY + UNMEASURED_ANION] = max(-charge, 0.0)
    for k in range(_INERT.shape[0]):
        amount = composition[_INERT_COMPONENT[k]]
        ws[MOLALITY + _INERT[k]] = amount
        charge += _INERT_CHARGE[k] * amount
        fixed_square += _INERT_CHARGE[k] * _INERT_CHARGE[k] * amount
        fixed_sum += amount
    square = fixed_square
    total_sum = fixed_sum
    for place in range(CENTRAL_COUNT + LIGAND_COUNT):
        amount = composition[_MASTER_COMPONENT[place]]
        if place == CENTRAL_COUNT + CARBONATE_LIGAND and open_to_gas:
            # Beside a gas the carbonate is no unknown; its total only has to be positive.
            amount = 1.0 if carbon_dioxide_pressure > 0.0 else 0.0
        else:
            charge += _MASTER_CHARGE[place] * amount
            size = min(abs(_MASTER_CHARGE[place]), 2.0)
            square += size * size * amount
            total_sum += amount
        ws[TOTAL + place] = amount
    open_to_gas = open_to_gas and carbon_dioxide_pressure > 0.0

    if warm:
        update_conditional(constants, ws, ws[IONIC_STRENGTH], ws[WATER_ACTIVITY])
    else:
        update_conditional(constants, ws, min(0.5 * square, 1.0), water_activity(total_sum))
    if fixed_ph:
        ws[UNKNOWN + HYDROGEN_UNKNOWN] = -LN_10 * ph
    carbonate = 0.0
    if open_to_gas:
        carbonate = carbonate_over_square(constants, ws, carbon_dioxide_pressure)
    if not warm and not fixed_ph:
        guess_ph(charge, carbonate, open_to_gas, ws)
    if not warm:
        for place in range(CENTRAL_COUNT):
            ws[CENTRAL_FREE + place] = ws[TOTAL + place]
    guess_ligands(carbonate, open_to_gas, ws)

    converged = False
    last_drift = 0.0
    last_advance = 1.0
    iteration = 0
    imbalance = 0.0
    while iteration < _MAXIMUM_ITERATIONS:
        iteration += 1
        if open_to_gas:
            ws[UNKNOWN + CARBONATE_LIGAND] = (
                math.log(carbonate) - 2.0 * ws[UNKNOWN + HYDROGEN_UNKNOWN]
            )
        imbalance = charge + evaluate(ws)
        if open_to_gas:
            imbalance -= 2.0 * ws[LIGAND_SUM + CARBONATE_LIGAND]
        for place in range(LIGAND_COUNT):
            ws[RESIDUAL + place] = ws[TOTAL + CENTRAL_COUNT + place] - ws[LIGAND_SUM + place]
        ws[RESIDUAL + HYDROGEN_UNKNOWN] = 0.0 if fixed_ph else -imbalance
        if open_to_gas:
            ws[RESIDUAL + CARBONATE_LIGAND] = 0.0
        fill_matrix(ws, fixed_ph, open_to_gas)
        solve_matrix(ws)

        largest = 0.0
        for row in range(UNKNOWN_COUNT):
            largest = max(largest, abs(ws[RESIDUAL + row]))
        if open_to_gas:
            ws[RESIDUAL + CARBONATE_LIGAND] = -2.0 * ws[RESIDUAL + HYDROGEN_UNKNOWN]
        if largest < 1.0:
            strength = ionic_strength_after_step(ws, fixed_square)
        else:
            strength = 0.5 * fixed_square
            for place in range(CENTRAL_COUNT + 1):
                strength += 0.5 * ws[CENTRAL_SQUARE + place]
        strength = min(max(strength, 1e-9), _STRONGEST)
        change = abs(strength - ws[IONIC_STRENGTH])
        activity = water_activity(fixed_sum + ws[SOLUTE_SUM])
        # Uncharged solutes, as urea, move the activity of water and leave the strength alone.
        diluted = abs(activity - ws[WATER_ACTIVITY]) > _ACTIVITY_TOLERANCE
        settled = largest < _STEP_TOLERANCE and not diluted
        if settled and change <= _STRENGTH_TOLERANCE * strength:
            converged = True
            break
        if not largest < 1e300:
            break
        for row in range(UNKNOWN_COUNT):
            step = ws[RESIDUAL + row]
            ws[UNKNOWN + row] += max(-_MAXIMUM_STEP, min(step, _MAXIMUM_STEP))
        if diluted or change > 0.1 * _STRENGTH_TOLERANCE * strength:
            # The step that the last one predicts, once Newton itself has settled.
            drift = strength - ws[IONIC_STRENGTH]
            rate = 0.0
            if largest < 0.1 and abs(last_drift) > 0.0:
                rate = max(-0.5, min(1.0 - (last_drift - drift) / last_advance, 0.5))
            last_drift = drift
            last_advance = drift / (1.0 - rate)
            following = max(ws[IONIC_STRENGTH] + last_advance, 0.5 * strength)
            last_advance = following - ws[IONIC_STRENGTH]
            update_conditional(constants, ws, following, activity)
            if open_to_gas:
                carbonate = carbonate_over_square(constants, ws, carbon_dioxide_pressure)

    ws[ITERATIONS] = iteration
    if not converged or ws[IONIC_STRENGTH] >= _STRONGEST:
        ws[:RESULT_SIZE] = math.nan
        return NOT_CONVERGED
    for index in range(SPECIES_COUNT):
        ws[ACTIVITY_COEFFICIENT + index] = ws[CLASS_COEFFICIENT + SPECIES_CLASS[index]]
    ws[PH] = -ws[UNKNOWN + HYDROGEN_UNKNOWN] / LN_10
    ws[CHARGE_IMBALANCE] = imbalance
    ws[TOTAL_CARBONATE] = (
        ws[LIGAND_SUM + CARBONATE_LIGAND] if open_to_gas else composition[CARBONATE]
    )
    if (
        ws[IONIC_STRENGTH] > HIGHEST_IONIC_STRENGTH
        or not LOWEST_PH <= ws[PH] <= HIGHEST_PH
        or not LOWEST_TEMPERATURE <= constants[TEMPERATURE] <= HIGHEST_TEMPERATURE
    ):
        return OUT_OF_RANGE
    return OK


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
