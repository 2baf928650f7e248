"""
A table of rows as CSV: read without guessing, written back with the caller's own columns.

Reading: UTF-8 with or without a byte-order mark; the delimiter is the one that the heading line
uses, or the one that the caller names; decimal commas only when the caller says so. Writing:
RFC 4180, headings are field names with their units. Text that a spreadsheet would run as a formula
gets an apostrophe in front on the way out; numbers never do.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from service.api.problems import FieldError, ProblemError, invalid_request
from service.api.suggestions import nearest

Delimiter = Literal["comma", "semicolon", "tab"]
Decimal = Literal["point", "comma"]

DELIMITERS: Final[Mapping[str, str]] = {"comma": ",", "semicolon": ";", "tab": "\t"}
FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
OWN_WORDS: Final = frozenset(("name", "days", "label", "form", "total"))
"""Words that growers head columns of their own with, though a field's name holds them."""

OWN_CEILINGS: Final = "plants.profile."
"""Columns that nobody means who writes less than their whole name."""

MOST_COLUMNS: Final = 400
LONGEST_CELL: Final = 2_000
LONGEST_HEADING: Final = 200


@dataclass(frozen=True)
class Table:
    """
    A table as it was sent.

    Attributes
    ----------
    headings : tuple of str
        Column titles in the caller's order.
    records : list of list of str
        Cells, one list per row, as many as there are headings.
    lines : list of int
        Line of the file on which each record ends.
    delimiter : str
        What separates cells.
    """

    headings: tuple[str, ...]
    records: list[list[str]]
    lines: list[int]
    delimiter: str


def _refusal(code: str, detail: str, *, parameter: str | None = None, **more: Any) -> ProblemError:
    return invalid_request(FieldError(code=code, detail=detail, parameter=parameter, **more))


def read_csv(body: bytes, delimiter: Delimiter | None = None, most_rows: int = 200_000) -> Table:
    """
    Return the table that a CSV body holds.

    Parameters
    ----------
    body : bytes
        UTF-8 text.
    delimiter : str, optional
        `comma`, `semicolon` or `tab`; found from the heading line when absent.
    most_rows : int
        Rows beyond this are refused.

    Returns
    -------
    Table
        Headings and cells, blank lines left out.

    Raises
    ------
    ProblemError
        400 for bytes that are no UTF-8, 413 for too many rows, 422 for a table without headings,
        with a heading twice, or with a row of another length.
    """
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        detail = f"The table is not UTF-8: byte {error.start} cannot be read. Save it as CSV UTF-8."
        raise ProblemError(
            "unreadable_body", detail, [FieldError(code="encoding", detail=detail)]
        ) from None
    first_line = text.split("\n", 1)[0]
    separator = DELIMITERS[delimiter] if delimiter else _delimiter_of(first_line)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    records: list[list[str]] = []
    lines: list[int] = []
    headings: tuple[str, ...] = ()
    try:
        for record in reader:
            if not any(cell.strip() for cell in record):
                continue
            if not headings:
                headings = _headings(record)
                continue
            if len(record) != len(headings):
                _check_length(record, headings, reader.line_num)
                record = [*record, *[""] * len(headings)][: len(headings)]
            if len(records) >= most_rows:
                detail = f"The table has more than {most_rows} rows; split it. See /v1/limits."
                raise ProblemError(
                    "too_large", detail, [FieldError(code="too_many", detail=detail)]
                )
            records.append(record)
            lines.append(reader.line_num)
    except csv.Error as error:
        detail = f"Line {reader.line_num} of the table is not well-formed CSV: {error}."
        raise _refusal("malformed", detail) from None
    if not headings:
        raise _refusal("missing", "The table has no heading line.")
    return Table(headings, records, lines, separator)


def _delimiter_of(first_line: str) -> str:
    """Return the separator that the heading line uses most."""
    return max(DELIMITERS.values(), key=lambda separator: first_line.count(separator))


def _headings(record: Sequence[str]) -> tuple[str, ...]:
    headings = [cell.strip() for cell in record]
    while headings and not headings[-1]:
        headings.pop()
    if len(headings) > MOST_COLUMNS:
        detail = f"The table has {len(headings)} columns; {MOST_COLUMNS} are read at most."
        raise _refusal("too_many", detail)
    seen: set[str] = set()
    for position, heading in enumerate(headings, start=1):
        if not heading:
            detail = f"Column {position} has no heading. Merged headings are not read."
            raise _refusal("missing", detail)
        if len(heading) > LONGEST_HEADING:
            detail = f"The heading of column {position} is longer than {LONGEST_HEADING} letters."
            raise _refusal("too_many", detail)
        if heading in seen:
            detail = f"The heading `{heading}` stands twice; which column counts is unclear."
            raise _refusal("repeated_column", detail, received=heading)
        seen.add(heading)
    return tuple(headings)


def _check_length(record: Sequence[str], headings: Sequence[str], line: int) -> None:
    surplus = [cell for cell in record[len(headings) :] if cell.strip()]
    if surplus:
        detail = (
            f"Line {line} has {len(record)} cells under {len(headings)} headings. A decimal comma"
            " or a text with a comma needs quotes, or another delimiter."
        )
        raise _refusal("malformed", detail)


