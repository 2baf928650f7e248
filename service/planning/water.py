"""
The water of a row: from the columns of an analysis to conserved components.

Nothing is corrected in silence: charge that an analysis leaves open is carried as unmeasured
charge, so that the stated pH is the pH computed, and a conductivity above the computed one is
carried along as unexplained.
"""

from typing import Final

import numpy as np

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.equilibrium import NOT_CONVERGED
from service.chemistry.equilibrium import OK as SOLVED
from service.chemistry.kernel import kernel
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE, speciate_open
from service.chemistry.solution import (
    REFERENCE_TEMPERATURE,
    conductivity_of_state,
    conductivity_of_total,
    constants_of,
    density_of,
    set_temperature,
    speciation_of,
)
from service.chemistry.water_analysis import composition_from_alkalinity
from service.chemistry.workspace import TOTAL_CARBONATE
from service.planning import profiles, rows
from service.planning.cautions import assumption_bit, caution_bit, problem_number
from service.planning.requests import DEFAULT_WATER
from service.planning.strength import element_mass
from service.reference.components import (
    AMMONIUM,
    BORATE,
    CALCIUM,
    CARBONATE,
    CHLORIDE,
    COMPONENT_COUNT,
    COPPER,
    ELEMENT_NAMES,
    FLUORIDE,
    IRON,
    MAGNESIUM,
    MANGANESE,
    NITRATE,
    NOMINAL_CHARGE,
    PHOSPHATE,
    POTASSIUM,
    SILICATE,
    SODIUM,
    SULFATE,
    UNMEASURED,
    ZINC,
)
from service.reference.formula import atomic_weights, molar_mass
from service.reference.waters import waters
from service.units.canonical import BICARBONATE_MG_PER_MEQ, CALCIUM_CARBONATE_MG_PER_MEQ

FREEZING_POINT: Final = 273.15
LARGEST_IMBALANCE: Final = 10.0
"""Charge balance error above which an analysis is called out of balance [percent]."""

COLD_WATER: Final = 15.0
"""Water temperature under which warm-growing roots are chilled [degC]; common practice."""

HARDNESS_AS_CALCIUM: Final = 0.75
"""Share of calcium in a hardness that is not split, by equivalents; common practice."""

FORMS_AGREE: Final = 0.05
"""Relative difference up to which two forms of one ion count as the same."""

HARDNESS_AGREES: Final = 0.2
HARDNESS_STEP: Final = 0.4
"""
Relative difference, and a drop of a test kit [mmol(eq)/L], up to which a hardness agrees with
calcium and magnesium.
"""

EC_AGREES: Final = 0.15
EC_STEP: Final = 0.02
"""
Relative difference, and an error of a meter [mS/cm], up to which a stated conductivity goes with
the ions stated; common practice.
"""

TITRATION_END: Final = 4.5
"""
pH at which a titration of alkalinity ends: a water below it has none; common practice. The end
point lies between 4.3 and 4.9, the higher the less alkalinity there is.
"""

LITTLE_ALKALINITY: Final = 10.0
"""Alkalinity that a test still finds where there is none [mg/L CaCO3]; common practice."""


def _column(name: str) -> int:
    return rows.WATER_FIELDS.index(name)


PH: Final = _column("ph")
ALKALINITY: Final = _column("alkalinity_mg_per_l_caco3")
BICARBONATE: Final = _column("bicarbonate_mg_per_l")
CALCIUM_COLUMN: Final = _column("calcium_mg_per_l")
MAGNESIUM_COLUMN: Final = _column("magnesium_mg_per_l")
SODIUM_COLUMN: Final = _column("sodium_mg_per_l")
CHLORIDE_COLUMN: Final = _column("chloride_mg_per_l")
SULFATE_COLUMN: Final = _column("sulfate_mg_per_l")
NITRATE_COLUMN: Final = _column("nitrate_mg_per_l")
NITRATE_NITROGEN: Final = _column("nitrate_nitrogen_mg_per_l")
HARDNESS: Final = _column("hardness_mg_per_l_caco3")
CONDUCTIVITY_COLUMN: Final = _column("ec_ms_per_cm")
TEMPERATURE: Final = _column("temperature_celsius")

_WEIGHT: Final = atomic_weights()
NITRATE_MASS: Final = molar_mass("NO3")
NITROGEN_MASS: Final = _WEIGHT["N"]
CALCIUM_MASS: Final = _WEIGHT["Ca"]
MAGNESIUM_MASS: Final = _WEIGHT["Mg"]

