"""What is published of the units: patterns for the schema and the list of accepted texts."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final, TypedDict

from service.units.canonical import CANONICAL_UNITS, CanonicalUnit
from service.units.convert import NUMBER_PATTERN, conversion_parts, units_of_field
from service.units.spelling import UnitSpelling
from service.units.spellings import SPELLINGS

_SPACES: Final = " {0,2}"
_SYNTAX_CHARACTERS: Final = frozenset("^$\\.*+?()[]{}|")


def _unit_pattern(text: str, *, any_case: bool) -> str:
    """Spell a unit as a regular expression."""
    parts = []
    for character in text:
        if character == "/":
            parts.append(" ?/ ?")
        elif character in _SYNTAX_CHARACTERS:
            parts.append("\\" + character)
        elif any_case and character.isascii() and character.isalpha():
            parts.append(f"[{character.upper()}{character.lower()}]")
        else:
            parts.append(character)
    return "".join(parts)


def _choices(texts: Iterable[str], *, any_case: bool) -> list[str]:
    """Spell unit texts, a plural together with its singular."""
    listed = dict.fromkeys(texts)
    patterns = []
    for text in listed:
        if text.endswith("s") and text[:-1] in listed:
            continue
        pattern = _unit_pattern(text, any_case=any_case)
        plural = text + "s" in listed
        patterns.append(pattern + ("[Ss]?" if any_case else "s?") if plural else pattern)
    return patterns


def schema_pattern(field_name: str) -> str:
    """
    Return the regular expression of the texts that a field takes.

    Every text that matches is parsed, unless its number is too large for a float. Every other
    text is refused, but for more blanks around the number. The expression is bounded and means
    the same in ECMA-262, Python and Rust.

    Parameters
    ----------
    field_name : str
        Name of the field.

    Returns
    -------
    str
        Anchored regular expression.
    """
    units = units_of_field(field_name)
    symbols = [text for spelling in units.spellings for text in spelling.symbols]
    words = [text for spelling in units.spellings for text in spelling.words]
    choices = [*_choices(symbols, any_case=False), *_choices(words, any_case=True)]
    unit = f"(?:{_SPACES}(?:{'|'.join(choices)}))?" if choices else ""
    return f"^{_SPACES}{NUMBER_PATTERN}{unit}{_SPACES}$"


class AcceptedUnit(TypedDict):
    """One unit of the catalogue: canonical value = given value * factor + offset."""

    spellings: list[str]
    any_case: list[str]
    factor: float
    offset: float
    assumption: str | None
    only_for: str | None


class CatalogueEntry(TypedDict):
    """One suffix of the catalogue."""

    suffix: str
    unit: str
    kind: str
    meaning: str
    accepted: list[AcceptedUnit]


def _accepted_unit(
    spelling: UnitSpelling, canonical: CanonicalUnit, only_for: str | None
) -> AcceptedUnit:
    """Describe one unit as plain data."""
    factor, zero = conversion_parts(spelling.pint_text, canonical.pint_text)
    reading = spelling.reading
    return {
        "spellings": list(spelling.symbols),
        "any_case": list(spelling.words),
        "factor": factor * spelling.multiplier,
        "offset": 0.0 if zero == 0.0 else -zero * factor,
        "assumption": None if reading is None else f"read as {reading.read_as}; {reading.hint}",
        "only_for": only_for,
    }


_NARROWED_KINDS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "mass_concentration": ("bicarbonate",),
        "calcium_carbonate_equivalent": ("alkalinity", "hardness"),
    }
)


def unit_catalogue() -> list[CatalogueEntry]:
    """
    Describe every suffix and every unit that its fields may be written in.

    Returns
    -------
    list of CatalogueEntry
        New plain data, in the order of the suffixes; `only_for` names the quantity that a unit
        is kept to.
    """
    catalogue: list[CatalogueEntry] = []
    for unit in CANONICAL_UNITS.values():
        shared = SPELLINGS.get(unit.kind, ())
        accepted = [_accepted_unit(spelling, unit, None) for spelling in shared]
        for narrowed in _NARROWED_KINDS.get(unit.kind, ()):
            accepted += [
                _accepted_unit(spelling, unit, narrowed)
                for spelling in SPELLINGS[narrowed]
                if spelling not in shared
            ]
        catalogue.append(
            {
                "suffix": unit.suffix,
                "unit": unit.symbol,
                "kind": unit.kind,
                "meaning": unit.meaning,
                "accepted": accepted,
            }
        )
    return catalogue
