"""
Rows over defaults: columns of checked values, written into requests where they say something.

The values come from a reader that knows the contract: numbers in bounds, NaN where a row is silent,
and words, None where it is. What a row does not say is what the defaults of its batch say.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.requests import (
    DEFAULT_WATER,
    PROFILE_ASSUMED,
    UNKNOWN_PLANT,
    WATER_ASSUMED,
    WORD_CODES,
    Names,
)
from service.planning.water_columns import SOFTENED_WATER

SOFTENED: Final = "softened_tap"
UNREADABLE: Final = -2
"""Code of a word that is none of those of its column."""

NUMBERS: Final[Mapping[str, str]] = {
    **{f"plants.{name}": name for name in ("count", "pot_diameter_cm", "days_since_flush")},
    **{
        f"air.{name}": name
        for name in (
            "humidity_percent",
            "temperature_celsius",
            "average_humidity_percent",
            "average_temperature_celsius",
        )
    },
    **{name: name for name in ("interval_days", "volume_l", "volume_per_plant_ml", "target_ph")},
    "acid.percent": "acid_percent",
    **{f"instruments.{name}": name for name in rows.INSTRUMENT_NUMBERS},
}
"""Columns of numbers, and the fields of a request that they fill."""

WORDS: Final[Mapping[str, str]] = {
    **{f"plants.{name}": name for name in ("size", "setup", "growth", "refill", "medium")},
    "application": "application",
    "acid.kind": "acid_kind",
}
"""Columns of words, and the fields of a request that they fill."""

STRENGTH_NUMBERS: Final = ("mg_per_l", "g_per_l", "ml_per_l", "ec_ms_per_cm", "ppm")
_BY_VOLUME: Final = "ml_per_l"
WATER_NUMBERS: Final[Mapping[str, int]] = {
    f"water.{name}": place for place, name in enumerate(rows.WATER_FIELDS)
}
"""Columns of an analysis, and their places in a water."""


Columns = Mapping[str, NDArray[Any] | Sequence[Any]]


@dataclass(frozen=True)
class Defaults:
    """
    What holds for every row that does not say otherwise.

    Attributes
    ----------
    request, result : record
        A request with the defaults in it, and the bits that reading them set.
    own_water : bool
        Whether its water is an analysis, to which rows may add.
    """

    request: Any
    result: Any
    own_water: bool = False

    @classmethod
    def none(cls, catalogue: Names) -> "Defaults":
        """
        Return the defaults of a batch that has none.

        Parameters
        ----------
        catalogue : Names
            Knows profile and water of a caller who is silent.

        Returns
        -------
        Defaults
            Everything absent, and said to be.
        """
        requests, results = rows.empty_requests(1), rows.empty_results(1)
        requests["limited"] = 1
        requests["profile"] = catalogue.default_profile
        requests["water"] = catalogue.water_rows[DEFAULT_WATER]
        results["assumptions"] = PROFILE_ASSUMED | WATER_ASSUMED
        return cls(requests[0], results[0])


def _numbers(column: NDArray[Any] | Sequence[Any]) -> NDArray[np.float64]:
    """Return a column as numbers, None as NaN."""
    return np.asarray(column, dtype=np.float64)


class _Words(dict[Any, int]):
    """Codes of the words of one column; each word is looked up once."""

    def __init__(self, code_of: Callable[[str], int]) -> None:
        super().__init__({None: rows.ABSENT})
        self.code_of = code_of

    def __missing__(self, word: str) -> int:
        """Look up a word that was not met before."""
        self[word] = code = self.code_of(word)
        return code

    def codes(self, column: NDArray[Any] | Sequence[Any]) -> NDArray[np.int64]:
        """Return the code of every row."""
        return np.fromiter(map(self.__getitem__, column), np.int64, len(column))


def fill_columns(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    columns: Columns,
    catalogue: Names,
    defaults: Defaults | None = None,
) -> NDArray[np.bool_]:
    """
    Write many requests into rows.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Receives the requests.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Receives the assumptions and cautions that reading the requests already tells.
    columns : mapping of str to array or sequence, shape (n_rows,)
        By the dotted names of the contract; a row with an analysis of its own has at least one
        number of it.
    catalogue : Names
        Knows products, profiles and waters.
    defaults : Defaults or None
        What holds where a row is silent.

    Returns
    -------
    ndarray of bool, shape (n_rows,)
        False for rows that name something unknown; they are to be rejected.
    """
    under = Defaults.none(catalogue) if defaults is None else defaults
    requests[:] = under.request
    results[:] = under.result
    readable = np.ones(requests.size, dtype=bool)
    for name, field in NUMBERS.items():
        if name in columns:
            values = _numbers(columns[name])
            requests[field] = np.where(np.isnan(values), requests[field], values)
    for name, field in WORDS.items():
        if name in columns:
            _put(requests[field], WORD_CODES[field], columns[name], readable)
    if "plants.profile" in columns:
        _fill_profiles(requests, results, columns["plants.profile"], catalogue)
    _fill_waters(requests, results, columns, catalogue, readable, own=under.own_water)
    if "product" in columns:
        _fill_products(requests, columns["product"], catalogue, readable)
    if "strength.basis" in columns:
        fill_strengths(requests, 0, columns, readable)
    return readable


def _put(
    field: NDArray[np.int64],
    known: Mapping[str, int],
    column: NDArray[Any] | Sequence[Any],
    readable: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Write the codes of words where there are any; tell where."""
    codes = _Words(lambda word: known.get(word, UNREADABLE)).codes(column)
    said = codes >= 0
    np.copyto(field, codes, where=said)
    readable &= codes != UNREADABLE
    return said


