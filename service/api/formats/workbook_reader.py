"""
Read one sheet of a workbook into a file of rows; the program of a process of its own.

A workbook can be made so that reading it takes all memory, or that the library that reads it
gives up with the whole process. Here neither matters: the process has a bound on memory and time,
writes what it found into a file of records (`service.api.formats.records`), and says on its output
what kept it from doing so.
"""

import datetime
import json
import resource
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, Final

import python_calamine

from service.api.formats.cells import Cell, DateCell, FaultCell, PercentCell, cell_name
from service.api.formats.records import write_record
from service.api.formats.workbook_archive import (
    SMALL_PART_BYTES,
    SMALL_PARTS,
    STRINGS,
    STYLES,
    WorkbookFault,
    copied,
    opened,
    sheets_of,
    too_large,
    unreadable,
)
from service.api.formats.workbook_scan import SheetScan, StringsScan, StylesScan
from service.api.limits import TableLimits

BLOCK_ROWS: Final = 1_000
MOST_MERGED_PLACES: Final = 1_000_000
TIMES: Final = (datetime.date, datetime.time)


@dataclass(frozen=True)
class Task:
    """
    What is to be read.

    Attributes
    ----------
    source, target : str
        Paths of the workbook and of the file of records.
    sheet : str or None
        Name of a sheet; the first that is not hidden when None.
    most_rows : int
        Rows below the headings.
    limits : dict
        Fields of `TableLimits`.
    """

    source: str
    target: str
    sheet: str | None
    most_rows: int
    limits: dict[str, int]


def main() -> None:
    """Do the task that stands in the only argument, and write what came of it."""
    task = Task(**json.loads(sys.argv[1]))
    limits = TableLimits(**task.limits)
    bound(limits)
    said: dict[str, Any] = {}
    try:
        with open(task.source, "rb") as source, open(task.target, "wb") as target:
            for record in read(source, task.sheet, limits, task.most_rows):
                write_record(target, record)
    except WorkbookFault as fault:
        said = {"kind": fault.kind, "fault": fault.fault}
    except MemoryError:
        beyond = beyond_memory(limits)
        said = {"kind": beyond.kind, "fault": beyond.fault}
    sys.stdout.write(json.dumps(said))


