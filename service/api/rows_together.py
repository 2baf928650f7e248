"""Rows of a batch that are read many at a time: texts of JSON, or columns of a table."""

import codecs
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, Final

import numpy as np

from service.api.batch import CHUNK_ROWS, Batch, plan_chunks, reader_of
from service.api.json_body import DEEPEST
from service.api.naming import OpenCatalogue
from service.api.problems import ProblemError
from service.api.row_columns import Columns
from service.planning.catalogue import Catalogue
from service.planning.row_texts import FOUND, row_texts

PIECE: Final = 1_048_576


def planned_texts(
    texts: Sequence[bytes], defaults: Mapping[str, Any], base: Catalogue
) -> Batch | None:
    """
    Read and plan rows that are still JSON.

    Parameters
    ----------
    texts : sequence of bytes
        One for each row, without blanks around it.
    defaults : mapping
        Fields for every row that does not say otherwise.
    base : Catalogue
        The catalogue of the installation.

    Returns
    -------
    Batch or None
        None where the texts have to be read one by one: one of them is no single object of JSON.
    """
    lengths = np.fromiter(map(len, texts), np.int64, len(texts))
    document = b'{"rows":[%b]}' % b",".join(texts)
    places = row_texts(document, len(texts), DEEPEST)
    ends = len(b'{"rows":[') + np.cumsum(lengths + 1) - 1
    if places.status != FOUND or not np.array_equal(places.ends, ends):
        return None
    if not np.array_equal(places.starts, ends - lengths) or not is_utf8(document):
        return None
    names = OpenCatalogue(base)
    reader = reader_of(defaults, names)
    starts = range(0, len(texts), CHUNK_ROWS)
    try:
        read = [
            reader.read_texts(document, places, slice(start, start + CHUNK_ROWS))
            for start in starts
        ]
    except ProblemError:
        return None
    return plan_chunks(read, names.closed())


def planned_columns(
    count: int,
    columns_of: Callable[[slice], Columns | None],
    value_of: Callable[[int], object],
    defaults: Mapping[str, Any],
    base: Catalogue,
) -> Batch | None:
    """
    Read and plan rows that are columns.

    Parameters
    ----------
    count : int
        How many rows.
    columns_of : callable
        Gives neighbouring rows as columns; None where they have none.
    value_of : callable
        Gives a row as JSON would hold it.
    defaults : mapping
        Fields for every row that does not say otherwise.
    base : Catalogue
        The catalogue of the installation.

    Returns
    -------
    Batch or None
        None where the rows have no columns.
    """
    names = OpenCatalogue(base)
    reader = reader_of(defaults, names)
    read = []
    for start in range(0, count, CHUNK_ROWS):
        columns = columns_of(slice(start, start + CHUNK_ROWS))
        if columns is None:
            return None
        read.append(reader.read_columns(columns, partial(_shifted, value_of, start)))
    return plan_chunks(read, names.closed())


def _shifted(value_of: Callable[[int], object], start: int, place: int) -> object:
    return value_of(start + place)


def is_utf8(text: bytes) -> bool:
    """Tell whether a text is UTF-8, without a second copy of it."""
    if text.isascii():
        return True
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for start in range(0, len(text), PIECE):
            decoder.decode(text[start : start + PIECE])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True
