"""Compile every kernel before the first request needs it."""

import importlib
import pkgutil

import numpy as np

import service.chemistry
from service.chemistry.compensation import (
    LINEAR_COEFFICIENT,
    NATURAL_WATER,
    compensation_factor,
    conductivity_at_25,
)
from service.chemistry.equilibrium import CLOSED
from service.chemistry.leaching import (
    leaching_fraction,
    steady_leaching_fraction,
    water_with_leaching,
)
from service.chemistry.meter import SCALE_500, conductivity_from_reading, meter_reading
from service.chemistry.reservoir import diluting_volume, drained_volume, mixed_conductivity
from service.chemistry.root_zone import displacing_volume
from service.planning import rows
from service.planning.answer_range import range_fields
from service.planning.catalogue import catalogue
from service.planning.doses import plan, plan_targets
from service.planning.known_water import REFERENCE_CELSIUS, known_water
from service.planning.mix_grouping import MixWishes
from service.planning.mixes import plan_mixes
from service.planning.notes import Notes
from service.planning.ph_adjustment import adjust
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.readout import readout
from service.planning.reservoir_alkalinity import buffered
from service.planning.salt_weeks import COLUMN_COUNT, salt_weeks
from service.planning.self_check import self_check
from service.planning.solubility import solubility
from service.planning.solution import mixture
from service.planning.water_pair import WaterPair
from service.planning.watering_schedule import Watering, table_of
from service.planning.words import NumbersInWords


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
    _read_a_label()
    _follow_salt()
    _share_cans()
    adjustments = empty_ph_requests(1)
    adjustments["profile"] = catalogue().default_profile
    adjustments["water"] = catalogue().water_rows["moderate_tap"]
    adjustments["volume_l"] = 1.0
    adjust(adjustments, empty_ph_results(1), catalogue())
    mixed_conductivity(10.0, 1.0, 1.0, 0.1)
    diluting_volume(10.0, 1.0, 0.1, 0.8)
    drained_volume(10.0, 10.0, 1.0, 0.1, 0.8)
    buffered(known_water("hard_tap", catalogue(), Notes()).composition_mmol_per_l, 6.5, 20.0, None)
    mixture(known_water("hard_tap", catalogue(), Notes()), [], None, REFERENCE_CELSIUS, CLOSED)
    _dissolve_salts()
    _blend_and_read()
    return names


def _blend_and_read() -> None:
    """Compile the blend of two waters, and what a meter shows."""
    hard, rain = (known_water(each, catalogue(), Notes()) for each in ("hard_tap", "rain"))
    pair = WaterPair(hard, rain)
    pair.conductivity(0.5)
    pair.ph(0.5)
    meter_reading(SCALE_500, conductivity_from_reading(SCALE_500, 500.0))
    compensation_factor(NATURAL_WATER, 293.15, LINEAR_COEFFICIENT)


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
    requests["water"] = known.water_rows["rain"]
    requests["volume_l"] = 1.0
    asked = rows.copied(requests)[0]
    plan(requests, results, known)
    range_fields(asked, readout(results), known)
    str(NumbersInWords(readout(requests), readout(results), known)["acid_feeds"])


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
