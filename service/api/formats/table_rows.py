"""From the cells of a table to rows as JSON would hold them, and from faults back to cells."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import numpy as np

from service.api.formats.cells import (
    Cell,
    DateCell,
    FaultCell,
    PercentCell,
    cell_text,
    is_blank,
    plain_number,
)
from service.api.formats.headings import Column
from service.api.formats.table_columns import TableColumns
from service.api.received import repeatable
from service.api.validation import FieldError, json_pointer

Decimal = Literal["point", "comma"]
CellName = Callable[[int, int], str]

FAULT_WORDS: Final = {
    "error_cell": "The cell holds the error {shown}.",
    "formula_without_value": "The formula was saved without its result. Open the workbook in a"
    " spreadsheet and save it there, or write the value.",
    "merged_cells": "The cell is part of {shown}, whose one value stands elsewhere. Unmerge it and"
    " fill every cell.",
}


@dataclass(slots=True)
class GivenRow:
    """
    One row as it was sent.

    Attributes
    ----------
    value : object
        What JSON would hold; None for a row that cannot be planned.
    place : int
        Row of the sheet or line of the file, counted from 1; 0 where rows have no place.
    cells : sequence
        The caller's own cells, as many as there are headings; none outside tables.
    problems : list of FieldError
        What kept the row from being read; such a row is rejected with these.
    name : object
        Its `id`, for rows that cannot be planned.
    blank : bool
        Whether it says nothing at all: such a row is not counted and stays as it is.
    text : bytes or None
        The JSON of a row that is not read yet.
    unread : bool
        Whether its text or its cells are all that is known of it.
    """

    value: object
    place: int = 0
    cells: Sequence[Cell] = ()
    problems: list[FieldError] = field(default_factory=list)
    name: object = None
    blank: bool = False
    text: bytes | None = None
    unread: bool = False


class RowReader:
    """
    Read the rows of a table whose columns are known.

    Parameters
    ----------
    columns : sequence of Column
        In the order of the cells.
    decimal : str
        `point` or `comma`, as the caller declared it.
    cell_name : callable, optional
        Name of the cell in a row of the sheet and at a position of the row, for a workbook.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        decimal: Decimal = "point",
        cell_name: CellName | None = None,
    ) -> None:
        self.columns = tuple(columns)
        self.comma = decimal == "comma"
        self.cell_name = cell_name
        self._fields = [
            (position, column, tuple(column.field.split(".")))
            for position, column in enumerate(columns)
            if column.field
        ]

    def read(self, place: int, cells: Sequence[Cell]) -> GivenRow:
        """
        Return one row.

        Parameters
        ----------
        place : int
            Row of the sheet or line of the file.
        cells : sequence
            As many as the row has; missing ones say nothing, a surplus that says something is a
            fault of the row.
        """
        count = len(self.columns)
        if len(cells) != count:
            surplus = cells[count:]
            cells = [*cells[:count], *[None] * (count - len(cells))]
            if not all(map(is_blank, surplus)):
                fault = self._surplus(place, surplus)
                return GivenRow(None, place, cells, [fault], self._name(cells))
        if all(map(is_blank, cells)):
            return GivenRow(None, place, cells, blank=True)
        problems: list[FieldError] = []
        pairs = []
        for position, column, path in self._fields:
            cell = cells[position]
            if cell is None or cell == "":
                continue
            if isinstance(cell, FaultCell) or (
                isinstance(cell, DateCell) and column.kind == "number"
            ):
                problems.append(self._fault_of_cell(place, position, cell))
                continue
            value = self._value(cell, column)
            if value is not None:
                pairs.append((path, value))
        if problems:
            return GivenRow(None, place, cells, problems, self._name(cells))
        return GivenRow(nested(pairs), place, cells)

    def begun(self, place: int, cells: Sequence[Cell]) -> GivenRow:
        """Return a row that is read later, many at a time; an odd one is read at once."""
        if len(cells) == len(self.columns) and not all(map(is_blank, cells)):
            return GivenRow(None, place, cells, unread=True)
        return self.read(place, cells)

    def together(self, rows: Sequence[GivenRow]) -> TableColumns:
        """Return rows as columns; those that were read at once are none of them."""
        columns = TableColumns([row.cells for row in rows], self.columns, comma=self.comma)
        columns.good &= np.array([row.unread for row in rows], dtype=bool)
        return columns

    def own_cells(self, row: GivenRow) -> str:
        """Return the cells of the caller's own columns as one text."""
        texts = (
            cell_text(cell).strip()
            for column, cell in zip(self.columns, row.cells, strict=True)
            if not column.field
        )
        return "; ".join(text for text in texts if text)

    def placed(self, fault: FieldError, row: GivenRow) -> FieldError:
        """Return a fault of a row with its place in the table."""
        if fault.row is not None:
            return fault
        update: dict[str, Any] = {"row": row.place}
        if fault.code == "decimal_comma" and not self.comma:
            update["detail"] = f"{fault.detail} A whole table declares it by `?decimal=comma`."
        dotted = (fault.pointer or "#").removeprefix("#").strip("/").replace("/", ".")
        for position, column, _ in self._fields:
            if dotted and (column.field == dotted or dotted.startswith(column.field + ".")):
                update |= self._place(row.place, position)
                break
        return fault.model_copy(update=update)

    def _value(self, cell: Cell, column: Column) -> object:
        """Return what JSON would hold for a cell; None when it says nothing."""
        if isinstance(cell, str):
            text = cell.strip()
            if not text or column.kind != "number":
                return text or None
            if self.comma:
                text = with_decimal_point(text)
            number = plain_number(text)
            if number is None:
                return text
            return f"{text} {column.unit}" if column.unit else number
        if isinstance(cell, bool):
            return cell if column.kind == "number" else cell_text(cell)
        if isinstance(cell, int | float):
            if column.kind == "text":
                return cell_text(cell)
            if column.unit:
                return f"{cell_text(cell)} {column.unit}"
            return int(cell) if isinstance(cell, float) and cell.is_integer() else cell
        return cell.text if isinstance(cell, PercentCell | DateCell) else None

    def _name(self, cells: Sequence[Cell]) -> object:
        for position, column, _ in self._fields:
            if column.field == "id" and not is_blank(cells[position]):
                return cell_text(cells[position]).strip()
        return None

    def _place(self, place: int, position: int) -> dict[str, Any]:
        column = self.columns[position].heading[:200]
        if self.cell_name is None:
            return {"column": column}
        return {"column": column, "cell": self.cell_name(place, position)}

    def _fault_of_cell(self, place: int, position: int, cell: DateCell | FaultCell) -> FieldError:
        column = self.columns[position]
        where = {"row": place, **self._place(place, position)}
        if isinstance(cell, DateCell):
            code = "date_cell"
            detail = (
                f"`{column.field}`: the cell holds the date {cell.text}, not a number. A"
                " spreadsheet makes dates of numbers typed with another decimal sign; type the"
                " number again."
            )
        else:
            code = cell.code
            words = FAULT_WORDS[code].format(shown=cell.shown)
            detail = f"`{column.field}`: {words}"
        return FieldError(
            pointer=json_pointer(column.field.split(".")),
            code=code,
            detail=detail,
            received=repeatable(cell_text(cell)) or None,
            **where,
        )

    def _surplus(self, place: int, surplus: Sequence[Cell]) -> FieldError:
        position = next(place for place, cell in enumerate(surplus) if not is_blank(cell))
        count = len(self.columns)
        shown = repeatable(cell_text(surplus[position]))
        if self.cell_name is None:
            detail = (
                f"Line {place} has {count + len(surplus)} cells under {count} headings. A decimal"
                " comma or a text with a comma needs quotes, or another delimiter."
            )
            return FieldError(
                pointer="#", code="malformed", detail=detail, received=shown, row=place
            )
        name = self.cell_name(place, count + position)
        detail = f"The cell {name} stands under no heading. Give its column one, or clear it."
        return FieldError(
            pointer="#", code="malformed", detail=detail, received=shown, row=place, cell=name
        )


