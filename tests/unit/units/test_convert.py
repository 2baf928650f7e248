"""Reading of numbers with units, refusals, and the way back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.units.canonical import CANONICAL_UNITS
from service.units.convert import (
    UNIT_REGISTRY,
    QuantityError,
    convert_many,
    express,
    parse_quantity,
    units_of_kind,
)
from service.units.refusals import MAXIMUM_TEXT_LENGTH, REFUSAL_CODES
from service.units.spelling import ASSUMPTION_CODES
from service.units.spellings import SPELLINGS

# Expected values by hand from the exact definitions: gallon 3.785411784 L and 4.54609 L, ounce
# 28.349523125 g, grain 64.79891 mg, inch 2.54 cm, and from M(CaCO3) = 100.086, M(CaO) = 56.077.
READ = [
    (20, "volume_l", 20.0),
    ("20", "volume_l", 20.0),
    (" 20 ", "volume_l", 20.0),
    ("20\n", "volume_l", 20.0),
    ("+2.5e1", "volume_l", 25.0),
    (np.float32(0.5), "volume_l", 0.5),
    (np.int64(3), "volume_l", 3.0),
    ("20 L", "volume_l", 20.0),
    ("20l", "volume_l", 20.0),
    ("250 mL", "volume_l", 0.25),
    ("2 L", "acid_volume_ml", 2000.0),
    ("2 Litres", "volume_l", 2.0),
    ("5 gal", "volume_l", 5 * 3.785411784),
    ("5 GAL", "volume_l", 5 * 3.785411784),
    ("5 US gallons", "volume_l", 5 * 3.785411784),
    ("5 imp gal", "volume_l", 5 * 4.54609),
    ("5 UK gal", "volume_l", 5 * 4.54609),
    ("8 fl oz", "volume_l", 3.785411784 / 16),
    ("8 imp fl oz", "volume_l", 4.54609 / 20),
    ("1 qt", "volume_l", 3.785411784 / 4),
    ("1 pt", "volume_l", 3.785411784 / 8),
    ("1 imp pt", "volume_l", 4.54609 / 8),
    ("1 cup", "volume_l", 3.785411784 / 16),
    ("1 tbsp", "acid_volume_ml", 3785.411784 / 256),
    ("1 tsp", "acid_volume_ml", 3785.411784 / 768),
    ("2 oz", "product_mass_g", 2 * 28.349523125),
    ("1 lb", "product_mass_g", 453.59237),
    ("150 mg", "mass_g", 0.15),
    ("250 µg", "mass_mg", 0.25),
    ("250 μg", "mass_mg", 0.25),
    ("250 ug", "mass_mg", 0.25),
    ("72 F", "temperature_celsius", 200 / 9),
    ("32 °F", "temperature_celsius", 0.0),
    ("-40degF", "temperature_celsius", -40.0),
    ("21.5 °C", "temperature_celsius", 21.5),
    ("298.15 K", "temperature_celsius", 25.0),
    ("10 dKH", "alkalinity_mg_per_l_caco3", 10 * 10 * 100.086 / 56.077),
    ("10 °dH", "hardness_mg_per_l_caco3", 10 * 10 * 100.086 / 56.077),
    ("10 dGH", "hardness_mg_per_l_caco3", 10 * 10 * 100.086 / 56.077),
    ("10 °fH", "hardness_mg_per_l_caco3", 100.0),
    ("7 gpg", "hardness_mg_per_l_caco3", 7 * 64.79891 / 3.785411784),
    ("7 grains per US gallon", "hardness_mg_per_l_caco3", 7 * 64.79891 / 3.785411784),
    ("7 Clark", "hardness_mg_per_l_caco3", 7 * 64.79891 / 4.54609),
    ("2 meq/L", "alkalinity_mg_per_l_caco3", 100.086),
    ("2 mmol/L", "alkalinity_mg_per_l_caco3", 100.086),
    ("2 mmol/L", "hardness_mg_per_l_caco3", 200.172),
    ("120 mg/L as CaCO3", "target_alkalinity_mg_per_l_caco3", 120.0),
    ("120 ppm", "target_alkalinity_mg_per_l_caco3", 120.0),
    ("2 meq/L", "water.bicarbonate_mg_per_l", 122.032),
    ("150 ppm", "nitrogen_mg_per_l", 150.0),
    ("0.15 g/L", "nitrogen_mg_per_l", 150.0),
    ("20 ppb", "boron_mg_per_l", 0.02),
    ("1 oz/100 gal", "g_per_l", 28.349523125 / 378.5411784),
    ("1 lb/100 imp gal", "g_per_l", 453.59237 / 454.609),
    ("1 oz / gal", "g_per_l", 28.349523125 / 3.785411784),
    ("1 tsp/gal", "ml_per_l", 1000 / 768),
    ("1 fl oz/gal", "ml_per_l", 1000 / 128),
    ("1 imp fl oz/imp gal", "ml_per_l", 1000 / 160),
    ("2 mL/L", "strength.ml_per_l", 2.0),
    ("1413 µS/cm", "ec_ms_per_cm", 1.413),
    ("1413 μS/cm", "ec_ms_per_cm", 1.413),
    ("1413 uS/cm", "ec_ms_per_cm", 1.413),
    ("1.4 dS/m", "ec_ms_per_cm", 1.4),
    ("0.14 S/m", "ec_ms_per_cm", 1.4),
    ("140 mS/m", "ec_ms_per_cm", 1.4),
    ("1400 umho/cm", "ec_ms_per_cm", 1.4),
    ("700 ppm", "meter_ppm", 700.0),
    ("4 in", "pot_diameter_cm", 10.16),
    ('4"', "pot_diameter_cm", 10.16),
    ("4 inches", "pot_diameter_cm", 10.16),
    ("95 mm", "pot_diameter_cm", 9.5),
    ("8 hPa", "vapour_pressure_deficit_kpa", 0.8),
    ("8 mbar", "vapour_pressure_deficit_kpa", 0.8),
    ("1 week", "interval_days", 7.0),
    ("2 weeks", "days_since_flush", 14.0),
    ("36 h", "interval_days", 1.5),
    ("1.5 h", "remeasure_after_minutes", 90.0),
    ("65 %", "humidity_percent", 65.0),
    ("65%", "humidity_percent", 65.0),
    ("1.18 g/mL", "density_kg_per_l", 1.18),
    ("10 lb/gal", "density_kg_per_l", 4.5359237 / 3.785411784),
    ("31.6 g/100 g water", "solubility_g_per_kg_water", 316.0),
    ("12 mmol/kg", "ionic_strength_mol_per_kg", 0.012),
    ("800 umol/L", "acid_mmol_per_l", 0.8),
    ("7.1", "target_ph", 7.1),
    (7, "count", 7.0),
    ("100", "target_mg_per_l.calcium", 100.0),
]

REFUSED = [
    ("1,5", "volume_l", "decimal_comma"),
    ("1,5 L", "volume_l", "decimal_comma"),
    ("-0,25", "temperature_celsius", "decimal_comma"),
    (",5", "volume_l", "decimal_comma"),
    ("1,000", "volume_l", "decimal_comma"),
    ("1_000", "volume_l", "digit_grouping"),
    ("1 000", "volume_l", "digit_grouping"),
    ("12 500 mL", "volume_l", "digit_grouping"),
    ("1\u202f000", "volume_l", "digit_grouping"),
    ("1'000", "volume_l", "digit_grouping"),
    ("1,000,000", "volume_l", "digit_grouping"),
    ("1,000.5", "volume_l", "digit_grouping"),
    ("1.000.000", "volume_l", "digit_grouping"),
    ("1.000,5", "volume_l", "digit_grouping"),
    ("nan", "volume_l", "not_finite"),
    ("-Infinity", "volume_l", "not_finite"),
    ("inf L", "volume_l", "not_finite"),
    ("1e999", "volume_l", "not_finite"),
    ("1e308 m3", "volume_ml", "not_finite"),
    (math.nan, "volume_l", "not_finite"),
    (-math.inf, "volume_l", "not_finite"),
    (10**400, "volume_l", "not_finite"),
    (True, "volume_l", "boolean"),
    (np.bool_(False), "volume_l", "boolean"),
    ("true", "volume_l", "boolean"),
    ("off", "volume_l", "boolean"),
    ("unknown", "volume_l", "value_unavailable"),
    ("Unavailable", "volume_l", "value_unavailable"),
    ("none", "volume_l", "value_unavailable"),
    ("", "volume_l", "value_unavailable"),
    ("  ", "volume_l", "value_unavailable"),
    (None, "volume_l", "value_unavailable"),
    ("9**9**9 L", "volume_l", "expression"),
    ("2*3 L", "volume_l", "expression"),
    ("5 + 3 L", "volume_l", "expression"),
    ("(5) L", "volume_l", "expression"),
    ("1/2 cup", "volume_l", "expression"),
    ("5-6 L", "volume_l", "expression"),
    ("5 L 3 ml", "volume_l", "expression"),
    ("2 L * 3", "volume_l", "expression"),
    ("__import__('os').system('1')", "volume_l", "expression"),
    ("5 galons", "volume_l", "unknown_unit"),
    ("5 ML", "volume_l", "unknown_unit"),
    ("5 Mg", "mass_g", "unknown_unit"),
    ("5 furlongs", "volume_l", "unknown_unit"),
    ("300 \u212aelvin", "temperature_celsius", "unknown_unit"),
    ("2 months", "interval_days", "unknown_unit"),
    ("5 mg/plant/month", "nitrogen_mg_per_plant_per_month", "unknown_unit"),
    ("5 kg", "volume_l", "wrong_dimension"),
    ("5 oz", "volume_l", "wrong_dimension"),
    ("2 tsp", "mass_g", "wrong_dimension"),
    ("2 tsp/gal", "g_per_l", "wrong_dimension"),
    ("450 ppm", "ec_ms_per_cm", "wrong_dimension"),
    ("450 mg/L", "ec_ms_per_cm", "wrong_dimension"),
    ("450 mg/L", "meter_ppm", "wrong_dimension"),
    ("3 mmol/L", "calcium_mg_per_l", "wrong_dimension"),
    ("3 meq/L", "potassium_bicarbonate_mg_per_l", "wrong_dimension"),
    ("10 dKH", "calcium_mg_per_l", "wrong_dimension"),
    ("5 L", "target_ph", "wrong_dimension"),
    ("abc", "volume_l", "not_a_number"),
    ("L", "volume_l", "not_a_number"),
    (".5", "volume_l", "not_a_number"),
    ("5.", "volume_l", "not_a_number"),
    ("\u22125 °C", "temperature_celsius", "not_a_number"),
    ("٣ L", "volume_l", "not_a_number"),
    ("123456789012345678901", "volume_l", "not_a_number"),
    ([1], "volume_l", "not_a_number"),
    ({"value": 1}, "volume_l", "not_a_number"),
    (1j, "volume_l", "not_a_number"),
    ("1" * (MAXIMUM_TEXT_LENGTH + 1), "volume_l", "text_too_long"),
]

EVERY_UNIT = [
    (suffix, kind, text)
    for suffix, unit in CANONICAL_UNITS.items()
    for kind in (unit.kind,)
    for spelling in SPELLINGS.get(kind, ())
    for text in (*spelling.symbols, *spelling.words)
]


@pytest.mark.parametrize(("text", "field", "expected"), READ)
def test_number_and_unit_is_read(text, field, expected):
    assert parse_quantity(text, field).value == pytest.approx(expected, rel=1e-14, abs=1e-14)


@pytest.mark.parametrize(("text", "field", "code"), REFUSED)
def test_text_that_is_no_quantity_is_refused_with_its_own_code(text, field, code):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, field)
    error = caught.value
    assert error.code == code
    assert error.detail
    assert error.received is None or isinstance(error.received, str | int | float | bool)
    assert len(str(error.received)) <= MAXIMUM_TEXT_LENGTH + 1


def test_every_refusal_code_is_in_the_table():
    assert {code for _, _, code in REFUSED} == set(REFUSAL_CODES)


def test_unknown_unit_says_what_was_meant_and_what_is_allowed():
    with pytest.raises(QuantityError, match="Did you mean 'gallons'") as caught:
        parse_quantity("5 galons", "volume_l")
    assert {"L", "mL", "gal", "imp gal"} <= set(caught.value.allowed)


def test_ppm_for_conductivity_points_to_the_scale():
    with pytest.raises(QuantityError, match="ppm with its scale in strength or in readings"):
        parse_quantity("450 ppm", "target.ec_ms_per_cm")


def test_ounces_for_a_volume_point_to_fluid_ounces():
    with pytest.raises(QuantityError, match="fl oz"):
        parse_quantity("5 oz", "volume_l")


@pytest.mark.parametrize(
    ("text", "field", "code", "phrase"),
    [
        ("5 gal", "volume_l", "us_customary_assumed", "US gallons: 18.927 L; write 'imp gal'"),
        ("1 cup", "volume_l", "us_customary_assumed", "US cups"),
        ("2 pt", "volume_l", "us_customary_assumed", "write 'imp pt'"),
        ("1 tsp", "volume_ml", "customary_spoon_assumed", "4.9289 mL"),
        ("1 tsp/gal", "ml_per_l", "customary_spoon_assumed", "1.3021 mL/L"),
        ("1 oz/gal", "g_per_l", "us_customary_assumed", "US gallons"),
        ("150 ppm", "nitrogen_mg_per_l", "ppm_read_as_mg_per_l", "150 mg/L"),
        ("150 mg/L", "alkalinity_mg_per_l_caco3", "read_as_caco3", "calcium carbonate"),
        ("2 mmol/L", "alkalinity_mg_per_l_caco3", "read_as_acid_capacity", "100.09"),
        ("2 mmol/L", "hardness_mg_per_l_caco3", "read_as_calcium_and_magnesium", "200.17"),
        ("2 mmol/L", "alkalinity_meq_per_l", "read_as_one_charge_per_mole", "2 meq/L"),
        ("7 gpg", "hardness_mg_per_l_caco3", "us_customary_assumed", "imperial gallon"),
    ],
)
def test_unit_with_several_meanings_says_how_it_was_read(text, field, code, phrase):
    quantity = parse_quantity(text, field)
    assert quantity.given == text
    assert quantity.assumption is not None
    assert quantity.assumption.code == code
    assert code in ASSUMPTION_CODES
    assert phrase in quantity.assumption.message


@pytest.mark.parametrize(
    ("text", "field"),
    [("5 US gal", "volume_l"), ("5 imp gal", "volume_l"), ("5 L", "volume_l"), ("5", "volume_l")],
)
def test_unit_with_one_meaning_assumes_nothing(text, field):
    assert parse_quantity(text, field).assumption is None


def test_field_without_a_unit_in_its_name_is_a_fault_of_the_program():
    with pytest.raises(ValueError, match="nitrogen"):
        parse_quantity("5", "nitrogen")
    with pytest.raises(ValueError, match="not written in"):
        express(1.0, "volume_l", "kg")


@pytest.mark.parametrize(
    "text",
    ["9**9**9 L", "9" * 10**6, "1 " * 500_000, " " * 10**6, "1e" + "9" * 70, "1.000" * 15 + ","],
)
def test_hostile_text_is_refused_and_never_evaluated(text):
    # Evaluating 9**9**9 would not end within the day.
    with pytest.raises(QuantityError):
        parse_quantity(text, "volume_l")


def _outcome(text, field):
    """Return the value, or the refusal."""
    try:
        return parse_quantity(text, field).value
    except QuantityError as error:
        return error


@given(st.text(max_size=90))
def test_any_text_is_read_or_refused_and_nothing_else(text):
    outcome = _outcome(text, "volume_l")
    if isinstance(outcome, QuantityError):
        assert outcome.code in REFUSAL_CODES
        assert (outcome.detail + str(outcome.received)).encode("utf-8")
    else:
        assert math.isfinite(outcome)


def test_whole_number_too_long_to_print_is_refused():
    refusal = _outcome(10**5000, "volume_l")
    assert refusal.code == "not_finite"
    assert refusal.received == "a very large whole number"


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_bare_number_and_its_shortest_text_are_the_same(value):
    assert parse_quantity(value, "volume_l").value == value
    assert parse_quantity(repr(value), "volume_l").value == value


@given(unit=st.sampled_from(EVERY_UNIT), value=st.floats(1e-9, 1e9), sign=st.sampled_from([1, -1]))
def test_user_to_canonical_to_user_closes(unit, value, sign):
    suffix, kind, text = unit
    number = sign * value
    canonical = parse_quantity(f"{number!r} {text}", "x" + suffix).value
    back = express(canonical, "x" + suffix, text)
    # An offset of up to 460 degrees costs digits of a small temperature, so it is measured by
    # the largest number on the way; every other unit is a plain factor.
    scale = abs(number) + (500.0 if kind == "temperature" else 0.0)
    assert abs(back - number) <= 1e-12 * scale


@pytest.mark.parametrize(("suffix", "kind", "text"), EVERY_UNIT)
def test_every_unit_agrees_with_the_float_registry_definition(suffix, kind, text):
    units = units_of_kind(kind, suffix)
    conversion = units.find(text)
    spelling = next(
        s
        for s in SPELLINGS[kind]
        if text in s.symbols or text.lower() in {word.lower() for word in s.words}
    )
    there = UNIT_REGISTRY.Quantity(7, UNIT_REGISTRY.Unit(spelling.pint_text))
    expected = there.to(UNIT_REGISTRY.Unit(CANONICAL_UNITS[suffix].pint_text)).magnitude
    value = (7.0 - conversion.zero) * conversion.factor
    assert value == pytest.approx(float(expected) * spelling.multiplier, rel=1e-13)


@pytest.mark.parametrize("kind", [*SPELLINGS])
def test_no_unit_text_has_two_meanings_within_a_kind(kind):
    symbols = [text for spelling in SPELLINGS[kind] for text in spelling.symbols]
    words = [text.lower() for spelling in SPELLINGS[kind] for text in spelling.words]
    assert len(symbols) == len(set(symbols))
    assert len(words) == len(set(words))
    assert not {symbol.lower() for symbol in symbols} & set(words)


def test_column_converts_as_its_numbers_do():
    values = [0.0, 1.5, 20.0, -3.0]
    column = convert_many(values, "°F", "temperature_celsius")
    one_by_one = [parse_quantity(f"{value} °F", "temperature_celsius").value for value in values]
    np.testing.assert_array_equal(column.values, one_by_one)
    assert column.assumption is None


def test_column_says_once_how_its_unit_was_read_and_keeps_gaps():
    column = convert_many(np.array([1.0, np.nan, np.inf]), "gal", "volume_l")
    assert column.values[0] == pytest.approx(3.785411784, rel=1e-15)
    assert np.isnan(column.values[1])
    assert np.isinf(column.values[2])
    assert column.assumption.code == "us_customary_assumed"


def test_column_leaves_the_values_of_the_caller_alone():
    values = np.array([1.0, 2.0])
    convert_many(values, "", "volume_l").values[0] = 9.0
    assert values[0] == 1.0


@pytest.mark.parametrize(
    ("unit", "code"),
    [("kg", "wrong_dimension"), ("furlong", "unknown_unit"), ("L" * 10**6, "text_too_long")],
)
def test_column_with_a_foreign_unit_is_refused(unit, code):
    with pytest.raises(QuantityError) as caught:
        convert_many([1.0], unit, "volume_l")
    assert caught.value.code == code
