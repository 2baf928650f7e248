"""
Many doses at once: every row is read on its own, planned together, and answered in order.

A row that is wrong is rejected with its problems and disturbs no other. Rows are planned in
chunks, so that no single call holds the interpreter for long.
"""

import os
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, get_args

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from service.api.assumptions import NotedAssumption, collected_assumptions
from service.api.batch_mixes import BatchMixes
from service.api.dosing import fault_of
from service.api.metrics import count_unreadable_rows
from service.api.naming import NamingError, OpenCatalogue
from service.api.row_reader import OWN_WATER, ReadRows, RowOutcome, RowReader
from service.api.schemas.doses import DoseRequest
from service.api.schemas.doses_batch import DoseRow
from service.api.schemas.fields import Figure
from service.api.validation import FieldError, field_errors
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import ASSUMPTIONS, CAUTIONS, notices
from service.planning.compact import binding_limits, compact_numbers, rounded
from service.planning.doses import plan
from service.planning.mix_card import caution_bits, row_columns
from service.planning.requests import DEFAULT_WATER, fill_row
from service.planning.words import problem_of

CHUNK_ROWS: Final = 1_000
LONGEST_NAME: Final = 128
MOST_FAULTS: Final = 10
"""Faults of one row beyond this are not listed: a batch of nonsense gets no larger answer."""

ROW_FIELDS: Final = (
    "volume_l",
    "product_mass_g",
    "product_volume_ml",
    "binding_limit",
    "acid_volume_ml",
    "acid_mass_g",
    "predicted_ec_ms_per_cm",
    "predicted_ph",
    "predicted_ph_open",
    "nitrogen_mg_per_l",
    "nitrogen_mg_per_plant_per_month",
)
"""Flat results of a row, in the order of the answer and of the columns of a table."""

COLUMN_NAMES: Final = (*ROW_FIELDS, "feasible_water_share_percent")

MIX_FIELDS: Final = ("mix", "mix_ec_ms_per_cm", "mix_below_own_percent")
"""Results of a row that shares a mix; null when no mixes were asked."""

FIGURES: Final = {
    name: figure
    for name in (*COLUMN_NAMES, *MIX_FIELDS)
    for kind in get_args(DoseRow.model_fields[name].annotation)
    for figure in get_args(kind)
    if isinstance(figure, Figure)
}
"""How many digits a result has: in a table as many as in JSON."""


class CodesOfBits(dict[int, list[str]]):
    """Caution codes by the bits of a row; most rows of a house share a few combinations."""

    def __missing__(self, bits: int) -> list[str]:
        """Read bits that were not met before."""
        self[bits] = [notice.code for notice in notices(bits, CAUTIONS)]
        return self[bits]


@dataclass(frozen=True)
class Batch:
    """
    A planned batch.

    Attributes
    ----------
    outcomes : list of RowOutcome
        One per row, in order.
    requests, results : ndarray
        Rows of the planners, in the same order.
    catalogue : Catalogue
        Everything that the rows name.
    mixes : BatchMixes or None
        Mixes that rows share; None when none were asked.
    """

    outcomes: list[RowOutcome]
    requests: NDArray[np.void]
    results: NDArray[np.void]
    catalogue: Catalogue
    mixes: BatchMixes | None = None

    def summary(self) -> dict[str, int]:
        """Return how many rows came out how."""
        counts = np.bincount(self.results["status"], minlength=len(rows.STATUSES))
        named = dict(zip(rows.STATUSES, counts.tolist(), strict=True))
        return {"total": len(self.outcomes), **named}

    @cached_property
    def answers(self) -> list[dict[str, Any]]:
        """The compact answers in order, their fields null where there is no number."""
        numbers = compact_numbers(self.requests, self.results, self.catalogue)
        columns = {name: rounded(column, FIGURES[name].digits) for name, column in numbers.items()}
        columns["binding_limit"] = binding_limits(self.results)
        statuses = [rows.STATUSES[status] for status in self.results["status"].tolist()]
        codes = CodesOfBits()
        cautions = [
            [] if status == "rejected" else codes[bits]
            for status, bits in zip(statuses, self.results["cautions"].tolist(), strict=True)
        ]
        columns |= mix_columns(self.mixes, len(self.outcomes))
        names = (*COLUMN_NAMES, *MIX_FIELDS)
        named = zip(*(columns[name] for name in names), strict=True)
        return [
            {
                "id": outcome.id,
                "status": status,
                **dict(zip(names, values, strict=True)),
                "cautions": warned,
                "problems": outcome.problems,
            }
            for outcome, status, values, warned in zip(
                self.outcomes, statuses, named, cautions, strict=True
            )
        ]

    def cautions(self) -> list[dict[str, Any]]:
        """Return the texts of the caution codes in the rows, each once."""
        bits = all_bits(self.results["cautions"])
        noted: list[dict[str, Any]] = []
        if self.mixes is not None:
            bits |= caution_bits(self.mixes.planned)
            noted = self.mixes.notes.cautions
        return noted + caution_texts(bits)

    def assumptions(self) -> list[dict[str, Any]]:
        """Return what was taken to be so in any row, each once."""
        noted = [] if self.mixes is None else self.mixes.notes.assumptions
        notes = (note for outcome in self.outcomes for note in outcome.notes)
        return noted + assumption_texts(notes, all_bits(self.results["assumptions"]))


