"""
Write a workbook from records that arrive on the input; the program of a process of its own.

Writing takes longer than planning what is written; here it takes a core of its own, and a row is
forgotten once it is in the file. Texts are written as texts: nothing becomes a formula or a link.
"""

import datetime
import math
import os
import sys
from typing import IO, Any, Final

import xlsxwriter

from service.api.formats.cells import DateCell, FaultCell, PercentCell, cell_text
from service.api.formats.records import read_records

LONGEST_TEXT: Final = 32_767
WIDEST_COLUMN: Final = 40
NARROWEST_COLUMN: Final = 9
LARGEST_EXACT: Final = 10**15
FIRST_YEAR: Final = 1900


def main() -> None:
    """Write the workbook that the only argument names."""
    write(sys.stdin.buffer, sys.argv[1])


def write(source: IO[bytes], path: str) -> None:
    """
    Write a workbook.

    Parameters
    ----------
    source : binary file
        Records `["sheet", name, headings]`, which begin a sheet, `["rows", name, rows]`, and
        `["end"]`, without which the input is broken off and no workbook is finished.
    path : str
        Where to.
    """
    # What is kept on the way lies beside the workbook, in a folder that the caller clears.
    options = {"constant_memory": True, "tmpdir": os.path.dirname(path)}
    book = xlsxwriter.Workbook(path, options)
    book.set_properties({"created": datetime.datetime(2000, 1, 1)})
    sheets: dict[str, _Sheet] = {}
    finished = False
    for record in read_records(source):
        kind, *content = record
        if kind == "sheet":
            name, headings = content
            sheets[name] = _Sheet(book, name, headings)
        elif kind == "rows":
            name, rows = content
            sheets[name].write(rows)
        else:
            finished = True
    if not finished:
        sys.exit("the input was broken off")
    book.close()


class _Sheet:
    """One sheet that grows downwards."""

    def __init__(self, book: Any, name: str, headings: list[str]) -> None:
        self.sheet = book.add_worksheet(name)
        self.row = 1
        self.formats = {
            "date": book.add_format({"num_format": "yyyy-mm-dd"}),
            "time": book.add_format({"num_format": "hh:mm:ss"}),
            "both": book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
            "percent": book.add_format({"num_format": "0.##%"}),
        }
        bold = book.add_format({"bold": True})
        for column, heading in enumerate(headings):
            width = min(max(len(heading) + 2, NARROWEST_COLUMN), WIDEST_COLUMN)
            self.sheet.set_column(column, column, width)
        self.sheet.freeze_panes(1, 0)
        for column, heading in enumerate(headings):
            self.sheet.write_string(0, column, heading[:LONGEST_TEXT], bold)

    def write(self, rows: list[list[Any]]) -> None:
        """Write rows under those that are there."""
        number, text = self.sheet.write_number, self.sheet.write_string
        row = self.row
        for cells in rows:
            for column, cell in enumerate(cells):
                kind = type(cell)
                if kind is float or kind is int:
                    if math.isfinite(cell) and abs(cell) < LARGEST_EXACT:
                        number(row, column, cell)
                    else:
                        text(row, column, str(cell))
                elif kind is str:
                    if cell:
                        text(row, column, cell[:LONGEST_TEXT])
                elif cell is not None:
                    self._write_other(row, column, cell)
            row += 1
        self.row = row

    def _write_other(self, row: int, column: int, cell: Any) -> None:
        if isinstance(cell, bool):
            self.sheet.write_boolean(row, column, cell)
        elif isinstance(cell, PercentCell):
            self.sheet.write_number(row, column, cell.value, self.formats["percent"])
        elif isinstance(cell, DateCell):
            self._write_date(row, column, cell.text)
        elif isinstance(cell, FaultCell) and cell.text:
            self.sheet.write_string(row, column, cell_text(cell))

    def _write_date(self, row: int, column: int, text: str) -> None:
        """Write a date as one, where workbooks have it; other moments as text."""
        moment: datetime.date | datetime.time
        try:
            if "T" in text:
                kind, moment = "both", datetime.datetime.fromisoformat(text)
            elif "-" in text:
                kind, moment = "date", datetime.date.fromisoformat(text)
            else:
                kind, moment = "time", datetime.time.fromisoformat(text)
        except ValueError:
            self.sheet.write_string(row, column, text)
            return
        if isinstance(moment, datetime.date) and moment.year < FIRST_YEAR:
            self.sheet.write_string(row, column, text)
        else:
            self.sheet.write_datetime(row, column, moment, self.formats[kind])


if __name__ == "__main__":
    main()
