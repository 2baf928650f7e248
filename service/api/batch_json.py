"""
A JSON batch answered in JSON: rows are cut, read, planned and written in chunks, beside each other.

Nothing is kept of a chunk but its part of the answer. What is not as plain as it looks, such as a
body that cannot be read, or rows that share cans, is left to the reader that takes all at once.
"""

import codecs
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from pydantic import ValidationError
from starlette.responses import Response

from service.api.assumptions import NotedAssumption
from service.api.batch import (
    CHUNK_ROWS,
    all_bits,
    assumption_texts,
    caution_texts,
    cores,
    plan_read,
    reader_of,
)
from service.api.batch_rows import Tally
from service.api.formats.csv_table import too_many_rows
from service.api.formats.json import JSON, json_bytes
from service.api.json_body import DEEPEST, parse_json
from service.api.naming import OpenCatalogue
from service.api.problems import ProblemError, invalid_request
from service.api.row_reader import ReadRows, RowReader
from service.api.row_writer import written_rows
from service.api.rows_together import is_utf8
from service.api.schemas.batch_mixes import MixWishes
from service.api.schemas.doses_batch import DoseBatchRequest
from service.api.validation import field_errors
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.row_texts import FOUND, TOO_MANY, RowTexts, row_texts

CHUNKS_OF_A_CORE: Final = 4
LEAST: Final = 250
"""Rows of a chunk at least: less would cost more in beginning a chunk than in its rows."""

_BLANKS: Final = b" \t\r\n"


@dataclass(frozen=True, eq=False)
class Part:
    """
    The answer of a chunk, and what it adds to that which stands once.

    Attributes
    ----------
    written : bytes
        Its rows as the inside of a JSON list.
    counts : ndarray of int, shape (n_statuses,)
        How many rows came out how.
    cautions, assumptions : int
        Bits that are set in any row.
    notes : list of NotedAssumption
        How texts were read.
    """

    written: bytes
    counts: np.ndarray
    cautions: int
    assumptions: int
    notes: list[NotedAssumption]


def read_envelope(envelope: Mapping[str, Any]) -> tuple[dict[str, Any], MixWishes | None]:
    """Return defaults and wishes for mixes of a body without its rows; refuse what is wrong."""
    try:
        read = DoseBatchRequest.model_validate(envelope)
    except ValidationError as error:
        errors = [{**each, "loc": ("body", *each["loc"])} for each in error.errors()]
        raise invalid_request(*field_errors(errors, DoseBatchRequest)) from None
    return dict(envelope.get("defaults") or {}), read.mixes


def json_in_chunks(body: bytes, base: Catalogue, most_rows: int) -> Response | None:
    """
    Return the answer to a JSON batch.

    Parameters
    ----------
    body : bytes
        The request.
    base : Catalogue
        The catalogue of the installation.
    most_rows : int
        More rows are refused.

    Returns
    -------
    Response or None
        None for a body that has to be read as a whole: it says what is wrong with it, or plans
        mixes.

    Raises
    ------
    ProblemError
        413 for too many rows; 422 for an envelope that is wrong.
    """
    text = body.removeprefix(codecs.BOM_UTF8)
    places = row_texts(text, most_rows, DEEPEST)
    if places.status == TOO_MANY:
        raise too_many_rows(most_rows, "#/rows")
    if places.status != FOUND or not is_utf8(text) or not _are_listed(text, places):
        return None
    try:
        envelope = parse_json(text[: places.first + 1] + text[places.last :])
    except ProblemError:
        return None
    if not isinstance(envelope, Mapping):
        return None
    defaults, mixes = read_envelope(envelope)
    if mixes is not None:
        return None
    names = OpenCatalogue(base)
    work = _Work(text, places, reader_of(defaults, names), names)
    size = _chunk_size(places.starts.size)
    chunks = [slice(start, start + size) for start in range(0, places.starts.size, size)]
    try:
        with ThreadPoolExecutor(cores()) as threads:
            parts = list(threads.map(work.part_of, chunks))
    except ProblemError:
        # A row that makes the whole body unreadable; the place of the fault counts from its start.
        return None
    finished = [part if isinstance(part, Part) else work.finished(part) for part in parts]
    return _response(finished)


def _chunk_size(count: int) -> int:
    """Return how many rows a chunk has: small batches keep every core busy too."""
    return max(min(CHUNK_ROWS, -(-count // (CHUNKS_OF_A_CORE * cores()))), min(CHUNK_ROWS, LEAST))


def _are_listed(text: bytes, places: RowTexts) -> bool:
    """Tell whether chunks of rows are parted by one comma each, and nothing else is around them."""
    starts, ends = places.starts, places.ends
    if not starts.size:
        return not text[places.first + 1 : places.last].strip(_BLANKS)
    size = _chunk_size(starts.size)
    cuts = range(size, starts.size, size)
    around = text[places.first + 1 : starts[0]] + text[ends[-1] : places.last]
    between = (text[ends[cut - 1] : starts[cut]].strip(_BLANKS) for cut in cuts)
    return not around.strip(_BLANKS) and all(each == b"," for each in between)


@dataclass(eq=False)
class _Work:
    """One batch while its chunks are worked on, each on a thread of its own."""

    text: bytes
    places: RowTexts
    reader: RowReader
    names: OpenCatalogue

    def __post_init__(self) -> None:
        # What the defaults name is known before the rows are read.
        self.catalogue = self.names.closed()
        self.size = self.names.size

    def part_of(self, chunk: slice) -> Part | ReadRows:
        """Return the answer of a chunk; its rows where they name what others bring along."""
        read = self.reader.read_texts(self.text, self.places, chunk)
        products, profiles = self.size
        asked = read.requests[read.readable]
        if (asked["product"] >= products).any() or (asked["profile"] >= profiles).any():
            return read
        return _part(read, self.catalogue)

    def finished(self, read: ReadRows) -> Part:
        """Return the answer of a chunk, once all rows were read."""
        if self.names.size != self.size:
            self.catalogue, self.size = self.names.closed(), self.names.size
        return _part(read, self.catalogue)


def _part(read: ReadRows, catalogue: Catalogue) -> Part:
    """Plan and write a chunk."""
    problems = plan_read(read, catalogue)
    slow = [note for outcome in read.slow.values() for note in outcome.notes]
    return Part(
        written_rows(read.ids, read.requests, read.results, problems, catalogue),
        np.bincount(read.results["status"], minlength=len(rows.STATUSES)),
        all_bits(read.results["cautions"]),
        all_bits(read.results["assumptions"]),
        read.notes + slow,
    )


def _response(parts: list[Part]) -> Response:
    """Return the whole answer."""
    nothing = np.zeros(len(rows.STATUSES), dtype=np.int64)
    counts = sum((part.counts for part in parts), start=nothing)
    cautions, assumptions = 0, 0
    for part in parts:
        cautions |= part.cautions
        assumptions |= part.assumptions
    notes = (note for part in parts for note in part.notes)
    tally = Tally(
        {"total": int(counts.sum()), **dict(zip(rows.STATUSES, counts.tolist(), strict=True))},
        {each["code"]: each for each in caution_texts(cautions)},
        {(each["code"], each["message"]): each for each in assumption_texts(notes, assumptions)},
    )
    head, _, tail = json_bytes(tally.closing()).partition(b'"rows":[]')
    written = b",".join(part.written for part in parts)
    body = b"".join((head, b'"rows":[', written, b"]", tail))
    return Response(body, headers={"Cache-Control": "no-store"}, media_type=JSON)
