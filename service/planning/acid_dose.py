"""
The acid, or base, of one can: how much brings the mix to its target pH, and when it is refused.

The dose is computed with the feed in, because phosphate and ammonium change the answer, and
against alkalinity, never against pH alone.
"""

from typing import Final

import numpy as np

from service.chemistry.acidification import reagent_beside_species, reagent_for_ph
from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.density import reagent_density
from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.kernel import kernel
from service.chemistry.ph import speciate_closed
from service.chemistry.solution import (
    constants_of,
    density_of,
    molal_composition,
    set_temperature,
    speciation_of,
)
from service.chemistry.workspace import AMOUNT_SLOPE, PH
from service.planning import profiles, rows
from service.planning.cautions import assumption_bit, caution_bit, problem_number
from service.planning.instruments import TRUSTED_STEPS, pre_solution_strength, rounded_amount
from service.planning.strength import element_mass
from service.planning.water import FREEZING_POINT, TEMPERATURE, stated_alkalinity
from service.reference.acids import acids
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES

LOWEST_TARGET: Final = 5.0
LARGEST_NEUTRALISED_SHARE: Final = 0.9
"""Safety of meaning: below this pH, or beyond this share of the alkalinity, acid is refused."""

LARGEST_BASE: Final = 2.5
"""
Most alkalinity that a base may bring [meq/L], 125 mg/L CaCO3: above what any water for epiphytes
holds, far above what acid rain needs; our choice.
"""

LARGEST_ACID_PHOSPHORUS: Final = 30.0
"""Most phosphorus that an acid may bring [mg/L]; common practice."""

ACID_TEMPERATURE: Final = 293.15
"""Temperature at which acids are measured out [K]."""

PRE_DILUTIONS: Final = np.array([1.0, 10.0, 100.0, 1000.0])
"""Dilutions of the bottle that are tried until the syringe can measure the dose."""

DEFAULT_ACID: Final = (rows.ACID_KINDS + rows.BASE_KINDS).index("citric")
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")
PHOSPHORUS: Final = ELEMENT_NAMES.index("phosphorus")

_REAGENTS: Final = [acids()[kind] for kind in rows.ACID_KINDS + rows.BASE_KINDS]
_COMPOSITION: Final = np.array([reagent.composition_mol_per_mol for reagent in _REAGENTS])
_MOLAR_MASS: Final = np.array([reagent.molar_mass_g_per_mol for reagent in _REAGENTS])
_USUAL_PERCENT: Final = np.array([reagent.default_strength_percent for reagent in _REAGENTS])
# Numbers of service.chemistry.density.REAGENT_NAMES in the order of our kinds.
_DENSITY_NUMBER: Final = np.array([0, 2, 1, 3, 4, 5, 6])
_IS_BASE: Final = np.array([reagent.role == "base" for reagent in _REAGENTS])

HANDLING: Final = caution_bit("acid_handling")
BASE_HANDLING: Final = caution_bit("base_handling")
NOTHING_TO_MEASURE: Final = caution_bit("nothing_to_measure")
PRE_DILUTION: Final = caution_bit("acid_pre_dilution")
PRE_STOCK: Final = caution_bit("pre_stock")
ACID_ASSUMED: Final = assumption_bit("acid_assumed")
ACID_STRENGTH_ASSUMED: Final = assumption_bit("acid_strength_assumed")
TARGET_FROM_WINDOW: Final = assumption_bit("target_ph_from_window")
TOO_LOW: Final = problem_number("acid_target_too_low")
ALKALINITY_MISSING: Final = problem_number("acid_alkalinity_unknown")
BASE_TOO_MUCH: Final = problem_number("base_brings_too_much")
TOO_MUCH: Final = problem_number("acid_neutralises_too_much")
CANNOT_REACH: Final = problem_number("acid_cannot_reach")
NOT_SOLVABLE: Final = problem_number("solution_not_solvable")
WATER_ASSUMED: Final = assumption_bit("water_assumed")


@kernel
def acid_is_wanted(row: np.void) -> bool:
    """
    Return whether a row asks for a pH.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request.

    Returns
    -------
    bool
        True when a target or an acid is given.
    """
    return bool(not np.isnan(row["target_ph"]) or row["acid_kind"] != rows.ABSENT)


