"""Rows of a batch as JSON: written many at a time from columns, without a model or a dictionary."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.api.batch import (
    COLUMN_NAMES,
    FIGURES,
    MIX_FIELDS,
    Batch,
    CodesOfBits,
)
from service.api.formats.json import plain
from service.api.validation import FieldError
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.compact import binding_limits, compact_numbers, figures

_ENCODER: Final = msgspec.json.Encoder()
_NOTHING: Final = msgspec.Raw(b"[]")
_REJECTED: Final = rows.STATUSES.index("rejected")

_Written: Final = msgspec.defstruct(
    "_Written",
    [(name, Any) for name in ("id", "status", *COLUMN_NAMES, *MIX_FIELDS, "cautions", "problems")],
    gc=False,
)


class _WrittenCodes(dict[int, msgspec.Raw]):
    """Caution codes as JSON by the bits of a row."""

    def __init__(self) -> None:
        super().__init__()
        self.codes = CodesOfBits()

    def __missing__(self, bits: int) -> msgspec.Raw:
        """Write bits that were not met before."""
        self[bits] = written = msgspec.Raw(_ENCODER.encode(self.codes[bits]))
        return written


def written_rows(
    ids: Sequence[str | None],
    requests: NDArray[np.void],
    results: NDArray[np.void],
    problems: Mapping[int, Sequence[FieldError]],
    catalogue: Catalogue,
) -> bytes:
    """
    Return finished rows as the inside of a JSON list.

    Parameters
    ----------
    ids : sequence of str or None, shape (n_rows,)
        The callers' own names.
    requests, results : ndarray, shape (n_rows,)
        Rows of the planners, finished.
    problems : mapping of int to list of FieldError
        What is wrong with a row, by its place.
    catalogue : Catalogue
        Everything that the rows name.

    Returns
    -------
    bytes
        UTF-8, without the brackets; the fields of `DoseRow` in their order.
    """
    return _ENCODER.encode(_told(ids, requests, results, problems, catalogue))[1:-1]


def written_lines(batch: Batch) -> bytes:
    """Return the rows of a batch that share no mixes as JSON, one on each line."""
    ids = [outcome.id for outcome in batch.outcomes]
    problems = {
        place: outcome.problems for place, outcome in enumerate(batch.outcomes) if outcome.problems
    }
    told = _told(ids, batch.requests, batch.results, problems, batch.catalogue)
    return _ENCODER.encode_lines(told)


def _told(
    ids: Sequence[str | None],
    requests: NDArray[np.void],
    results: NDArray[np.void],
    problems: Mapping[int, Sequence[FieldError]],
    catalogue: Catalogue,
) -> list[Any]:
    """Return rows as they are encoded."""
    count = len(ids)
    statuses = results["status"]
    # NaN is written as null.
    columns: dict[str, Sequence[Any]] = {
        name: figures(column, FIGURES[name].digits).tolist()
        for name, column in compact_numbers(requests, results, catalogue).items()
    }
    columns["binding_limit"] = binding_limits(results)
    codes = _WrittenCodes()
    bits = np.where(statuses == _REJECTED, np.uint64(0), results["cautions"]).tolist()
    faults: list[Any] = [_NOTHING] * count
    for place, listed in problems.items():
        faults[place] = [plain(fault) for fault in listed]
    names = [rows.STATUSES[status] for status in statuses.tolist()]
    nothing = [None] * count
    told = zip(
        ids,
        names,
        *(columns[name] for name in COLUMN_NAMES),
        *(nothing for _ in MIX_FIELDS),
        map(codes.__getitem__, bits),
        faults,
        strict=True,
    )
    return [_Written(*each) for each in told]
