"""
Why a text is not a quantity: one code for each reason.

Everything here is linear in a text that was cut to `MAXIMUM_TEXT_LENGTH` first.
"""

import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final, TypeAlias

MAXIMUM_TEXT_LENGTH: Final = 80
"""Longest text that is looked at; the longest that any pattern allows is shorter."""

DECIMAL_COMMA: Final = "decimal_comma"
DIGIT_GROUPING: Final = "digit_grouping"
NOT_FINITE: Final = "not_finite"
BOOLEAN: Final = "boolean"
VALUE_UNAVAILABLE: Final = "value_unavailable"
EXPRESSION: Final = "expression"
UNKNOWN_UNIT: Final = "unknown_unit"
WRONG_DIMENSION: Final = "wrong_dimension"
NOT_A_NUMBER: Final = "not_a_number"
TEXT_TOO_LONG: Final = "text_too_long"

REFUSAL_CODES: Final = (
    DECIMAL_COMMA,
    DIGIT_GROUPING,
    NOT_FINITE,
    BOOLEAN,
    VALUE_UNAVAILABLE,
    EXPRESSION,
    UNKNOWN_UNIT,
    WRONG_DIMENSION,
    NOT_A_NUMBER,
    TEXT_TOO_LONG,
)

JsonScalar: TypeAlias = str | int | float | bool | None


class QuantityError(Exception):
    """
    A value that is not a quantity of the field's kind.

    Parameters
    ----------
    code : str
        One of `REFUSAL_CODES`.
    detail : str
        What is wrong and what to write instead.
    received : str, int, float, bool or None
        What was given, cut short where it is long, always fit for JSON.
    allowed : tuple of str
        Units that the field may be written in; empty where a bare number is expected.
    """

    def __init__(
        self, code: str, detail: str, received: object, allowed: tuple[str, ...] = ()
    ) -> None:
        super().__init__(detail)
        self.code: Final = code
        self.detail: Final = detail
        self.received: Final = _fit_for_json(received)
        self.allowed: Final = allowed


def _fit_for_json(received: object) -> JsonScalar:
    """Cut long texts and name what JSON cannot hold."""
    if received is None or isinstance(received, bool):
        return received
    if isinstance(received, str):
        text = received[: MAXIMUM_TEXT_LENGTH + 1].encode("utf-8", "replace").decode("utf-8")
        return text if len(text) <= MAXIMUM_TEXT_LENGTH else text[:MAXIMUM_TEXT_LENGTH] + "…"
    if isinstance(received, int):
        return received if received.bit_length() <= 64 else "a very large whole number"
    if isinstance(received, float):
        return received if received - received == 0.0 else str(received)
    return type(received).__name__


_UNAVAILABLE: Final = frozenset(
    {"", "unknown", "unavailable", "none", "null", "undefined", "n/a", "na", "-", "--"}
)
_BOOLEANS: Final = frozenset({"true", "false", "yes", "no", "on", "off"})
_NOT_FINITE: Final = re.compile(r"[+-]?(?:nan|inf|infinity)\b.*", re.IGNORECASE | re.DOTALL)
_GROUP_SIGNS: Final = "_'\u2019\u00a0\u2009\u202f"
_GROUPED: Final = re.compile(
    r"[+-]?(?:"
    rf"[0-9]{{1,3}}(?:[ {_GROUP_SIGNS}][0-9]{{3}})+(?![0-9])"
    rf"|[0-9]+[{_GROUP_SIGNS}][0-9]"
    r"|[0-9]{1,3}(?:,[0-9]{3}){2,}(?![0-9])"
    r"|[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]"
    r"|[0-9]{1,3}(?:\.[0-9]{3}){2,}(?![0-9])"
    r"|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]"
    r").*",
    re.DOTALL,
)
_COMMA: Final = re.compile(r"[+-]?[0-9]*,[0-9].*", re.DOTALL)
_OPERATORS: Final = re.compile(r"[*^+()=×÷]|(?<=[0-9]) *[-/:–] *(?=[0-9.])|[0-9].* [0-9]")
_BEGINS_WITH_NUMBER: Final = re.compile(r"[+-]?[0-9]")


def refuse_number_text(text: str, allowed: tuple[str, ...]) -> QuantityError:
    """
    Explain why a text is not one number, with or without a unit.

    Parameters
    ----------
    text : str
        Text that does not follow the grammar, stripped and not longer than
        `MAXIMUM_TEXT_LENGTH`.
    allowed : tuple of str
        Units of the field.

    Returns
    -------
    QuantityError
        The refusal, to be raised by the caller.
    """
    word = text.lower()
    if word in _UNAVAILABLE:
        return QuantityError(VALUE_UNAVAILABLE, "No value is available here.", text, allowed)
    if word in _BOOLEANS:
        return QuantityError(BOOLEAN, "A truth value is not a number.", text, allowed)
    if _NOT_FINITE.fullmatch(text):
        return QuantityError(NOT_FINITE, "Give a finite number.", text, allowed)
    if _GROUPED.fullmatch(text):
        detail = "Write digits without grouping: 1000, not 1 000, 1_000 or 1,000."
        return QuantityError(DIGIT_GROUPING, detail, text, allowed)
    if _COMMA.fullmatch(text):
        detail = (
            "Write the decimal sign as a point: 1.5. A comma is not guessed at; it may also"
            " group thousands."
        )
        return QuantityError(DECIMAL_COMMA, detail, text, allowed)
    if _OPERATORS.search(text) and any(character.isdigit() for character in text):
        detail = "Give one number and one unit; nothing is calculated from a text."
        return QuantityError(EXPRESSION, detail, text, allowed)
    return QuantityError(NOT_A_NUMBER, _number_hint(text), text, allowed)


