r"""
Speciation of a solution: which species its components form.

At fixed activity coefficients the molalities minimise a convex function of the logarithms of the
free ligands and of the hydrogen ion, so that a bounded Newton iteration finds the one solution.
Central ions (calcium, magnesium, ...) never share a species and are found exactly in between.
Ionic strength and water activity follow after every step. Nothing is allocated: everything lives
in one workspace, which also carries the result.
"""

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import (
    CLASS_COUNT,
    HIGHEST_IONIC_STRENGTH,
    HIGHEST_TEMPERATURE,
    LOWEST_TEMPERATURE,
    SPECIES_CLASS,
    log10_extended_debye_hueckel,
    water_activity,
)
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
    TEMPERATURE,
    WATER_POWER,
)
from service.chemistry.kernel import kernel
from service.chemistry.species import (
    CARBON_DIOXIDE,
    HYDROGEN_ION,
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    UNMEASURED_ANION,
    UNMEASURED_CATION,
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

ATMOSPHERE_IN_BAR: Final = 1.01325
LN_10: Final = math.log(10.0)

PH: Final = 0
IONIC_STRENGTH: Final = 1
WATER_ACTIVITY: Final = 2
CHARGE_IMBALANCE: Final = 3
TOTAL_CARBONATE: Final = 4
ITERATIONS: Final = 5
MOLALITY: Final = 8
ACTIVITY_COEFFICIENT: Final = MOLALITY + SPECIES_COUNT
_CONDITIONAL: Final = ACTIVITY_COEFFICIENT + SPECIES_COUNT
_PART: Final = _CONDITIONAL + REACTING_COUNT
_CLASS_COEFFICIENT: Final = _PART + REACTING_COUNT
_UNKNOWN: Final = _CLASS_COEFFICIENT + CLASS_COUNT + 1
_TOTAL: Final = _UNKNOWN + LIGAND_COUNT + 1
_CENTRAL_FREE: Final = _TOTAL + CENTRAL_COUNT + LIGAND_COUNT
_LIGAND_FREE: Final = _CENTRAL_FREE + CENTRAL_COUNT + 1
_POWER: Final = _LIGAND_FREE + LIGAND_COUNT + 1
_CENTRAL_PROTON: Final = _POWER + HIGHEST_PROTON_POWER - LOWEST_PROTON_POWER + 1
_PAIR: Final = _CENTRAL_PROTON + CENTRAL_COUNT + 1
_LIGAND_SUM: Final = _PAIR + (CENTRAL_COUNT + 1) * (LIGAND_COUNT + 1)
_LIGAND_PROTON: Final = _LIGAND_SUM + LIGAND_COUNT + 1
_MATRIX: Final = _LIGAND_PROTON + LIGAND_COUNT + 1
_RESIDUAL: Final = _MATRIX + (LIGAND_COUNT + 1) ** 2
_CENTRAL_SQUARE: Final = _RESIDUAL + LIGAND_COUNT + 1
_LIGAND_SQUARE: Final = _CENTRAL_SQUARE + CENTRAL_COUNT + 1
_SOLUTE_SUM: Final = _LIGAND_SQUARE + LIGAND_COUNT + 2
WORKSPACE_SIZE: Final = _SOLUTE_SUM + 1
"""Length of a workspace; results first, scratch after `ACTIVITY_COEFFICIENT` + SPECIES_COUNT."""

_HYDROGEN: Final = LIGAND_COUNT
_SIZE: Final = LIGAND_COUNT + 1
_MAXIMUM_STEP: Final = 3.0
_MAXIMUM_ITERATIONS: Final = 100
_STEP_TOLERANCE: Final = 1e-9
_STRENGTH_TOLERANCE: Final = 1e-8


def _frozen(values: object, kind: type) -> npt.NDArray[Any]:
    array = np.array(values, dtype=kind)
    array.flags.writeable = False
    return array


_REACTING_SET: Final = {int(index) for index in REACTING}
_INERT: Final = _frozen(
    [
        index
        for index in range(SPECIES_COUNT)
        if index not in _REACTING_SET and index not in (UNMEASURED_CATION, UNMEASURED_ANION)
    ],
    np.uint32,
)
_INERT_COMPONENT: Final = _frozen(
    [int(np.flatnonzero(SPECIES_COMPOSITION[int(i)])[0]) for i in _INERT], np.uint32
)
_MASTER_COMPONENT: Final = _frozen(
    [int(np.flatnonzero(SPECIES_COMPOSITION[i])[0]) for i in (*CENTRAL_IONS, *LIGANDS)], np.uint32
)
_MASTER_SPECIES: Final = _frozen([*CENTRAL_IONS, *LIGANDS], np.uint32)
_CENTRAL_CLASS: Final = _frozen(
    [[*(SPECIES_CLASS[i] for i in CENTRAL_IONS), CLASS_COUNT][int(k)] for k in CENTRAL_OF],
    np.uint32,
)
_LIGAND_CLASS: Final = _frozen(
    [[*(SPECIES_CLASS[i] for i in LIGANDS), CLASS_COUNT][int(k)] for k in LIGAND_OF], np.uint32
)
_MASTER_CHARGE: Final = _frozen([SPECIES_CHARGES[i] for i in (*CENTRAL_IONS, *LIGANDS)], np.float64)
_INERT_CHARGE: Final = _frozen([SPECIES_CHARGES[int(i)] for i in _INERT], np.float64)
_CHARGE: Final = _frozen(SPECIES_CHARGES, np.float64)
_SQUARED_CHARGE: Final = _frozen([SPECIES_CHARGES[int(i)] ** 2 for i in REACTING], np.float64)


def workspace() -> FloatArray:
    """
    Return an empty workspace for one solution.

    Returns
    -------
    ndarray, shape (WORKSPACE_SIZE,)
        Results at `PH`, `IONIC_STRENGTH`, `WATER_ACTIVITY`, `CHARGE_IMBALANCE` and
        `TOTAL_CARBONATE`, molalities from `MOLALITY` and activity coefficients from
        `ACTIVITY_COEFFICIENT` in the order of the species, then scratch [mol/kg].
    """
    return np.zeros(WORKSPACE_SIZE)


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
def _update_conditional(
    constants: FloatArray, ws: FloatArray, ionic_strength: float, activity_of_water: float
) -> None:
    """Set activity coefficients and conditional constants for an ionic strength."""
    ws[IONIC_STRENGTH] = ionic_strength
    ws[WATER_ACTIVITY] = activity_of_water
    for index in range(CLASS_COUNT):
        exponent = log10_extended_debye_hueckel(
            constants[ACTIVITY_SLOPE + index],
            constants[ACTIVITY_SIZE + index],
            constants[ACTIVITY_LINEAR + index],
            ionic_strength,
        )
        ws[_CLASS_COEFFICIENT + index] = math.exp(LN_10 * exponent)
    ws[_CLASS_COEFFICIENT + CLASS_COUNT] = 1.0
    for k in range(REACTING_COUNT):
        index = REACTING[k]
        value = (
            constants[index]
            * ws[_CLASS_COEFFICIENT + _CENTRAL_CLASS[k]]
            * ws[_CLASS_COEFFICIENT + _LIGAND_CLASS[k]]
            / ws[_CLASS_COEFFICIENT + SPECIES_CLASS[index]]
        )
        if WATER_POWER[k] > 0:
            value *= activity_of_water
        elif WATER_POWER[k] < 0:
            value /= activity_of_water
        ws[_CONDITIONAL + k] = value


@kernel
def _set_powers(ws: FloatArray, log_activity: float) -> None:
    """Set the powers of the hydrogen ion activity."""
    base = -LOWEST_PROTON_POWER
    activity = math.exp(log_activity)
    inverse = math.exp(-log_activity)
    ws[_POWER + base] = 1.0
    for power in range(1, HIGHEST_PROTON_POWER + 1):
        ws[_POWER + base + power] = ws[_POWER + base + power - 1] * activity
    for power in range(1, base + 1):
        ws[_POWER + base - power] = ws[_POWER + base - power + 1] * inverse


@kernel
def _carbonate_over_square(constants: FloatArray, ws: FloatArray, pressure: float) -> float:
    """Carbonate molality times squared hydrogen ion activity beside a gas."""
    carbonate = _MASTER_SPECIES[CENTRAL_COUNT + CARBONATE_LIGAND]
    coefficient = ws[_CLASS_COEFFICIENT + SPECIES_CLASS[carbonate]]
    activity = constants[CARBON_DIOXIDE_SOLUBILITY] * pressure / ATMOSPHERE_IN_BAR
    return activity * ws[WATER_ACTIVITY] / (constants[CARBON_DIOXIDE] * coefficient)


@kernel
def _uncomplexed_imbalance(
    ws: FloatArray, log_activity: float, charge: float, carbonate: float, open_to_gas: bool
) -> float:
    """Charge imbalance when central ions and ligands do not meet; falls with rising pH."""
    _set_powers(ws, log_activity)
    for place in range(CENTRAL_COUNT + 1):
        ws[_CENTRAL_PROTON + place] = 0.0
        ws[_CENTRAL_FREE + place] = 0.0
    for place in range(LIGAND_COUNT + 1):
        ws[_LIGAND_PROTON + place] = 0.0
        ws[_LIGAND_SUM + place] = 0.0
    imbalance = charge
    for k in range(REACTING_COUNT):
        central = CENTRAL_OF[k]
        ligand = LIGAND_OF[k]
        power = PROTON_POWER[k]
        if central < CENTRAL_COUNT and ligand < LIGAND_COUNT:
            continue
        part = ws[_CONDITIONAL + k] * ws[_POWER + power - LOWEST_PROTON_POWER]
        if central < CENTRAL_COUNT:
            ws[_CENTRAL_FREE + central] += part
            ws[_CENTRAL_PROTON + central] += power * part
        elif ligand < LIGAND_COUNT:
            ws[_LIGAND_SUM + ligand] += part
            ws[_LIGAND_PROTON + ligand] += power * part
        else:
            imbalance += power * part
    for place in range(CENTRAL_COUNT):
        imbalance += ws[_TOTAL + place] * ws[_CENTRAL_PROTON + place] / ws[_CENTRAL_FREE + place]
    for place in range(LIGAND_COUNT):
        if open_to_gas and place == CARBONATE_LIGAND:
            free = carbonate * math.exp(-2.0 * log_activity)
            imbalance += free * (ws[_LIGAND_PROTON + place] - 2.0 * ws[_LIGAND_SUM + place])
        else:
            total = ws[_TOTAL + CENTRAL_COUNT + place]
            imbalance += total * ws[_LIGAND_PROTON + place] / ws[_LIGAND_SUM + place]
    return imbalance


@kernel
def _evaluate(ws: FloatArray) -> float:
    """Set molalities and the sums that Newton needs; return the sum of proton numbers."""
    _set_powers(ws, ws[_UNKNOWN + _HYDROGEN])
    for place in range(LIGAND_COUNT):
        free = 0.0
        if ws[_TOTAL + CENTRAL_COUNT + place] > 0.0:
            free = math.exp(ws[_UNKNOWN + place])
        ws[_LIGAND_FREE + place] = free
    ws[_LIGAND_FREE + LIGAND_COUNT] = 1.0
    for place in range(CENTRAL_COUNT + 1):
        ws[_CENTRAL_FREE + place] = 0.0
        ws[_CENTRAL_PROTON + place] = 0.0
        ws[_CENTRAL_SQUARE + place] = 0.0
    for place in range((CENTRAL_COUNT + 1) * _SIZE):
        ws[_PAIR + place] = 0.0
    for place in range(_SIZE):
        ws[_LIGAND_SUM + place] = 0.0
        ws[_LIGAND_PROTON + place] = 0.0
        ws[_LIGAND_SQUARE + place] = 0.0
    for k in range(REACTING_COUNT):
        part = (
            ws[_CONDITIONAL + k]
            * ws[_POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            * ws[_LIGAND_FREE + LIGAND_OF[k]]
        )
        ws[_PART + k] = part
        ws[_CENTRAL_FREE + CENTRAL_OF[k]] += part
    for place in range(CENTRAL_COUNT):
        ws[_CENTRAL_FREE + place] = ws[_TOTAL + place] / ws[_CENTRAL_FREE + place]
    ws[_CENTRAL_FREE + CENTRAL_COUNT] = 1.0
    proton_sum = 0.0
    proton_square = 0.0
    charge_protons = 0.0
    solutes = 0.0
    for k in range(REACTING_COUNT):
        central = CENTRAL_OF[k]
        ligand = LIGAND_OF[k]
        power = PROTON_POWER[k]
        molality = ws[_PART + k] * ws[_CENTRAL_FREE + central]
        ws[MOLALITY + REACTING[k]] = molality
        protons = power * molality
        ws[_CENTRAL_PROTON + central] += protons
        ws[_PAIR + central * _SIZE + ligand] += molality
        ws[_LIGAND_SUM + ligand] += molality
        ws[_LIGAND_PROTON + ligand] += protons
        proton_sum += protons
        proton_square += power * protons
        squared = _SQUARED_CHARGE[k] * molality
        ws[_CENTRAL_SQUARE + central] += squared
        ws[_LIGAND_SQUARE + ligand] += squared
        charge_protons += power * squared
        solutes += molality
    ws[_MATRIX + _HYDROGEN * _SIZE + _HYDROGEN] = proton_square
    ws[_LIGAND_SQUARE + LIGAND_COUNT + 1] = charge_protons
    ws[_SOLUTE_SUM] = solutes
    return proton_sum


@kernel
def _fill_matrix(ws: FloatArray, fixed_ph: bool, open_to_gas: bool) -> None:
    """Set the symmetric Newton matrix after the central ions are eliminated."""
    for row in range(LIGAND_COUNT):
        for column in range(row):
            ws[_MATRIX + row * _SIZE + column] = 0.0
        ws[_MATRIX + row * _SIZE + row] = ws[_LIGAND_SUM + row]
        ws[_MATRIX + _HYDROGEN * _SIZE + row] = ws[_LIGAND_PROTON + row]
    corner = ws[_MATRIX + _HYDROGEN * _SIZE + _HYDROGEN]
    if open_to_gas:
        carbon = ws[_LIGAND_SUM + CARBONATE_LIGAND]
        corner += 4.0 * (carbon - ws[_LIGAND_PROTON + CARBONATE_LIGAND])
        for place in range(CENTRAL_COUNT):
            ws[_CENTRAL_PROTON + place] -= 2.0 * ws[_PAIR + place * _SIZE + CARBONATE_LIGAND]
            ws[_PAIR + place * _SIZE + CARBONATE_LIGAND] = 0.0
        ws[_MATRIX + CARBONATE_LIGAND * _SIZE + CARBONATE_LIGAND] = 0.0
        ws[_MATRIX + _HYDROGEN * _SIZE + CARBONATE_LIGAND] = 0.0
    for place in range(CENTRAL_COUNT):
        total = ws[_TOTAL + place]
        if total <= 0.0:
            continue
        protons = ws[_CENTRAL_PROTON + place] / total
        corner -= protons * ws[_CENTRAL_PROTON + place]
        for row in range(LIGAND_COUNT):
            share = ws[_PAIR + place * _SIZE + row] / total
            if share == 0.0:
                continue
            ws[_MATRIX + _HYDROGEN * _SIZE + row] -= share * ws[_CENTRAL_PROTON + place]
            for column in range(row + 1):
                ws[_MATRIX + row * _SIZE + column] -= share * ws[_PAIR + place * _SIZE + column]
    ws[_MATRIX + _HYDROGEN * _SIZE + _HYDROGEN] = corner
    if fixed_ph:
        for column in range(LIGAND_COUNT):
            ws[_MATRIX + _HYDROGEN * _SIZE + column] = 0.0
        ws[_MATRIX + _HYDROGEN * _SIZE + _HYDROGEN] = 1.0
    for row in range(_SIZE):
        if ws[_MATRIX + row * _SIZE + row] <= 0.0:
            ws[_MATRIX + row * _SIZE + row] = 1.0
            ws[_RESIDUAL + row] = 0.0


@kernel
def _solve_matrix(ws: FloatArray) -> None:
    """Replace the residual by the Newton step, by Cholesky factors without roots."""
    for row in range(_SIZE):
        pivot = ws[_MATRIX + row * _SIZE + row]
        for middle in range(row):
            factor = ws[_MATRIX + row * _SIZE + middle]
            if factor == 0.0:
                continue
            scaled = factor / ws[_MATRIX + middle * _SIZE + middle]
            pivot -= factor * scaled
            for lower in range(row + 1, _SIZE):
                ws[_MATRIX + lower * _SIZE + row] -= scaled * ws[_MATRIX + lower * _SIZE + middle]
            ws[_RESIDUAL + row] -= scaled * ws[_RESIDUAL + middle]
        smallest = 1e-14 * ws[_MATRIX + row * _SIZE + row]
        ws[_MATRIX + row * _SIZE + row] = max(pivot, smallest)
    for row in range(_SIZE - 1, -1, -1):
        value = ws[_RESIDUAL + row]
        for lower in range(row + 1, _SIZE):
            value -= ws[_MATRIX + lower * _SIZE + row] * ws[_RESIDUAL + lower]
        ws[_RESIDUAL + row] = value / ws[_MATRIX + row * _SIZE + row]


@kernel
def _ionic_strength_after_step(ws: FloatArray, fixed_square: float) -> float:
    """Ionic strength that the molalities will have after the Newton step, to first order."""
    square = fixed_square + ws[_LIGAND_SQUARE + _SIZE] * ws[_RESIDUAL + _HYDROGEN]
    for row in range(LIGAND_COUNT):
        square += ws[_LIGAND_SQUARE + row] * ws[_RESIDUAL + row]
    for place in range(CENTRAL_COUNT + 1):
        square += ws[_CENTRAL_SQUARE + place]
    for place in range(CENTRAL_COUNT):
        if ws[_TOTAL + place] <= 0.0:
            continue
        change = ws[_CENTRAL_PROTON + place] * ws[_RESIDUAL + _HYDROGEN]
        for row in range(LIGAND_COUNT):
            change += ws[_PAIR + place * _SIZE + row] * ws[_RESIDUAL + row]
        square -= ws[_CENTRAL_SQUARE + place] * change / ws[_TOTAL + place]
    return 0.5 * square


@kernel
def _guess_ph(charge: float, carbonate: float, open_to_gas: bool, ws: FloatArray) -> None:
    """Set a first pH by bisection without ion pairs."""
    low, high = -LN_10 * 14.0, 0.0
    for _ in range(7):
        middle = 0.5 * (low + high)
        if _uncomplexed_imbalance(ws, middle, charge, carbonate, open_to_gas) > 0.0:
            high = middle
        else:
            low = middle
    ws[_UNKNOWN + _HYDROGEN] = 0.5 * (low + high)


@kernel
def _guess_ligands(carbonate: float, open_to_gas: bool, ws: FloatArray) -> None:
    """Set first free ligands from the pH and the free central ions."""
    log_activity = ws[_UNKNOWN + _HYDROGEN]
    _set_powers(ws, log_activity)
    for place in range(LIGAND_COUNT):
        ws[_LIGAND_SUM + place] = 0.0
    for k in range(REACTING_COUNT):
        if LIGAND_OF[k] < LIGAND_COUNT:
            part = ws[_CONDITIONAL + k] * ws[_POWER + PROTON_POWER[k] - LOWEST_PROTON_POWER]
            if CENTRAL_OF[k] < CENTRAL_COUNT:
                part *= ws[_CENTRAL_FREE + CENTRAL_OF[k]]
            ws[_LIGAND_SUM + LIGAND_OF[k]] += part
    for place in range(LIGAND_COUNT):
        total = ws[_TOTAL + CENTRAL_COUNT + place]
        if open_to_gas and place == CARBONATE_LIGAND:
            ws[_UNKNOWN + place] = math.log(carbonate) - 2.0 * log_activity
        elif total > 0.0:
            ws[_UNKNOWN + place] = math.log(total / ws[_LIGAND_SUM + place])


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
        pH to hold, or NaN to find the pH at which charges balance [dimensionless].
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
        or not constants[TEMPERATURE] > 0.0
        or math.isnan(carbon_dioxide_pressure)
        or (fixed_ph and not abs(ph) < 20.0)
    ):
        ws[: ACTIVITY_COEFFICIENT + SPECIES_COUNT] = math.nan
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
        ws[_TOTAL + place] = amount
    open_to_gas = open_to_gas and carbon_dioxide_pressure > 0.0

    if warm:
        _update_conditional(constants, ws, ws[IONIC_STRENGTH], ws[WATER_ACTIVITY])
    else:
        _update_conditional(constants, ws, min(0.5 * square, 1.0), water_activity(total_sum))
    if fixed_ph:
        ws[_UNKNOWN + _HYDROGEN] = -LN_10 * ph
    carbonate = 0.0
    if open_to_gas:
        carbonate = _carbonate_over_square(constants, ws, carbon_dioxide_pressure)
    if not warm and not fixed_ph:
        _guess_ph(charge, carbonate, open_to_gas, ws)
    if not warm:
        for place in range(CENTRAL_COUNT):
            ws[_CENTRAL_FREE + place] = ws[_TOTAL + place]
    _guess_ligands(carbonate, open_to_gas, ws)

    converged = False
    last_drift = 0.0
    last_advance = 1.0
    iteration = 0
    imbalance = 0.0
    while iteration < _MAXIMUM_ITERATIONS:
        iteration += 1
        if open_to_gas:
            ws[_UNKNOWN + CARBONATE_LIGAND] = math.log(carbonate) - 2.0 * ws[_UNKNOWN + _HYDROGEN]
        imbalance = charge + _evaluate(ws)
        if open_to_gas:
            imbalance -= 2.0 * ws[_LIGAND_SUM + CARBONATE_LIGAND]
        for place in range(LIGAND_COUNT):
            ws[_RESIDUAL + place] = ws[_TOTAL + CENTRAL_COUNT + place] - ws[_LIGAND_SUM + place]
        ws[_RESIDUAL + _HYDROGEN] = 0.0 if fixed_ph else -imbalance
        if open_to_gas:
            ws[_RESIDUAL + CARBONATE_LIGAND] = 0.0
        _fill_matrix(ws, fixed_ph, open_to_gas)
        _solve_matrix(ws)

        largest = 0.0
        for row in range(_SIZE):
            largest = max(largest, abs(ws[_RESIDUAL + row]))
        if open_to_gas:
            ws[_RESIDUAL + CARBONATE_LIGAND] = -2.0 * ws[_RESIDUAL + _HYDROGEN]
        if largest < 1.0:
            strength = _ionic_strength_after_step(ws, fixed_square)
        else:
            strength = 0.5 * fixed_square
            for place in range(CENTRAL_COUNT + 1):
                strength += 0.5 * ws[_CENTRAL_SQUARE + place]
        strength = min(max(strength, 1e-9), 2.0)
        change = abs(strength - ws[IONIC_STRENGTH])
        if largest < _STEP_TOLERANCE and change <= _STRENGTH_TOLERANCE * strength:
            converged = True
            break
        if not largest < 1e300:
            break
        for row in range(_SIZE):
            step = ws[_RESIDUAL + row]
            ws[_UNKNOWN + row] += max(-_MAXIMUM_STEP, min(step, _MAXIMUM_STEP))
        if change > 0.1 * _STRENGTH_TOLERANCE * strength:
            # The step that the last one predicts, once Newton itself has settled.
            drift = strength - ws[IONIC_STRENGTH]
            rate = 0.0
            if largest < 0.1 and abs(last_drift) > 0.0:
                rate = max(-0.5, min(1.0 - (last_drift - drift) / last_advance, 0.5))
            last_drift = drift
            last_advance = drift / (1.0 - rate)
            following = max(ws[IONIC_STRENGTH] + last_advance, 0.5 * strength)
            last_advance = following - ws[IONIC_STRENGTH]
            _update_conditional(constants, ws, following, water_activity(fixed_sum + ws[_SOLUTE_SUM]))
            if open_to_gas:
                carbonate = _carbonate_over_square(constants, ws, carbon_dioxide_pressure)

    ws[ITERATIONS] = iteration
    if not converged:
        ws[: ACTIVITY_COEFFICIENT + SPECIES_COUNT] = math.nan
        return NOT_CONVERGED
    for index in range(SPECIES_COUNT):
        ws[ACTIVITY_COEFFICIENT + index] = ws[_CLASS_COEFFICIENT + SPECIES_CLASS[index]]
    ws[PH] = -ws[_UNKNOWN + _HYDROGEN] / LN_10
    ws[CHARGE_IMBALANCE] = imbalance
    ws[TOTAL_CARBONATE] = (
        ws[_LIGAND_SUM + CARBONATE_LIGAND] if open_to_gas else composition[CARBONATE]
    )
    if (
        ws[IONIC_STRENGTH] > HIGHEST_IONIC_STRENGTH
        or not LOWEST_PH <= ws[PH] <= HIGHEST_PH
        or not LOWEST_TEMPERATURE <= constants[TEMPERATURE] <= HIGHEST_TEMPERATURE
    ):
        return OUT_OF_RANGE
    return OK


assert HYDROGEN_ION in _REACTING_SET
