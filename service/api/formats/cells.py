"""What a cell of a table holds, whichever format it came in."""

import re
from typing import Final


class _Marked:
    """A cell that is more than its value; no dataclass, so that records can tell the kinds."""

    __slots__: tuple[str, ...] = ()

    def _content(self) -> tuple[object, ...]:
        return tuple(getattr(self, name) for name in self.__slots__)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, type(self)) and self._content() == other._content()

    def __hash__(self) -> int:
        return hash(self._content())

    def __repr__(self) -> str:
        return f"{type(self).__name__}{self._content()}"


class DateCell(_Marked):
    """A date, a time or a span of a workbook, as ISO 8601 writes it."""

    __slots__ = ("text",)

    def __init__(self, text: str) -> None:
        self.text = text


class PercentCell(_Marked):
    """A number of a workbook that is shown as a percentage: 0.6 as 60 %."""

    __slots__ = ("value",)

    def __init__(self, value: float) -> None:
        self.value = value

    @property
    def text(self) -> str:
        """What is shown."""
        return f"{number_text(100.0 * self.value)} %"


class FaultCell(_Marked):
    """A cell that has no value: an error, a formula without its result, part of a merged cell."""

    __slots__ = ("code", "shown")

    def __init__(self, code: str, shown: str = "") -> None:
        self.code = code
        self.shown = shown

    @property
    def text(self) -> str:
        """What a copy of the cell says: the error itself, nothing for the others."""
        return self.shown if self.code == "error_cell" else ""


Cell = str | int | float | bool | DateCell | PercentCell | FaultCell | None

FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
_SIGNED_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")
_PLAIN_NUMBER: Final = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?")


def plain_number(text: str) -> float | int | None:
    """Return the number that a text is and nothing more; None when it needs a closer look."""
    if _PLAIN_NUMBER.fullmatch(text) is None:
        return None
    return float(text) if "." in text else int(text)


def number_text(value: float) -> str:
    """Return a number of a workbook as people read it there, fifteen digits at most."""
    return f"{value:.15g}"


def cell_text(cell: Cell) -> str:
    """Return a cell as text; numbers with a decimal point."""
    if isinstance(cell, str):
        return cell
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, int | float):
        return number_text(cell)
    return cell.text


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell says nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def safe_text(text: str) -> str:
    """Return text that no spreadsheet runs as a formula when it opens it in a CSV table."""
    if not text.lstrip().startswith(FORMULA_STARTS) and not text.startswith(FORMULA_STARTS):
        return text
    return text if _SIGNED_NUMBER.fullmatch(text) else "'" + text


def column_letters(column: int) -> str:
    """Return the letters of a column of a sheet; the first, A, is 0."""
    letters = ""
    column += 1
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


def cell_name(row: int, column: int) -> str:
    """Return the name of a cell, such as C7; the row is counted from 1, the column from 0."""
    return f"{column_letters(column)}{row}"