SIMPLE_IONS: Final = (
    ("calcium_mg_per_l", CALCIUM, CALCIUM_MASS),
    ("magnesium_mg_per_l", MAGNESIUM, MAGNESIUM_MASS),
    ("potassium_mg_per_l", POTASSIUM, _WEIGHT["K"]),
    ("sodium_mg_per_l", SODIUM, _WEIGHT["Na"]),
    ("chloride_mg_per_l", CHLORIDE, _WEIGHT["Cl"]),
    ("sulfate_mg_per_l", SULFATE, molar_mass("SO4")),
    ("ammonium_nitrogen_mg_per_l", AMMONIUM, NITROGEN_MASS),
    ("phosphate_phosphorus_mg_per_l", PHOSPHATE, _WEIGHT["P"]),
    ("boron_mg_per_l", BORATE, _WEIGHT["B"]),
    ("iron_mg_per_l", IRON, _WEIGHT["Fe"]),
    ("manganese_mg_per_l", MANGANESE, _WEIGHT["Mn"]),
    ("zinc_mg_per_l", ZINC, _WEIGHT["Zn"]),
    ("copper_mg_per_l", COPPER, _WEIGHT["Cu"]),
    ("fluoride_mg_per_l", FLUORIDE, _WEIGHT["F"]),
    ("silica_mg_per_l", SILICATE, molar_mass("SiO2")),
)
"""Columns that state one component each: name, component and molar mass [g/mol]."""

_SIMPLE_COLUMN: Final = np.array([_column(name) for name, _, _ in SIMPLE_IONS])
_SIMPLE_COMPONENT: Final = np.array([component for _, component, _ in SIMPLE_IONS])
_SIMPLE_MASS: Final = np.array([mass for _, _, mass in SIMPLE_IONS])
_MAJOR: Final = np.array(
    [CALCIUM_COLUMN, MAGNESIUM_COLUMN, SODIUM_COLUMN, CHLORIDE_COLUMN, SULFATE_COLUMN]
)
_CONTENT: Final = np.array(
    [
        place
        for place, name in enumerate(rows.WATER_FIELDS)
        if name not in ("ph", "temperature_celsius")
    ]
)
_USUAL: Final = waters()[DEFAULT_WATER].analysis()
_USUAL_VALUES: Final = np.array([_USUAL.get(name, 0.0) for name, _, _ in SIMPLE_IONS])
_USUAL_NITRATE: Final = _USUAL["nitrate_mg_per_l"]
_CHARGE: Final = np.array(NOMINAL_CHARGE, dtype=np.float64)
NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")

SODIUM_HIGH: Final = caution_bit("sodium_high")
CHLORIDE_HIGH: Final = caution_bit("chloride_high")
IMBALANCE: Final = caution_bit("water_charge_imbalance")
INCOMPLETE: Final = caution_bit("water_analysis_incomplete")
COLD: Final = caution_bit("cold_water")
ALKALINITY_UNKNOWN: Final = caution_bit("alkalinity_unknown")
EC_DISAGREES: Final = caution_bit("water_ec_disagrees")
CONTENT_ASSUMED: Final = assumption_bit("water_content_assumed")
HARDNESS_SPLIT: Final = assumption_bit("hardness_as_calcium")
PH_ASSUMED: Final = assumption_bit("water_ph_assumed")
PH_NOT_USED: Final = assumption_bit("water_ph_not_used")
CONFLICT: Final = problem_number("conflicting_water_forms")
NOT_SOLVABLE: Final = problem_number("water_not_solvable")
PH_BELOW_ALKALINITY: Final = problem_number("water_ph_below_its_alkalinity")


@kernel
def _disagree(first: float, second: float) -> bool:
    """Tell whether two statements of one thing differ by more than rounding."""
    return abs(first - second) > FORMS_AGREE * max(abs(first), abs(second)) + 0.1


@kernel
def _tells_nothing(water: np.ndarray) -> bool:
    """Tell whether an analysis names nothing that is dissolved, neither ions nor conductivity."""
    named = 0
    for place in range(_CONTENT.size):
        if not np.isnan(water[_CONTENT[place]]):
            named += 1
    return named == 0


