"""
From a request, however it arrived, to a row of numbers.

The request is any object with the attributes of the contract (`plants.size`,
`air.humidity_percent` and so on, None where the caller was silent), so that every reader of the
HTTP layer fills rows through this one function.
"""

from collections.abc import Mapping
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.cautions import assumption_bit, caution_bit
from service.planning.water_columns import fill_water_columns
from service.reference.components import ELEMENT_NAMES

PROFILE_ASSUMED: Final = assumption_bit("profile_assumed")
UNKNOWN_PLANT: Final = caution_bit("unknown_plant")
WATER_ASSUMED: Final = assumption_bit("water_assumed")

DEFAULT_WATER: Final = "moderate_tap"

_SIZE: Final = {text: code for code, text in enumerate(rows.SIZES)}
_SETUP: Final = {text: code for code, text in enumerate(rows.SETUPS)}
_GROWTH: Final = {text: code for code, text in enumerate(rows.GROWTHS)}
_REFILL: Final = {text: code for code, text in enumerate(rows.REFILLS)}
_MEDIUM: Final = {text: code for code, text in enumerate(rows.MEDIA)}
_APPLICATION: Final = {text: code for code, text in enumerate(rows.APPLICATIONS)}
_BASIS: Final = {text: code for code, text in enumerate(rows.STRENGTH_BASES)}
_COUNTS: Final = {text: code for code, text in enumerate(rows.COUNTS)}
_ELEMENT: Final = {text: code for code, text in enumerate(ELEMENT_NAMES)}
_ACID: Final = {text: code for code, text in enumerate(rows.ACID_KINDS + rows.BASE_KINDS)}

WORD_CODES: Final[Mapping[str, Mapping[str, int]]] = {
    "size": _SIZE,
    "setup": _SETUP,
    "growth": _GROWTH,
    "refill": _REFILL,
    "medium": _MEDIUM,
    "application": _APPLICATION,
    "acid_kind": _ACID,
    "strength_basis": _BASIS,
    "strength_element": _ELEMENT,
    "strength_counts": _COUNTS,
}
"""Codes of the words of a request, by the field of the row that holds them."""

_PLANT_CODES: Final = (
    ("size", _SIZE),
    ("setup", _SETUP),
    ("growth", _GROWTH),
    ("refill", _REFILL),
    ("medium", _MEDIUM),
)
_PLANT_NUMBERS: Final = ("count", "pot_diameter_cm", "days_since_flush")
_AIR_NUMBERS: Final = (
    "humidity_percent",
    "temperature_celsius",
    "average_humidity_percent",
    "average_temperature_celsius",
)
_STRENGTH_VALUES: Final = ("mg_per_l", "g_per_l", "ml_per_l", "ec_ms_per_cm", "ppm")


class TooManyProductsError(ValueError):
    """More products than one can takes."""


class Names(Protocol):
    """Whatever leads from the names of a request to the rows of the kernels' tables."""

    default_profile: int
    weakest_profile: int
    water_rows: Mapping[str, NDArray[np.float64]]

    def product_position(self, product: Any, /) -> int:
        """Return the row of a product."""

    def profile_position(self, profile: Any, /) -> int | None:
        """Return the row of a profile, None for a plant that is not known."""


def profile_of(profile: Any, catalogue: Names) -> tuple[int, np.uint64, np.uint64]:
    """
    Return the row of the profile that counts, and what its choice tells.

    Parameters
    ----------
    profile : object or None
        What the request names, None where it is silent.
    catalogue : Names
        Knows the profiles.

    Returns
    -------
    position, assumptions, cautions : tuple of int, uint64 and uint64
        The row; assumption and caution bits.
    """
    nothing = np.uint64(0)
    if profile is None:
        return catalogue.default_profile, PROFILE_ASSUMED, nothing
    position = catalogue.profile_position(profile)
    if position is None:
        return catalogue.weakest_profile, nothing, UNKNOWN_PLANT
    return position, nothing, nothing