def all_bits(column: NDArray[np.uint64]) -> int:
    """Return every bit that is set in any row."""
    return int(np.bitwise_or.reduce(column, initial=np.uint64(0)))


def caution_texts(bits: int) -> list[dict[str, Any]]:
    """Return the texts of cautions, as they stand once in the answer to a batch."""
    return [
        {
            "code": each.code,
            "severity": each.severity,
            "field": each.field,
            "message": each.brief,
        }
        for each in notices(bits, CAUTIONS)
    ]


def assumption_texts(notes: Iterable[NotedAssumption], bits: int) -> list[dict[str, Any]]:
    """Return how texts were read and what was assumed, each once."""
    listed: dict[tuple[str, str], dict[str, Any]] = {
        (note.code, note.message): {
            "code": note.code,
            "field": note.field,
            "message": note.message,
        }
        for note in notes
    }
    listed |= {
        (each.code, each.message): {
            "code": each.code,
            "field": each.field,
            "message": each.brief,
        }
        for each in notices(bits, ASSUMPTIONS)
    }
    return list(listed.values())


def mix_columns(mixes: BatchMixes | None, count: int) -> dict[str, list[Any]]:
    """Return what each row is told of its mix, rounded; None in every row without mixes."""
    if mixes is None:
        return {name: [None] * count for name in MIX_FIELDS}
    columns = row_columns(mixes.planned)
    for name in MIX_FIELDS[1:]:
        column = np.array(columns[name], dtype=np.float64)
        columns[name] = rounded(column, FIGURES[name].digits)
    return columns


def merged(defaults: Mapping[str, Any], row: Mapping[str, Any]) -> dict[str, Any]:
    """
    Return a row with the defaults under it.

    Objects merge key by key; lists, texts and numbers of the row replace. A strength or a label
    is a union of shapes and replaces as a whole.
    """
    result = dict(defaults)
    for key, value in row.items():
        under = result.get(key)
        mergeable = isinstance(under, Mapping) and isinstance(value, Mapping)
        if mergeable and key not in ("strength", "product"):
            result[key] = merged(under, value)  # type: ignore[arg-type]
        else:
            result[key] = value
    return result


def planned_batch(given: Sequence[object], defaults: Mapping[str, Any], base: Catalogue) -> Batch:
    """
    Read and plan rows.

    Parameters
    ----------
    given : sequence of object
        Rows as JSON holds them; anything but an object is a row with a problem.
    defaults : mapping
        Fields for every row that does not say otherwise.
    base : Catalogue
        The catalogue of the installation.

    Returns
    -------
    Batch
        One outcome per row, in order.
    """
    names = OpenCatalogue(base)
    reader = reader_of(defaults, names)
    starts = range(0, len(given), CHUNK_ROWS)
    read = [reader.read_values(given[start : start + CHUNK_ROWS]) for start in starts]
    return plan_chunks(read, names.closed())