@kernel
def _ions(water: np.ndarray, result: np.void, analysis: np.ndarray) -> int:
    """Fill in the measured ions [mmol/L]; a problem number when two forms disagree."""
    for component in range(COMPONENT_COUNT):
        analysis[component] = 0.0
    if _tells_nothing(water):
        # A water of which nothing is known must not count as pure: it would leave all of every
        # ceiling to the feed.
        for place in range(_SIMPLE_COLUMN.size):
            analysis[_SIMPLE_COMPONENT[place]] = _USUAL_VALUES[place] / _SIMPLE_MASS[place]
        analysis[NITRATE] = _USUAL_NITRATE / NITRATE_MASS
        result["assumptions"] = result["assumptions"] | CONTENT_ASSUMED
        return 0
    for place in range(_SIMPLE_COLUMN.size):
        value = water[_SIMPLE_COLUMN[place]]
        if not np.isnan(value):
            analysis[_SIMPLE_COMPONENT[place]] = value / _SIMPLE_MASS[place]
    nitrate = water[NITRATE_COLUMN] / NITRATE_MASS
    nitrogen = water[NITRATE_NITROGEN] / NITROGEN_MASS
    if not np.isnan(nitrate):
        if not np.isnan(nitrogen) and _disagree(water[NITRATE_COLUMN], nitrogen * NITRATE_MASS):
            return CONFLICT
        analysis[NITRATE] = nitrate
    elif not np.isnan(nitrogen):
        analysis[NITRATE] = nitrogen
    hardness = water[HARDNESS]
    if not np.isnan(hardness):
        equivalents = hardness / CALCIUM_CARBONATE_MG_PER_MEQ
        no_calcium = np.isnan(water[CALCIUM_COLUMN])
        no_magnesium = np.isnan(water[MAGNESIUM_COLUMN])
        if no_calcium and no_magnesium:
            analysis[CALCIUM] = 0.5 * HARDNESS_AS_CALCIUM * equivalents
            analysis[MAGNESIUM] = 0.5 * (1.0 - HARDNESS_AS_CALCIUM) * equivalents
            result["assumptions"] = result["assumptions"] | HARDNESS_SPLIT
        else:
            known = 2.0 * (analysis[CALCIUM] + analysis[MAGNESIUM])
            slack = HARDNESS_AGREES * equivalents + HARDNESS_STEP
            complete = not no_calcium and not no_magnesium
            if known > equivalents + slack or (complete and known < equivalents - slack):
                return CONFLICT
            missing = max(0.5 * (equivalents - known), 0.0)
            if no_magnesium:
                analysis[MAGNESIUM] = missing
            elif no_calcium:
                analysis[CALCIUM] = missing
    return 0


@kernel
def stated_alkalinity(water: np.ndarray) -> float:
    """
    Return the alkalinity that an analysis states, as alkalinity or as bicarbonate.

    Parameters
    ----------
    water : ndarray, shape (n_water_fields,)
        Columns of `rows.WATER_FIELDS`.

    Returns
    -------
    float
        Alkalinity in equivalents, NaN when neither is given [mmol/L].
    """
    alkalinity = water[ALKALINITY]
    if not np.isnan(alkalinity):
        return float(alkalinity / CALCIUM_CARBONATE_MG_PER_MEQ)
    return float(water[BICARBONATE] / BICARBONATE_MG_PER_MEQ)


