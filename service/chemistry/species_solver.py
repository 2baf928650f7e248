"""
The Newton iteration that finds the species of a solution.

Unknowns are the logarithms of the free ligands and of the hydrogen ion, the ionic strength and,
where a reagent is to hold a pH, its amount.
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
from service.chemistry.conditional_constants import (
    fill_class_coefficients,
    mark_present,
    update_conditional,
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
from service.chemistry.first_guess import guess_ligands, guess_ph
from service.chemistry.kernel import kernel
from service.chemistry.mass_action import (
    LN_10,
    carbonate_over_square,
    evaluate,
    fill_molalities,
)
from service.chemistry.newton_step import (
    factor_matrix,
    fill_amount_column,
    fill_matrix,
    strength_and_amount_step,
    strength_step,
    substitute,
)
from service.chemistry.species import (
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    UNMEASURED_ANION,
    UNMEASURED_CATION,
)
from service.chemistry.species_groups import LIGAND_CLASS
from service.chemistry.statuses import (
    HIGHEST_PH,
    INVALID_INPUT,
    LOWEST_PH,
    NOT_CONVERGED,
    OK,
    OUT_OF_RANGE,
)
from service.chemistry.validity import composition_is_valid
from service.chemistry.workspace import (
    ACTIVITY_COEFFICIENT,
    AMOUNT,
    AMOUNT_COLUMN,
    AMOUNT_SLOPE,
    BEFORE_REAGENT,
    CENTRAL_FREE,
    CENTRAL_PROTON,
    CENTRAL_SQUARE,
    CHARGE_IMBALANCE,
    CLASS_COEFFICIENT,
    CLASS_DRIFT,
    FORMAL_SQUARE,
    FORMAL_SUM,
    HYDROGEN_UNKNOWN,
    IONIC_STRENGTH,
    ITERATIONS,
    LIGAND_SUM,
    MOLALITY,
    PAIR,
    PH,
    REAGENT,
    RESIDUAL,
    RESULT_SIZE,
    SOLUTE_SUM,
    STRENGTH_COLUMN,
    TOTAL,
    TOTAL_CARBONATE,
    UNKNOWN,
    UNKNOWN_COUNT,
    WATER_ACTIVITY,
)
from service.reference.components import UNMEASURED

FloatArray = npt.NDArray[np.float64]

_MAXIMUM_STEP: Final = 3.0
_MAXIMUM_ITERATIONS: Final = 100
LAST_STEP: Final = 2e-6
"""Step after which the next would be beyond the digits of any number: Newton's steps square."""

LAST_STEP_OF_A_READING: Final = 1e-4
"""The same for what a meter shows: the next step would move a pH by less than 1e-7."""

_ACTIVITY_TOLERANCE: Final = 1e-8
_STRONGEST: Final = 2.0
"""Ionic strength at which the activity model has long lost all meaning [mol/kg]."""

_LARGEST_CHANGE: Final = 3.0
"""Factor by which the ionic strength changes at most in one step."""

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
_CARBONATE_CLASS: Final = int(LIGAND_CLASS[CARBONATE_LIGAND])
_INERT_CHARGE: Final = constant_array([SPECIES_CHARGES[int(i)] for i in _INERT], np.float64)
_MASTER_COMPONENT: Final = constant_array(
    [int(np.flatnonzero(SPECIES_COMPOSITION[i])[0]) for i in (*CENTRAL_IONS, *LIGANDS)], np.uint32
)
_MASTER_CHARGE: Final = constant_array(
    [SPECIES_CHARGES[i] for i in (*CENTRAL_IONS, *LIGANDS)], np.float64
)


