"""Reading JSON without guessing, and hostile bodies for what they are."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.json_body import DEEPEST, parse_json
from service.api.problems import ProblemError

JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False)
    | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=20,
)


def code_of(body: bytes) -> str:
    with pytest.raises(ProblemError) as refused:
        parse_json(body)
    assert refused.value.status_code == 400
    (fault,) = refused.value.errors
    return fault.code


@given(JSON_VALUES)
def test_what_json_can_say_is_read_as_it_was_said(value: object) -> None:
    assert parse_json(json.dumps(value).encode()) == value


@pytest.mark.parametrize("opening", [b"[", b'{"a":', b'[{"b":'])
def test_deepest_level_is_read_and_the_next_one_refused(opening: bytes) -> None:
    closing = {b"[": b"]", b'{"a":': b"}", b'[{"b":': b"}]"}[opening]
    levels = DEEPEST // (2 if opening.startswith(b"[{") else 1)
    assert parse_json(opening * levels + b"1" + closing * levels)
    assert code_of(opening * (levels + 1) + b"1" + closing * (levels + 1)) == "too_deep"


@pytest.mark.parametrize("text", ["[" * 500, '\\"' + "{" * 500, "]}" * 500, "\\\\", '\\\\\\"[['])
def test_brackets_in_texts_are_no_nesting(text: str) -> None:
    body = '{"a":"' + text + '","b":[1]' + "}"
    assert isinstance(parse_json(body.encode()), dict)


@pytest.mark.parametrize("bracket", [b"[", b"{", b"]", b'{"a":'])
def test_unbalanced_brackets_are_malformed_or_too_deep_and_never_a_crash(bracket: bytes) -> None:
    assert code_of(bracket * 40) == "malformed_json"
    assert code_of(bracket * 200_000) in ("malformed_json", "too_deep", "too_many")


@pytest.mark.parametrize(
    ("hostile", "code"),
    [
        (b'["' + b"[" * 100_000 + b'"', "malformed_json"),
        (b'["' + b'\\"[' * 30_000 + b'"', "malformed_json"),
        (b'"' * 100_000, "malformed_json"),
        (b"[" + b"[]," * 3_000, "malformed_json"),
    ],
)
def test_body_made_to_mislead_a_search_for_brackets_is_refused_for_what_it_is(
    hostile: bytes, code: str
) -> None:
    assert code_of(hostile) == code


@pytest.mark.parametrize("part", [b"[[]],", b"{},", b'{"a":{}},', b"[],"])
def test_millions_of_empty_parts_are_refused_before_they_are_made(part: bytes) -> None:
    assert code_of(b"[" + part * 30_000 + b"[]]") == "too_many"
    assert parse_json(b"[" + part * 3_000 + b"[]]")


def test_parts_that_say_something_are_read_however_many_there_are() -> None:
    row = b'{"water":{"ph":7},"product":"urea","volume_l":1},'
    assert parse_json(b"[" + row * 30_000 + b"[]]")


def test_brackets_in_texts_are_no_parts() -> None:
    text = b'"' + b"[" * 60_000 + b'"'
    assert parse_json(b"[" + text + b"]") == ["[" * 60_000]