def bound(limits: TableLimits) -> None:
    """Bound what this process may take; it leaves no core file when it is stopped."""
    for kind, most in (
        (resource.RLIMIT_AS, limits.workbook_memory_bytes),
        (resource.RLIMIT_CPU, limits.workbook_seconds),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(kind)
        if hard == resource.RLIM_INFINITY or most < hard:
            resource.setrlimit(kind, (most, hard))


def beyond_memory(limits: TableLimits) -> WorkbookFault:
    """Return the fault of a workbook that cannot be held or takes too long."""
    allowed = f"{limits.workbook_memory_bytes} bytes of memory, {limits.workbook_seconds} seconds"
    return too_large("Reading the workbook takes too much memory or time.", allowed)


def read(
    source: IO[bytes], sheet: str | None, limits: TableLimits, most_rows: int
) -> Iterator[dict[str, Any] | list[Any]]:
    """
    Yield what a sheet holds: first its description, then its rows in blocks.

    Parameters
    ----------
    source : binary file
        The workbook.
    sheet : str or None
        Name of a sheet.
    limits : TableLimits
        What it may be at most.
    most_rows : int
        Rows below the headings.

    Yields
    ------
    dict, then list
        `sheet`, `sheets`, `headings`, `heading_row`, `first_column`, `rows`, `formulas`; then
        blocks of [row, cells], the row counted from 1, blank rows as []. Blank rows at the end
        are left out.
    """
    archive = opened(source, limits)
    sheets = sheets_of(archive)
    name, part = _chosen(sheets, sheet)
    with tempfile.TemporaryFile() as copy:
        scan = _copied(archive, copy, part, limits, most_rows)
        copy.seek(0)
        values, first_column, merged = _values(copy, name)
        cells = _cells(values, first_column, scan, limits)
        heading_row, headings = next(((row, cells) for row, cells in cells if cells), (1, []))
        _check_merged_headings(heading_row, first_column, merged)
        yield {
            "sheet": name,
            "sheets": [each for each, _, shown in sheets if shown],
            "headings": headings,
            "heading_row": heading_row,
            "first_column": first_column,
            "formulas": scan.formulas,
        }
        places = _merged_places(merged, scan.last_row)
        yield from _blocks(cells, places, first_column, len(headings))


def _chosen(sheets: list[tuple[str, str, bool]], wanted: str | None) -> tuple[str, str]:
    names = [name for name, _, _ in sheets]
    if wanted is not None:
        for name, part, _ in sheets:
            if name == wanted:
                return name, part
        listed = ", ".join(f"`{name}`" for name in names[:20]) or "none"
        detail = f"The workbook has no sheet `{wanted[:80]}`. Its sheets: {listed}."
        more = {"parameter": "sheet", "received": wanted[:80], "allowed": names[:60]}
        raise WorkbookFault("invalid_request", "unknown_sheet", detail, **more)
    for name, part, shown in sheets:
        if shown:
            return name, part
    raise unreadable("not_a_workbook", "The workbook has no sheet of cells.")


def _copied(
    archive: zipfile.ZipFile, copy: IO[bytes], part: str, limits: TableLimits, most_rows: int
) -> SheetScan:
    """Copy what is needed into an archive of our own, and scan it on the way."""
    names = set(archive.namelist())
    if part not in names:
        raise unreadable("not_a_workbook", "The archive of the workbook lacks the sheet.")
    styles, strings = StylesScan(), StringsScan(limits)
    with zipfile.ZipFile(copy, "w", zipfile.ZIP_STORED) as target:
        for name in SMALL_PARTS:
            if name in names:
                watch = styles.watch if name == STYLES else None
                copied(archive, name, target, SMALL_PART_BYTES, watch)
        if STRINGS in names:
            copied(archive, STRINGS, target, limits.workbook_bytes, strings.watch)
        scan = SheetScan(styles.percents, limits, most_rows)
        copied(archive, part, target, limits.workbook_bytes, scan.watch)
    return scan


def _values(copy: IO[bytes], name: str) -> tuple[Iterator[list[Any]], int, list[Any]]:
    """Return rows of values, all from the first of the sheet, the first column, merged ranges."""
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(copy)
        sheet = book.get_sheet_by_name(name)
        _, first_column = sheet.start or (0, 0)
        return sheet.iter_rows(), first_column, sheet.merged_cell_ranges or []
    except (python_calamine.CalamineError, ValueError, OSError) as error:
        detail = f"The workbook cannot be read: {str(error)[:200]}."
        raise unreadable("not_a_workbook", detail) from None


def _cells(
    values: Iterator[list[Any]],
    first_column: int,
    scan: SheetScan,
    limits: TableLimits,
) -> Iterator[tuple[int, list[Cell]]]:
    """Yield every row (from 1) with its cells, trailing blanks cut off; [] for a blank row."""
    marked: dict[int, list[tuple[int, Cell | None]]] = {}
    for (row, column), (code, shown) in scan.faults.items():
        marked.setdefault(row, []).append((column, FaultCell(code, shown)))
    for row, column in scan.percents:
        marked.setdefault(row, []).append((column, None))
    row = 0
    for given in values:
        cells = [_cell(value) for value in given]
        yield row + 1, _marked(cells, marked.pop(row, ()), first_column, row, limits)
        row += 1
    for below in range(row, scan.last_row + 1):
        yield below + 1, _marked([], marked.pop(below, ()), first_column, below, limits)


def _cell(value: Any) -> Cell:
    if value == "":
        return None
    if isinstance(value, TIMES):
        return DateCell(value.isoformat())
    if isinstance(value, datetime.timedelta):
        return DateCell(f"{value.total_seconds() / 3600.0:.6g} h")
    return value  # type: ignore[no-any-return]


def _marked(
    cells: list[Cell],
    marks: list[tuple[int, Cell | None]] | tuple[()],
    first_column: int,
    row: int,
    limits: TableLimits,
) -> list[Cell]:
    """Return a row with what the scan found out about its cells, trailing blanks cut off."""
    for column, fault in marks:
        position = column - first_column
        if position < 0:
            continue
        if position >= len(cells):
            if fault is None:
                continue
            cells += [None] * (position + 1 - len(cells))
        value = cells[position]
        if fault is not None:
            cells[position] = fault
        elif isinstance(value, int | float) and not isinstance(value, bool):
            cells[position] = PercentCell(value)
    while cells and (cells[-1] is None or (isinstance(cells[-1], str) and not cells[-1].strip())):
        cells.pop()
    for position, cell in enumerate(cells):
        if isinstance(cell, str) and len(cell) > limits.cell_letters:
            name = cell_name(row + 1, first_column + position)
            detail = f"The cell {name} has a text of more than {limits.cell_letters} letters."
            raise too_large(detail, f"at most {limits.cell_letters} letters", cell=name)
    return cells


def _check_merged_headings(row: int, first_column: int, merged: list[Any]) -> None:
    found = [_range_name(each) for each in merged if each[0][0] <= row - 1 <= each[1][0]]
    if found:
        detail = (
            f"Headings are merged: {', '.join(found[:10])}. Unmerge them and give every column a"
            " heading of its own, in one row and with no title above."
        )
        more = {"cell": cell_name(row, first_column), "received": found[0]}
        raise WorkbookFault("invalid_request", "merged_cells", detail, **more)


def _range_name(merged: Any) -> str:
    (top, left), (bottom, right) = merged
    return f"{cell_name(top + 1, left)}:{cell_name(bottom + 1, right)}"


def _merged_places(merged: list[Any], last_row: int) -> dict[int, list[tuple[int, int, str]]]:
    """Return, by row (from 1), the columns that a merged range covers without giving a value."""
    places: dict[int, list[tuple[int, int, str]]] = {}
    count = 0
    for each in merged:
        (top, left), (bottom, right) = each
        name = _range_name(each)
        for row in range(top, min(bottom, last_row) + 1):
            count += 1
            if count > MOST_MERGED_PLACES:
                raise too_large("The sheet has too many merged cells.", f"{MOST_MERGED_PLACES}")
            first = left + 1 if row == top else left
            if first <= right:
                places.setdefault(row + 1, []).append((first, right, name))
    return places


def _blocks(
    rows: Iterator[tuple[int, list[Cell]]],
    merged: dict[int, list[tuple[int, int, str]]],
    first_column: int,
    width: int,
) -> Iterator[list[Any]]:
    """Yield blocks of rows; a blank row is yielded when another one follows."""
    block: list[Any] = []
    blank: list[Any] = []
    for row, cells in rows:
        if not cells:
            blank.append([row, cells])
            continue
        for first, last, name in merged.get(row, ()):
            stop = min(last - first_column + 1, width)
            cells += [None] * (stop - len(cells))
            # A value that the range hides was not seen by whoever sent it.
            for position in range(max(first - first_column, 0), stop):
                cells[position] = FaultCell("merged_cells", name)
        block += blank
        blank = []
        block.append([row, cells])
        if len(block) >= BLOCK_ROWS:
            yield block
            block = []
    yield block


if __name__ == "__main__":
    main()
