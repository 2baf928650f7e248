"""The types of numbers in requests and answers."""

from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, ValidationError

from service.api.schemas.fields import Answer, Exact, Figure, Number3, Quantity, Request
from service.units.convert import QuantityError, parse_quantity


class Sample(Request):
    volume_l: Annotated[float, Quantity(gt=0, le=100)] | None = Field(
        default=None, description="A volume."
    )
    count: Annotated[int, Quantity(ge=1, le=10, whole=True)] | None = Field(
        default=None, description="A count."
    )
    shares_percent: dict[str, Annotated[float, Quantity(ge=0, lt=100)]] | None = Field(
        default=None, description="A map."
    )


class Result(Answer):
    mass_g: Number3 | None
    factor: Exact


def codes(error: ValidationError) -> list[str]:
    return [each["type"] for each in error.errors()]


@pytest.mark.parametrize(
    ("received", "value"),
    [(5, 5.0), (0.5, 0.5), ("5", 5.0), ("500 mL", 0.5), ("100", 100.0), (1e-9, 1e-9)],
)
def test_number_and_text_become_a_float_in_the_unit_of_the_field(
    received: object, value: float
) -> None:
    sample = Sample.model_validate({"volume_l": received})
    assert sample.volume_l == pytest.approx(value, rel=1e-15)
    assert type(sample.volume_l) is float


@pytest.mark.parametrize(
    ("received", "code"),
    [
        (True, "boolean"),
        (float("nan"), "not_finite"),
        (float("-inf"), "not_finite"),
        (10**400, "not_finite"),
        (0, "out_of_range"),
        (100.0000001, "out_of_range"),
        ("101 L", "out_of_range"),
        ("1,5", "decimal_comma"),
        ("", "value_unavailable"),
        ([], "not_a_number"),
        (b"5", "not_a_number"),
    ],
)
def test_anything_else_is_refused_with_its_own_code(received: object, code: str) -> None:
    with pytest.raises(ValidationError) as refused:
        Sample.model_validate({"volume_l": received})
    assert codes(refused.value) == [code]


@pytest.mark.parametrize("received", [3, 3.0, "3", "3.0"])
def test_whole_number_is_an_int_however_it_is_written(received: object) -> None:
    count = Sample.model_validate({"count": received}).count
    assert count == 3
    assert type(count) is int


@pytest.mark.parametrize("received", [2.5, "2.5"])
def test_broken_number_is_no_whole_number(received: object) -> None:
    with pytest.raises(ValidationError) as refused:
        Sample.model_validate({"count": received})
    assert codes(refused.value) == ["not_a_whole_number"]


def test_entries_of_a_map_are_in_the_unit_of_the_map() -> None:
    sample = Sample.model_validate({"shares_percent": {"a": "5 %", "b": 7}})
    assert sample.shares_percent == {"a": 5.0, "b": 7.0}


def test_published_schema_is_the_bounds_and_the_units() -> None:
    published = Sample.model_json_schema()["properties"]["volume_l"]["anyOf"][0]
    assert published["type"] == ["number", "string"]
    assert published["exclusiveMinimum"] == 0
    assert published["maximum"] == 100
    assert "gal" in published["pattern"].lower() or "[Gg]" in published["pattern"]
    answered = Sample.model_json_schema(mode="serialization")["properties"]["volume_l"]["anyOf"][0]
    assert answered == {"type": "number", "exclusiveMinimum": 0, "maximum": 100}


def test_range_is_said_in_words() -> None:
    assert Quantity(gt=0, le=100).range_text == "more than 0 and at most 100"
    assert Quantity(ge=0, lt=5).range_text == "at least 0 and less than 5"
    assert Quantity().range_text == "any number"


def verdict(received: Any) -> float | str:
    """Return what the field makes of a value: the number, or the code of the fault."""
    try:
        shares = Sample.model_validate({"shares_percent": {"a": received}}).shares_percent
    except ValidationError as refused:
        (code,) = codes(refused)
        return code
    return (shares or {})["a"]


@given(st.one_of(st.text(max_size=30), st.floats(), st.integers(), st.booleans(), st.none()))
def test_any_value_is_read_as_the_parser_reads_it_or_refused(received: Any) -> None:
    try:
        expected: float | str = parse_quantity(received, "shares_percent").value
    except QuantityError as refusal:
        expected = refusal.code
    if isinstance(expected, float) and not 0 <= expected < 100:
        expected = "out_of_range"
    assert verdict(received) == expected


def test_figure_keeps_the_digits_that_it_is_worth() -> None:
    result = Result(mass_g=181.64319999999998, factor=0.1234567890123456)
    assert result.model_dump_json() == '{"mass_g":182.0,"factor":0.123456789012}'
    assert Result(mass_g=None, factor=-0.0).model_dump_json() == '{"mass_g":null,"factor":0.0}'


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_answer_with_a_number_that_is_none_cannot_be_built(number: float) -> None:
    with pytest.raises(ValidationError, match="not finite"):
        Result(mass_g=number, factor=1.0)


def test_answer_has_no_defaults_and_takes_nothing_undeclared() -> None:
    with pytest.raises(ValidationError):
        Result(factor=1.0)
    with pytest.raises(ValidationError):
        Result.model_validate({"mass_g": 1.0, "factor": 1.0, "more": 1})


def test_figure_rounds_small_and_large_alike() -> None:
    assert Figure(3).checked(0.00123456) == 0.00123
    assert Figure(3).checked(123456.0) == 123000.0
