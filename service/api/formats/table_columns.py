"""
Columns of the plain cells of a table: numbers, words and keys, checked a column at a time.

A row with any cell that is more than that, whatever it is, is left to the reader of single rows: it
knows units, errors and what exactly is wrong.
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.api.formats.cells import Cell, cell_text, is_blank
from service.api.formats.headings import Column as Heading
from service.api.row_columns import Column
from service.api.row_structs import (
    VALUES_OF_BASIS,
    quantities,
)
from service.api.schemas.fields import Quantity
from service.planning.rows_over_defaults import NUMBERS, STRENGTH_NUMBERS, WATER_NUMBERS, WORDS

BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]

LONGEST: Final[Mapping[str, int]] = {"id": 128, "plants.profile": 128, "product": 80, "water": 80}
"""Texts that are no words, and how many letters they have at most."""

STRENGTH: Final = tuple(f"strength.{name}" for name in STRENGTH_NUMBERS)
STRENGTH_WORDS: Final = ("strength.basis", "strength.element", "strength.counts")
SCALE: Final = "strength.scale"
SCALES: Final = (500.0, 640.0, 700.0)
WITH_A_COLUMN: Final = frozenset((*NUMBERS, *WATER_NUMBERS, *STRENGTH, SCALE))
QUANTITIES: Final = quantities()

_PLAIN: Final = re.compile(r"(?:(?:[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?)?\n)*")
_ONE_PLAIN: Final = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?")
TEXTS: Final = frozenset((str, type(None)))
TEXTS_OR_NUMBERS: Final = TEXTS | {int, float}
_OWN: Final = object()
"""Stands for an analysis of a row's own."""


class TableColumns:
    """
    Columns of some rows of a table, as `row_reader` takes them.

    Parameters
    ----------
    cells : sequence of sequence
        Rows, each with a cell under every heading.
    headings : sequence of Column
        What the columns are.
    comma : bool
        Whether numbers have a decimal comma.
    """

    def __init__(
        self, cells: Sequence[Sequence[Cell]], headings: Sequence[Heading], *, comma: bool
    ) -> None:
        self.count = len(cells)
        self.found: dict[str, Column] = {}
        self.said = np.zeros(self.count, dtype=np.int64)
        self.good = np.ones(self.count, dtype=bool)
        self.comma = comma
        self._of_row: dict[str, list[Any]] = {}
        self._gives: dict[str, BoolArray] = {}
        for heading, column in zip(headings, zip(*cells, strict=True), strict=True):
            if heading.field:
                self._take(heading, column)
        self._take_water()
        self._check_strength()

    def of_row(self, name: str) -> Sequence[Any]:
        """Return a field of the rows themselves."""
        return self._of_row.get(name) or [None] * self.count

    def gives(self, name: str) -> BoolArray:
        """Tell which rows give a field of their own."""
        known = self._gives.get(name)
        return np.zeros(self.count, dtype=bool) if known is None else known

    def _take(self, heading: Heading, column: Sequence[Cell]) -> None:
        name = heading.field
        if name in QUANTITIES or name == SCALE:
            said = self._take_numbers(heading, column)
        elif name in WORDS or name in STRENGTH_WORDS or name in LONGEST:
            said = self._take_texts(heading, column)
        else:
            said = np.array([not is_blank(cell) for cell in column], dtype=bool)
            self.good &= ~said
        group = name.partition(".")[0]
        self._gives[group] = said | self.gives(group)

    def _take_numbers(self, heading: Heading, column: Sequence[Cell]) -> BoolArray:
        name = heading.field
        values, blank = _numbers(column, comma=self.comma)
        good = ~np.isnan(values)
        if heading.unit:
            # The unit belongs to the text that is read.
            good[:] = False
        elif name == SCALE:
            good &= np.isin(values, SCALES)
        else:
            good &= _within(values, QUANTITIES[name])
            if name not in WITH_A_COLUMN:
                good[:] = False
        self.good &= good | blank
        if name in WITH_A_COLUMN and not blank.all():
            self.found[name] = np.where(good, values, math.nan)
        return ~blank

    def _take_texts(self, heading: Heading, column: Sequence[Cell]) -> BoolArray:
        name = heading.field
        kinds = TEXTS_OR_NUMBERS if heading.kind == "text" else TEXTS
        if not set(map(type, column)) <= kinds:
            self.good &= np.array([type(cell) in kinds for cell in column], dtype=bool)
        texts = _texts(column)
        said = np.array([text is not None for text in texts], dtype=bool)
        if not said.any():
            return said
        longest = LONGEST.get(name)
        if longest is not None:
            short = [text is None or len(text) <= longest for text in texts]
            self.good &= np.array(short, dtype=bool)
        if name == "id":
            self._of_row[name] = texts
        else:
            self.found[name] = texts
        return said

    def _take_water(self) -> None:
        """Tell of the water of each row what the sheet says of it: its preset, or its own."""
        presets = self.found.get("water")
        own = np.zeros(self.count, dtype=bool)
        for name in WATER_NUMBERS:
            if name in self.found:
                own |= ~np.isnan(np.asarray(self.found[name]))
        waters: list[Any] = list(presets) if presets is not None else [None] * self.count
        for place in np.flatnonzero(own).tolist():
            waters[place] = _OWN
        self._of_row["water"] = waters

    def _check_strength(self) -> None:
        """Leave rows to the model whose strength is not one value of its basis and no other."""
        said = self.gives("strength")
        if not said.any():
            return
        basis = np.array(self.found.get("strength.basis", [None] * self.count), dtype=object)
        given = {name: self._has(name) for name in STRENGTH}
        whole = sum(each.astype(np.int64) for each in given.values()) == 1
        fits = np.zeros(self.count, dtype=bool)
        for word, names in VALUES_OF_BASIS.items():
            of_basis = basis == word
            for name in names:
                fits |= of_basis & given[f"strength.{name}"]
        whole &= fits
        whole &= self._has("strength.element") == (basis == "element")
        whole &= ~self._has(SCALE) | (basis == "meter_ppm")
        self.good &= ~said | whole

    def _has(self, name: str) -> BoolArray:
        column = self.found.get(name)
        if column is None:
            return np.zeros(self.count, dtype=bool)
        if isinstance(column, list):
            return np.array([word is not None for word in column], dtype=bool)
        return ~np.isnan(column)