def fill_row(row: Any, result: Any, request: Any, catalogue: Names, *, limited: bool) -> None:
    """
    Write one request into a row.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        An empty row; receives the request.
    result : record of `rows.DOSE_RESULT`
        Receives the assumptions and cautions that reading the request already tells.
    request : object
        Attributes as in the contract of doses or dilutions.
    catalogue : Names
        Knows every product and profile that the request names.
    limited : bool
        Whether the plant's ceilings bind (a dose) or are only reported (a dilution).

    Raises
    ------
    KeyError
        If a product is in no catalogue; the argument is the key.
    TooManyProductsError
        If the can holds more than `rows.MAXIMUM_PRODUCTS`.
    """
    row["limited"] = int(limited)
    plants = getattr(request, "plants", None)
    profile = None if plants is None else plants.profile
    row["profile"], assumptions, cautions = profile_of(profile, catalogue)
    if plants is not None:
        for name, codes in _PLANT_CODES:
            text = getattr(plants, name)
            if text is not None:
                row[name] = codes[text]
        for name in _PLANT_NUMBERS:
            value = getattr(plants, name)
            if value is not None:
                row[name] = value
    air = getattr(request, "air", None)
    if air is not None:
        for name in _AIR_NUMBERS:
            value = getattr(air, name)
            if value is not None:
                row[name] = value
    application = getattr(request, "application", None)
    if application is not None:
        row["application"] = _APPLICATION[application]
    for name in ("interval_days", "volume_l", "volume_per_plant_ml", "target_ph"):
        value = getattr(request, name, None)
        if value is not None:
            row[name] = value
    water = getattr(request, "water", None)
    if water is None:
        water = DEFAULT_WATER
        assumptions |= WATER_ASSUMED
    cautions |= fill_water_columns(row["water"], water, catalogue.water_rows)
    acid = getattr(request, "acid", None)
    if acid is not None:
        row["acid_kind"] = _ACID[acid.kind]
        if acid.percent is not None:
            row["acid_percent"] = acid.percent
    instruments = getattr(request, "instruments", None)
    if instruments is not None:
        for name in rows.INSTRUMENT_NUMBERS:
            value = getattr(instruments, name)
            if value is not None:
                row[name] = value
    _fill_products(row, request, catalogue)
    result["assumptions"] = assumptions
    result["cautions"] = cautions


def _fill_products(row: Any, request: Any, catalogue: Names) -> None:
    """Write the product, or the products that share the can, with their strengths."""
    products = getattr(request, "products", None)
    if products is None:
        product = getattr(request, "product", None)
        if product is None:
            return
        row["product_count"] = 1
        row["product"][0] = catalogue.product_position(product)
        fill_strength(row, 0, request.strength)
        return
    if len(products) > rows.MAXIMUM_PRODUCTS:
        raise TooManyProductsError
    row["product_count"] = len(products)
    for slot, each in enumerate(products):
        row["product"][slot] = catalogue.product_position(each.product)
        fill_strength(row, slot, each.strength)


def fill_strength(row: Any, slot: int, strength: Any) -> None:
    """
    Write one strength; absent, the slot keeps `ABSENT`.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Receives the strength.
    slot : int
        Which product of the can.
    strength : object or None
        Attributes as in the contract.
    """
    if strength is None:
        return
    row["strength_basis"][slot] = _BASIS[strength.basis]
    for name in _STRENGTH_VALUES:
        value = getattr(strength, name, None)
        if value is not None:
            row["strength_value"][slot] = value
            row["strength_by_volume"][slot] = int(name == "ml_per_l")
    element = getattr(strength, "element", None)
    if element is not None:
        row["strength_element"][slot] = _ELEMENT[element]
    scale = getattr(strength, "scale", None)
    if scale is not None:
        row["strength_scale"][slot] = scale
    if strength.counts is not None:
        row["strength_counts"][slot] = _COUNTS[strength.counts]
