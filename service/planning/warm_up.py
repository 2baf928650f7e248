"""Compile every kernel before the first request needs it."""

import importlib
import pkgutil

import numpy as np

import service.chemistry
from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.compensation import (
    LINEAR_COEFFICIENT,
    NATURAL_WATER,
    compensation_factor,
    conductivity_at_25,
)
from service.chemistry.density import reagent_concentration, reagent_density
from service.chemistry.equilibrium import CLOSED
from service.chemistry.leaching import (
    leaching_fraction,
    steady_leaching_fraction,
    water_with_leaching,
)
from service.chemistry.meter import SCALE_500, conductivity_from_reading, meter_reading
from service.chemistry.reservoir import diluting_volume, drained_volume, mixed_conductivity
from service.chemistry.root_zone import displacing_volume
from service.chemistry.solution import STATE_COUNT, workspace
from service.chemistry.vapour_pressure import vapour_pressure_deficit
from service.planning import rows
from service.planning.answer_range import range_fields
from service.planning.catalogue import catalogue
from service.planning.ceilings import conductivity_ceiling
from service.planning.defaults import fill_can_defaults
from service.planning.doses import plan, plan_targets
from service.planning.explain.doses import dose_working
from service.planning.explain.ph_adjustments import ph_adjustment_working
from service.planning.instruments import pre_solution_strength, rounded_amount
from service.planning.known_water import REFERENCE_CELSIUS, known_water
from service.planning.mix_grouping import MixWishes
from service.planning.mixes import plan_mixes
from service.planning.notes import Notes
from service.planning.ph_adjustment import SCRATCH_ROWS, adjust, adjusted_solution
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.readout import readout
from service.planning.reasons import target_reasons
from service.planning.reservoir_alkalinity import buffered
from service.planning.row_texts import row_texts
from service.planning.salt_weeks import COLUMN_COUNT, salt_weeks
from service.planning.self_check import self_check
from service.planning.solubility import solubility
from service.planning.solution import mixture
from service.planning.strength import BY_ELEMENT
from service.planning.targets import air_leaves_little, plain_water_below, plain_water_will_do
from service.planning.volumes import pot_volume
from service.planning.water_pair import WaterPair
from service.planning.watering_schedule import Watering, table_of
from service.planning.words import NumbersInWords
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES


def warm_up() -> list[str]:
    """
    Run each capability once on a known input, so that its kernels are compiled and kept.

    Returns
    -------
    list of str
        Names of the chemistry modules that were imported, sorted.

    Raises
    ------
    RuntimeError
        If the known dose does not come out as known.
    """
    found = pkgutil.walk_packages(service.chemistry.__path__, service.chemistry.__name__ + ".")
    names = sorted(module.name for module in found)
    for name in names:
        importlib.import_module(name)
    if not self_check():
        raise RuntimeError("the known dose does not come out as known")
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    requests["limited"] = 1
    requests["profile"] = catalogue().default_profile
    plan_targets(requests, results, catalogue())
    _ask_one_by_one(requests[0], results[0])
    _read_a_label()
    _follow_salt()
    _share_cans()
    _add_acid()
    _blend_waters()
    row_texts(b'{"rows": [{"volume_l": 1}]}', 1, 4)
    mixed_conductivity(10.0, 1.0, 1.0, 0.1)
    diluting_volume(10.0, 1.0, 0.1, 0.8)
    drained_volume(10.0, 10.0, 1.0, 0.1, 0.8)
    buffered(known_water("hard_tap", catalogue(), Notes()).composition_mmol_per_l, 6.5, 20.0, None)
    mixture(known_water("hard_tap", catalogue(), Notes()), [], None, REFERENCE_CELSIUS, CLOSED)
    _dissolve_salts()
    return names