@kernel
def water_row(
    row: np.void, profile: np.ndarray, result: np.void, scratch: np.ndarray, work: np.ndarray
) -> int:
    """
    Fill in the water of one row: components, conductivity, cautions.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
    profile : ndarray, shape (n_profile_columns,)
        The plant's row of `service.planning.profiles`.
    result : record of `rows.DOSE_RESULT`
        Receives the water.
    scratch : ndarray, shape (5, n_components)
        Overwritten.
    work : ndarray
        Workspace of `service.chemistry.solution`.

    Returns
    -------
    int
        A problem number; 0 when the water is known well enough to go on.
    """
    water = row["water"]
    analysis = scratch[0]
    problem = _ions(water, result, analysis)
    if problem != 0:
        return problem
    both = not np.isnan(water[ALKALINITY]) and not np.isnan(water[BICARBONATE])
    if (
        both
        and water[BICARBONATE] / BICARBONATE_MG_PER_MEQ
        > (1.0 + FORMS_AGREE) * (water[ALKALINITY] / CALCIUM_CARBONATE_MG_PER_MEQ) + 0.1
    ):
        return CONFLICT
    bits = result["cautions"]
    alkalinity = stated_alkalinity(water)
    known = not np.isnan(alkalinity)
    if water[PH] < TITRATION_END and alkalinity > LITTLE_ALKALINITY / CALCIUM_CARBONATE_MG_PER_MEQ:
        return PH_BELOW_ALKALINITY
    if not known:
        # What the measured ions leave open is most likely bicarbonate; it counts for the
        # conductivity, but neither a pH nor an acid dose is built on it.
        bits |= ALKALINITY_UNKNOWN
        charge = 0.0
        for component in range(COMPONENT_COUNT):
            charge += _CHARGE[component] * analysis[component]
        alkalinity = max(charge - analysis[PHOSPHATE], 0.0)
    temperature = water[TEMPERATURE] + FREEZING_POINT
    set_temperature(temperature, work)
    density = density_of(work)
    molal = scratch[1]
    composition = scratch[2]
    for component in range(COMPONENT_COUNT):
        molal[component] = 0.001 * analysis[component] / density
    ph = water[PH]
    status, error = NOT_CONVERGED, 0.0
    if np.isnan(ph):
        result["assumptions"] = result["assumptions"] | PH_ASSUMED
    else:
        status, error = composition_from_alkalinity(
            molal, ph, alkalinity / density, constants_of(work), speciation_of(work), composition
        )
        if status >= NOT_CONVERGED and known:
            # Water with hardly any alkalinity does not hold the pH that a meter shows in it.
            result["assumptions"] = result["assumptions"] | PH_NOT_USED
    if status >= NOT_CONVERGED:
        for component in range(COMPONENT_COUNT):
            composition[component] = molal[component]
        composition[UNMEASURED] = 0.0
        excess = 0.001 * alkalinity / density - alkalinity_of_composition(composition)
        composition[UNMEASURED] = excess
        status = speciate_open(
            composition, constants_of(work), ATMOSPHERIC_CARBON_DIOXIDE, speciation_of(work)
        )
        if status >= NOT_CONVERGED:
            return NOT_SOLVABLE
        composition[CARBONATE] = speciation_of(work)[TOTAL_CARBONATE]
        error = _charge_error(molal, 0.001 * alkalinity / density)
    total = result["water_composition_mmol_per_l"]
    for component in range(COMPONENT_COUNT):
        total[component] = 1000.0 * density * composition[component]
    result["water_charge_error_percent"] = error if known else np.nan
    result["water_alkalinity_mg_per_l_caco3"] = np.nan
    if known:
        stated = alkalinity * CALCIUM_CARBONATE_MG_PER_MEQ
        result["water_alkalinity_mg_per_l_caco3"] = stated
    if temperature == REFERENCE_TEMPERATURE and status == SOLVED:
        computed = conductivity_of_state(work)
    else:
        computed = conductivity_of_total(total, True, work)
    if np.isnan(computed):
        return NOT_SOLVABLE
    measured = water[CONDUCTIVITY_COLUMN]
    result["unexplained_ec_ms_per_cm"] = 0.0
    if measured > computed:
        result["unexplained_ec_ms_per_cm"] = measured - computed
    result["water_ec_ms_per_cm"] = computed + result["unexplained_ec_ms_per_cm"]
    result["water_nitrogen_mg_per_l"] = element_mass(total, NITROGEN)
    complete = known
    for place in range(_MAJOR.size):
        complete = complete and not np.isnan(water[_MAJOR[place]])
    slack = EC_AGREES * computed + EC_STEP
    if measured < computed - slack or (complete and measured > computed + slack):
        bits |= EC_DISAGREES
    if not complete:
        bits |= INCOMPLETE
    elif abs(error) > LARGEST_IMBALANCE and result["water_ec_ms_per_cm"] > 0.05:
        bits |= IMBALANCE
    if water[SODIUM_COLUMN] > profile[profiles.SODIUM_CAUTION]:
        bits |= SODIUM_HIGH
    if water[CHLORIDE_COLUMN] > profile[profiles.CHLORIDE_CAUTION]:
        bits |= CHLORIDE_HIGH
    if water[TEMPERATURE] < COLD_WATER:
        bits |= COLD
    result["cautions"] = bits
    return 0


@kernel
def _charge_error(molal: np.ndarray, alkalinity: float) -> float:
    """Percent by which the measured cations exceed the measured anions and the alkalinity."""
    cations = 0.0
    anions = alkalinity + molal[PHOSPHATE]
    for component in range(COMPONENT_COUNT):
        charge = _CHARGE[component] * molal[component]
        if charge > 0.0:
            cations += charge
        else:
            anions -= charge
    if cations + anions <= 0.0:
        return 0.0
    return float(100.0 * (cations - anions) / (cations + anions))
