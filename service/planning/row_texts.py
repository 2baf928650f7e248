"""
Where the rows of a batch stand in its text, found without reading them.

A batch of a hundred megabytes is cut into rows by one compiled pass that lets go of the
interpreter; whether a row is well formed is for its reader to say.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.kernel import kernel

FOUND: Final = 0
NOT_PLAIN: Final = 1
"""The text is no object with one list of rows; a complete reader has to tell what it is."""
TOO_MANY: Final = 2

_QUOTE: Final = ord('"')
_BACKSLASH: Final = ord("\\")
_COLON: Final = ord(":")
_COMMA: Final = ord(",")
_OPEN_LIST: Final = ord("[")
_CLOSE_LIST: Final = ord("]")
_OPEN_OBJECT: Final = ord("{")
_CLOSE_OBJECT: Final = ord("}")
_SMALL_N: Final = ord("n")
_SPACE: Final = ord(" ")
_NAME: Final = np.frombuffer(b"rows", dtype=np.uint8)


@dataclass(frozen=True, eq=False)
class RowTexts:
    """
    Places of the rows in a text.

    Attributes
    ----------
    status : int
        `FOUND`, `NOT_PLAIN` or `TOO_MANY`.
    starts, ends : ndarray of int, shape (n_rows,)
        First byte of each row, and the one after its last.
    names, nulls : ndarray of int, shape (n_rows,)
        Names that stand in its objects, and how many values are null.
    first, last : int
        Places of the brackets around the rows.
    """

    status: int
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    names: NDArray[np.int64]
    nulls: NDArray[np.int64]
    first: int
    last: int


@kernel
def _after_text(text: np.ndarray, place: int) -> int:
    """Place of the quote that ends a text, which starts after this place; the end without one."""
    size = text.size
    place += 1
    while place < size:
        byte = text[place]
        if byte == _QUOTE:
            return place
        place += 2 if byte == _BACKSLASH else 1
    return size


@kernel
def _names_rows(text: np.ndarray, start: int, end: int) -> bool:
    """Tell whether the text between two quotes is the name of the list of rows."""
    same = end - start - 1 == _NAME.size
    for place in range(_NAME.size):
        same = same and text[start + 1 + place] == _NAME[place]
    return same


@kernel
def find_rows(
    text: np.ndarray,
    deepest: int,
    starts: np.ndarray,
    ends: np.ndarray,
    names: np.ndarray,
    nulls: np.ndarray,
    found: np.ndarray,
) -> int:
    """
    Find the rows of a batch.

    Parameters
    ----------
    text : ndarray of uint8
        JSON in UTF-8.
    deepest : int
        Deepest nesting that is followed.
    starts, ends, names, nulls : ndarray of int, shape (n_most,)
        Receive what `RowTexts` says of each row.
    found : ndarray of int, shape (3,)
        Receives the number of rows and the places of the brackets around them.

    Returns
    -------
    int
        `FOUND`, `NOT_PLAIN` or `TOO_MANY`.
    """
    size = text.size
    depth = 0
    count = 0
    inside = False
    complete = False
    opened = -1
    last = -1
    named, empty = 0, 0
    place = 0
    while place < size:
        byte = text[place]
        if byte <= _SPACE:
            place += 1
            continue
        if inside and depth == 2 and opened < 0 and byte != _COMMA and byte != _CLOSE_LIST:
            if count >= starts.size:
                return TOO_MANY
            opened = place
            named, empty = 0, 0
        if byte == _QUOTE:
            end = _after_text(text, place)
            if end >= size:
                return NOT_PLAIN
            if depth == 1 and _names_rows(text, place, end):
                following = end + 1
                while following < size and text[following] <= _SPACE:
                    following += 1
                if following < size and text[following] == _COLON:
                    following += 1
                    while following < size and text[following] <= _SPACE:
                        following += 1
                    if complete or following >= size or text[following] != _OPEN_LIST:
                        return NOT_PLAIN
                    inside = True
                    found[1] = following
                    depth = 2
                    end = following
            place = end
        elif byte in (_OPEN_LIST, _OPEN_OBJECT):
            depth += 1
            if depth > deepest:
                return NOT_PLAIN
        elif byte in (_CLOSE_LIST, _CLOSE_OBJECT):
            if inside and depth == 2:
                if opened >= 0:
                    starts[count], ends[count] = opened, last + 1
                    names[count], nulls[count] = named, empty
                    count += 1
                    opened = -1
                elif count > 0:
                    return NOT_PLAIN
                found[2] = place
                inside = False
                complete = True
            depth -= 1
            if depth < 0:
                return NOT_PLAIN
        elif byte == _COMMA:
            if inside and depth == 2:
                if opened < 0:
                    return NOT_PLAIN
                starts[count], ends[count] = opened, last + 1
                names[count], nulls[count] = named, empty
                count += 1
                opened = -1
        elif byte == _COLON:
            named += 1
        elif byte == _SMALL_N:
            # Outside of texts this letter begins a null and stands in nothing else.
            empty += 1
        last = place
        place += 1
    found[0] = count
    return FOUND if complete and depth == 0 else NOT_PLAIN


def row_texts(text: bytes, most: int, deepest: int) -> RowTexts:
    """
    Find the rows of a batch.

    Parameters
    ----------
    text : bytes
        JSON in UTF-8: an object with a list `rows`.
    most : int
        Most rows that are looked for.
    deepest : int
        Deepest nesting that is followed.

    Returns
    -------
    RowTexts
        Where they stand.
    """
    bytes_of = np.frombuffer(text, dtype=np.uint8)
    # A row takes at least two bytes and a comma, so that a small body needs no large arrays.
    room = min(most, len(text) // 2 + 1)
    starts, ends, names, nulls = (np.empty(room, dtype=np.int64) for _ in range(4))
    found = np.full(3, -1, dtype=np.int64)
    status = find_rows(bytes_of, deepest, starts, ends, names, nulls, found)
    count = max(int(found[0]), 0) if status == FOUND else 0
    return RowTexts(
        int(status),
        starts[:count],
        ends[:count],
        names[:count],
        nulls[:count],
        int(found[1]),
        int(found[2]),
    )
