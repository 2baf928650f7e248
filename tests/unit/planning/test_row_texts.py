"""Rows of a batch are found in its text where a complete reader finds them."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.planning.row_texts import FOUND, NOT_PLAIN, TOO_MANY, row_texts

MOST, DEEPEST = 50, 32

values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)


def names_in(value: object) -> int:
    if isinstance(value, dict):
        return len(value) + sum(map(names_in, value.values()))
    return sum(map(names_in, value)) if isinstance(value, list) else 0


def nulls_in(value: object) -> int:
    if isinstance(value, dict):
        return sum(map(nulls_in, value.values()))
    return sum(map(nulls_in, value)) if isinstance(value, list) else int(value is None)


@given(st.lists(values, max_size=8), values, st.sampled_from([None, 1]), st.booleans())
def test_every_row_is_cut_out_whole(rows, other, indent, ascii_only):
    document = {"defaults": other, "rows": rows, "more": other}
    text = json.dumps(document, indent=indent, ensure_ascii=ascii_only).encode(
        "utf-8", "surrogatepass"
    )
    found = row_texts(text, MOST, DEEPEST)
    assert found.status == FOUND
    cut = [
        json.loads(text[start:end].decode("utf-8", "surrogatepass"))
        for start, end in zip(found.starts, found.ends, strict=True)
    ]
    assert cut == rows
    assert found.names.tolist() == [names_in(row) for row in rows]
    assert found.nulls.tolist() == [nulls_in(row) for row in rows]
    assert text[found.first : found.first + 1] == b"["
    assert text[found.last : found.last + 1] == b"]"


def test_a_name_that_stands_twice_counts_twice():
    found = row_texts(b'{"rows":[{"a":1,"a":2}]}', MOST, DEEPEST)
    assert found.names.tolist() == [2]


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[1]",
        b'{"rows":5}',
        b'{"rows":[1],"rows":[2]}',
        b'{"r\\u006fws":[1]}',
        b'{"rows":[1}',
        b'{"rows":[1]',
        b'{"rows":["a]}',
        b'{"other":{"rows":[1]}}',
        b'{"rows":[' + b"[" * 40 + b"]" * 40 + b"]}",
        b'{"rows":[1]}}',
        b'{"rows":[1,,2]}',
        b'{"rows":[1,]}',
        b'{"rows":[,1]}',
    ],
)
def test_what_is_no_plain_batch_is_left_to_the_complete_reader(text):
    assert row_texts(text, MOST, DEEPEST).status == NOT_PLAIN


def test_more_rows_than_are_planned_are_not_looked_for():
    text = json.dumps({"rows": [{}] * (MOST + 1)}).encode()
    assert row_texts(text, MOST, DEEPEST).status == TOO_MANY
    assert row_texts(text, MOST + 1, DEEPEST).starts.size == MOST + 1
