"""
What the cells of a sheet do not tell by their values, read from its XML as it is unpacked.

The library that reads the cells gives an empty cell for an error and for a formula without its
result, and 0.6 for what is shown as 60 %; and it makes room for every cell between the first and
the last, wherever a stray one lies. All of that is found here first. It runs in the process that
reads a workbook.
"""

from collections.abc import Callable
from typing import Any, Final

from service.api.formats.cells import column_letters
from service.api.formats.workbook_archive import local, parsed, too_large, unreadable, xml_parser
from service.api.limits import TableLimits

DIGITS: Final = "0123456789"
BUILT_IN_PERCENTS: Final = (9, 10)
"""Number formats `0%` and `0.00%`, which a workbook need not write out."""


class SheetScan:
    """
    Read the XML of a sheet piece by piece.

    Parameters
    ----------
    percent_styles : set of str
        Styles that show a number as a percentage.
    limits : TableLimits
        How many columns, rows and cells there may be.
    most_rows : int
        Rows below the headings.

    Attributes
    ----------
    faults : dict
        (row, column), both from 0, to code and text of a cell without a value.
    percents : set of (int, int)
        Cells whose number is shown as a percentage.
    formulas : int
        How many cells are formulas.
    last_row, last_column : int
        Of all cells that hold anything, from 0; -1 when none does.
    """

    def __init__(self, percent_styles: set[str], limits: TableLimits, most_rows: int) -> None:
        self.faults: dict[tuple[int, int], tuple[str, str]] = {}
        self.percents: set[tuple[int, int]] = set()
        self.formulas = 0
        self.last_row = self.last_column = -1
        self._percent_styles = percent_styles
        self._limits = limits
        self._most_rows = most_rows
        self._first_row = 1 << 30
        self._first_column = 1 << 30
        self._row = -1
        self._column = -1
        self._letters: dict[str, int] = {}
        self._kind = ""
        self._is_formula = False
        self._text: list[str] = []
        self._parser = xml_parser()
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start

    def watch(self, piece: bytes, last: bool) -> None:
        """Read the next piece."""
        parsed(self._parser, piece, last)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if ":" in name:
            name = local(name)
        if name == "c":
            self._cell(attributes)
        elif name == "v" or name == "is":
            self._filled()
        elif name == "f":
            self.formulas += 1
            self._is_formula = True
            self._filled()
            self._listen(None)
        elif name == "row":
            given = attributes.get("r", "")
            self._row = int(given) - 1 if _is_number(given) else self._row + 1
            self._column = -1

    def _cell(self, attributes: dict[str, str]) -> None:
        given = attributes.get("r")
        if given is None:
            self._column += 1
        else:
            letters = given.rstrip(DIGITS)
            column = self._letters.get(letters)
            if column is None:
                column = self._letters[letters] = _column(letters, given)
            number = given[len(letters) :]
            if not _is_number(number):
                raise unreadable("not_a_workbook", f"A sheet names the cell `{given[:20]}`.")
            self._row, self._column = int(number) - 1, column
        self._kind = attributes.get("t", "n")
        self._is_formula = False
        if self._kind == "e":
            self._listen(self._text.append)
        elif self._percent_styles and attributes.get("s") in self._percent_styles:
            self.percents.add((self._row, self._column))

    def _filled(self) -> None:
        """Take in that the cell holds something, and refuse a sheet that grows too large."""
        row, column = self._row, self._column
        if (
            row > self.last_row
            or column > self.last_column
            or column < self._first_column
            or row < self._first_row
        ):
            self._first_row = min(row, self._first_row)
            self.last_row = max(row, self.last_row)
            self.last_column = max(column, self.last_column)
            self._first_column = min(column, self._first_column)
            self._check_size()

    def _check_size(self) -> None:
        limits = self._limits
        columns = self.last_column - self._first_column + 1
        rows = self.last_row - self._first_row
        where = f"cell {column_letters(self._column)}{self._row + 1}"
        if columns > limits.columns:
            detail = f"The sheet has more than {limits.columns} columns, the last with {where}."
            raise too_large(detail, f"at most {limits.columns} columns")
        if rows > self._most_rows:
            detail = f"The sheet has more than {self._most_rows} rows, the last with {where}."
            raise too_large(detail, f"at most {self._most_rows} rows")
        if columns * (rows + 1) > limits.workbook_cells:
            detail = f"The sheet is too large: {columns} columns of {rows} rows up to {where}."
            raise too_large(detail, f"at most {limits.workbook_cells} cells")

    def _listen(self, take: Callable[[str], None] | None) -> None:
        """Follow this cell to its end; the text of its formula is not taken."""
        self._text.clear()
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = take

    def _end(self, name: str) -> None:
        name = local(name)
        if name == "f":
            # Whatever follows in this cell is its value.
            self._parser.CharacterDataHandler = self._text.append
        elif name == "c":
            self._parser.EndElementHandler = None
            self._parser.CharacterDataHandler = None
            value = "".join(self._text).strip()
            place = (self._row, self._column)
            if self._kind == "e":
                self.faults[place] = ("error_cell", value[:20])
            elif self._is_formula and not value and self._kind != "str":
                self.faults[place] = ("formula_without_value", "")


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9 and text != "0"


def _column(letters: str, given: str) -> int:
    if not letters.isascii() or not letters.isalpha() or len(letters) > 3:
        raise unreadable("not_a_workbook", f"A sheet names the cell `{given[:20]}`.")
    column = 0
    for letter in letters.upper():
        column = column * 26 + ord(letter) - ord("A") + 1
    return column - 1


class StylesScan:
    """Read which styles of a workbook show a number as a percentage."""

    def __init__(self) -> None:
        self.percents: set[str] = set()
        self._formats = set(map(str, BUILT_IN_PERCENTS))
        self._inside = False
        self._count = 0
        self._parser = xml_parser()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end

    def watch(self, piece: bytes, last: bool) -> None:
        """Read the next piece."""
        parsed(self._parser, piece, last)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        name = local(name)
        if name == "numFmt":
            identity = attributes.get("numFmtId", "")
            if "%" in _outside_quotes(attributes.get("formatCode", "")):
                self._formats.add(identity)
            else:
                self._formats.discard(identity)
        elif name == "cellXfs":
            self._inside = True
        elif name == "xf" and self._inside:
            if attributes.get("numFmtId") in self._formats:
                self.percents.add(str(self._count))
            self._count += 1

    def _end(self, name: str) -> None:
        if local(name) == "cellXfs":
            self._inside = False


def _outside_quotes(code: str) -> str:
    """Return a number format without the texts in it."""
    return "".join(code.split('"')[::2]).replace("\\%", "")


class StringsScan:
    """Read how long the longest text is that cells of a workbook share; each may be named often."""

    def __init__(self, limits: TableLimits) -> None:
        self._most = limits.cell_letters
        self._length = 0
        self._parser: Any = xml_parser()
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.CharacterDataHandler = self._data

    def watch(self, piece: bytes, last: bool) -> None:
        """Read the next piece."""
        parsed(self._parser, piece, last)

    def _start(self, name: str, _: dict[str, str]) -> None:
        if local(name) == "si":
            self._length = 0

    def _data(self, text: str) -> None:
        self._length += len(text)
        if self._length > self._most:
            detail = f"A cell of the workbook has a text of more than {self._most} letters."
            raise too_large(detail, f"at most {self._most} letters")
