"""The rows of a request, whichever format they came in: CSV, workbook, newline-delimited JSON."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import IO, Any, Final

from pydantic import ValidationError

from service.api.batch import COLUMN_NAMES, MIX_FIELDS
from service.api.formats.cells import cell_name, cell_text
from service.api.formats.csv_dialect import Dialect
from service.api.formats.csv_table import CsvTable
from service.api.formats.headings import (
    Kind,
    checked_headings,
    columns_of,
    kinds_of,
    read_meanings,
)
from service.api.formats.ndjson import NdjsonLines, read_row
from service.api.formats.table_rows import GivenRow, RowReader
from service.api.formats.workbook import WorkbookTable
from service.api.limits import Limits
from service.api.problems import FieldError, ProblemError, invalid_request
from service.api.query import QueryTwin
from service.api.row_columns import Columns
from service.api.schemas.batch_mixes import MixWishes
from service.api.schemas.doses import DoseRequest
from service.api.schemas.doses_batch import DoseBatchRequest
from service.api.validation import field_errors
from service.planning.notes import Notes

FIELDS: Final[Mapping[str, Kind]] = kinds_of(QueryTwin(DoseRequest).schemas)
"""Headings of a table that are fields of a row, and what each takes: the dotted names of a dose."""

RESULT_COLUMNS: Final = ("status", "solution_volume_l", *COLUMN_NAMES[1:], "cautions", "problems")
"""
Columns that an answered table gets after the caller's own; `solution_volume_l` is the volume in
litres, whatever unit the caller's `volume_l` was in.
"""

HEAD_KEYS: Final = frozenset(DoseBatchRequest.model_fields)
"""Keys by which the first line of newline-delimited JSON is known as no row."""


@dataclass(frozen=True)
class Wishes:
    """What the query says of a table that comes in."""

    dialect: Dialect
    charset: str = ""
    columns: str | None = None
    sheet: str | None = None
    mixes: MixWishes | None = None


def asked_mixes(query: Mapping[str, str]) -> MixWishes | None:
    """
    Return the mixes that query parameters ask for; None when none are named.

    Raises
    ------
    ProblemError
        422 with one fault per parameter.
    """
    prefix = "mixes."
    given = {
        name.removeprefix(prefix): text for name, text in query.items() if name.startswith(prefix)
    }
    if not given:
        return None
    try:
        return MixWishes.model_validate(given)
    except ValidationError as error:
        errors = [
            {**each, "loc": ("query", prefix + str(each["loc"][0]))} for each in error.errors()
        ]
        raise invalid_request(*field_errors(errors)) from None


def result_columns(mixes: MixWishes | None) -> tuple[str, ...]:
    """Return the result columns of a table, those of mixes only where mixes are asked for."""
    return RESULT_COLUMNS if mixes is None else (*RESULT_COLUMNS, *MIX_FIELDS)


class CsvSource:
    """Rows of a CSV table; refused as a whole before the first is read."""

    defaults: Mapping[str, Any] = {}

    def __init__(self, file: IO[bytes], wishes: Wishes, limits: Limits) -> None:
        self.file = file
        self.mixes = wishes.mixes
        meanings = read_meanings(wishes.columns, FIELDS)
        known = (*FIELDS, *meanings)
        self.declared = wishes.dialect
        self.table = CsvTable(
            file, wishes.dialect, wishes.charset, known, limits.table, limits.batch_rows
        )
        self.headings = self.table.headings
        columns = columns_of(self.headings, FIELDS, meanings, result_columns(wishes.mixes))
        self.reader = RowReader(columns, wishes.dialect.decimal)

    @property
    def dialect(self) -> Dialect:
        """How the answered table is written: as this one, where the caller did not say."""
        bom = self.declared.bom
        return Dialect(
            self.table.delimiter,
            self.declared.decimal,
            self.table.has_bom if bom is None else bom,
        )

    def rows(self) -> Iterator[GivenRow]:
        """Yield every row."""
        for line, record in self.table.records():
            yield self.reader.begun(line, record)

    def read(self, row: GivenRow) -> GivenRow:
        """Return a row with its value."""
        return self.reader.read(row.place, row.cells)

    def together(self, rows: Sequence[GivenRow]) -> Columns | None:
        """Return rows as columns."""
        return self.reader.together(rows)

    def placed(self, fault: FieldError, row: GivenRow) -> FieldError:
        """Return a fault with its line and column."""
        return self.reader.placed(fault, row)

    def remark(self, row: GivenRow) -> str:
        """Return the caller's own cells."""
        return self.reader.own_cells(row)

    def assumptions(self) -> list[dict[str, Any]]:
        """Return how the table was read."""
        notes = Notes()
        if self.declared.delimiter is None and len(self.headings) > 1:
            names = {",": "comma", ";": "semicolon", "\t": "tab"}
            notes.assume("delimiter_found", delimiter=names[self.table.delimiter])
        _note_blank_rows(notes, self.table.blank_lines, self.table.blank_count)
        return notes.assumptions

    def close(self) -> None:
        """Let go of the file."""
        self.file.close()


