"""
A table of rows as CSV: read without guessing, written back with the caller's own columns.

Reading takes two passes over a file, so that a table of any length takes little memory and is
refused before any of the answer is sent. Writing: RFC 4180, headings are field names with their
units. Text that a spreadsheet would run as a formula gets an apostrophe in front on the way out;
numbers never do.
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from typing import IO, Any, Final

from service.api.formats.cells import (
    Cell,
    DateCell,
    FaultCell,
    PercentCell,
    cell_text,
    number_text,
    safe_text,
)
from service.api.formats.csv_dialect import CHARSETS, Decimal, Dialect, delimiter_of
from service.api.formats.headings import checked_headings, refusal
from service.api.limits import TableLimits
from service.api.problems import FieldError, ProblemError

BOM: Final = "\ufeff"
_START_OF_A_FORMULA: Final = re.compile(r"\s*[-=+@\t\r]")


class CsvTable:
    """
    A CSV table in a file, checked as a whole.

    Parameters
    ----------
    file : binary file
        The bytes, readable from the start as often as needed.
    dialect : Dialect
        What the caller declared.
    charset : str
        Charset that the caller declared, a key of `CHARSETS`.
    known : iterable of str
        Headings that mean something; they tell the delimiter when none is declared.
    limits : TableLimits
        What the table may be at most.
    most_rows : int
        Rows, blank ones included, beyond which it is refused.

    Attributes
    ----------
    headings : tuple of str
        Column titles in the caller's order.
    delimiter : str
        What separates cells.
    has_bom : bool
        Whether it began with a byte-order mark.
    blank_lines : list of int
        Lines of the first rows that say nothing and stand between others.
    blank_count : int
        How many there are.

    Raises
    ------
    ProblemError
        400 for bytes that are not of the charset, 413 for too many rows, 422 for a table without
        headings, with a heading twice, or whose quotes are not closed.
    """

    MOST_LISTED: Final = 20

    def __init__(
        self,
        file: IO[bytes],
        dialect: Dialect,
        charset: str,
        known: Iterable[str],
        limits: TableLimits,
        most_rows: int,
    ) -> None:
        self.file = file
        self.limits = limits
        self.encoding = CHARSETS[charset]
        file.seek(0)
        start = file.read(4)
        self.has_bom = start.startswith(codecs.BOM_UTF8)
        if self.encoding == "utf-8" and start.startswith(
            (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
        ):
            raise _encoding(
                "The table is UTF-16; say so by `Content-Type: text/csv;charset=utf-16`."
            )
        self.delimiter = dialect.delimiter or delimiter_of(self._first_line(), known)
        self.headings: tuple[str, ...] = ()
        self.blank_lines: list[int] = []
        self.blank_count = 0
        self._heading_line = 0
        self._last_line = 0
        self._check(most_rows)

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """Yield the line on which each row ends, and its cells; blank rows at the end are not."""
        for line, record in self._records():
            if line > self._last_line:
                return
            if line > self._heading_line:
                yield line, record

    def _text(self) -> io.TextIOWrapper:
        self.file.seek(0)
        encoding = "utf-8-sig" if self.encoding == "utf-8" else self.encoding
        return io.TextIOWrapper(self.file, encoding=encoding, newline="")

    def _lines(self, text: io.TextIOWrapper) -> Iterator[str]:
        most = self.limits.line_bytes
        number = 0
        while line := text.readline(most):
            number += 1
            if len(line) >= most and not line.endswith(("\n", "\r")):
                detail = f"Line {number} of the table is longer than {most} letters."
                raise refusal("too_many", detail, row=number, allowed=f"at most {most}")
            yield line

    def _first_line(self) -> str:
        text = self._text()
        try:
            return next((line for line in self._lines(text) if line.strip(" ,;\t\r\n")), "")
        except UnicodeError as error:
            raise self._not_of_the_charset(error) from None
        finally:
            text.detach()

    def _records(self) -> Iterator[tuple[int, list[str]]]:
        text = self._text()
        reader = csv.reader(self._lines(text), delimiter=self.delimiter, strict=True)
        try:
            for record in reader:
                yield reader.line_num, record
        except csv.Error as error:
            line = reader.line_num
            detail = f"Line {line} of the table is not well-formed CSV: {error}."
            raise refusal("malformed", detail, row=line or None) from None
        except UnicodeError as error:
            raise self._not_of_the_charset(error) from None
        finally:
            with suppress(ValueError):
                text.detach()

    def _check(self, most_rows: int) -> None:
        """Read the table once: find its headings and what is wrong with it as a whole."""
        count = 0
        blank: list[int] = []
        blank_count = 0
        longest = self.limits.cell_letters
        for line, record in self._records():
            if not any(cell and not cell.isspace() for cell in record):
                if self.headings:
                    count += 1
                    blank_count += 1
                    if len(blank) < self.MOST_LISTED:
                        blank.append(line)
            elif not self.headings:
                self.headings = checked_headings(record, self.limits)
                self._heading_line = self._last_line = line
                continue
            else:
                count += 1
                self._last_line = line
                self.blank_count = blank_count
                if max(map(len, record)) > longest:
                    detail = f"Line {line} has a cell of more than {longest} letters."
                    raise refusal("too_many", detail, row=line, allowed=f"at most {longest}")
            if count > most_rows:
                raise too_many_rows(most_rows)
        if not self.headings:
            raise refusal("missing", "The table has no heading line.")
        self.blank_lines = [line for line in blank if line < self._last_line]

    def _not_of_the_charset(self, error: UnicodeError) -> ProblemError:
        line, byte = _first_fault(self.file, self.encoding)
        where = "" if line is None else f" on line {line}"
        what = "" if byte is None else f" (byte 0x{byte:02X})"
        if self.encoding == "utf-8":
            return _encoding(
                f"The table is not UTF-8{where}{what}. Save it as CSV UTF-8, or declare its"
                " charset, such as `Content-Type: text/csv; charset=windows-1252`.",
                line,
            )
        return _encoding(f"The table is not in the charset that it declares{where}{what}.", line)


def _encoding(detail: str, line: int | None = None) -> ProblemError:
    allowed = [name for name in CHARSETS if name]
    fault = FieldError(code="encoding", detail=detail, row=line, allowed=allowed)
    return ProblemError("unreadable_body", detail, [fault])


def _first_fault(file: IO[bytes], encoding: str) -> tuple[int | None, int | None]:
    """Return line and byte of what cannot be decoded; not in charsets of more than one byte."""
    if encoding == "utf-16":
        return None, None
    file.seek(0)
    for number, line in enumerate(file, start=1):
        try:
            line.decode(encoding)
        except UnicodeDecodeError as error:
            return number, line[error.start]
    return None, None


def too_many_rows(most_rows: int, pointer: str | None = None) -> ProblemError:
    """Return the 413 of a batch with more rows than are planned at once."""
    detail = f"The batch has more than {most_rows} rows; split it. See /v1/limits."
    allowed = f"at most {most_rows} rows"
    fault = FieldError(pointer=pointer, code="too_many", detail=detail, allowed=allowed)
    return ProblemError("too_large", detail, [fault])


def _may_run(texts: Sequence[str]) -> bool:
    """Tell whether any text might start as a formula does."""
    return any(map(_START_OF_A_FORMULA.match, texts))


class CsvLines:
    """
    Write a table piece by piece.

    Parameters
    ----------
    dialect : Dialect
        Delimiter (comma when it has none), decimal sign, byte-order mark (none when not said).
    """

    def __init__(self, dialect: Dialect = Dialect()) -> None:  # noqa: B008
        self.dialect = dialect
        self._comma = dialect.decimal == "comma"

    def head(self, headings: Sequence[str]) -> bytes:
        """Return the heading line."""
        text = self._written([[safe_text(heading) for heading in headings]])
        return ((BOM if self.dialect.bom else "") + text).encode()

    def lines(self, rows: Iterable[Sequence[Any]]) -> bytes:
        """Return rows of cells: texts, numbers, None for an empty cell."""
        columns = map(self._column, zip(*rows, strict=True))
        return self._written(zip(*columns, strict=True)).encode()

    def _written(self, rows: Iterable[Sequence[str]]) -> str:
        stream = io.StringIO(newline="")
        delimiter = self.dialect.delimiter or ","
        csv.writer(stream, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
        return stream.getvalue()

    def _column(self, column: Sequence[Cell]) -> Sequence[str]:
        """Return cells that stand under each other; most columns hold one kind of cell."""
        kinds = set(map(type, column))
        if kinds == {str}:
            texts: Sequence[Any] = column
            return [text and safe_text(text) for text in texts] if _may_run(texts) else texts
        if kinds <= {float, type(None)} and not self._comma:
            return ["" if value is None else f"{value:.15g}" for value in column]
        return [self._cell(value) for value in column]

    def _cell(self, value: Cell) -> str:
        if value is None:
            return ""
        if isinstance(value, str):
            return safe_text(value) if value else ""
        if isinstance(value, bool):
            return cell_text(value)
        if isinstance(value, float | int):
            text = str(value) if isinstance(value, int) else number_text(value)
            return text.replace(".", ",") if self._comma else text
        if isinstance(value, PercentCell):
            return value.text.replace(".", ",") if self._comma else value.text
        if isinstance(value, DateCell | FaultCell):
            return safe_text(cell_text(value))
        return str(value)


def write_csv(
    headings: Sequence[str],
    rows: Iterable[Sequence[object]],
    delimiter: str = ",",
    decimal: Decimal = "point",
) -> bytes:
    """
    Return a whole table as CSV.

    Parameters
    ----------
    headings : sequence of str
        Column titles.
    rows : iterable of sequence
        Cells: texts, numbers, None for an empty cell.
    delimiter : str
        What separates cells.
    decimal : str
        `point` or `comma`.

    Returns
    -------
    bytes
        UTF-8 without a byte-order mark.
    """
    lines = CsvLines(Dialect(delimiter, decimal))
    return lines.head(headings) + lines.lines(rows)
