"""Columns of the fields that occur in the plain rows of a batch, taken out of their shapes."""

from collections.abc import Sequence
from typing import Any, Final, Protocol

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.api.row_structs import GROUPS, NAN, VALUES_OF_BASIS, RowShape, fields_of

_as_tuple = msgspec.structs.astuple
_FIELDS: Final = {name: fields_of(name) for name in ("", *GROUPS, "water", "strength")}
_ORDER: Final = {name: place for place, name in enumerate(RowShape.__struct_fields__)}
_WORDS: Final = ("application", "product")
REPLACED: Final = ("product", "products", "strength")
"""Fields of a row that replace those of the defaults as a whole."""

Column = NDArray[np.float64] | list[Any]


class Columns(Protocol):
    """Columns of the fields that occur in some rows, wherever they come from."""

    count: int
    found: dict[str, Column]
    said: NDArray[np.int64]
    good: NDArray[np.bool_]

    def of_row(self, name: str) -> Sequence[Any]:
        """Return a field of the rows themselves."""

    def gives(self, name: str) -> NDArray[np.bool_]:
        """Tell which rows give a field of their own."""


def values_in(shape: Any) -> int:
    """Return how many values a shape holds."""
    return sum(1 for value in _as_tuple(shape) if value is not NAN and value is not None)


def is_whole(strength: Any) -> bool:
    """Tell whether a strength has one value of its basis and no other, as the model asks."""
    if strength.basis is None:
        return False
    allowed = VALUES_OF_BASIS[strength.basis]
    numbers, _ = _FIELDS["strength"]
    given = [name for name in numbers if getattr(strength, name) == getattr(strength, name)]
    if any(getattr(strength, name) is None for name in numbers):
        return False
    element = strength.basis == "element"
    return (
        len(given) == 1
        and given[0] in allowed
        and (strength.element is not None) == element
        and (strength.scale is None or strength.basis == "meter_ppm")
    )


class Stated:
    """A strength with the attributes of the contract: what is not stated is None."""

    def __init__(self, shape: Any) -> None:
        numbers, words = _FIELDS["strength"]
        for name in numbers:
            value = getattr(shape, name)
            setattr(self, name, None if value != value else value)
        for name in words:
            setattr(self, name, getattr(shape, name))


class RowColumns:
    """
    Columns of the fields that occur in some rows, taken out of their shapes.

    Attributes
    ----------
    found : dict of str to column
        By dotted name.
    said : ndarray of int, shape (n_rows,)
        How many values each row holds, objects counting as one more.
    good : ndarray of bool, shape (n_rows,)
        False for rows whose objects say nothing, or a strength not as it is asked for.
    """

    def __init__(self, shapes: list[Any]) -> None:
        self.count = len(shapes)
        self.found: dict[str, Column] = {}
        self.said = np.zeros(self.count, dtype=np.int64)
        self.good = np.ones(self.count, dtype=bool)
        self._rows = list(zip(*map(_as_tuple, shapes), strict=True))
        for name in _FIELDS[""][0]:
            self._take_numbers(name, self._rows[_ORDER[name]], None)
        for name in _FIELDS[""][1]:
            column = self._rows[_ORDER[name]]
            if column.count(None) < self.count:
                self.said += [value is not None for value in column]
                if name in _WORDS:
                    self.found[name] = list(column)
        for name in GROUPS:
            self._take_group(name, self._rows[_ORDER[name]])
        self._take_water(self._rows[_ORDER["water"]])
        self._take_strength(self._rows[_ORDER["strength"]])

    def of_row(self, name: str) -> Sequence[Any]:
        """Return a field of the rows themselves."""
        column: Sequence[Any] = self._rows[_ORDER[name]]
        return column

    def gives(self, name: str) -> NDArray[np.bool_]:
        """Tell which rows give a field of their own."""
        column = self._rows[_ORDER[name]]
        if column.count(None) == self.count:
            return np.zeros(self.count, dtype=bool)
        return np.array([value is not None for value in column], dtype=bool)

    def _take_numbers(
        self, name: str, column: tuple[Any, ...], places: NDArray[np.int64] | None
    ) -> None:
        if column.count(NAN) == len(column):
            return
        values = np.array(column, dtype=np.float64)
        if places is not None:
            everywhere = np.full(self.count, np.nan)
            everywhere[places] = values
            values = everywhere
        self.said += ~np.isnan(values)
        self.found[name] = values

    def _take_words(
        self, name: str, column: tuple[Any, ...], places: NDArray[np.int64] | None
    ) -> None:
        if column.count(None) == len(column):
            return
        words = list(column)
        if places is not None:
            words = [None] * self.count
            for place, word in zip(places.tolist(), column, strict=True):
                words[place] = word
        self.said += [word is not None for word in words]
        self.found[name] = words

    def _take_group(self, group: str, objects: Sequence[Any]) -> None:
        there = [each for each in objects if each is not None]
        if not there:
            return
        places = None
        if len(there) < self.count:
            places = np.flatnonzero([each is not None for each in objects])
        before = self.said.copy()
        taken = zip(*map(_as_tuple, there), strict=True)
        numbers = _FIELDS[group][0]
        named = type(there[0]).__struct_fields__
        for name, column in zip(named, taken, strict=True):
            if name in numbers:
                self._take_numbers(f"{group}.{name}", column, places)
            else:
                self._take_words(f"{group}.{name}", column, places)
        # An object that says nothing is not the same as none: the model decides.
        silent = self.said == before
        self.good &= ~silent if places is None else ~(silent & _mask(places, self.count))

    def _take_water(self, waters: Sequence[Any]) -> None:
        presets = [each if isinstance(each, str) else None for each in waters]
        if any(presets):
            self.found["water"] = presets
            waters = [
                None if preset else each for preset, each in zip(presets, waters, strict=True)
            ]
        self._take_group("water", waters)

    def _take_strength(self, strengths: Sequence[Any]) -> None:
        for place, each in enumerate(strengths):
            if each is not None and not is_whole(each):
                self.good[place] = False
        self._take_group("strength", strengths)


def _mask(places: NDArray[np.int64], count: int) -> NDArray[np.bool_]:
    found = np.zeros(count, dtype=bool)
    found[places] = True
    return found


def is_used(name: str, columns: Columns, good: NDArray[np.bool_]) -> bool:
    """Tell whether a plain row rests on a field of the defaults."""
    top = name.partition(".")[0]
    if top in REPLACED:
        own = columns.gives(top)
    else:
        own = np.zeros(columns.count, dtype=bool)
        if name in columns.found:
            own |= ~np.isnan(np.asarray(columns.found[name], dtype=np.float64))
        if top == "water" and "water" in columns.found:
            own |= np.array([word is not None for word in columns.found["water"]])
    return bool((good & ~own).any())
