"""Reading a JSON body without guessing: UTF-8, no key twice, nothing bottomless."""

import json
import re
from typing import Any, Final

from service.api.problems import FieldError, ProblemError
from service.api.received import repeatable
from service.api.validation import json_pointer

DEEPEST: Final = 32
"""Nesting beyond this is refused; the deepest request of the contract has five levels."""

MOST_KEYS: Final = 200
"""
Keys of one object beyond this are refused; the largest object of the contract has some thirty.

Each unknown key becomes a fault: without a bound, an answer would be many times the request.
"""


LEAST_BYTES_OF_A_PART: Final = 16
FEW_PARTS: Final = 10_000
"""
Objects and lists beyond these few take at least so many bytes each in a request: a name or a value
is in them. Tens of megabytes of empty ones would keep the decoder busy for many seconds.
"""


class _DuplicateKeyError(ValueError):
    """An object that names the same key twice."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.key = key


class _TooManyKeysError(ValueError):
    """An object with more keys than any request has."""


def _object_without_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(pairs) > MOST_KEYS:
        raise _TooManyKeysError
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


_NO_BRACKETS: Final = bytes(set(range(256)) - set(b"[]{}"))
_AS_SQUARE: Final = bytes.maketrans(b"{}", b"[]")
_TEXT: Final = re.compile(rb'"(?:[^"\\]|\\.)*+"', re.DOTALL)


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
        400 `unreadable_body` with one fault: `encoding`, `malformed_json`, `duplicate_key`,
        `too_many` or `too_deep`.
    """
    if body.startswith(b"\xef\xbb\xbf"):
        body = body[3:]
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        detail = f"The body is not UTF-8: byte {error.start} cannot be read."
        raise _unreadable("encoding", detail) from None
    deep = _is_deep(body)
    if _is_crowded(body):
        if deep:
            raise _too_deep()
        detail = (
            "The body is made of objects and lists that hold next to nothing:"
            f" at most one for every {LEAST_BYTES_OF_A_PART} bytes is read."
        )
        raise _unreadable("too_many", detail)
    try:
        value: object = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        detail = (
            f"The body is not well-formed JSON: {error.msg.lower()} at line {error.lineno},"
            f" column {error.colno}."
        )
        raise _unreadable("malformed_json", detail) from None
    except _DuplicateKeyError as error:
        detail = f"The key `{repeatable(error.key)}` stands twice in one object."
        raise _unreadable("duplicate_key", detail, error.key) from None
    except _TooManyKeysError:
        detail = f"An object of the body has more than {MOST_KEYS} fields."
        raise _unreadable("too_many", detail) from None
    except ValueError:
        # An integer of thousands of digits; Python limits how long a text it converts.
        raise _unreadable("malformed_json", "The body holds a number of too many digits.") from None
    except RecursionError:
        deep = True
    if deep:
        raise _too_deep()
    return value


def _too_deep() -> ProblemError:
    return _unreadable("too_deep", f"The body is nested deeper than {DEEPEST} levels.")


def _unreadable(code: str, detail: str, received: str | None = None) -> ProblemError:
    fault = FieldError(
        pointer=json_pointer(()), code=code, detail=detail, received=repeatable(received)
    )
    return ProblemError("unreadable_body", detail, [fault])


def _is_crowded(body: bytes) -> bool:
    """Tell whether there are more objects and lists than any request of this size has."""
    most = FEW_PARTS + len(body) // LEAST_BYTES_OF_A_PART
    if body.count(b"{") + body.count(b"[") <= most:
        return False
    bare = _TEXT.sub(b"", body)
    return bare.count(b"{") + bare.count(b"[") > most


def _is_deep(body: bytes) -> bool:
    """Tell whether brackets seem to be nested too deeply; the decoder then has the last word."""
    if body.count(b"{") + body.count(b"[") <= DEEPEST:
        return False
    # Brackets inside texts can only make it seem deeper: texts are cut out when it does.
    return _is_nested_deeper(body) and _is_nested_deeper(_TEXT.sub(b"", body))


def _is_nested_deeper(body: bytes) -> bool:
    """Take the innermost level away as often as it is allowed to be there."""
    brackets = body.translate(_AS_SQUARE, _NO_BRACKETS)
    for _ in range(DEEPEST):
        if not brackets:
            return False
        brackets = brackets.replace(b"[]", b"")
    return bool(brackets)