class WorkbookSource:
    """Rows of a sheet of a workbook."""

    defaults: Mapping[str, Any] = {}

    def __init__(self, path: str, wishes: Wishes, limits: Limits) -> None:
        self.mixes = wishes.mixes
        meanings = read_meanings(wishes.columns, FIELDS)
        most_rows = min(limits.batch_rows, limits.table.workbook_rows)
        self.table = WorkbookTable(path, wishes.sheet, limits.table, most_rows)
        self.dialect = wishes.dialect
        self.sheet_was_named = wishes.sheet is not None
        self._blank: list[int] = []
        self._blank_count = 0
        try:
            self.headings = checked_headings(
                [cell_text(cell) for cell in self.table.headings],
                limits.table,
                lambda position: self._name(self.table.heading_row, position),
            )
            if not self.headings:
                detail = f"The sheet `{self.table.sheet}` has no headings."
                raise invalid_request(FieldError(code="missing", detail=detail))
            columns = columns_of(self.headings, FIELDS, meanings, result_columns(wishes.mixes))
        except BaseException:
            self.close()
            raise
        self.reader = RowReader(columns, wishes.dialect.decimal, self._name)

    def _name(self, row: int, position: int) -> str:
        return cell_name(row, self.table.first_column + position)

    def rows(self) -> Iterator[GivenRow]:
        """Yield every row."""
        self._blank, self._blank_count = [], 0
        for row, cells in self.table.rows():
            given = self.reader.begun(row, cells)
            if given.blank:
                self._blank_count += 1
                if len(self._blank) < CsvTable.MOST_LISTED:
                    self._blank.append(row)
            yield given

    def read(self, row: GivenRow) -> GivenRow:
        """Return a row with its value."""
        return self.reader.read(row.place, row.cells)

    def together(self, rows: Sequence[GivenRow]) -> Columns | None:
        """Return rows as columns."""
        return self.reader.together(rows)

    def placed(self, fault: FieldError, row: GivenRow) -> FieldError:
        """Return a fault with its row, column and cell."""
        return self.reader.placed(fault, row)

    def remark(self, row: GivenRow) -> str:
        """Return the caller's own cells."""
        return self.reader.own_cells(row)

    def assumptions(self) -> list[dict[str, Any]]:
        """Return how the workbook was read."""
        notes = Notes()
        if len(self.table.sheets) > 1 and not self.sheet_was_named:
            notes.assume("first_sheet_read", sheet=self.table.sheet, count=len(self.table.sheets))
        if self.table.formulas:
            notes.assume("formula_results_taken", count=self.table.formulas)
        _note_blank_rows(notes, self._blank, self._blank_count)
        return notes.assumptions

    def close(self) -> None:
        """Let go of the rows."""
        self.table.close()


class NdjsonSource:
    """Rows of newline-delimited JSON."""

    headings: Sequence[str] = ()

    def __init__(self, file: IO[bytes], wishes: Wishes, limits: Limits) -> None:
        self.file = file
        self.dialect = wishes.dialect
        self.lines = NdjsonLines(file, limits.table, limits.batch_rows, HEAD_KEYS)
        head = dict(self.lines.head or {})
        if "rows" in head:
            detail = (
                "The first line holds `rows`: write one row on each line, or send the object as"
                " application/json."
            )
            fault = FieldError(pointer="#/rows", code="not_allowed", detail=detail, row=1)
            raise invalid_request(fault)
        try:
            read = DoseBatchRequest.model_validate({**head, "rows": []})
        except ValidationError as error:
            errors = [{**each, "loc": ("body", *each["loc"])} for each in error.errors()]
            raise _on_line(field_errors(errors, DoseBatchRequest), self.lines.head_line) from None
        self.mixes = read.mixes
        self.defaults: Mapping[str, Any] = dict(head.get("defaults") or {})

    def rows(self) -> Iterator[GivenRow]:
        """Yield every row."""
        return self.lines.rows()

    def read(self, row: GivenRow) -> GivenRow:
        """Return a row with its value."""
        return read_row(row)

    def together(self, rows: Sequence[GivenRow]) -> Columns | None:
        """Return nothing: rows of JSON are read together as texts."""
        return None

    def placed(self, fault: FieldError, row: GivenRow) -> FieldError:
        """Return a fault with its line."""
        return fault if fault.row is not None else fault.model_copy(update={"row": row.place})

    def remark(self, row: GivenRow) -> str:
        """Return nothing: rows of JSON have no cells of the caller's own."""
        return ""

    def assumptions(self) -> list[dict[str, Any]]:
        """Return nothing: lines are read one way only."""
        return []

    def close(self) -> None:
        """Let go of the file."""
        self.file.close()


Source = CsvSource | WorkbookSource | NdjsonSource


def _on_line(faults: Sequence[FieldError], line: int) -> ProblemError:
    return invalid_request(*(each.model_copy(update={"row": line}) for each in faults))


def _note_blank_rows(notes: Notes, listed: Sequence[int], count: int) -> None:
    if count:
        more = f" and {count - len(listed)} more" if count > len(listed) else ""
        notes.assume("blank_rows_kept", rows=", ".join(map(str, listed)) + more)
