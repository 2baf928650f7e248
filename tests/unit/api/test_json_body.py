"""Reading JSON without guessing, and without losing time on hostile bodies."""

import gc
import json
import time
from collections.abc import Callable
from contextlib import suppress

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
    assert code_of(bracket * 200_000) in ("malformed_json", "too_deep")


def seconds_to_read(body: bytes) -> float:
    """The least of three, in processor time, with nothing of an earlier body left to clear up."""
    found = []
    for _ in range(3):
        gc.collect()
        started = time.process_time()
        with suppress(ProblemError):
            parse_json(body)
        found.append(time.process_time() - started)
    return min(found)


@pytest.mark.parametrize(
    "hostile",
    [
        lambda size: b"[" + b"[]," * (size // 3) + b"[]]",
        lambda size: b'["' + b"[" * size + b'"]',
        lambda size: b'["' + b'\\"[' * (size // 3) + b'"]',
        lambda size: b'"' * size,
    ],
)
def test_hostile_body_takes_time_in_proportion_to_its_size(hostile: Callable[[int], bytes]) -> None:
    # Eight times the body: eight times the time where it is in proportion, 64 times where a reader
    # goes back over what it has read.
    small, large = seconds_to_read(hostile(500_000)), seconds_to_read(hostile(4_000_000))
    assert large < 24.0 * max(small, 0.002)
