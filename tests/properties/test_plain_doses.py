"""The short way of a plain dose and the route of the contract give the same bytes."""

import asyncio
import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api.formats.answer_writer import AnswerWriter
from service.api.formats.json import json_bytes
from service.api.plain_doses import plain_answer
from service.api.routes.dilutions import FIELDS
from service.api.schemas.answer import Step
from service.api.schemas.dilutions import DilutionAnswer
from service.api.schemas.doses import DoseAnswer, DueToday
from service.api.schemas.targets import TargetAnswer
from service.main import create_app
from service.planning.catalogue import catalogue
from tests.properties.test_batch_rows import ODD, usable, whole_rows

APP = create_app()
DIFFERING = (b"x-request-id",)

today = st.fixed_dictionaries(
    {},
    optional={
        "today": st.sampled_from(["2027-03-01", "tomorrow"]),
        "last_applied": st.sampled_from([{"feed": "2027-02-20"}, {}, None]),
        "hemisphere": st.sampled_from(["north", "west"]),
    },
)
todays = st.builds(lambda row, more: row | more, usable, today)


def answered(body: bytes, accept: bytes) -> tuple[int, list[tuple[bytes, bytes]], bytes]:
    """Return status, headers and body of an answer, asked without a server between."""
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", b"%d" % len(body)),
        (b"accept", accept),
    ]
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/v1/doses",
        "raw_path": b"/v1/doses",
        "query_string": b"",
        "root_path": "",
        "headers": headers,
        "scheme": "http",
        "server": ("127.0.0.1", 80),
        "client": ("127.0.0.1", 1),
    }
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(APP(scope, receive, send))
    start, *rest = sent
    kept = [(name, value) for name, value in start["headers"] if name not in DIFFERING]
    return start["status"], kept, b"".join(message.get("body", b"") for message in rest)


@settings(max_examples=300, deadline=None)
@given(usable | whole_rows | todays | ODD)
def test_a_dose_is_answered_the_same_on_both_ways(asked):
    body = json.dumps(asked).encode()
    # An `Accept` that has to be weighed is left to the route.
    assert answered(body, b"*/*") == answered(body, b"application/json, text/csv;q=0.1")


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"\xff",
        b'{"product":"urea","volume_l":3,"volume_l":4}',
        b'{"product":"urea","volume_l":1e999}',
        b'\xef\xbb\xbf{"product":"feed_20_20_20","volume_l":3}',
        b'{"product":"feed_20_20_20","volume_l":3} x',
        b"[" * 40 + b"]" * 40,
        b'{"product":"feed_20_20_20","volume_l":3,"air":{"humidity_percent":0.5}}',
        b'{"product":"feed_20_20_20","volume_l":3,"target_ph":4.9,"water":"rain"}',
    ],
)
def test_a_body_that_is_refused_is_refused_the_same_on_both_ways(body):
    status, _, text = answered(body, b"*/*")
    assert status in (200, 400, 422)
    assert text == answered(body, b"application/json, text/csv;q=0.1")[2]


def test_most_doses_take_the_short_way():
    asked = {
        "id": "bench 3",
        "plants": {"profile": "moth_orchid", "size": "mini", "count": 3},
        "air": {"humidity_percent": 60.5, "temperature_celsius": 22},
        "product": "feed_13_3_15_ca_mg",
        "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 60},
        "water": {"ph": 7.2, "alkalinity_mg_per_l_caco3": 80, "calcium_mg_per_l": 30},
        "volume_l": 10,
        "target_ph": 5.8,
        "acid": {"kind": "citric"},
    }
    assert plain_answer(json.dumps(asked).encode(), catalogue()) is not None


@settings(max_examples=300, deadline=None)
@given(usable)
def test_answers_without_a_model_are_those_of_the_model(asked):
    body = plain_answer_or_nothing(asked)
    if body is not None:
        assert json_bytes(DoseAnswer.model_validate_json(body)) == body


def plain_answer_or_nothing(asked: dict[str, Any]) -> bytes | None:
    status, _, body = answered(json.dumps(asked).encode(), b"*/*")
    return body if status == 200 else None


# From 1e16 on the two write the exponent with and without its sign; no answer goes that far.
numbers = st.floats(-1e15, 1e15)
steps = st.fixed_dictionaries(
    {
        "order": st.integers(1, 99),
        "instruction": st.text(st.characters(exclude_categories=["Cs"])),
        "quantity": st.none() | numbers,
        "unit": st.none() | st.text(st.characters(exclude_categories=["Cs"])),
    }
)


@settings(max_examples=500, deadline=None)
@given(steps)
def test_texts_and_numbers_are_written_as_the_model_writes_them(fields):
    assert AnswerWriter(Step).bytes(fields) == json_bytes(Step(**fields))


@settings(max_examples=200, deadline=None)
@given(numbers)
def test_numbers_are_rounded_as_the_model_rounds_them(number):
    fields = example_of_a_dilution() | {
        "elements_mg_per_l": {"nitrogen": number},
        "predicted_ph": number,
        "product_mass_g": number,
    }
    assert AnswerWriter(DilutionAnswer).bytes(fields) == json_bytes(DilutionAnswer(**fields))


def example_of_a_dilution() -> dict[str, Any]:
    known = dict.fromkeys((*FIELDS, "ec_ms_per_cm", "range", "nearest"))
    lists = ("additions", "saturation", "conflicts", "assumptions", "cautions", "models", "sources")
    return {
        **known,
        **{name: [] for name in lists},
        "status": "ok",
        "display": {},
        "inputs": {},
        "version": {"service": "1", "data": "2"},
    }


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf])
def test_an_answer_with_a_number_that_is_not_finite_is_not_given(wrong):
    step = {"order": 1, "instruction": "", "quantity": wrong, "unit": None}
    for write in (AnswerWriter(Step).bytes, lambda fields: Step(**fields)):
        with pytest.raises(ValueError, match="finite"):
            write(step)
    for field in ("predicted_ph", "elements_mg_per_l"):
        value = {"nitrogen": wrong} if field == "elements_mg_per_l" else wrong
        with pytest.raises(ValueError, match="finite"):
            AnswerWriter(DilutionAnswer).bytes(example_of_a_dilution() | {field: value})


def test_a_field_that_is_missing_is_not_left_out_in_silence():
    with pytest.raises(KeyError):
        AnswerWriter(Step).bytes({"order": 1, "instruction": "", "unit": None})


def test_models_whose_fields_need_no_rounding_are_written_as_they_are():
    fields = {"application": "feed", "flush_first": False, "reasons": ['é\u2028\x7f\x00"\\/']}
    assert AnswerWriter(DueToday).bytes(fields) == json_bytes(DueToday(**fields))
    assert AnswerWriter(TargetAnswer).model is TargetAnswer