def plan_chunks(read: Sequence[ReadRows], catalogue: Catalogue) -> Batch:
    """Plan rows that were read, chunks of them beside each other."""
    # The kernel lets go of the interpreter: chunks run beside each other.
    with ThreadPoolExecutor(cores()) as threads:
        faults = list(threads.map(lambda chunk: plan_read(chunk, catalogue), read))
    outcomes: list[RowOutcome] = []
    for chunk, problems in zip(read, faults, strict=True):
        told = chunk.outcomes()
        for place, listed in problems.items():
            told[place].problems = listed
        outcomes.extend(told)
    requests = [rows.empty_requests(0), *(chunk.requests for chunk in read)]
    results = [rows.empty_results(0), *(chunk.results for chunk in read)]
    return Batch(outcomes, np.concatenate(requests), np.concatenate(results), catalogue)


def cores() -> int:
    """Return how many threads can work beside each other."""
    return len(os.sched_getaffinity(0))


def reader_of(defaults: Mapping[str, Any], names: OpenCatalogue) -> RowReader:
    """
    Return the reader of the rows of a batch.

    Parameters
    ----------
    defaults : mapping
        Fields for every row that does not say otherwise, as the contract allows them.
    names : OpenCatalogue
        Takes in what rows bring along.
    """

    def slowly(given: object, row: Any, result: Any) -> RowOutcome:
        return _read(given, defaults, row, result, names)

    return RowReader(defaults, names, slowly)


def own_name(given: object) -> str | None:
    """
    Return the name of a row as it can be handed back.

    A name that is refused is repeated all the same, so that the row can be found: cut to the
    length that is allowed, and without what UTF-8 cannot write (JSON can escape a lone surrogate).
    """
    if given is None or isinstance(given, dict | list):
        return None
    text = given if isinstance(given, str) else str(given)
    return text[:LONGEST_NAME].encode("utf-8", "replace").decode() or None


def _first(errors: Sequence[Any]) -> list[Any]:
    """Return as many errors as are listed, and all of what is missing: they explain others."""
    listed = [each for each in errors if each["type"] != "missing"][:MOST_FAULTS]
    return [*listed, *(each for each in errors if each["type"] == "missing")]


def _read(
    given: object, defaults: Mapping[str, Any], row: Any, result: Any, names: OpenCatalogue
) -> RowOutcome:
    """Read one row into the planners' row; its problems when that cannot be done."""
    if not isinstance(given, Mapping):
        fault = FieldError(pointer="#", code="not_an_object", detail="A row is an object.")
        return RowOutcome(None, [fault], [])
    own = own_name(given.get("id"))
    try:
        with collected_assumptions() as noted:
            asked = DoseRequest.model_validate(merged(defaults, given))
            notes = noted.of(asked)
        fill_row(row, result, asked, names, limited=True)
    except ValidationError as error:
        errors = [{**each, "loc": ("body", *each["loc"])} for each in _first(error.errors())]
        return RowOutcome(own, field_errors(errors, DoseRequest)[:MOST_FAULTS], [])
    except NamingError as error:
        return RowOutcome(own, [error.placed(asked)], [])
    water = asked.water if isinstance(asked.water, str) else OWN_WATER
    return RowOutcome(asked.id, [], notes, DEFAULT_WATER if asked.water is None else water)


def plan_read(read: ReadRows, catalogue: Catalogue) -> dict[int, list[FieldError]]:
    """
    Plan the rows that could be read, in place; the others are rejected.

    Parameters
    ----------
    read : ReadRows
        Rows of a chunk.
    catalogue : Catalogue
        Everything that they name.

    Returns
    -------
    dict of int to list of FieldError
        What is wrong with a rejected row, by its place.
    """
    problems = {place: outcome.problems for place, outcome in read.slow.items() if outcome.problems}
    count_unreadable_rows(listed[0].code for listed in problems.values())
    if problems:
        readable = read.readable
        asked, planned = read.requests[readable], read.results[readable]
        plan(asked, planned, catalogue)
        read.requests[readable], read.results[readable] = asked, planned
        read.results["status"][~readable] = rows.STATUSES.index("rejected")
    else:
        plan(read.requests, read.results, catalogue)
    for place in np.flatnonzero(read.results["problem"]).tolist():
        problem = None if place in problems else problem_of(read.results[place])
        if problem is not None:
            problems[place] = [fault_of(problem)]
    return problems
