"""A record as plain numbers: words and answers are made of them several times faster."""

import functools
from typing import Any

import numpy as np
from numpy.typing import NDArray

_ALL_BITS = (1 << 64) - 1


@functools.cache
def _places(layout: np.dtype[np.void]) -> tuple[tuple[str, str, int, int], ...]:
    """Return name, kind and places of every field, counted in numbers of eight bytes."""
    found = []
    for name in layout.names or ():
        kind, offset = layout.fields[name][:2]  # type: ignore[index]
        first = offset // 8
        found.append((name, kind.base.kind, first, first + kind.itemsize // 8 if kind.shape else 0))
    return tuple(found)


def readout(records: NDArray[np.void]) -> dict[str, Any]:
    """
    Return the one record of an array with Python's own numbers in it.

    Every function that only reads a record takes a readout as well. Taking one number out of a
    record costs more than reading all of them at once.

    Parameters
    ----------
    records : ndarray of `rows.DOSE_REQUEST` or `rows.DOSE_RESULT`, shape (1,)
        One record, all of whose fields have eight bytes, or are rows of such.

    Returns
    -------
    dict
        Floats and integers by field, lists of them for fields that are rows.
    """
    numbers: dict[str, list[Any]] = {
        "f": records.view(np.float64).tolist(),
        "i": records.view(np.int64).tolist(),
    }
    read: dict[str, Any] = {}
    for name, kind, first, end in _places(records.dtype):
        if end:
            read[name] = numbers["f" if kind == "f" else "i"][first:end]
        elif kind == "f":
            read[name] = numbers["f"][first]
        else:
            # Bits are unsigned; codes are small.
            number = numbers["i"][first]
            read[name] = number & _ALL_BITS if kind == "u" else number
    return read