def _fill_profiles(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    column: NDArray[Any] | Sequence[Any],
    catalogue: Names,
) -> None:
    """Write the profiles of the plants; a plant that is not known gets the weakest."""

    def position(name: str) -> int:
        found = catalogue.profile_position(name)
        return UNREADABLE if found is None else found

    codes = _Words(position).codes(column)
    said, unknown = codes != rows.ABSENT, codes == UNREADABLE
    codes[unknown] = catalogue.weakest_profile
    np.copyto(requests["profile"], codes, where=said)
    results["assumptions"][said] &= ~PROFILE_ASSUMED
    # A plant of the defaults that is not known no longer matters where the row names its own.
    results["cautions"][said] &= ~UNKNOWN_PLANT
    results["cautions"][unknown] |= UNKNOWN_PLANT


def _fill_waters(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    columns: Columns,
    catalogue: Names,
    readable: NDArray[np.bool_],
    *,
    own: bool,
) -> None:
    """Write presets and analyses; an analysis adds to one of the defaults, and to nothing else."""
    waters = requests["water"]
    given = [(place, columns[name]) for name, place in WATER_NUMBERS.items() if name in columns]
    said = np.zeros(requests.size, dtype=bool)
    if given:
        values = np.full(waters.shape, np.nan)
        for place, column in given:
            values[:, place] = _numbers(column)
        known = ~np.isnan(values)
        said = known.any(axis=1)
        base = waters[said] if own else np.nan
        waters[said] = np.where(known[said], values[said], base)
        results["cautions"][said] &= ~SOFTENED_WATER
    if "water" in columns:
        names = tuple(catalogue.water_rows)
        codes = _Words(lambda word: names.index(word) if word in names else UNREADABLE).codes(
            columns["water"]
        )
        preset = codes >= 0
        table = np.array([catalogue.water_rows[name] for name in names])
        waters[preset] = table[codes[preset]]
        readable &= codes != UNREADABLE
        # A water is a preset or an analysis.
        readable &= ~(preset & said)
        results["cautions"][preset] &= ~SOFTENED_WATER
        if SOFTENED in names:
            results["cautions"][codes == names.index(SOFTENED)] |= SOFTENED_WATER
        said |= preset
    results["assumptions"][said] &= ~WATER_ASSUMED


def product_codes(column: NDArray[Any] | Sequence[Any], catalogue: Names) -> NDArray[np.int64]:
    """
    Return the positions of the products that a column names.

    Parameters
    ----------
    column : ndarray or sequence of str or None, shape (n_rows,)
        Keys.
    catalogue : Names
        Knows the products.

    Returns
    -------
    ndarray of int, shape (n_rows,)
        `rows.ABSENT` for none, `UNREADABLE` for one that no catalogue knows.
    """

    def position(key: str) -> int:
        try:
            return catalogue.product_position(key)
        except LookupError:
            return UNREADABLE

    return _Words(position).codes(column)


def _fill_products(
    requests: NDArray[np.void],
    column: NDArray[Any] | Sequence[Any],
    catalogue: Names,
    readable: NDArray[np.bool_],
) -> None:
    """Write the one product of each row that names one."""
    codes = product_codes(column, catalogue)
    said = codes >= 0
    np.copyto(requests["product"][:, 0], codes, where=said)
    requests["product_count"][said] = 1
    readable &= codes != UNREADABLE


def fill_strengths(
    requests: NDArray[np.void], slot: int, columns: Columns, readable: NDArray[np.bool_]
) -> None:
    """
    Write the strength of one product of each row that states one.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Receives the strengths.
    slot : int
        Which product of the can.
    columns : mapping of str to array or sequence, shape (n_rows,)
        `strength.basis` and what belongs to it.
    readable : ndarray of bool, shape (n_rows,)
        Set to False for rows with an unknown word.
    """
    said = _put(
        requests["strength_basis"][:, slot],
        WORD_CODES["strength_basis"],
        columns["strength.basis"],
        readable,
    )
    # A strength replaces that of the defaults as a whole.
    codes = requests["strength_basis"][:, slot].copy()
    clear_strength(requests, said, slot)
    np.copyto(requests["strength_basis"][:, slot], codes)
    for name in STRENGTH_NUMBERS:
        if f"strength.{name}" in columns:
            values = _numbers(columns[f"strength.{name}"])
            stated = said & ~np.isnan(values)
            requests["strength_value"][stated, slot] = values[stated]
            requests["strength_by_volume"][stated, slot] = int(name == _BY_VOLUME)
    for name, field in (("element", "strength_element"), ("counts", "strength_counts")):
        if f"strength.{name}" in columns:
            _put(requests[field][:, slot], WORD_CODES[field], columns[f"strength.{name}"], readable)
    if "strength.scale" in columns:
        scales = _numbers(columns["strength.scale"])
        np.copyto(requests["strength_scale"][:, slot], scales, where=said & ~np.isnan(scales))


def clear_strength(requests: NDArray[np.void], where: NDArray[np.bool_], slot: int = 0) -> None:
    """
    Take the strength of one product away, as a can without products has none.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        The requests.
    where : ndarray of bool, shape (n_rows,)
        Which of them.
    slot : int
        Which product of the can.
    """
    for field in ("strength_value", "strength_scale"):
        requests[field][where, slot] = np.nan
    for field in ("strength_basis", "strength_element", "strength_counts", "strength_by_volume"):
        requests[field][where, slot] = rows.ABSENT
