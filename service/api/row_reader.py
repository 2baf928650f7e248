"""
Rows of a batch read many at a time: to the planners' records, column by column.

What is plain is read by the closed shapes of `row_structs`, which check every field of every row.
A row that they do not take, whatever the reason, is left to the model of the contract: it knows
texts with units and labels, and what exactly is wrong.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.api.assumptions import NotedAssumption, collected_assumptions
from service.api.json_body import parse_json
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import ProblemError
from service.api.row_columns import (
    REPLACED,
    Columns,
    RowColumns,
    Stated,
    is_used,
    is_whole,
    values_in,
)
from service.api.row_structs import (
    MANY_ROWS,
    ONE_ROW,
    RowShape,
)
from service.api.schemas.doses import DoseFields
from service.api.validation import FieldError
from service.planning import rows
from service.planning.requests import DEFAULT_WATER, fill_row, fill_strength
from service.planning.row_texts import RowTexts
from service.planning.rows_over_defaults import (
    Defaults,
    clear_strength,
    fill_columns,
    product_codes,
)

FLUSH: Final = rows.APPLICATIONS.index("flush")
MOUNT: Final = rows.SETUPS.index("mount")
NESTED: Final = (dict, list)
OWN_WATER: Final = "own analysis"


SlowReader = Callable[[object, Any, Any], "RowOutcome"]
"""Reads one row through the model into its records."""


@dataclass
class RowOutcome:
    """
    One row of a batch.

    Attributes
    ----------
    id : str or None
        The caller's own name.
    problems : list of FieldError
        What is wrong; empty for a row that was planned.
    notes : list of NotedAssumption
        How its texts were read.
    water : str
        Key of the preset, or what stands in for it.
    remark : str
        Cells of the grower's own columns, for the sheet.
    """

    id: str | None
    problems: list[FieldError] = field(default_factory=list)
    notes: list[NotedAssumption] = field(default_factory=list)
    water: str = ""
    remark: str = ""


@dataclass(eq=False)
class ReadRows:
    """
    Rows that were read, not yet planned.

    Attributes
    ----------
    requests, results : ndarray, shape (n_rows,)
        Records of the planners.
    ids : list of str or None
        The callers' own names.
    waters : list of str
        Keys of the presets, or what stands in for them.
    slow : dict of int to RowOutcome
        Rows that were read through the model, by their place.
    notes : list of NotedAssumption
        How texts of the defaults were read, where a plain row rests on them.
    """

    requests: NDArray[np.void]
    results: NDArray[np.void]
    ids: list[str | None]
    waters: list[str]
    slow: dict[int, RowOutcome]
    notes: list[NotedAssumption]

    def outcomes(self) -> list[RowOutcome]:
        """Return one outcome per row; the first has the notes that plain rows share."""
        told = [
            RowOutcome(name, water=water) for name, water in zip(self.ids, self.waters, strict=True)
        ]
        for place, outcome in self.slow.items():
            told[place] = outcome
        if told:
            told[0].notes.extend(self.notes)
        return told

    @property
    def readable(self) -> NDArray[np.bool_]:
        """Which rows can be planned."""
        told = np.ones(len(self.ids), dtype=bool)
        told[[place for place, outcome in self.slow.items() if outcome.problems]] = False
        return told


class RowReader:
    """
    Read the rows of one batch.

    Parameters
    ----------
    defaults : mapping
        Fields for every row that does not say otherwise, as the contract allows them.
    names : OpenCatalogue
        Takes in what rows bring along.
    slowly : callable
        Reads a row through the model; its results go over what stands in the records.
    """

    def __init__(
        self, defaults: Mapping[str, Any], names: OpenCatalogue, slowly: SlowReader
    ) -> None:
        self.names = names
        self.slowly = slowly
        self.lock = threading.Lock()
        self.has_defaults = bool(defaults)
        self.id: str | None = None
        self.water = DEFAULT_WATER
        self.given: frozenset[str] = frozenset()
        self.notes: list[NotedAssumption] = []
        self.under: Defaults | None = self._read_defaults(defaults)

    def _read_defaults(self, given: Mapping[str, Any]) -> Defaults | None:
        """Return the defaults as a record; None where they can only be read with their row."""
        requests, results = rows.empty_requests(1), rows.empty_results(1)
        with collected_assumptions() as noted:
            model = DoseFields.model_validate(given)
            self.notes = noted.of(model)
        try:
            fill_row(requests[0], results[0], model, self.names, limited=True)
        except NamingError:
            return None
        if model.product is None and model.products is None:
            fill_strength(requests[0], 0, model.strength)
        self.id = model.id
        self.given = frozenset(name for name in REPLACED if getattr(model, name) is not None)
        own = model.water is not None and not isinstance(model.water, str)
        if own:
            self.water = OWN_WATER
        elif isinstance(model.water, str):
            self.water = model.water
        return Defaults(requests[0], results[0], own)

    def read_texts(self, text: bytes, places: RowTexts, chunk: slice) -> ReadRows:
        """
        Read neighbouring rows of a JSON text.

        Parameters
        ----------
        text : bytes
            The whole text.
        places : RowTexts
            Where its rows stand.
        chunk : slice
            Which of them.
        """
        starts, ends = places.starts[chunk].tolist(), places.ends[chunk].tolist()
        shapes: list[Any]
        try:
            shapes = MANY_ROWS.decode(b"[%b]" % text[starts[0] : ends[-1]])
        except (msgspec.DecodeError, UnicodeDecodeError):
            shapes = [_shape_of(text[start:end]) for start, end in zip(starts, ends, strict=True)]
        if len(shapes) != len(starts):
            shapes = [None] * len(starts)
        named, nulls = places.names[chunk], places.nulls[chunk]
        self._leave_nulls(shapes, nulls.tolist())
        return self._filled(
            shapes, named - nulls, lambda place: row_of(text[starts[place] : ends[place]])
        )

    def read_values(self, given: Sequence[object]) -> ReadRows:
        """
        Read rows that are values of JSON already.

        Parameters
        ----------
        given : sequence of object
            The rows; anything but an object is a row with a problem.
        """
        shapes = [shape_from(each) for each in given]
        self._leave_nulls(shapes, [holds_null(each) for each in given])
        return self._filled(shapes, None, given.__getitem__)

    def _leave_nulls(self, shapes: list[Any], nulls: Sequence[int]) -> None:
        """Leave rows to the model in which a null may be more than nothing said."""
        if any(nulls):
            for place, count in enumerate(nulls):
                shape = shapes[place]
                if count and shape is not None:
                    # Over a default it takes that away; some strengths may not name it at all.
                    simple = shape.strength is None and shape.products is None
                    shapes[place] = shape if simple and not self.has_defaults else None

    def _filled(
        self,
        shapes: list[Any],
        values: NDArray[np.int64] | None,
        value_of: Callable[[int], object],
    ) -> ReadRows:
        """Write shapes into records, and what has none through the model."""
        count = len(shapes)
        requests, results = _records(count)
        ids: list[str | None] = [None] * count
        waters = [self.water] * count
        notes: list[NotedAssumption] = []
        plain = np.array([shape is not None for shape in shapes], dtype=bool)
        if self.under is None:
            plain[:] = False
        elif plain.all():
            columns = RowColumns(shapes)
            plain, notes = self._fill(columns, values, requests, results, ids, waters)
        elif plain.any():
            there = np.flatnonzero(plain)
            part = [shapes[place] for place in there.tolist()]
            some = _records(len(part))
            named: list[str | None] = [None] * len(part)
            wet = [self.water] * len(part)
            known = None if values is None else values[there]
            good, notes = self._fill(RowColumns(part), known, *some, named, wet)
            requests[there], results[there] = some
            for place, name, water in zip(there.tolist(), named, wet, strict=True):
                ids[place], waters[place] = name, water
            plain[there] = good
        return self._with_slow(ReadRows(requests, results, ids, waters, {}, notes), plain, value_of)

    def read_columns(self, columns: Columns, value_of: Callable[[int], object]) -> ReadRows:
        """
        Read rows whose fields are columns already.

        Parameters
        ----------
        columns : Columns
            The rows.
        value_of : callable
            Gives a row as JSON would hold it, for what the columns do not tell.
        """
        requests, results = _records(columns.count)
        ids: list[str | None] = [None] * columns.count
        waters = [self.water] * columns.count
        plain = np.zeros(columns.count, dtype=bool)
        notes: list[NotedAssumption] = []
        if self.under is not None:
            plain, notes = self._fill(columns, None, requests, results, ids, waters)
        return self._with_slow(ReadRows(requests, results, ids, waters, {}, notes), plain, value_of)

    def _with_slow(
        self, read: ReadRows, plain: NDArray[np.bool_], value_of: Callable[[int], object]
    ) -> ReadRows:
        """Read what is not plain through the model."""
        for place in np.flatnonzero(~plain).tolist():
            one, result = rows.empty_requests(1), rows.empty_results(1)
            # A product by label gets the next place of the table.
            with self.lock:
                outcome = self.slowly(value_of(place), one[0], result[0])
            read.requests[place], read.results[place] = one[0], result[0]
            read.slow[place] = outcome
            read.ids[place], read.waters[place] = outcome.id, outcome.water
        return read

    def _fill(
        self,
        columns: Columns,
        values: NDArray[np.int64] | None,
        requests: NDArray[np.void],
        results: NDArray[np.void],
        ids: list[str | None],
        waters: list[str],
    ) -> tuple[NDArray[np.bool_], list[NotedAssumption]]:
        """Write columns into records; tell which rows are as plain as they look."""
        assert self.under is not None
        good = fill_columns(requests, results, columns.found, self.names, self.under)
        good &= columns.good
        good &= self._fill_portions(columns, requests)
        if values is not None:
            # A name that stands twice in a row has two colons and one value.
            good &= columns.said == values
        good &= self._complete(columns, requests)
        clear_strength(requests, requests["product_count"] == 0)
        ids[:] = [self.id if each is None else each for each in columns.of_row("id")]
        for place, water in enumerate(columns.of_row("water")):
            if water is not None:
                waters[place] = water if isinstance(water, str) else OWN_WATER
        rest = [note for note in self.notes if is_used(note.field, columns, good)]
        return good, rest

    def _fill_portions(self, columns: Columns, requests: NDArray[np.void]) -> NDArray[np.bool_]:
        """Write the products of the rows that list several."""
        good = np.ones(requests.size, dtype=bool)
        for place, portions in enumerate(columns.of_row("products")):
            if portions is None:
                continue
            keys = [portion.product for portion in portions]
            codes = product_codes(keys, self.names)
            strengths = [portion.strength for portion in portions]
            if (codes < 0).any() or not all(map(is_whole, strengths)):
                good[place] = False
                continue
            row = requests[place]
            row["product_count"] = len(portions)
            row["product"][: len(portions)] = codes
            for slot, strength in enumerate(strengths):
                fill_strength(row, slot, Stated(strength))
            columns.said[place] += sum(2 + values_in(strength) for strength in strengths)
        return good

    def _complete(self, columns: Columns, requests: NDArray[np.void]) -> NDArray[np.bool_]:
        """Tell which rows, with what the defaults say, are one dose: as the model does it."""
        product, products, strength = (
            columns.gives(name) | (name in self.given) for name in REPLACED
        )
        needed = (requests["application"] != FLUSH) | product | products
        good = ~needed | (product ^ products)
        good &= ~(strength & products)
        volume = ~np.isnan(requests["volume_l"])
        each = ~np.isnan(requests["volume_per_plant_ml"])
        counted = ~np.isnan(requests["count"])
        potted = ~np.isnan(requests["pot_diameter_cm"]) | (requests["setup"] == MOUNT)
        stated = volume | (each & counted)
        good &= np.where(stated, ~(volume & each), counted & potted)
        good &= ~columns.gives("air") | ~np.isnan(requests["humidity_percent"])
        good &= ~columns.gives("acid") | (requests["acid_kind"] != rows.ABSENT)
        return np.asarray(good, dtype=bool)


def _records(count: int) -> tuple[NDArray[np.void], NDArray[np.void]]:
    """Return requests and results in which nothing is set yet."""
    return np.empty(count, rows.DOSE_REQUEST), np.empty(count, rows.DOSE_RESULT)


def row_of(text: bytes) -> object:
    """
    Return the value of a row's text, as the whole body would be read.

    Raises
    ------
    ProblemError
        If the row makes the body unreadable.
    """
    # Two levels stand above a row.
    document: Any = parse_json(b"[[%b]]" % text)
    (inner,) = document
    if len(inner) != 1:
        raise ProblemError("unreadable_body", "A row is no single value.")
    value: object = inner[0]
    return value


def holds_null(value: object) -> bool:
    """Tell whether an object, or one inside it, has a null."""
    if isinstance(value, dict):
        inner = value.values()
        return None in inner or any(holds_null(each) for each in inner if each.__class__ in NESTED)
    return isinstance(value, list) and any(map(holds_null, value))


def _shape_of(text: bytes) -> Any:
    """Return a row in its closed shape, None where that does not take it."""
    try:
        return ONE_ROW.decode(text)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None


def shape_from(value: object) -> Any:
    """Return a value of JSON in its closed shape, None where that does not take it."""
    try:
        shape = msgspec.convert(value, RowShape)
        for text in _free_texts(shape):
            text.encode()
    except (msgspec.ValidationError, OverflowError, UnicodeEncodeError):
        return None
    return shape


def _free_texts(shape: Any) -> list[str]:
    """Return the texts of a row that are no words: JSON can escape what UTF-8 cannot write."""
    profile = None if shape.plants is None else shape.plants.profile
    keys = [portion.product for portion in shape.products or ()]
    return [text for text in (shape.id, shape.product, profile, *keys) if text is not None]
