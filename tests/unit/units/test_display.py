"""Words for people in US and imperial measure."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.units.canonical import CANONICAL_UNITS
from service.units.convert import parse_quantity
from service.units.display import display


@pytest.mark.parametrize(
    ("value", "field", "system", "expected"),
    [
        (11.9, "product_mass_g", "us", "0.42 oz"),
        (11.9, "product_mass_g", "imperial", "0.42 oz"),
        (680.0, "product_mass_g", "us", "1.50 lb"),
        (0.8, "product_mass_g", "us", "0.800 g"),
        (18.927, "volume_l", "us", "5.0 US gal"),
        (22.73, "volume_l", "imperial", "5.0 imp gal"),
        (4.0, "volume_l", "us", "1.06 US gal"),
        (378.5, "volume_l", "us", "100.0 US gal"),
        (0.25, "volume_l", "us", "8.45 US fl oz"),
        (0.25, "volume_l", "imperial", "8.80 imp fl oz"),
        (3.2, "acid_volume_ml", "us", "0.65 US tsp"),
        (0.3, "acid_volume_ml", "us", "0.300 mL"),
        (22.2, "temperature_celsius", "us", "72 °F"),
        (-20.0, "temperature_celsius", "us", "-4 °F"),
        (-18.0, "temperature_celsius", "us", "0 °F"),
        (10.0, "pot_diameter_cm", "us", "3.9 in"),
        (1.0, "g_per_l", "us", "0.134 oz/US gal"),
        (0.3, "g_per_l", "us", "4.0 oz/100 US gal"),
        (2.0, "ml_per_l", "us", "1.54 tsp/US gal"),
        (2.0, "ml_per_l", "imperial", "0.32 imp fl oz/imp gal"),
        (150.0, "nitrogen_mg_per_l", "us", "150 mg/L"),
        (1.234, "ec_ms_per_cm", "us", "1.23 mS/cm"),
        (0.0, "volume_l", "us", "0 L"),
        (5.8, "target_ph", "us", "5.80"),
    ],
)
def test_value_is_worded_in_customary_measure(value, field, system, expected):
    assert display(value, field, system) == expected


@given(
    st.floats(1e-3, 1e5),
    st.sampled_from([*CANONICAL_UNITS]),
    st.sampled_from(["us", "imperial"]),
)
def test_displayed_text_reads_back_as_nearly_the_same_value(value, suffix, system):
    field = "x" + suffix
    text = display(value, field, system)
    number = re.match(r"-?[0-9.]+", text)[0]
    unit = text.removeprefix(number).strip()
    if suffix in {"_celsius", "_kelvin"}:
        assert abs(parse_quantity(text, field).value - value) <= 0.5 * 5 / 9 + 1e-9
    elif unit == CANONICAL_UNITS[suffix].symbol:
        assert float(number) == pytest.approx(value, rel=0.006)
    else:
        # Two significant digits at least, three after a leading 1.
        assert parse_quantity(text, field).value == pytest.approx(value, rel=0.026)
