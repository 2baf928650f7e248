"""Read the packaged tables: comma-separated, one value per row, each row with its source."""

import csv
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

TABLE_FOLDER: Final = Path(__file__).resolve().parent / "tables"

BASES: Final = (
    "exact",
    "standard",
    "measured",
    "fitted",
    "published",
    "informal",
    "derived",
    "computed",
    "estimated",
    "generic",
    "common_practice",
    "memory",
)
"""
How a value is known.

`exact`: true by definition. `standard`: a standards body fixes it. `measured`, `fitted`: an
experiment, or a curve through experiments, of the source named. `published`: read in the source
named. `informal`: read on a page of no standing. `derived`: follows from other rows by arithmetic
that the note states. `computed`: an independent engine, named in the note. `estimated`: a reasoned
guess. `generic`: composed for this service inside ordinary ranges, describes no one real thing.
`common_practice`: a habit of the trade without a source. `memory`: recalled, unverified.
"""


class ReferenceDataError(ValueError):
    """
    A packaged table or a house catalogue is wrong.

    Parameters
    ----------
    field : str
        Dotted path of the value at fault, for instance ``products.my_feed.form``.
    detail : str
        What is wrong and what is expected.
    """

    def __init__(self, field: str, detail: str) -> None:
        self.field = field
        self.detail = detail
        super().__init__(f"{field}: {detail}")


Row = Mapping[str, str]


def read_table(name: str, required: Sequence[str]) -> tuple[Row, ...]:
    """
    Return the rows of a packaged table.

    Parameters
    ----------
    name : str
        File name without folder or suffix.
    required : sequence of str
        Columns that must exist.

    Returns
    -------
    tuple of mapping
        One mapping from heading to text per row, with a `row` entry that names table and line.

    Raises
    ------
    ReferenceDataError
        If a column is missing or a row has too many or too few cells.
    """
    path = TABLE_FOLDER / f"{name}.csv"
    rows: list[Row] = []
    with path.open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream, strict=True)
        missing = [column for column in required if column not in (reader.fieldnames or ())]
        if missing:
            raise ReferenceDataError(f"{name}.csv", f"lacks the columns {', '.join(missing)}")
        for row in reader:
            where = f"{name}.csv line {reader.line_num}"
            if None in row or None in row.values():
                raise ReferenceDataError(where, "has too many or too few cells")
            if "basis" in row and row["basis"] not in BASES:
                raise ReferenceDataError(where, f"basis must be one of {', '.join(BASES)}")
            rows.append({**row, "row": where})
    return tuple(rows)


def number(row: Row, column: str = "value") -> float:
    """
    Return a cell as a finite number.

    Parameters
    ----------
    row : mapping
        A row of `read_table`.
    column : str
        Heading of the cell.

    Returns
    -------
    float
        The number.

    Raises
    ------
    ReferenceDataError
        If the cell is not a finite number.
    """
    try:
        result = float(row[column])
    except ValueError:
        result = math.nan
    if not math.isfinite(result):
        raise ReferenceDataError(row["row"], f"{column} must be a number, got {row[column]!r}")
    return result
