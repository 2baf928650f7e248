"""A record as plain numbers: words and answers are made of them several times faster."""

import functools
import struct
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

_CODES: Final = {"f": "d", "i": "q", "u": "Q"}


@functools.cache
def _form_of(layout: np.dtype[np.void]) -> tuple[struct.Struct, tuple[tuple[str, int, int], ...]]:
    """Return how the bytes of a record are read, and the places of every field among its values."""
    codes, places = [], []
    first = 0
    for name in layout.names or ():
        kind = layout[name]
        count = int(np.prod(kind.shape)) if kind.shape else 1
        codes.append(f"{count}{_CODES[kind.base.kind]}")
        places.append((name, first, first + count if kind.shape else 0))
        first += count
    return struct.Struct("=" + "".join(codes)), tuple(places)


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
    form, places = _form_of(records.dtype)
    values = form.unpack(records.tobytes())
    return {name: list(values[first:end]) if end else values[first] for name, first, end in places}


def record_of(read: Any, layout: np.dtype[np.void]) -> Any:
    """
    Return a readout as the record that it was, for kernels.

    Parameters
    ----------
    read : dict or record
        What `readout` gave; a record is returned as it is.
    layout : dtype
        `rows.DOSE_REQUEST` or `rows.DOSE_RESULT`.

    Returns
    -------
    record
        One record of the layout.
    """
    if not isinstance(read, dict):
        return read
    records = np.zeros(1, dtype=layout)
    for name, value in read.items():
        records[name] = value
    return records[0]
