"""
Conversion at the edge: what a caller writes into canonical units, and back for display.

The only module that imports pint. One registry, built at import with exact fractions, gives the
factor of every accepted unit; after that a conversion is one subtraction and one multiplication,
for a number as for a column. Nothing that a caller sends is ever handed to pint.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from numbers import Integral, Real
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pint
from numpy.typing import NDArray

from service.units.canonical import CANONICAL_UNITS, CanonicalUnit, is_dimensionless, suffix_of
from service.units.refusals import (
    BOOLEAN,
    MAXIMUM_TEXT_LENGTH,
    NOT_A_NUMBER,
    NOT_FINITE,
    REFUSAL_CODES,
    TEXT_TOO_LONG,
    VALUE_UNAVAILABLE,
    QuantityError,
    looks_calculated,
    refuse_number_text,
    refuse_unit,
)
from service.units.spelling import Reading, UnitSpelling
from service.units.spellings import SPELLINGS, kind_of

__all__ = [
    "MAXIMUM_TEXT_LENGTH",
    "REFUSAL_CODES",
    "UNIT_REGISTRY",
    "Assumption",
    "Column",
    "Conversion",
    "FieldUnits",
    "Quantity",
    "QuantityError",
    "convert_many",
    "express",
    "parse_quantity",
    "units_of_field",
    "units_of_kind",
]

UNIT_REGISTRY: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(non_int_type=Fraction)
"""The registry; fractions keep the definitions exact until a factor is rounded once."""


@dataclass(frozen=True, slots=True)
class Assumption:
    """How a text with several meanings was read."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """Value in the canonical unit of its field; `given` is the text when it named a unit."""

    value: float
    assumption: Assumption | None = None
    given: str | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """Values in the canonical unit of their field."""

    values: NDArray[np.float64]
    assumption: Assumption | None = None


@dataclass(frozen=True, slots=True)
class Conversion:
    """Canonical value = (given value - zero) * factor."""

    factor: float
    zero: float
    reading: Reading | None


@dataclass(frozen=True, slots=True)
class FieldUnits:
    """Units that one field may be written in."""

    canonical: CanonicalUnit | None
    kind: str
    by_symbol: Mapping[str, Conversion]
    by_word: Mapping[str, Conversion]
    spellings: tuple[UnitSpelling, ...]
    allowed: tuple[str, ...]

    def find(self, unit_text: str) -> Conversion | None:
        """Look a unit text up: symbols as they are, words without regard to capitals."""
        return self.by_symbol.get(unit_text) or self.by_word.get(_folded(unit_text))


_ASCII_LOWER: Final = str.maketrans("ABCDEFGHIJKLMNOPQRSTUVWXYZ", "abcdefghijklmnopqrstuvwxyz")


def _folded(text: str) -> str:
    """Lower the 26 letters alone, so that the Kelvin sign does not become a k."""
    return text.translate(_ASCII_LOWER)


@lru_cache(maxsize=1024)
def conversion_parts(pint_text: str, canonical_text: str) -> tuple[float, float]:
    """Take factor and zero of a unit from the registry."""
    source, target = UNIT_REGISTRY.Unit(pint_text), UNIT_REGISTRY.Unit(canonical_text)
    zero = Fraction(UNIT_REGISTRY.Quantity(Fraction(0), target).to(source).magnitude)
    one = Fraction(UNIT_REGISTRY.Quantity(zero + 1, source).to(target).magnitude)
    return float(one), float(zero)


@lru_cache(maxsize=256)
def units_of_kind(kind: str, suffix: str) -> FieldUnits:
    """Collect the conversions of a kind of quantity into the unit of a suffix."""
    canonical = CANONICAL_UNITS[suffix]
    by_symbol: dict[str, Conversion] = {}
    by_word: dict[str, Conversion] = {}
    allowed: list[str] = []
    spellings = SPELLINGS.get(kind, ())
    for spelling in spellings:
        factor, zero = conversion_parts(spelling.pint_text, canonical.pint_text)
        conversion = Conversion(factor * spelling.multiplier, zero, spelling.reading)
        by_symbol.update(dict.fromkeys(spelling.symbols, conversion))
        by_word.update({_folded(word): conversion for word in spelling.words})
        allowed.append((*spelling.symbols, *spelling.words)[0])
    return FieldUnits(
        canonical,
        kind,
        MappingProxyType(by_symbol),
        MappingProxyType(by_word),
        spellings,
        tuple(allowed),
    )


_DIMENSIONLESS: Final = FieldUnits(
    None, "a number without a unit", MappingProxyType({}), MappingProxyType({}), (), ()
)


@lru_cache(maxsize=1024)
def units_of_field(field_name: str) -> FieldUnits:
    """Find the units of a field."""
    if is_dimensionless(field_name):
        return _DIMENSIONLESS
    suffix = suffix_of(field_name)
    if suffix is None:
        message = f"{field_name!r} has neither a listed unit suffix nor a dimensionless name"
        raise ValueError(message)
    return units_of_kind(kind_of(field_name, CANONICAL_UNITS[suffix].kind), suffix)


# The grammar, shared by the parser and by the published patterns.
NUMBER_PATTERN: Final = r"[+-]?[0-9]{1,17}(?:\.[0-9]{1,21})?(?:[eE][+-]?[0-9]{1,3})?"
_NUMBER_THEN_REST: Final = re.compile(rf"({NUMBER_PATTERN})(.*)", re.DOTALL)
_AROUND_SLASH: Final = re.compile(r" ?/ ?")
_NUMBER_CONTINUES: Final = frozenset("0123456789.,_'+-*/^:()=×÷–−\u2019\u00a0\u2009\u202f")


def parse_quantity(given: object, field_name: str) -> Quantity:
    """
    Read a number, a numeric text or a number with a unit.

    Parameters
    ----------
    given : object
        What the caller sent.
    field_name : str
        Name of the field, dotted or not; its suffix is the unit of a bare number.

    Returns
    -------
    Quantity
        The value in the canonical unit of the field.

    Raises
    ------
    QuantityError
        If it is not exactly one finite number, alone or with a unit of the field.
    ValueError
        If the field has neither a listed suffix nor a dimensionless name: a fault of the program.
    """
    units = units_of_field(field_name)
    if isinstance(given, str):
        return _parse_text(given, field_name, units)
    if given is None:
        raise QuantityError(VALUE_UNAVAILABLE, "No value is given.", None, units.allowed)
    if isinstance(given, bool | np.bool_):
        detail = "A truth value is not a number."
        raise QuantityError(BOOLEAN, detail, bool(given), units.allowed)
    if not isinstance(given, Real):
        detail = "Give a number, or a text with a number and a unit."
        raise QuantityError(NOT_A_NUMBER, detail, given, units.allowed)
    try:
        value = float(given)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        received = int(given) if isinstance(given, Integral) else value
        raise QuantityError(NOT_FINITE, "Give a finite number.", received, units.allowed)
    return Quantity(value)


def _parse_text(given: str, field_name: str, units: FieldUnits) -> Quantity:
    """Read a text; its length is looked at before anything else."""
    if len(given) > MAXIMUM_TEXT_LENGTH:
        detail = f"A number with a unit has at most {MAXIMUM_TEXT_LENGTH} characters."
        raise QuantityError(TEXT_TOO_LONG, detail, given, units.allowed)
    text = given.removesuffix("\n").strip(" ")
    match = _NUMBER_THEN_REST.fullmatch(text)
    if match is None:
        raise refuse_number_text(text, units.allowed)
    unit_text = _AROUND_SLASH.sub("/", match[2].strip(" "))
    number = float(match[1])
    if not math.isfinite(number):
        raise QuantityError(NOT_FINITE, "Give a finite number.", text, units.allowed)
    if not unit_text:
        return Quantity(number)
    conversion = units.find(unit_text)
    if conversion is None:
        if unit_text[0] in _NUMBER_CONTINUES:
            raise refuse_number_text(text, units.allowed)
        kinds = _kinds_that_know(unit_text)
        if not kinds and looks_calculated(unit_text):
            raise refuse_number_text(text, units.allowed)
        raise refuse_unit(
            text,
            unit_text,
            field_name,
            units.kind,
            kinds,
            [*units.by_symbol, *units.by_word],
            units.allowed,
        )
    value = (number - conversion.zero) * conversion.factor
    if not math.isfinite(value):
        raise QuantityError(NOT_FINITE, "Give a smaller number.", text, units.allowed)
    return Quantity(value, _assumption(text, conversion.reading, value, units.canonical), text)


def _assumption(
    text: str, reading: Reading | None, value: float | None, canonical: CanonicalUnit | None
) -> Assumption | None:
    """Word the assumption behind a unit with several meanings."""
    if reading is None or canonical is None:
        return None
    result = "" if value is None else f": {value:.5g} {canonical.symbol}"
    return Assumption(reading.code, f"{text} read as {reading.read_as}{result}; {reading.hint}")


def _kinds_that_know(unit_text: str) -> frozenset[str]:
    """List the canonical kinds of quantity that have a unit of this text."""
    folded = _folded(unit_text)
    return frozenset(
        unit.kind
        for unit in CANONICAL_UNITS.values()
        for spelling in SPELLINGS.get(unit.kind, ())
        if unit_text in spelling.symbols or folded in map(_folded, spelling.words)
    )


def convert_many(
    values: Sequence[float] | NDArray[np.float64], unit: str, field_name: str
) -> Column:
    """
    Convert a column whose unit stands in its heading.

    Parameters
    ----------
    values : array_like, shape (n_rows,)
        Numbers in `unit`; NaN and infinities pass through for the caller to reject by row.
    unit : str
        Unit text; empty for the canonical unit.
    field_name : str
        Name of the field.

    Returns
    -------
    Column
        New array in the canonical unit, and the assumption behind the unit.

    Raises
    ------
    QuantityError
        If the unit is unknown or of another kind of quantity.
    """
    array = np.array(values, dtype=np.float64)
    if not unit:
        return Column(array)
    units = units_of_field(field_name)
    if len(unit) > MAXIMUM_TEXT_LENGTH:
        detail = f"A unit has at most {MAXIMUM_TEXT_LENGTH} characters."
        raise QuantityError(TEXT_TOO_LONG, detail, unit, units.allowed)
    unit_text = _AROUND_SLASH.sub("/", unit.strip(" "))
    conversion = units.find(unit_text)
    if conversion is None:
        kinds = _kinds_that_know(unit_text)
        raise refuse_unit(
            unit,
            unit_text,
            field_name,
            units.kind,
            kinds,
            [*units.by_symbol, *units.by_word],
            units.allowed,
        )
    assumption = _assumption(unit_text, conversion.reading, None, units.canonical)
    return Column((array - conversion.zero) * conversion.factor, assumption)


def express(value: float, field_name: str, unit: str) -> float:
    """
    State a canonical value in another unit of its field.

    Parameters
    ----------
    value : float
        Value in the canonical unit.
    field_name : str
        Name of the field.
    unit : str
        One of the field's unit texts.

    Returns
    -------
    float
        The value in that unit.

    Raises
    ------
    ValueError
        If the field is not written in that unit: a fault of the program.
    """
    conversion = units_of_field(field_name).find(unit)
    if conversion is None:
        message = f"{field_name!r} is not written in {unit!r}"
        raise ValueError(message)
    return value / conversion.factor + conversion.zero


for _suffix, _unit in CANONICAL_UNITS.items():
    units_of_kind(_unit.kind, _suffix)