@kernel
def acid_phosphorus(row: np.void, result: np.void) -> float:
    """
    Return the phosphorus that the acid of a can brings.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    result : record of `rows.DOSE_RESULT`
        A row whose acid is known.

    Returns
    -------
    float
        Phosphorus [mg/L].
    """
    return phosphorus_of_acid(row["acid_kind"], result["acid_mmol_per_l"])


@kernel
def phosphorus_of_acid(kind: int, amount: float) -> float:
    """
    Return the phosphorus that an amount of acid brings.

    Parameters
    ----------
    kind : int
        Position in `rows.ACID_KINDS` and `rows.BASE_KINDS`.
    amount : float
        Acid of the can [mmol/L].

    Returns
    -------
    float
        Phosphorus; 0 without acid [mg/L].
    """
    if not amount > 0.0:
        return 0.0
    return float(amount * element_mass(_COMPOSITION[kind], PHOSPHORUS))


@kernel
def base_is_used(row: np.void, result: np.void) -> bool:
    """
    Return whether a base, and some of it, goes into a can.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, its acid chosen.
    result : record of `rows.DOSE_RESULT`
        Holds the amount.

    Returns
    -------
    bool
        False for an acid, and where nothing is needed.
    """
    return bool(result["acid_mmol_per_l"] > 0.0 and _IS_BASE[row["acid_kind"]])


@kernel
def acid_row(
    row: np.void,
    profile: np.ndarray,
    result: np.void,
    total: np.ndarray,
    scratch: np.ndarray,
    work: np.ndarray,
    measured: bool,
) -> int:
    """
    Fill in the acid of one can and add it to the composition.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Holds the water; receives the acid.
    total : ndarray, shape (n_components,)
        Composition of the can without acid; the acid is added to it [mmol/L].
    scratch : ndarray, shape (2, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.
    measured : bool
        Whether what is weighed is rounded down to the balance, as it is for the finished can.

    Returns
    -------
    int
        A problem number; 0 when the target is met, as far as it can be measured, or needs no acid.
    """
    before = result["acid_mmol_per_l"]
    result["acid_mmol_per_l"] = 0.0
    result["acid_mass_g"] = 0.0
    result["acid_volume_ml"] = 0.0
    result["acid_dilution_factor"] = 1.0
    result["acid_nitrogen_mg_per_l"] = 0.0
    if not acid_is_wanted(row):
        return 0
    target = row["target_ph"]
    if np.isnan(target):
        target = profile[profiles.PH_HIGH]
        row["target_ph"] = target
        result["assumptions"] = result["assumptions"] | TARGET_FROM_WINDOW
    if target < LOWEST_TARGET:
        return TOO_LOW
    alkalinity = stated_alkalinity(row["water"])
    if np.isnan(alkalinity) or (result["assumptions"] & WATER_ASSUMED) != 0:
        # The alkalinity of a water that nobody named is not known either.
        return ALKALINITY_MISSING
    kind = row["acid_kind"]
    if kind == rows.ABSENT:
        kind = DEFAULT_ACID
        row["acid_kind"] = kind
        result["assumptions"] = result["assumptions"] | ACID_ASSUMED
    percent = row["acid_percent"]
    if not 0.0 < percent <= 100.0:
        percent = _USUAL_PERCENT[kind]
        row["acid_percent"] = percent
        result["assumptions"] = result["assumptions"] | ACID_STRENGTH_ASSUMED
    set_temperature(row["water"][TEMPERATURE] + FREEZING_POINT, work)
    density = density_of(work)
    molal = scratch[0]
    molal_composition(total, density, molal)
    reagent = _COMPOSITION[kind]
    state = speciation_of(work)
    # The workspace holds a similar can; an amount of the last round is about that of this one.
    status, amount = reagent_beside_species(
        molal,
        reagent,
        target,
        0.001 * before / density,
        constants_of(work),
        CLOSED,
        True,
        state,
        scratch[1],
    )
    wanted = status < NOT_CONVERGED and (
        state[AMOUNT_SLOPE] > 0.0 if _IS_BASE[kind] else state[AMOUNT_SLOPE] < 0.0
    )
    if not wanted:
        # None is needed, or a plain search has to tell why none is found.
        if speciate_closed(molal, constants_of(work), state) >= NOT_CONVERGED:
            return NOT_SOLVABLE
        ph = state[PH]
        if (ph >= target) if _IS_BASE[kind] else (ph <= target):
            return 0
        status, amount = reagent_for_ph(
            molal, reagent, target, constants_of(work), CLOSED, state, scratch[1]
        )
        if status >= NOT_CONVERGED:
            # The can itself was solved, so it is the reagent that does not lead there.
            return CANNOT_REACH
    concentration = 1000.0 * amount * density
    if _IS_BASE[kind]:
        if alkalinity_of_composition(reagent) * concentration > LARGEST_BASE:
            return BASE_TOO_MUCH
    else:
        # What a product brings or takes counts too: silicate adds alkalinity, an acid salt took it.
        held = alkalinity_of_composition(total)
        left = held + alkalinity_of_composition(reagent) * concentration
        if left < (1.0 - LARGEST_NEUTRALISED_SHARE) * max(held, alkalinity):
            return TOO_MUCH
    if measured:
        concentration = _as_weighed(row, result, kind, percent, concentration)
    for component in range(COMPONENT_COUNT):
        total[component] += concentration * reagent[component]
    result["acid_mmol_per_l"] = concentration
    result["acid_nitrogen_mg_per_l"] = concentration * element_mass(reagent, NITROGEN)
    if concentration == 0.0:
        result["cautions"] = result["cautions"] | NOTHING_TO_MEASURE
        return 0
    _measure(row, result, kind, percent, concentration)
    result["cautions"] = result["cautions"] | (BASE_HANDLING if _IS_BASE[kind] else HANDLING)
    return 0


