"""The published patterns and the parser speak the same language."""

import json
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.units.canonical import CANONICAL_UNITS
from service.units.catalogue import schema_pattern, unit_catalogue
from service.units.convert import QuantityError, parse_quantity, units_of_field
from service.units.refusals import MAXIMUM_TEXT_LENGTH, NOT_FINITE

FIELDS = [
    *("x" + suffix for suffix in CANONICAL_UNITS),
    "bicarbonate_mg_per_l",
    "alkalinity_mg_per_l_caco3",
    "hardness_mg_per_l_caco3",
    "target_ph",
]


def _refusal_code(text, field):
    """Return the code of the refusal, None where the text is read."""
    try:
        parse_quantity(text, field)
    except QuantityError as error:
        return error.code
    return None


@pytest.mark.parametrize("field", FIELDS)
def test_every_documented_spelling_matches_its_pattern_and_is_read(field):
    pattern = re.compile(schema_pattern(field))
    units = units_of_field(field)
    texts = ["12", "-1.25", "+3e-2", *(f"12.5 {text}" for text in units.by_symbol)]
    texts += [f"12.5{text}" for text in units.by_symbol]
    texts += [
        f"12.5 {spelled}"
        for spelling in units.spellings
        for text in spelling.words
        for spelled in (text, text.lower(), text.upper(), text.title())
    ]
    for text in texts:
        assert pattern.search(text), text
        parse_quantity(text, field)


@given(data=st.data(), field=st.sampled_from(FIELDS))
def test_every_text_that_matches_the_pattern_is_read(data, field):
    text = data.draw(st.from_regex(schema_pattern(field)))
    assert len(text.removesuffix("\n")) <= MAXIMUM_TEXT_LENGTH
    assert _refusal_code(text, field) in {None, NOT_FINITE}


@given(data=st.data(), field=st.sampled_from(FIELDS))
def test_every_text_that_is_read_matches_the_pattern(data, field):
    text = data.draw(st.from_regex(schema_pattern(field), fullmatch=True))
    place = data.draw(st.integers(0, len(text)))
    character = data.draw(st.sampled_from("aLkKmM 0.,eE-+/µ\u212a°*²"))
    length = data.draw(st.integers(0, 1))
    changed = text[:place] + character + text[place + length :]
    # The parser is more patient with blanks at the ends and before the unit, with nothing else.
    assume("   " not in changed)
    if not re.search(schema_pattern(field), changed):
        assert _refusal_code(changed, field) is not None


@pytest.mark.parametrize("field", FIELDS)
def test_pattern_is_anchored_bounded_and_portable(field):
    pattern = schema_pattern(field)
    assert pattern.startswith("^")
    assert pattern.endswith("$")
    # No unbounded repetition, and no escape, group or class that one of the dialects lacks.
    assert not re.search(r"(?<!\\)[*]|\{\d+,\}|(?<=[)\]])\+|\\[^.]|\(\?[^:]", pattern)
    assert len(pattern) < 2000


def test_catalogue_is_plain_data_with_every_suffix():
    catalogue = unit_catalogue()
    assert json.loads(json.dumps(catalogue, allow_nan=False)) == catalogue
    assert [entry["suffix"] for entry in catalogue] == [*CANONICAL_UNITS]


def test_factor_and_offset_of_the_catalogue_are_those_of_the_parser():
    narrowed = {"alkalinity": "alkalinity", "hardness": "hardness", "bicarbonate": "bicarbonate"}
    for entry in unit_catalogue():
        for unit in entry["accepted"]:
            field = narrowed.get(unit["only_for"], "x") + entry["suffix"]
            for text in (*unit["spellings"], *unit["any_case"]):
                quantity = parse_quantity(f"7 {text}", field)
                assert quantity.value == pytest.approx(
                    7.0 * unit["factor"] + unit["offset"], rel=1e-12, abs=1e-12
                )
                assert (quantity.assumption is None) == (unit["assumption"] is None)


def test_catalogue_may_be_changed_without_changing_the_next():
    unit_catalogue()[0]["accepted"].clear()
    assert unit_catalogue()[0]["accepted"]