def nested(pairs: Iterable[tuple[Sequence[str], object]]) -> dict[str, Any]:
    """
    Return the object that paths and values spell.

    Parameters
    ----------
    pairs : iterable of (path, value)
        Where a preset (`water`) and its parts (`water.ph`) stand in one row, the preset lies under
        the key ``""`` for validation to refuse.
    """
    row: dict[str, Any] = {}
    for (*parents, name), value in pairs:
        node = row
        for parent in parents:
            inner = node.get(parent)
            if inner is None:
                inner = node[parent] = {}
            elif not isinstance(inner, dict):
                inner = node[parent] = {"": inner}
            node = inner
        if isinstance(node.get(name), dict):
            node[name][""] = value
        else:
            node[name] = value
    return row


def with_decimal_point(text: str) -> str:
    """
    Return a text in which the decimal comma of its number has become a point, as declared.

    A point in it groups thousands there, or the declaration is wrong: it becomes a sign that no
    number has, so that the cell is refused and not read as a thousandth.
    """
    return _NUMBER.sub(_with_point, text, count=1)


_NUMBER: Final = re.compile(r"^\s*[+-]?[0-9]*[.,][0-9][0-9.,]*")


def _with_point(number: re.Match[str]) -> str:
    text = number[0].replace(".", "_")
    return text.replace(",", ".") if text.count(",") == 1 else text