@kernel
def _load(
    composition: FloatArray, open_to_gas: bool, place_of_totals: int, ws: FloatArray
) -> tuple[float, float, float, float, float]:
    """
    Set the totals of the masters, and return the sums of what never reacts.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    open_to_gas : bool
        True where carbonate follows from a gas.
    place_of_totals : int
        Where in the workspace the totals stand.
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    Returns
    -------
    charge : float
        Charge of all components as master species [mol/kg].
    fixed_square : float
        Squared charge times molality of the ions that never react [mol/kg].
    fixed_sum : float
        Molality of what never reacts [mol/kg].
    square : float
        The same as the first sum, with the masters [mol/kg].
    total_sum : float
        The same as the second sum, with the masters [mol/kg].
    """
    charge = composition[UNMEASURED]
    fixed_square = abs(charge)
    fixed_sum = abs(charge)
    for k in range(_INERT.shape[0]):
        amount = composition[_INERT_COMPONENT[k]]
        charge += _INERT_CHARGE[k] * amount
        fixed_square += _INERT_CHARGE[k] * _INERT_CHARGE[k] * amount
        fixed_sum += amount
    square = fixed_square
    total_sum = fixed_sum
    for place in range(CENTRAL_COUNT + LIGAND_COUNT):
        amount = composition[_MASTER_COMPONENT[place]]
        if place == CENTRAL_COUNT + CARBONATE_LIGAND and open_to_gas:
            amount = 0.0
        charge += _MASTER_CHARGE[place] * amount
        size = min(abs(_MASTER_CHARGE[place]), 2.0)
        square += size * size * amount
        total_sum += amount
        ws[place_of_totals + place] = amount
    return charge, fixed_square, fixed_sum, square, total_sum


