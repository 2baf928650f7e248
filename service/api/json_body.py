"""Reading a JSON body without guessing: UTF-8, no key twice, no bottomless nesting."""

import json
from typing import Any, Final

from service.api.problems import FieldError, ProblemError
from service.api.received import repeatable
from service.api.validation import json_pointer

DEEPEST: Final = 32
"""Nesting beyond this is refused; the deepest request of the contract has five levels."""


class _DuplicateKeyError(ValueError):
    """An object that names the same key twice."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.key = key


def _object_without_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    collected = dict(pairs)
    if len(collected) != len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise _DuplicateKeyError(key)
            seen.add(key)
    return collected


_DECODER: Final = json.JSONDecoder(object_pairs_hook=_object_without_duplicates)
"""NaN, Infinity and 1e999 are read as numbers here, so that the field can be named that has one."""


def parse_json(body: bytes) -> object:
    """
    Return the value that a body holds.

    Parameters
    ----------
    body : bytes
        UTF-8, with or without a byte-order mark.

    Returns
    -------
    object
        Objects, lists, texts, numbers.

    Raises
    ------
    ProblemError
        400 `unreadable_body` with one fault: `encoding`, `malformed_json`, `duplicate_key` or
        `too_deep`.
    """
    if body.startswith(b"\xef\xbb\xbf"):
        body = body[3:]
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        detail = f"The body is not UTF-8: byte {error.start} cannot be read."
        raise _unreadable("encoding", detail) from None
    if body.count(b"{") + body.count(b"[") > DEEPEST and _depth(text) > DEEPEST:
        raise _unreadable("too_deep", f"The body is nested deeper than {DEEPEST} levels.")
    try:
        return _DECODER.decode(text)
    except json.JSONDecodeError as error:
        detail = (
            f"The body is not well-formed JSON: {error.msg.lower()} at line {error.lineno},"
            f" column {error.colno}."
        )
        raise _unreadable("malformed_json", detail) from None
    except _DuplicateKeyError as error:
        detail = f"The key `{repeatable(error.key)}` stands twice in one object."
        raise _unreadable("duplicate_key", detail, error.key) from None
    except ValueError:
        # An integer of thousands of digits; Python limits how long a text it converts.
        raise _unreadable("malformed_json", "The body holds a number of too many digits.") from None


def _unreadable(code: str, detail: str, received: str | None = None) -> ProblemError:
    fault = FieldError(
        pointer=json_pointer(()), code=code, detail=detail, received=repeatable(received)
    )
    return ProblemError("unreadable_body", detail, [fault])


def _depth(text: str) -> int:
    """Return how deeply brackets are nested outside of texts, up to just past the limit."""
    depth = deepest = 0
    inside = escaped = False
    for character in text:
        if inside:
            if escaped:
                escaped = False
            elif character == "\\":
                escaped = True
            elif character == '"':
                inside = False
        elif character == '"':
            inside = True
        elif character in "{[":
            depth += 1
            if depth > deepest:
                deepest = depth
                if deepest > DEEPEST:
                    return deepest
        elif character in "}]":
            depth -= 1
    return deepest