def _number_hint(text: str) -> str:
    """Say which part of the grammar is missed."""
    if text.startswith((".", "+.", "-.")):
        return "Write a digit before the decimal point: 0.5."
    if text[0] in "−–—":
        return "Write the minus sign as '-'."
    if _BEGINS_WITH_NUMBER.match(text):
        return "The number has too many digits or is incomplete; write it like 12.5 or 1.25e3."
    return "Begin with a number in the digits 0 to 9, then the unit: 12.5 or '12.5 L'."


def looks_calculated(unit_text: str) -> bool:
    """
    Tell whether what follows a number is more arithmetic than unit.

    Parameters
    ----------
    unit_text : str
        What follows the first number.

    Returns
    -------
    bool
        True where it begins with an operator or holds one or another number.
    """
    return _OPERATORS.search("0" + unit_text) is not None


_HINTS: Final = (
    (
        "conductivity",
        frozenset({"meter_ppm", "mass_concentration"}),
        "Meter ppm depend on the meter: give ppm with its scale in strength or in readings.",
    ),
    ("mass", frozenset({"volume"}), "A volume has no mass until it is weighed; give grams."),
    (
        "mass_concentration",
        frozenset({"amount_concentration", "charge_concentration"}),
        "An amount has no mass until the substance is named; give mg/L.",
    ),
    (
        "mass_concentration",
        frozenset({"volume_ratio"}),
        "Spoons and other volumes of a solid have no fixed mass; give a mass for each volume.",
    ),
    ("meter_ppm", frozenset({"mass_concentration"}), "A meter reading is in ppm of its own scale."),
)


_BY_WHAT: Final = re.compile(r"[mwv]\s*/\s*[mwv]|\bvol|\b(?:mass|weight)", re.IGNORECASE)
"""A percent that says of what it is: w/w, m/m, v/v, w/v, by volume."""


def refuse_unit(
    given: str,
    unit_text: str,
    field_name: str,
    kind: str,
    kinds_found: frozenset[str],
    spellings: Iterable[str],
    allowed: tuple[str, ...],
) -> QuantityError:
    """
    Explain why a unit text does not fit a field.

    Parameters
    ----------
    given : str
        The whole text.
    unit_text : str
        Its unit.
    field_name : str
        Name of the field.
    kind : str
        Kind of quantity of the field.
    kinds_found : frozenset of str
        Kinds of quantity that know the unit.
    spellings : iterable of str
        Every text of the units of the field, searched for the one that was meant.
    allowed : tuple of str
        One text for each unit of the field.

    Returns
    -------
    QuantityError
        Code `wrong_dimension` where another kind knows the unit, else `unknown_unit`.
    """
    wanted = kind.replace("_", " ")
    if kinds_found:
        found = " or ".join(sorted(kinds_found)).replace("_", " ")
        hints = [text for of, others, text in _HINTS if of == kind and others & kinds_found]
        if kind == "volume" and unit_text.lower() in {"oz", "ounce", "ounces"}:
            hints.append("For a volume in ounces write 'fl oz'.")
        detail = " ".join(
            [f"'{unit_text}' is a unit of {found}; {field_name} takes {wanted}.", *hints[:1]]
        )
        return QuantityError(WRONG_DIMENSION, detail, given, allowed)
    if kind == "percentage" and _BY_WHAT.search(unit_text):
        detail = (
            f"'{unit_text}' is not read here. The percent of an acid is by mass (w/w), as bottles"
            " state it: write the number alone. Percent by volume (v/v, vol), or grams in 100 mL"
            " (w/v), is another strength; ask the maker for the one by mass."
        )
        return QuantityError(UNKNOWN_UNIT, detail, given, allowed)
    by_lower = {text.lower(): text for text in spellings}
    near = get_close_matches(unit_text.lower(), by_lower, 1, 0.6)
    meant = by_lower[near[0]] if near else None
    suggestion = f" Did you mean '{meant}'?" if meant else ""
    choice = f"one of: {', '.join(allowed)}" if allowed else "a bare number"
    detail = (
        f"'{unit_text}' is not a unit of {wanted} here.{suggestion} {field_name} takes {choice}."
    )
    return QuantityError(UNKNOWN_UNIT, detail, given, allowed)
