"""
Newline-delimited JSON: one row on a line, in and out, of any length in little memory.

The first line may hold what the rows have in common (`{"defaults": {…}}`). A line that cannot be
read rejects its own row. Blank lines are passed over.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import IO, Any, Final

from service.api.formats.csv_table import too_many_rows
from service.api.formats.json import plain
from service.api.formats.table_rows import GivenRow
from service.api.json_body import parse_json
from service.api.limits import TableLimits
from service.api.problems import FieldError, ProblemError
from service.api.validation import json_pointer

CHUNK_BYTES: Final = 1024 * 1024
BLANKS: Final = b" \t\r\n"
BOM: Final = b"\xef\xbb\xbf"

_ENCODE: Final = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=plain
).encode


class NdjsonLines:
    """
    Lines of JSON in a file.

    Parameters
    ----------
    file : binary file
        The bytes, readable from the start as often as needed.
    limits : TableLimits
        How long a line may be.
    most_rows : int
        Lines beyond this, blank ones included, are refused.
    heads : frozenset of str
        Keys by which the first line is known as what the rows have in common.

    Attributes
    ----------
    head : mapping or None
        The first line when it is no row.

    Raises
    ------
    ProblemError
        413 for too many lines.
    """

    def __init__(
        self, file: IO[bytes], limits: TableLimits, most_rows: int, heads: frozenset[str]
    ) -> None:
        self.file = file
        self.limits = limits
        self.head: Mapping[str, Any] | None = None
        self.head_line = 0
        self._check(most_rows + 1)
        for row in map(read_row, self.rows()):
            if isinstance(row.value, dict) and heads & row.value.keys():
                self.head, self.head_line = row.value, row.place
            break
        if self.head is None:
            self._check(most_rows)

    def rows(self) -> Iterator[GivenRow]:
        """Yield every row with the number of its line."""
        self.file.seek(0)
        most = self.limits.line_bytes
        number = 0
        while line := self.file.readline(most + 1):
            number += 1
            too_long = len(line) > most and not line.endswith(b"\n")
            if too_long:
                while (rest := self.file.readline(most)) and not rest.endswith(b"\n"):
                    pass
            if number == 1:
                line = line.removeprefix(BOM)
            if number <= self.head_line or not line.strip():
                continue
            yield (self._too_long(number) if too_long else _unread(line, number))

    def _check(self, most_lines: int) -> None:
        self.file.seek(0)
        lines = 0
        last = b"\n"
        while chunk := self.file.read(CHUNK_BYTES):
            lines += chunk.count(b"\n")
            last = chunk
            if lines > most_lines:
                break
        if lines + (not last.endswith(b"\n")) > most_lines:
            raise too_many_rows(most_lines)

    def _too_long(self, number: int) -> GivenRow:
        most = self.limits.line_bytes
        detail = f"Line {number} is longer than {most} bytes."
        allowed = f"at most {most} bytes"
        return _broken(number, "too_many", detail, allowed)


def _unread(line: bytes, number: int) -> GivenRow:
    return GivenRow(None, number, text=line.strip(BLANKS), unread=True)


def read_row(row: GivenRow) -> GivenRow:
    """Return a row with the value of its text, or with what is wrong with that."""
    if row.text is None:
        return row
    number = row.place
    try:
        return GivenRow(parse_json(row.text), number)
    except ProblemError as problem:
        fault = problem.errors[0]
        detail = fault.detail.replace("The body", f"Line {number}").replace(" at line 1,", " at")
        return _broken(number, fault.code, detail.replace("of the body", f"of line {number}"))


def _broken(number: int, code: str, detail: str, allowed: str | None = None) -> GivenRow:
    fault = FieldError(
        pointer=json_pointer(()), code=code, detail=detail, row=number, allowed=allowed
    )
    return GivenRow(None, number, problems=[fault])


def ndjson(values: Sequence[Mapping[str, Any]]) -> bytes:
    """Return one line for each value."""
    return "".join([_ENCODE(value) + "\n" for value in values]).encode()
