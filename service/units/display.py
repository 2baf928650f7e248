"""Words for people: a canonical value in US or imperial measure."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from service.units.canonical import is_dimensionless, suffix_of
from service.units.convert import express, units_of_field

System = Literal["us", "imperial"]


@dataclass(frozen=True, slots=True)
class _Rung:
    """Unit for display, used from a magnitude upwards."""

    unit: str
    decimals: int
    from_magnitude: float
    digits: int = 2


_LADDERS: Final[Mapping[tuple[str, str], tuple[_Rung, ...]]] = MappingProxyType(
    {
        ("us", "volume"): (
            _Rung("US gal", 1, 0.25),
            _Rung("US fl oz", 2, 0.5),
            _Rung("US tsp", 2, 0.1),
        ),
        ("imperial", "volume"): (_Rung("imp gal", 1, 0.25), _Rung("imp fl oz", 2, 0.05)),
        ("us", "mass"): (_Rung("lb", 2, 1.0), _Rung("oz", 2, 0.05)),
        ("imperial", "mass"): (_Rung("lb", 2, 1.0), _Rung("oz", 2, 0.05)),
        ("us", "temperature"): (_Rung("°F", 0, 0.0, 0),),
        ("imperial", "temperature"): (_Rung("°F", 0, 0.0, 0),),
        ("us", "length"): (_Rung("in", 1, 0.1),),
        ("imperial", "length"): (_Rung("in", 1, 0.1),),
        ("us", "volume_ratio"): (_Rung("US fl oz/US gal", 2, 0.5), _Rung("tsp/US gal", 2, 0.1)),
        ("imperial", "volume_ratio"): (_Rung("imp fl oz/imp gal", 2, 0.05),),
        ("us", "_g_per_l"): (_Rung("oz/US gal", 2, 0.05), _Rung("oz/100 US gal", 1, 0.05)),
        ("imperial", "_g_per_l"): (_Rung("oz/imp gal", 2, 0.05), _Rung("oz/100 imp gal", 1, 0.05)),
    }
)
"""Units of display by system and by kind or suffix, largest first; what is smaller stays metric."""


def display(value: float, field_name: str, system: System) -> str:
    """
    Word a canonical value for people, in US or imperial measure where that is customary.

    Parameters
    ----------
    value : float
        Value in the canonical unit of the field, finite.
    field_name : str
        Name of the field.
    system : {'us', 'imperial'}
        System of measure; the words of each unit say which gallon is meant.

    Returns
    -------
    str
        Number and unit, such as `0.42 oz`; metric where the trade has no other unit, or where
        the amount is too small for household measures.
    """
    units = units_of_field(field_name)
    if units.canonical is None:
        return _rounded(value, 0, 3)
    ladder = _LADDERS.get((system, units.canonical.suffix)) or _LADDERS.get((system, units.kind))
    for rung in ladder or ():
        expressed = express(value, field_name, rung.unit)
        if abs(expressed) >= rung.from_magnitude:
            return f"{_rounded(expressed, rung.decimals, rung.digits)} {rung.unit}"
    return f"{_rounded(value, 0, 3)} {units.canonical.symbol}"


def in_words(value: float, field_name: str, system: str) -> str | None:
    """
    Word a value, where its field has a unit that people word otherwise.

    Parameters
    ----------
    value : float
        Value in the canonical unit of the field.
    field_name : str
        Name of any field.
    system : str
        ``us`` or ``imperial``.

    Returns
    -------
    str or None
        As `display`; None for a field without a unit, a value that is not finite, and where the
        trade has no other unit.
    """
    if system not in ("us", "imperial") or not math.isfinite(value):
        return None
    if is_dimensionless(field_name) or suffix_of(field_name) is None:
        return None
    units = units_of_field(field_name)
    if units.canonical is None:
        return None
    known: System = "us" if system == "us" else "imperial"
    ladder = _LADDERS.get((known, units.canonical.suffix)) or _LADDERS.get((known, units.kind))
    return display(value, field_name, known) if ladder else None


def _rounded(value: float, decimals: int, digits: int) -> str:
    """Round to decimals, yet to no fewer significant digits (0: no such floor)."""
    if value == 0.0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    # A leading 1 alone would round by up to 5 %, so it brings one digit more.
    leading_one = abs(value) < 2.0 * 10.0**exponent
    needed = digits - 1 - exponent + (1 if leading_one and decimals > 0 else 0)
    text = f"{value:.{max(decimals, needed if digits else 0, 0)}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text
