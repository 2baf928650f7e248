"""Bodies of batches in every format from the same rows, and the rows of their answers."""

import csv
import io
import json
import random
from collections.abc import Sequence
from typing import Any, Final

from tests.resilience.dose_rows import UNKNOWN_FIELDS, DoseRow

MEDIA_TYPES: Final = {
    "json": "application/json",
    "ndjson": "application/x-ndjson",
    "csv": "text/csv",
}
BROKEN_LINES: Final = (
    b"{",
    b'{"volume_l": }',
    b'{"volume_l": 1} x',
    b"[]",
    b"7",
    b'"text"',
    b"null",
    b"\xff\xfe",
    b'{"id": "\xc3("}',
    b'{"a": 1, "a": 2}',
    b"[" * 500,
    b'{"volume_l": 01}',
    b"{'volume_l': 1}",
    b"\x00",
    b'{"volume_l": 1,}',
)
"""Lines that are no rows; each is answered in its place."""


STAYS_OUT: Final = {*UNKNOWN_FIELDS, "products", "plants", "air", "strength", "acid"}
"""What is no heading of a table: one that looks like a misspelt field refuses all of it."""


def json_body(rows: Sequence[DoseRow]) -> bytes:
    """Return the rows as one document; numbers that JSON does not have are written all the same."""
    return json.dumps({"rows": [row.nested() for row in rows]}).encode()


def ndjson_body(rows: Sequence[DoseRow], rng: random.Random) -> tuple[bytes, list[DoseRow | None]]:
    """Return the rows as lines, with blank and broken ones among them, and what is answered."""
    lines: list[bytes] = []
    answered: list[DoseRow | None] = []
    for row in rows:
        drawn = rng.random()
        if drawn < 0.01:
            lines.append(rng.choice((b"", b"  ", b"\r")))
        elif drawn < 0.03:
            lines.append(rng.choice(BROKEN_LINES))
            answered.append(None)
        lines.append(json.dumps(row.nested()).encode())
        answered.append(row)
    return b"\n".join(lines) + b"\n", answered


def cell(value: Any) -> str:
    """Return a value as the text of a cell."""
    if value is None:
        return ""
    if isinstance(value, dict | list):
        return json.dumps(value)
    if isinstance(value, int) and abs(value) > 10**100:
        return "1" + "0" * 400
    return str(value).encode("utf-8", "replace").decode()


def csv_body(rows: Sequence[DoseRow]) -> tuple[bytes, list[DoseRow]]:
    """
    Return the rows as a table, and those that are in it.

    Lists and objects have no cell of their own and stay out, as do fields that are none.
    """
    known = [
        row
        for row in rows
        if not any(
            isinstance(value, list | dict) or name in STAYS_OUT
            for name, value in row.fields.items()
        )
    ]
    names = sorted({name for row in known for name in row.fields} - {"id"})
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(["id", "place", *names])
    for place, row in enumerate(known):
        cells = [cell(row.fields.get(name)) for name in names]
        writer.writerow([cell(row.fields.get("id")), f"p{place}", *cells])
    return text.getvalue().encode(), known


def no_such_number(text: str) -> float:
    """Refuse NaN and the infinities, which no answer may hold."""
    message = f"the answer holds {text}"
    raise ValueError(message)


def json_rows(body: bytes) -> list[dict[str, Any]]:
    """Return the rows of an answered document."""
    document = json.loads(body, parse_constant=no_such_number)
    rows: list[dict[str, Any]] = document["rows"]
    if document["summary"]["total"] != len(rows):
        message = f"summary.total is {document['summary']['total']} of {len(rows)} rows"
        raise ValueError(message)
    return rows


def ndjson_rows(body: bytes) -> list[dict[str, Any]]:
    """Return the rows of answered lines, the last of which is the summary."""
    lines = [
        json.loads(line, parse_constant=no_such_number)
        for line in body.split(b"\n")
        if line.strip()
    ]
    last = lines.pop()
    if last["summary"]["total"] != len(lines):
        message = f"summary.total is {last['summary']['total']} of {len(lines)} rows"
        raise ValueError(message)
    return lines


def csv_rows(body: bytes) -> list[dict[str, Any]]:
    """Return the rows of an answered table."""
    csv.field_size_limit(10_000_000)
    return list(csv.DictReader(io.StringIO(body.decode("utf-8-sig"), newline="")))
