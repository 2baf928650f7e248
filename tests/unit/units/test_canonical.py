"""Suffixes, dimensionless names and the factors that follow from definitions."""

import subprocess
import sys

import pytest

from service.units.canonical import (
    BICARBONATE_MG_PER_MEQ,
    CALCIUM_CARBONATE_MG_PER_MEQ,
    CANONICAL_UNITS,
    CLARK_DEGREE_MG_PER_L_CACO3,
    DIMENSIONLESS_NAMES,
    FRENCH_DEGREE_MG_PER_L_CACO3,
    GERMAN_DEGREE_MG_PER_L_CACO3,
    METER_SCALES,
    SUFFIX_BY_NAME,
    US_GRAIN_PER_GALLON_MG_PER_L_CACO3,
    is_dimensionless,
    suffix_of,
)
from service.units.convert import UNIT_REGISTRY
from service.units.spellings import SPELLINGS

CONTRACT_FIELDS = {
    "_l": "volume_l water_l tank_volume_l flush_volume_l",
    "_ml": "volume_per_plant_ml product_volume_ml acid_volume_ml stock_a_ml stock_b_ml",
    "_g": "product_mass_g mass_g acid_mass_g additions.mass_g",
    "_mg_per_l": "nitrogen_mg_per_l elements_mg_per_l target_mg_per_l achieved_mg_per_l"
    " added_mg_per_l mg_per_l bicarbonate_mg_per_l nitrate_nitrogen_mg_per_l"
    " target_mg_per_l.calcium water.sulfate_mg_per_l",
    "_mg_per_l_caco3": "alkalinity_mg_per_l_caco3 hardness_mg_per_l_caco3"
    " target_alkalinity_mg_per_l_caco3 residual_alkalinity_mg_per_l_caco3",
    "_mmol_per_l": "acid_mmol_per_l ions_mmol_per_l",
    "_mol_per_kg": "ionic_strength_mol_per_kg",
    "_g_per_l": "g_per_l recipe.0.g_per_l strength.g_per_l",
    "_ml_per_l": "ml_per_l strength.ml_per_l",
    "_g_per_kg_water": "g_per_kg_water solubility_g_per_kg_water",
    "_kg_per_l": "density_kg_per_l",
    "_ms_per_cm": "ec_ms_per_cm predicted_ec_ms_per_cm water.ec_ms_per_cm",
    "_ms_per_cm_at_100_mg_per_l_n": "ec_ms_per_cm_at_100_mg_per_l_n",
    "_celsius": "temperature_celsius coldest_celsius average_temperature_celsius",
    "_percent": "humidity_percent percent tolerance_percent deviation_percent margin_percent"
    " share_of_first_percent p2o5_percent acid.percent average_humidity_percent",
    "_kpa": "vapour_pressure_deficit_kpa",
    "_days": "interval_days days_since_flush",
    "_minutes": "remeasure_after_minutes",
    "_seconds": "pump_seconds pump_seconds.a",
    "_cm": "pot_diameter_cm",
    "_ppm": "meter_ppm ppm reading.ppm",
    "_ppm_500": "meter_ppm_500",
    "_ppm_640": "meter_ppm_640",
    "_ppm_700": "meter_ppm_700",
    "_ppm_kcl": "meter_ppm_kcl",
    "_ppm_nacl": "meter_ppm_nacl",
    "_ppm_442": "meter_ppm_442",
    "_carbon_dioxide_ppm": "carbon_dioxide_ppm",
    "_mg_per_plant_per_month": "nitrogen_mg_per_plant_per_month",
}
DIMENSIONLESS_FIELDS = (
    "ph water.ph target_ph predicted_ph predicted_ph_open count max_count tank_count index"
    " highest_factor concentration_factor injector_ratio leaching_fraction repeats order cost"
    " scale meter_scale first_week_over_limit total ok infeasible rejected"
)


@pytest.mark.parametrize(
    ("field", "suffix"),
    [(field, suffix) for suffix, fields in CONTRACT_FIELDS.items() for field in fields.split()],
)
def test_each_dimensional_field_of_the_contract_has_its_suffix(field, suffix):
    assert suffix_of(field) == suffix
    assert not is_dimensionless(field)


@pytest.mark.parametrize("field", DIMENSIONLESS_FIELDS.split())
def test_each_pure_number_of_the_contract_is_listed_as_dimensionless(field):
    assert is_dimensionless(field)
    assert suffix_of(field) is None


@pytest.mark.parametrize(
    "field", ["volume", "nitrogen", "temperature", "umol_per_l", "length_m", "l0", "rows.0.name"]
)
def test_name_without_a_listed_unit_has_no_suffix(field):
    assert suffix_of(field) is None
    assert not is_dimensionless(field)


@pytest.mark.parametrize("suffix", [*CANONICAL_UNITS])
def test_longest_suffix_wins_and_every_suffix_finds_itself(suffix):
    assert suffix_of("anything" + suffix) == suffix
    assert suffix_of(suffix.removeprefix("_")) in {suffix, SUFFIX_BY_NAME.get(suffix[1:])}


@pytest.mark.parametrize("suffix", [*CANONICAL_UNITS])
def test_canonical_unit_parses_in_pint(suffix):
    unit = CANONICAL_UNITS[suffix]
    assert unit.suffix == suffix
    assert UNIT_REGISTRY.Unit(unit.pint_text) is not None


@pytest.mark.parametrize("suffix", [*CANONICAL_UNITS])
def test_canonical_symbol_is_an_accepted_spelling(suffix):
    unit = CANONICAL_UNITS[suffix]
    spellings = SPELLINGS.get(unit.kind, ())
    texts = {text for spelling in spellings for text in (*spelling.symbols, *spelling.words)}
    assert not texts or unit.symbol in texts or unit.symbol.startswith("ppm (")


def test_no_dimensionless_name_ends_in_a_unit():
    assert not [name for name in DIMENSIONLESS_NAMES if name.endswith(tuple(CANONICAL_UNITS))]


def test_equivalents_follow_from_atomic_weights():
    # Abridged weights carry an uncertainty of 0.004 for Ca, 0.002 for C and 0.001 for O.
    assert pytest.approx(50.043, abs=0.004) == CALCIUM_CARBONATE_MG_PER_MEQ
    assert pytest.approx(61.017, abs=0.004) == BICARBONATE_MG_PER_MEQ
    assert pytest.approx(17.848, abs=0.0005) == GERMAN_DEGREE_MG_PER_L_CACO3


def test_degrees_by_definition():
    assert FRENCH_DEGREE_MG_PER_L_CACO3 == 10.0
    assert pytest.approx(17.118, abs=0.0005) == US_GRAIN_PER_GALLON_MG_PER_L_CACO3
    assert pytest.approx(14.254, abs=0.0005) == CLARK_DEGREE_MG_PER_L_CACO3


def test_meter_scales_are_the_three_of_the_trade():
    assert sorted(METER_SCALES) == [500, 640, 700]
    for number, scale in METER_SCALES.items():
        assert scale.scale == number == scale.ppm_per_ms_per_cm


def test_canonical_module_loads_neither_pint_nor_numpy():
    code = (
        "import sys, service.units.canonical;"
        "print([m for m in ('pint', 'numpy', 'pydantic') if m in sys.modules])"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert result.stdout.strip() == "[]"