def check_headings(
    headings: Sequence[str], fields: Sequence[str], results: Sequence[str]
) -> list[str]:
    """
    Return the caller's own columns; refuse headings that look like a misspelt field.

    Parameters
    ----------
    headings : sequence of str
        Column titles of a table.
    fields : sequence of str
        Dotted names of the request's fields.
    results : sequence of str
        Names of the result columns, which no own column may have.

    Returns
    -------
    list of str
        Headings that are neither field nor result: they come back untouched.

    Raises
    ------
    ProblemError
        422 naming every heading at fault.
    """
    known = set(fields)
    groups = {name.split(".", 1)[0] for name in fields if "." in name}
    faults: list[FieldError] = []
    own: list[str] = []
    for heading in headings:
        if heading in known:
            continue
        if heading in results:
            detail = f"`{heading}` is the name of a result column; rename or remove this one."
            faults.append(FieldError(code="unknown_column", detail=detail, received=heading))
            continue
        close = nearest(heading, fields)
        meant = _meant_by(heading, fields)
        if meant:
            detail = f"`{heading}` is not a column here. Did you mean `{'` or `'.join(meant[:3])}`?"
            faults.append(
                FieldError(code="unknown_column", detail=detail, received=heading, allowed=meant)
            )
            continue
        dotted = heading.split(".", 1)[0] in groups and "." in heading
        part = any(name.endswith("." + heading.strip().lower()) for name in fields)
        if dotted or part or (close is not None and _is_near(heading, close)):
            faults.append(FieldError.unknown_word("unknown_column", "column", heading, fields))
            continue
        own.append(heading)
    if faults:
        raise invalid_request(*faults)
    if len(own) == len(headings):
        detail = (
            "No heading of the table is a field of a dose. Headings are dotted names such as"
            " `plants.size`, `air.humidity_percent`, `product`, `water`, `volume_l`."
        )
        raise _refusal("unknown_column", detail, received=headings[0])
    return own


def _meant_by(heading: str, fields: Sequence[str]) -> list[str]:
    """
    Return the columns that a heading may mean which names only a part of them.

    Its group alone (`strength`), its last name alone (`size`), or that without the unit
    (`humidity`): a column so named was meant to count, and would be passed over in silence.
    """
    folded = heading.lower().replace("-", "_").replace(" ", "_")
    if folded in OWN_WORDS:
        return []
    by_name = [name for name in fields if name.rsplit(".", 1)[-1] == folded]
    by_group = [name for name in fields if name.startswith(f"{folded}.")]
    by_stem = [
        name
        for name in fields
        if name.rsplit(".", 1)[-1].startswith(f"{folded}_") and not name.startswith(OWN_CEILINGS)
    ]
    return sorted(by_name or by_group or by_stem, key=len)[:20]


def _is_near(heading: str, field: str) -> bool:
    """Tell a misspelt field from a word of the grower's own."""
    folded = heading.lower().replace("-", "_").replace(" ", "_")
    return folded == field or (len(folded) > 5 and abs(len(folded) - len(field)) <= 2)


def nested(headings: Sequence[str], record: Sequence[str], fields: set[str]) -> dict[str, Any]:
    """
    Return one row as the object that JSON would hold.

    Parameters
    ----------
    headings : sequence of str
        Column titles.
    record : sequence of str
        Cells; an empty cell means that nothing was said.
    fields : set of str
        Headings that are fields; the others are the caller's own.

    Returns
    -------
    dict
        Nested by the dots of the headings. Where a preset (`water`) and its parts
        (`water.ph`) stand in one row, the parts lie under the key ``""`` for validation to refuse.
    """
    row: dict[str, Any] = {}
    for heading, cell in zip(headings, record, strict=True):
        if heading not in fields:
            continue
        text = cell.strip()
        if not text:
            continue
        node = row
        *parents, name = heading.split(".")
        for parent in parents:
            inner = node.get(parent)
            if inner is None:
                inner = node[parent] = {}
            elif not isinstance(inner, dict):
                inner = node[parent] = {"": inner}
            node = inner
        if isinstance(node.get(name), dict):
            node[name][""] = text
        else:
            node[name] = text
    return row


def with_decimal_points(record: Sequence[str]) -> list[str]:
    """
    Return cells in which a decimal comma has become a point, as the caller declared.

    Only numbers are touched. A point in one groups thousands there, or the declaration is wrong:
    it becomes a sign that no number has, so that the cell is refused and not read as a thousandth.
    """
    return [_NUMBER.sub(_with_point, cell, count=1) for cell in record]


_NUMBER: Final = re.compile(r"^\s*[+-]?[0-9]*[.,][0-9][0-9.,]*")


def _with_point(number: re.Match[str]) -> str:
    text = number[0].replace(".", "_")
    return text.replace(",", ".") if text.count(",") == 1 else text


def safe_text(text: str) -> str:
    """Return text that no spreadsheet runs as a formula."""
    if not text.lstrip().startswith(FORMULA_STARTS) and not text.startswith(FORMULA_STARTS):
        return text
    try:
        float(text)
    except ValueError:
        return "'" + text
    return text


def write_csv(
    headings: Sequence[str],
    rows: Iterable[Sequence[object]],
    delimiter: str = ",",
    decimal: Decimal = "point",
) -> bytes:
    """
    Return a table as CSV.

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
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow([safe_text(heading) for heading in headings])
    for row in rows:
        writer.writerow([_cell(value, decimal) for value in row])
    return stream.getvalue().encode("utf-8")


def _cell(value: object, decimal: Decimal) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, float):
        text = f"{value:.12g}"
        return text.replace(".", ",") if decimal == "comma" else text
    return str(value)
