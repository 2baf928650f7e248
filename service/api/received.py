"""What a caller sent, made fit to be repeated in an error."""

from typing import Final

LONGEST_TEXT: Final = 100

Received = str | int | float | bool | None
"""A scalar of JSON; whole objects and lists are described, never repeated."""


def repeatable(value: object) -> Received:
    """
    Return a value from a request as something short that JSON can hold.

    Texts are cut, numbers that JSON lacks become words, and containers are described: an error
    stays small whatever the request was, and it can always be written.
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return value if -(2**53) < value < 2**53 else _cut(f"{value:.6e}" if _fits(value) else "?")
    if isinstance(value, float):
        return value if value - value == 0.0 else _non_finite(value)
    if isinstance(value, bytes):
        return _cut(value[: LONGEST_TEXT * 4].decode("utf-8", "replace"))
    if isinstance(value, str):
        return _cut(value)
    if isinstance(value, dict):
        return f"an object of {len(value)} field{'' if len(value) == 1 else 's'}"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)} item{'' if len(value) == 1 else 's'}"
    return _cut(str(value))


def _fits(value: int) -> bool:
    """Tell whether an integer has a floating-point value at all."""
    return value.bit_length() <= 1023


def _non_finite(value: float) -> str:
    if value != value:
        return "NaN"
    return "Infinity" if value > 0 else "-Infinity"


def _cut(text: str) -> str:
    # Lone surrogates (JSON can escape them) cannot be written as UTF-8.
    clean = text[: LONGEST_TEXT + 1].encode("utf-8", "replace").decode("utf-8")
    return clean if len(clean) <= LONGEST_TEXT else clean[: LONGEST_TEXT - 1] + "…"