def _texts(column: Sequence[Cell]) -> list[str | None]:
    """Return cells as texts, None for blank ones."""
    if set(map(type, column)) == {str}:
        return [str(text).strip() or None for text in column]
    return [cell_text(cell).strip() or None for cell in column]


def _numbers(column: Sequence[Cell], *, comma: bool) -> tuple[FloatArray, BoolArray]:
    """Return cells as numbers, NaN for what is none as it stands, and which of them are blank."""
    if set(map(type, column)) != {str}:
        return _mixed_numbers(column, comma=comma)
    texts = [str(text).strip() for text in column]
    blank = np.array([not text for text in texts], dtype=bool)
    joined = "\n".join(texts) + "\n"
    if comma:
        # A point is no part of a number there: it is spoiled before the commas become points.
        joined = joined.replace(".", "_").replace(",", ".")
        texts = joined.split("\n")[:-1] if joined.count("\n") == len(texts) else [""] * len(texts)
    if joined.count("\n") == len(texts) and _PLAIN.fullmatch(joined):
        return np.array([float(text or "nan") for text in texts]), blank
    return np.array([_number(text) for text in texts]), blank


def _mixed_numbers(column: Sequence[Cell], *, comma: bool) -> tuple[FloatArray, BoolArray]:
    """Return the cells of a workbook as numbers."""
    values = np.full(len(column), math.nan)
    blank = np.zeros(len(column), dtype=bool)
    for place, cell in enumerate(column):
        if cell is None or (isinstance(cell, str) and not cell.strip()):
            blank[place] = True
        elif type(cell) in (int, float):
            values[place] = cell
        elif isinstance(cell, str) and not comma:
            values[place] = _number(cell.strip())
    return values, blank


def _number(text: str) -> float:
    return float(text) if _ONE_PLAIN.fullmatch(text) else math.nan


def _within(values: FloatArray, quantity: Quantity) -> BoolArray:
    """Tell which numbers are inside the bounds of a field."""
    inside = np.isfinite(values)
    compared: tuple[tuple[float | None, Callable[[Any, Any], Any]], ...] = (
        (quantity.gt, np.greater),
        (quantity.ge, np.greater_equal),
        (quantity.lt, np.less),
        (quantity.le, np.less_equal),
    )
    for bound, compare in compared:
        if bound is not None:
            inside &= compare(values, bound)
    if quantity.whole:
        inside &= values == np.floor(values)
    return inside