def _ask_one_by_one(row: np.void, result: np.void) -> None:
    """
    Compile what answers ask of single kernels, with the types that they ask with.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        A request of targets.
    result : record of `rows.DOSE_RESULT`
        Its answer.
    """
    known = catalogue()
    profile = known.profile_table[row["profile"]]
    target_reasons(row, result, known)
    plain_water_below(profile)
    air_leaves_little(row, profile, result)
    plain_water_will_do(row, profile, result)
    conductivity_ceiling(row, known.product_table, profile, result)
    pot_volume(12.0)
    vapour_pressure_deficit(293.15, 60.0)
    rounded_amount(1.0, 0.1, True)
    pre_solution_strength(1.0, 0.1, 0.1, 10.0)
    meter_reading(SCALE_500, 1.0)
    conductivity_from_reading(SCALE_500, 500.0)
    compensation_factor(NATURAL_WATER, 293.15, LINEAR_COEFFICIENT)
    reagent_density(0, 0.38, 293.15)
    reagent_concentration(0, 0.38, 63.0, 293.15)
    nothing = np.zeros(COMPONENT_COUNT)
    alkalinity_of_composition(nothing)
    # Arrays of the catalogue cannot be written, which is a type of its own.
    nothing.flags.writeable = False
    alkalinity_of_composition(nothing)


def _add_acid() -> None:
    """Compile the planner of pH adjustments, for rows and for the solution of a reservoir."""
    known = catalogue()
    requests, results = empty_ph_requests(1), empty_ph_results(1)
    requests["profile"] = known.default_profile
    requests["water"] = known.water_rows["moderate_tap"]
    requests["volume_l"] = 1.0
    adjust(requests, results, known)
    row, result = requests[0], results[0]
    ph_adjustment_working(row, result, known)
    fill_can_defaults(row, result)
    scratch = np.empty((SCRATCH_ROWS, max(COMPONENT_COUNT, STATE_COUNT)))
    profile = known.profile_table[row["profile"]]
    adjusted_solution(row, known.product_table, profile, result, scratch, workspace())


def _blend_waters() -> None:
    """Compile conductivity and pH of a blend."""
    pair = WaterPair(*(known_water(key, catalogue(), Notes()) for key in ("hard_tap", "rain")))
    pair.conductivity(0.5)
    pair.ph(0.5)


def _dissolve_salts() -> None:
    """Compile the model of concentrates, for a salt alone and beside another."""
    known = catalogue()
    salt, other = (
        known.product_rows[known.product_positions[key]]
        for key in ("monopotassium_phosphate", "potassium_nitrate")
    )
    for background in ([], [(other, 50.0)]):
        solubility(salt, 10.0, background, Notes())


def _read_a_label() -> None:
    """Compile the readings of a dose that a label leaves open, and the words of its acid."""
    known = catalogue()
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    requests["limited"] = 1
    requests["profile"] = known.default_profile
    requests["product_count"] = 1
    product = next(row.key for row in known.product_rows if row.conductivity_is_open)
    requests["product"][0, 0] = known.product_positions[product]
    requests["strength_basis"][0, 0] = BY_ELEMENT
    requests["strength_element"][0, 0] = ELEMENT_NAMES.index("nitrogen")
    requests["strength_value"][0, 0] = 50.0
    requests["water"] = known.water_rows["rain"]
    requests["volume_l"] = 1.0
    asked = rows.copied(requests)[0]
    plan(requests, results, known)
    range_fields(asked, readout(results), known)
    str(NumbersInWords(readout(requests), readout(results), known)["acid_feeds"])
    dose_working(requests[0], results[0], known)


def _share_cans() -> None:
    """Compile the grouping of rows into few cans."""
    known = catalogue()
    requests, results = rows.empty_requests(2), rows.empty_results(2)
    requests["limited"] = 1
    requests["profile"] = known.default_profile
    requests["product_count"] = 1
    requests["water"] = known.water_rows["rain"]
    requests["volume_l"] = 1.0
    requests["size"] = (0, 2)
    plan(requests, results, known)
    for wishes in (MixWishes(2, None, 0.0), MixWishes(None, 10.0, 0.0)):
        plan_mixes(requests, results, known, wishes)


def _follow_salt() -> None:
    """Compile the balance of a pot, and everything that it calls."""
    table = table_of([Watering(1, "feed", 0.2, 0.8)], topped_up=False)
    weeks = np.empty((1, COLUMN_COUNT))
    salt_weeks(
        table.day,
        table.volume_l,
        table.ec_ms_per_cm,
        table.drains,
        table.is_feed,
        0.3,
        0.5,
        0.02,
        0.8,
        0.0,
        weeks,
    )
    displacing_volume(2.0, 0.1, 1.0, 0.3, 0.5)
    steady_leaching_fraction(0.8, 1.6)
    water_with_leaching(0.1, 0.5)
    leaching_fraction(0.1, 0.2)
    conductivity_at_25(0.8, NATURAL_WATER, 293.15, LINEAR_COEFFICIENT)
