"""
Species of a concentrate: which acids are dissociated, at what pH, with Pitzer's activities.

The model of nutrient solutions (`service.chemistry.equilibrium`) ends at an ionic strength of 0.5
mol/kg; this one goes on to saturation. Sulfate stays whole and phosphate goes no further than
HPO4-2, what would be PO4-3 counts as inert ions: both call a solid before it forms, not after.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry import concentrate_ions as ions
from service.chemistry import species
from service.chemistry.kernel import kernel
from service.chemistry.pitzer import pitzer_activities
from service.reference import components

FloatArray = npt.NDArray[np.float64]

MOLALITY: Final = 0
LN_GAMMA: Final = ions.SPECIES_COUNT
PH: Final = 2 * ions.SPECIES_COUNT
LN_WATER_ACTIVITY: Final = PH + 1
STATE_SIZE: Final = PH + 2

OK: Final = 0
NOT_CONVERGED: Final = 1
REJECTED: Final = 2

LOWEST_PH: Final = -3.0
HIGHEST_PH: Final = 20.0

_OUTER_ITERATIONS: Final = 60
_INNER_ITERATIONS: Final = 60
_PH_TOLERANCE: Final = 1e-7


@kernel
def _gamma(state: FloatArray, ion: int) -> float:
    """
    Return an activity coefficient.

    Parameters
    ----------
    state : ndarray, shape (STATE_SIZE,)
        A state with activities [dimensionless].
    ion : int
        Position in `concentrate_ions.SPECIES` [dimensionless].

    Returns
    -------
    float
        Activity coefficient, held between 1e-30 and 1e30 [dimensionless].
    """
    return math.exp(min(max(state[LN_GAMMA + ion], -69.0), 69.0))


@kernel
def _dissociate(
    composition: FloatArray, constants: FloatArray, ph: float, state: FloatArray
) -> float:
    r"""
    Divide the weak acids at a pH and return the charge of the solution.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    ph : float
        The pH [dimensionless].
    state : ndarray, shape (STATE_SIZE,)
        Activities, read; molalities of the weak acids, written [mol/kg].

    Returns
    -------
    float
        Charge of all ions; falls as the pH rises [mol/kg].

    Notes
    -----
    .. math:: m_j = K_j\, a_H^{n_j} / \gamma_j

    for each form of an acid, scaled to its total. Uncharged forms have a coefficient of 1. Carbon
    dioxide stays in the solution.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 3.
       Source key: ``stumm-morgan-1996``.
    """
    hydrogen = math.exp(-ph * math.log(10.0))
    water = math.exp(state[LN_WATER_ACTIVITY])
    univalent = _gamma(state, ions.INERT_ANION)
    divalent = _gamma(state, ions.INERT_DIVALENT_ANION)
    trivalent = univalent * divalent
    state[MOLALITY + ions.HYDROGEN] = hydrogen / _gamma(state, ions.HYDROGEN)
    state[MOLALITY + ions.HYDROXIDE] = (
        constants[species.HYDROXIDE_ION] * water / hydrogen / _gamma(state, ions.HYDROXIDE)
    )
    inert, inert_divalent = 0.0, 0.0

    total = composition[components.PHOSPHATE]
    last = 1.0 / trivalent
    second = constants[species.HYDROGEN_PHOSPHATE_ION] * hydrogen
    second /= _gamma(state, ions.HYDROGEN_PHOSPHATE)
    first = constants[species.DIHYDROGEN_PHOSPHATE_ION] * hydrogen * hydrogen
    first /= _gamma(state, ions.DIHYDROGEN_PHOSPHATE)
    acid = constants[species.PHOSPHORIC_ACID] * hydrogen * hydrogen * hydrogen
    share = total / (last + second + first + acid)
    state[MOLALITY + ions.HYDROGEN_PHOSPHATE] = share * second
    state[MOLALITY + ions.DIHYDROGEN_PHOSPHATE] = share * first
    state[MOLALITY + ions.PHOSPHORIC_ACID] = share * acid
    inert += share * last
    inert_divalent += share * last

    total = composition[components.CARBONATE]
    second = 1.0 / _gamma(state, ions.CARBONATE)
    first = constants[species.BICARBONATE_ION] * hydrogen / _gamma(state, ions.BICARBONATE)
    acid = constants[species.CARBON_DIOXIDE] * hydrogen * hydrogen / water
    share = total / (second + first + acid)
    state[MOLALITY + ions.CARBONATE] = share * second
    state[MOLALITY + ions.BICARBONATE] = share * first
    state[MOLALITY + ions.CARBON_DIOXIDE] = share * acid

    total = composition[components.CITRATE]
    last = 1.0 / trivalent
    second = constants[species.HYDROGEN_CITRATE_ION] * hydrogen / divalent
    first = constants[species.DIHYDROGEN_CITRATE_ION] * hydrogen * hydrogen / univalent
    acid = constants[species.CITRIC_ACID] * hydrogen * hydrogen * hydrogen
    share = total / (last + second + first + acid)
    state[MOLALITY + ions.CITRIC_ACID] = share * acid
    inert += share * (last + first)
    inert_divalent += share * (last + second)

    total = composition[components.BORATE]
    first = constants[species.BORATE_ION] * water / hydrogen / _gamma(state, ions.BORATE)
    share = total / (first + 1.0)
    state[MOLALITY + ions.BORATE] = share * first
    state[MOLALITY + ions.BORIC_ACID] = share

    total = composition[components.SILICATE]
    first = constants[species.TRIHYDROGEN_SILICATE_ION] / hydrogen / univalent
    share = total / (first + 1.0)
    state[MOLALITY + ions.SILICIC_ACID] = share
    inert += share * first

    total = composition[components.AMMONIUM]
    first = 1.0 / _gamma(state, ions.AMMONIUM)
    base = constants[species.AMMONIA] / hydrogen
    share = total / (first + base)
    state[MOLALITY + ions.AMMONIUM] = share * first
    state[MOLALITY + ions.AMMONIA] = share * base

    inert += composition[components.IRON_CHELATE] + composition[components.FLUORIDE]
    inert += max(-composition[components.UNMEASURED], 0.0)
    state[MOLALITY + ions.INERT_ANION] = inert
    state[MOLALITY + ions.INERT_DIVALENT_ANION] = inert_divalent
    charge = 0.0
    for ion in range(ions.ION_COUNT):
        charge += ions.CHARGES[ion] * state[MOLALITY + ion]
    return charge


@kernel
def dissolve(
    composition: FloatArray,
    constants: FloatArray,
    slope: float,
    salts: FloatArray,
    pairs: FloatArray,
    triplets: FloatArray,
    state: FloatArray,
) -> int:
    r"""
    Compute the species and activities of a concentrate.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components, none below zero but the unmeasured charge [mol/kg].
    constants : ndarray, shape (CONSTANT_COUNT,)
        Constants at the temperature, from `fill_constants` [dimensionless].
    slope : float
        Debye-Hueckel slope of the osmotic coefficient at the temperature [kg^0.5/mol^0.5].
    salts : ndarray
        Coefficients of single salts [kg/mol and powers of it].
    pairs : ndarray
        Coefficients of two ions of like sign [kg/mol].
    triplets : ndarray
        Coefficients of three ions [kg^2/mol^2].
    state : ndarray, shape (STATE_SIZE,)
        Receives molalities, logarithms of activity coefficients, pH and the logarithm of the
        activity of water [mol/kg].

    Returns
    -------
    int
        `OK`, `NOT_CONVERGED`, or `REJECTED` for amounts that are no amounts [dimensionless].

    Notes
    -----
    Charge balance by bisection in the pH, inside a damped repetition of the activities.

    References
    ----------
    .. [1] C. E. Harvie, N. Moller and J. H. Weare, Geochim. Cosmochim. Acta 48, 723-751, 1984.
       Source key: ``harvie-moller-weare-1984``.
    """
    state[:] = 0.0
    for component in range(components.COMPONENT_COUNT):
        amount = composition[component]
        if not math.isfinite(amount) or (amount < 0.0 and component != components.UNMEASURED):
            state[PH] = math.nan
            return REJECTED
    if not math.isfinite(slope):
        state[PH] = math.nan
        return REJECTED
    state[MOLALITY + ions.SODIUM] = composition[components.SODIUM]
    state[MOLALITY + ions.POTASSIUM] = composition[components.POTASSIUM]
    state[MOLALITY + ions.MAGNESIUM] = composition[components.MAGNESIUM]
    state[MOLALITY + ions.CALCIUM] = composition[components.CALCIUM]
    state[MOLALITY + ions.MANGANESE] = composition[components.MANGANESE]
    state[MOLALITY + ions.IRON] = composition[components.IRON]
    state[MOLALITY + ions.ZINC] = composition[components.ZINC]
    state[MOLALITY + ions.COPPER] = composition[components.COPPER]
    state[MOLALITY + ions.INERT_CATION] = max(composition[components.UNMEASURED], 0.0)
    state[MOLALITY + ions.CHLORIDE] = composition[components.CHLORIDE]
    state[MOLALITY + ions.NITRATE] = composition[components.NITRATE]
    state[MOLALITY + ions.SULFATE] = composition[components.SULFATE]
    state[MOLALITY + ions.MOLYBDATE] = composition[components.MOLYBDATE]
    state[MOLALITY + ions.UREA] = composition[components.UREA]
    before = 7.0
    damping = 1.0
    for iteration in range(_OUTER_ITERATIONS):
        low, high = LOWEST_PH, HIGHEST_PH
        for _ in range(_INNER_ITERATIONS):
            ph = 0.5 * (low + high)
            if _dissociate(composition, constants, ph, state) > 0.0:
                low = ph
            else:
                high = ph
            if high - low < 1e-12:
                break
        state[PH] = 0.5 * (low + high)
        _dissociate(composition, constants, state[PH], state)
        if iteration > 0 and abs(state[PH] - before) < _PH_TOLERANCE:
            return OK
        if iteration > 8:
            damping = 0.5
        before = state[PH]
        old_water = state[LN_WATER_ACTIVITY]
        old = state[LN_GAMMA:PH].copy()
        water = pitzer_activities(
            state[MOLALITY:LN_GAMMA], slope, salts, pairs, triplets, state[LN_GAMMA:PH]
        )
        if not math.isfinite(water):
            return NOT_CONVERGED
        if damping < 1.0:
            for place in range(LN_GAMMA, PH):
                state[place] = old[place - LN_GAMMA] + damping * (
                    state[place] - old[place - LN_GAMMA]
                )
            water = old_water + damping * (water - old_water)
        state[LN_WATER_ACTIVITY] = water
    return NOT_CONVERGED
