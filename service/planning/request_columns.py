"""
From columns of values to rows of numbers: the requests of a batch without HTTP.

A column has the dotted name of a field of a dose in the contract (`plants.size`, `water.ph`,
`strength.mg_per_l`). Numbers are in the unit that the name ends in, words are those of the
contract; None, an empty text and not-a-number say nothing. It fills rows as
`service.planning.requests.fill_row` does, for all rows at once.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.requests import (
    DEFAULT_WATER,
    PROFILE_ASSUMED,
    UNKNOWN_PLANT,
    WATER_ASSUMED,
)
from service.planning.water_columns import SOFTENED_WATER
from service.reference.components import ELEMENT_NAMES

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

UNKNOWN: Final = -2
"""Code of a word that is none of the choices."""

CHOICES: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "plants.size": ("size", rows.SIZES),
    "plants.setup": ("setup", rows.SETUPS),
    "plants.growth": ("growth", rows.GROWTHS),
    "plants.medium": ("medium", rows.MEDIA),
    "plants.refill": ("refill", rows.REFILLS),
    "application": ("application", rows.APPLICATIONS),
    "acid.kind": ("acid_kind", rows.ACID_KINDS + rows.BASE_KINDS),
}
"""Columns of words: the field of a row, and what may stand there."""

NUMBERS: Final[Mapping[str, str]] = {
    "plants.count": "count",
    "plants.pot_diameter_cm": "pot_diameter_cm",
    "plants.days_since_flush": "days_since_flush",
    "air.humidity_percent": "humidity_percent",
    "air.temperature_celsius": "temperature_celsius",
    "air.average_humidity_percent": "average_humidity_percent",
    "air.average_temperature_celsius": "average_temperature_celsius",
    "interval_days": "interval_days",
    "volume_l": "volume_l",
    "volume_per_plant_ml": "volume_per_plant_ml",
    "target_ph": "target_ph",
    "acid.percent": "acid_percent",
    "instruments.balance_resolution_g": "balance_resolution_g",
    "instruments.syringe_resolution_ml": "syringe_resolution_ml",
    "instruments.balance_minimum_g": "balance_minimum_g",
    "instruments.largest_can_l": "largest_can_l",
}
"""Columns of numbers, and the field of a row."""

STRENGTH_CHOICES: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "strength.basis": ("strength_basis", rows.STRENGTH_BASES),
    "strength.element": ("strength_element", ELEMENT_NAMES),
    "strength.counts": ("strength_counts", rows.COUNTS),
}

STRENGTH_VALUES: Final = (
    ("element", "strength.mg_per_l"),
    ("product", "strength.g_per_l"),
    ("product", "strength.ml_per_l"),
    ("conductivity", "strength.ec_ms_per_cm"),
    ("meter_ppm", "strength.ppm"),
)
"""Basis of a strength, and the column that holds its value."""

WATER_COLUMNS: Final = tuple(f"water.{name}" for name in rows.WATER_FIELDS)

COLUMNS: Final = frozenset(
    (
        *CHOICES,
        *NUMBERS,
        *STRENGTH_CHOICES,
        *(name for _, name in STRENGTH_VALUES),
        *WATER_COLUMNS,
        "strength.scale",
        "id",
        "plants.profile",
        "product",
        "water",
    )
)
"""Every column that is read."""


class ColumnError(ValueError):
    """Columns that cannot be read: an unknown name, or columns of different lengths."""


@dataclass(frozen=True, eq=False)
class ColumnRequests:
    """
    Rows that were read from columns, not yet planned.

    Attributes
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        The requests.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Hold the assumptions and cautions that reading tells.
    refused : ndarray of object, shape (n_rows,)
        Code of the fault of a row that cannot be read, else an empty text.
    """

    requests: NDArray[np.void]
    results: NDArray[np.void]
    refused: NDArray[np.object_]


class _Columns:
    """Columns of one length, a single value standing for every row."""

    def __init__(self, given: Mapping[str, Any]) -> None:
        unknown = sorted(set(given) - COLUMNS)
        if unknown:
            message = f"no such column: {', '.join(unknown)}; columns are those of a dose"
            raise ColumnError(message)
        sizes = {name: len(values) for name, values in given.items() if np.ndim(values)}
        if len(set(sizes.values())) > 1:
            message = f"columns of different lengths: {sizes}"
            raise ColumnError(message)
        self.given = given
        self.size = next(iter(sizes.values()), 1 if given else 0)
        self.refused: NDArray[np.object_] = np.full(self.size, "", dtype=object)

    def numbers(self, name: str) -> FloatArray:
        """Return a column of numbers; NaN where there is none."""
        given = self.given.get(name)
        values = np.asarray(np.nan if given is None else given)
        if values.dtype.kind in "fiu":
            return np.broadcast_to(values.astype(np.float64), (self.size,))
        listed = np.broadcast_to(values.astype(object), (self.size,)).tolist()
        wrong = np.array([not (_is_number(each) or each in (None, "")) for each in listed])
        _refuse(self.refused, wrong.astype(bool), "not_a_number")
        return np.array([float(each) if _is_number(each) else np.nan for each in listed])

    def codes(self, name: str, code_of: Callable[[str], int]) -> IntArray:
        """Return the codes of a column of words; each word is looked up once."""
        given = self.given.get(name)
        values = np.broadcast_to(np.asarray(given, dtype=object), (self.size,)).tolist()
        known: dict[Any, int] = {None: rows.ABSENT, "": rows.ABSENT}
        for word in dict.fromkeys(values):
            if word not in known:
                absent = isinstance(word, float) and word != word
                known[word] = rows.ABSENT if absent else code_of(str(word))
        return np.array([known[word] for word in values], dtype=np.int64)


def requests_of(given: Mapping[str, Any], catalogue: Catalogue) -> ColumnRequests:
    """
    Read rows from columns.

    Parameters
    ----------
    given : mapping of str to array_like
        Columns of one length by their dotted names; a single value stands for every row.
    catalogue : Catalogue
        Knows every product and profile that may be named.

    Returns
    -------
    ColumnRequests
        A row that names what is not known, or says one thing twice, is refused with a code.

    Raises
    ------
    ColumnError
        If a column has no meaning, or columns differ in length.
    """
    columns = _Columns(given)
    requests, results = rows.empty_requests(columns.size), rows.empty_results(columns.size)
    refused = columns.refused
    requests["limited"] = 1
    for name, (field, texts) in CHOICES.items():
        requests[field] = _chosen(columns, name, texts, refused)
    for name, field in NUMBERS.items():
        requests[field] = columns.numbers(name)
    twice = np.isfinite(requests["volume_l"]) & np.isfinite(requests["volume_per_plant_ml"])
    _refuse(refused, twice, "contradiction")
    _fill_plants(columns, requests, results, catalogue)
    _fill_water(columns, requests, results, catalogue, refused)
    _fill_product(columns, requests, catalogue, refused)
    for field in rows.DOSE_REQUEST.names or ():
        numbers = requests[field]
        if numbers.dtype.kind == "f":
            infinite = np.isinf(numbers)
            each = infinite if infinite.ndim == 1 else infinite.any(axis=1)
            _refuse(refused, each, "not_finite")
    return ColumnRequests(requests, results, refused)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


def _refuse(refused: NDArray[np.object_], where: BoolArray, code: str) -> None:
    """Note a fault of rows that have none yet."""
    refused[where & (refused == "")] = code


def _chosen(
    columns: _Columns, name: str, texts: tuple[str, ...], refused: NDArray[np.object_]
) -> IntArray:
    positions = {text: code for code, text in enumerate(texts)}
    codes = columns.codes(name, lambda word: positions.get(word, UNKNOWN))
    _refuse(refused, codes == UNKNOWN, "not_allowed")
    return codes


def _fill_plants(
    columns: _Columns, requests: NDArray[np.void], results: NDArray[np.void], catalogue: Catalogue
) -> None:
    def position(word: str) -> int:
        found = catalogue.profile_position(word)
        return UNKNOWN if found is None else found

    codes = columns.codes("plants.profile", position)
    results["assumptions"] |= np.where(codes == rows.ABSENT, PROFILE_ASSUMED, np.uint64(0))
    results["cautions"] |= np.where(codes == UNKNOWN, UNKNOWN_PLANT, np.uint64(0))
    requests["profile"] = np.where(codes == rows.ABSENT, catalogue.default_profile, codes)
    requests["profile"][codes == UNKNOWN] = catalogue.weakest_profile


def _fill_water(
    columns: _Columns,
    requests: NDArray[np.void],
    results: NDArray[np.void],
    catalogue: Catalogue,
    refused: NDArray[np.object_],
) -> None:
    presets = list(catalogue.water_rows)
    positions = {name: place for place, name in enumerate(presets)}
    codes = columns.codes("water", lambda word: positions.get(word, UNKNOWN))
    _refuse(refused, codes == UNKNOWN, "unknown_key")
    analysis = np.column_stack([columns.numbers(name) for name in WATER_COLUMNS])
    analysed = ~np.isnan(analysis).all(axis=1)
    _refuse(refused, analysed & (codes != rows.ABSENT), "contradiction")
    silent = ~analysed & (codes == rows.ABSENT)
    results["assumptions"] |= np.where(silent, WATER_ASSUMED, np.uint64(0))
    codes = np.where(silent, positions[DEFAULT_WATER], codes)
    softened = codes == positions["softened_tap"]
    results["cautions"] |= np.where(softened, SOFTENED_WATER, np.uint64(0))
    table = np.stack([catalogue.water_rows[name] for name in presets])
    requests["water"] = np.where((codes >= 0)[:, None], table[np.maximum(codes, 0)], analysis)


def _fill_product(
    columns: _Columns,
    requests: NDArray[np.void],
    catalogue: Catalogue,
    refused: NDArray[np.object_],
) -> None:
    codes = columns.codes("product", lambda word: catalogue.product_positions.get(word, UNKNOWN))
    _refuse(refused, codes == UNKNOWN, "unknown_key")
    requests["product_count"] = codes != rows.ABSENT
    requests["product"][:, 0] = codes
    for name, (field, texts) in STRENGTH_CHOICES.items():
        requests[field][:, 0] = _chosen(columns, name, texts, refused)
    requests["strength_scale"][:, 0] = columns.numbers("strength.scale")
    basis = requests["strength_basis"][:, 0]
    for word, name in STRENGTH_VALUES:
        numbers = columns.numbers(name)
        given = ~np.isnan(numbers)
        fits = given & (basis == rows.STRENGTH_BASES.index(word))
        # A value of another basis, or of none, says that the strength is something else.
        _refuse(refused, given & ~fits, "contradiction")
        _refuse(refused, fits & ~np.isnan(requests["strength_value"][:, 0]), "contradiction")
        requests["strength_value"][fits, 0] = numbers[fits]
        requests["strength_by_volume"][fits, 0] = int(name.endswith("ml_per_l"))