@kernel
def _as_weighed(
    row: np.void, result: np.void, kind: int, percent: float, concentration: float
) -> float:
    """Round an amount down to whole steps of the balance where it is weighed and not poured."""
    if not np.isnan(reagent_density(_DENSITY_NUMBER[kind], percent / 100.0, ACID_TEMPERATURE)):
        return concentration
    per_gram = 10.0 * percent / (result["volume_l"] * _MOLAR_MASS[kind])
    mass = concentration / per_gram
    balance, syringe = row["balance_resolution_g"], row["syringe_resolution_ml"]
    if pre_solution_strength(mass, balance, syringe, result["volume_l"]) > 0.0:
        return concentration
    return float(rounded_amount(mass, balance, True) * per_gram)


@kernel
def _measure(
    row: np.void, result: np.void, kind: int, percent: float, concentration: float
) -> None:
    """Turn an amount of acid into grams and millilitres of the bottle, diluted if need be."""
    pure = concentration * result["volume_l"] * _MOLAR_MASS[kind] / 1000.0
    mass = pure / (percent / 100.0)
    result["acid_mass_g"] = mass
    bottle = reagent_density(_DENSITY_NUMBER[kind], percent / 100.0, ACID_TEMPERATURE)
    if np.isnan(bottle):
        # Crystals, or a strength that is sold as a solid: weighed, not measured.
        result["acid_volume_ml"] = np.nan
        balance, syringe = row["balance_resolution_g"], row["syringe_resolution_ml"]
        if pre_solution_strength(mass, balance, syringe, result["volume_l"]) > 0.0:
            result["cautions"] = result["cautions"] | PRE_STOCK
        return
    volume = mass / bottle
    result["acid_volume_ml"] = volume
    least = TRUSTED_STEPS * row["syringe_resolution_ml"]
    for dilution in PRE_DILUTIONS:
        result["acid_dilution_factor"] = dilution
        if volume * dilution >= least:
            break
    if result["acid_dilution_factor"] > 1.0:
        result["cautions"] = result["cautions"] | PRE_DILUTION
    if volume * result["acid_dilution_factor"] < 0.5 * row["syringe_resolution_ml"]:
        result["cautions"] = result["cautions"] | NOTHING_TO_MEASURE