@kernel
def solve_species(
    composition: FloatArray,
    reagent: FloatArray,
    first_amount: float,
    constants: FloatArray,
    carbon_dioxide_pressure: float,
    ph: float,
    warm: bool,
    last_step: float,
    ws: FloatArray,
) -> int:
    """
    Compute the species of a composition, with a reagent where its first amount is above 0.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].
    reagent : ndarray, shape (COMPONENT_COUNT,)
        Components in one mole of reagent [mol/mol].
    first_amount : float
        First amount of reagent; 0 without one [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature [dimensionless].
    carbon_dioxide_pressure : float
        Partial pressure of carbon dioxide, or `CLOSED` [bar].
    ph : float
        Value of pH to hold, or NaN [dimensionless].
    warm : bool
        True to start from the state that the workspace holds.
    last_step : float
        Step, of logarithms and in relation to the ionic strength, that no other has to follow
        [dimensionless].
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    Returns
    -------
    int
        Status, as of `speciate`.
    """
    fixed_ph = not math.isnan(ph)
    beside_gas = carbon_dioxide_pressure >= 0.0
    if (
        not composition_is_valid(composition)
        or not constants[ACTIVITY_SLOPE] <= 0.0
        or math.isnan(carbon_dioxide_pressure)
        or (fixed_ph and not abs(ph) < 20.0)
    ):
        ws[:RESULT_SIZE] = math.nan
        return INVALID_INPUT
    with_reagent = first_amount > 0.0
    amount = first_amount
    added_charge, added_square, added_sum = 0.0, 0.0, 0.0
    all_square, all_sum = 0.0, 0.0
    old_square, old_sum = ws[FORMAL_SQUARE], ws[FORMAL_SUM]
    for place in range(CENTRAL_COUNT):
        # A similar solution has about the same share of each central ion free.
        before = ws[TOTAL + place]
        ws[BEFORE_REAGENT + place] = ws[CENTRAL_FREE + place] / before if before > 0.0 else 1.0
    free_share = BEFORE_REAGENT
    charge, fixed_square, fixed_sum, square, total_sum = _load(composition, beside_gas, TOTAL, ws)
    if with_reagent:
        added_charge, added_square, added_sum, all_square, all_sum = _load(
            reagent, beside_gas, REAGENT, ws
        )
        square += amount * all_square
        total_sum += amount * all_sum
    open_to_gas = carbon_dioxide_pressure > 0.0
    if open_to_gas:
        # Beside a gas the carbonate is no unknown; its total only has to be positive.
        ws[TOTAL + CENTRAL_COUNT + CARBONATE_LIGAND] = 1.0
    for place in range(CENTRAL_COUNT):
        share = ws[free_share + place] if warm else 1.0
        ws[BEFORE_REAGENT + place] = ws[TOTAL + place]
        if with_reagent:
            ws[TOTAL + place] += amount * ws[REAGENT + place]
        ws[CENTRAL_FREE + place] = share * ws[TOTAL + place]
    for place in range(CENTRAL_COUNT, CENTRAL_COUNT + LIGAND_COUNT):
        ws[BEFORE_REAGENT + place] = ws[TOTAL + place]
        if with_reagent:
            ws[TOTAL + place] += amount * ws[REAGENT + place]
    ws[FORMAL_SQUARE], ws[FORMAL_SUM] = square, total_sum
    mark_present(ws)

    if warm:
        strength = ws[IONIC_STRENGTH]
        if old_square > 0.0:
            strength *= square / old_square
        activity = ws[WATER_ACTIVITY] + water_activity(total_sum) - water_activity(old_sum)
        update_conditional(constants, ws, min(max(strength, 1e-9), 1.0), activity)
    else:
        update_conditional(constants, ws, min(0.5 * square, 1.0), water_activity(total_sum))
    if fixed_ph:
        ws[UNKNOWN + HYDROGEN_UNKNOWN] = -LN_10 * ph
    carbonate, carbonate_drift = 0.0, 0.0
    if open_to_gas:
        carbonate = carbonate_over_square(constants, ws, carbon_dioxide_pressure)
    if not warm and not fixed_ph:
        guess_ph(charge, carbonate, open_to_gas, ws)
    guess_ligands(carbonate, open_to_gas, ws)

    converged = False
    change = 0.0
    iteration = 0
    while iteration < _MAXIMUM_ITERATIONS:
        iteration += 1
        if open_to_gas:
            ws[UNKNOWN + CARBONATE_LIGAND] = (
                math.log(carbonate) - 2.0 * ws[UNKNOWN + HYDROGEN_UNKNOWN]
            )
            carbonate_drift = -ws[CLASS_DRIFT + _CARBONATE_CLASS]
        protons, charge_drift, square_drift = evaluate(ws, carbonate_drift)
        imbalance = charge + amount * added_charge + protons
        if open_to_gas:
            imbalance -= 2.0 * ws[LIGAND_SUM + CARBONATE_LIGAND]
            charge_drift -= 2.0 * ws[STRENGTH_COLUMN + CARBONATE_LIGAND]
        for place in range(LIGAND_COUNT):
            ws[RESIDUAL + place] = ws[TOTAL + CENTRAL_COUNT + place] - ws[LIGAND_SUM + place]
        ws[RESIDUAL + HYDROGEN_UNKNOWN] = 0.0 if fixed_ph else -imbalance
        ws[STRENGTH_COLUMN + HYDROGEN_UNKNOWN] = 0.0 if fixed_ph else charge_drift
        if open_to_gas:
            ws[RESIDUAL + CARBONATE_LIGAND] = 0.0
            ws[STRENGTH_COLUMN + CARBONATE_LIGAND] = 0.0
        fill_matrix(ws, fixed_ph, open_to_gas)
        factor_matrix(ws)
        substitute(ws, RESIDUAL)
        substitute(ws, STRENGTH_COLUMN)
        held = ws[IONIC_STRENGTH]
        surplus = fixed_square + amount * added_square
        for place in range(CENTRAL_COUNT + 1):
            surplus += ws[CENTRAL_SQUARE + place]
        surplus = 0.5 * surplus - held

        amount_step = 0.0
        if with_reagent:
            by_charge, by_square = fill_amount_column(ws)
            if open_to_gas:
                ws[AMOUNT_COLUMN + CARBONATE_LIGAND] = 0.0
            substitute(ws, AMOUNT_COLUMN)
            change, amount_step, slope = strength_and_amount_step(
                ws,
                surplus,
                square_drift,
                added_square + by_square,
                imbalance,
                charge_drift,
                added_charge + by_charge,
            )
            ws[AMOUNT_SLOPE] = slope
            if not abs(amount_step) < 1e300:
                break
        else:
            change = strength_step(ws, surplus, square_drift)
        largest = 0.0
        for row in range(UNKNOWN_COUNT):
            largest = max(largest, abs(ws[RESIDUAL + row]))
        if not largest < 1e300:
            break
        if largest >= 1.0:
            # Far away the straight line says little about the ionic strength.
            change = surplus
        change = min(max(held + change, held / _LARGEST_CHANGE), held * _LARGEST_CHANGE) - held
        change = min(max(held + change, 1e-9), _STRONGEST) - held
        if with_reagent:
            amount_step = min(max(amount_step, -0.9 * amount), 9.0 * amount + 1e-4)
        largest = 0.0
        particles = fixed_sum + ws[SOLUTE_SUM]
        for row in range(UNKNOWN_COUNT):
            step = ws[RESIDUAL + row]
            if abs(step) < 1.0:
                step -= ws[STRENGTH_COLUMN + row] * change
                if with_reagent:
                    step -= ws[AMOUNT_COLUMN + row] * amount_step
            largest = max(largest, abs(step))
            step = max(-_MAXIMUM_STEP, min(step, _MAXIMUM_STEP))
            ws[UNKNOWN + row] += step
            # What a central ion binds or frees leaves the number of its particles as it is.
            free = CENTRAL_PROTON + CENTRAL_COUNT
            if row < LIGAND_COUNT:
                free = PAIR + CENTRAL_COUNT * UNKNOWN_COUNT + row
            particles += ws[free] * max(-0.5, min(step, 0.5))
        if with_reagent:
            largest = max(largest, abs(amount_step) / amount)
            amount += amount_step
            if not 1e-12 < amount < _STRONGEST:
                break
            for place in range(CENTRAL_COUNT + LIGAND_COUNT):
                ws[TOTAL + place] = ws[BEFORE_REAGENT + place] + amount * ws[REAGENT + place]
        activity = water_activity(particles + amount * added_sum)
        # Uncharged solutes, as urea, move the activity of water and leave the strength alone.
        diluted = abs(activity - ws[WATER_ACTIVITY]) > _ACTIVITY_TOLERANCE
        if largest < last_step and abs(change) <= last_step * held and not diluted:
            converged = True
            carbonate *= 1.0 + change * carbonate_drift
            break
        update_conditional(constants, ws, held + change, activity)
        if open_to_gas:
            carbonate = carbonate_over_square(constants, ws, carbon_dioxide_pressure)

    ws[ITERATIONS] = iteration
    if not converged or ws[IONIC_STRENGTH] >= _STRONGEST:
        ws[:RESULT_SIZE] = math.nan
        return NOT_CONVERGED
    if open_to_gas:
        ws[UNKNOWN + CARBONATE_LIGAND] = math.log(carbonate) - 2.0 * ws[UNKNOWN + HYDROGEN_UNKNOWN]
    imbalance = charge + amount * added_charge + fill_molalities(ws, change)
    if open_to_gas:
        imbalance -= 2.0 * ws[LIGAND_SUM + CARBONATE_LIGAND]
    unmeasured = composition[UNMEASURED]
    if with_reagent:
        unmeasured += amount * reagent[UNMEASURED]
    ws[MOLALITY + UNMEASURED_CATION] = max(unmeasured, 0.0)
    ws[MOLALITY + UNMEASURED_ANION] = max(-unmeasured, 0.0)
    for k in range(_INERT.shape[0]):
        held_amount = composition[_INERT_COMPONENT[k]]
        if with_reagent:
            held_amount += amount * reagent[_INERT_COMPONENT[k]]
        ws[MOLALITY + _INERT[k]] = held_amount
    fill_class_coefficients(constants, ws, 0.0)
    for index in range(SPECIES_COUNT):
        ws[ACTIVITY_COEFFICIENT + index] = ws[CLASS_COEFFICIENT + SPECIES_CLASS[index]]
    ws[PH] = -ws[UNKNOWN + HYDROGEN_UNKNOWN] / LN_10
    ws[CHARGE_IMBALANCE] = imbalance
    ws[AMOUNT] = amount
    ws[FORMAL_SQUARE] += (amount - first_amount) * all_square
    ws[FORMAL_SUM] += (amount - first_amount) * all_sum
    ws[TOTAL_CARBONATE] = (
        ws[LIGAND_SUM + CARBONATE_LIGAND]
        if open_to_gas
        else ws[TOTAL + CENTRAL_COUNT + CARBONATE_LIGAND]
    )
    if (
        ws[IONIC_STRENGTH] > HIGHEST_IONIC_STRENGTH
        or not LOWEST_PH <= ws[PH] <= HIGHEST_PH
        or not LOWEST_TEMPERATURE <= constants[TEMPERATURE] <= HIGHEST_TEMPERATURE
    ):
        return OUT_OF_RANGE
    return OK
