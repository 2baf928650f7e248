"""Chemical formulae: count the atoms of each element and add up the molar mass."""

import functools
import re
from collections import Counter
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from service.reference.tables import number, read_table

_TOKEN: Final = re.compile(r"[A-Z][a-z]?[0-9]*|[(\[{]|[)\]}][0-9]*|.", re.DOTALL)
"""An element or a closing bracket with its count, an opening bracket, or a stray sign."""

_CLOSING: Final = {"(": ")", "[": "]", "{": "}"}
_SEPARATOR: Final = re.compile(r"[.·•*⋅∙]")
_SUBSCRIPTS: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
MAXIMUM_LENGTH: Final = 200


class FormulaError(ValueError):
    """
    A chemical formula that cannot be read.

    Parameters
    ----------
    formula : str
        The formula as given.
    part : str
        The part that is at fault.
    detail : str
        What is wrong with it.
    """

    def __init__(self, formula: str, part: str, detail: str) -> None:
        self.formula = formula
        self.part = part
        self.detail = detail
        super().__init__(f"{formula!r}: {part!r} {detail}")


@functools.cache
def atomic_weights() -> Mapping[str, float]:
    """
    Return the abridged standard atomic weights.

    Returns
    -------
    mapping of str to float
        Symbol to atomic weight [g/mol].
    """
    rows = read_table("atomic_weights", ("symbol", "value", "unit", "source", "locator"))
    return MappingProxyType({row["symbol"]: number(row) for row in rows})


def element_counts(formula: str) -> Mapping[str, float]:
    """
    Return how many atoms of each element one formula unit holds.

    Parameters
    ----------
    formula : str
        For instance ``CaSO4.2H2O``, ``CaSO4·2H2O`` or ``5Ca(NO3)2.NH4NO3.10H2O``; brackets may be
        nested, each part may lead with a coefficient.

    Returns
    -------
    mapping of str to float
        Symbol to count, in the order of first appearance.

    Raises
    ------
    FormulaError
        If the formula cannot be read; names the part at fault.
    """
    return _element_counts(formula)


@functools.lru_cache(maxsize=1024)
def _element_counts(formula: str) -> Mapping[str, float]:
    text = "".join(formula.split()).translate(_SUBSCRIPTS)
    if not text:
        raise FormulaError(formula, formula, "is empty")
    if len(text) > MAXIMUM_LENGTH:
        raise FormulaError(formula, text[:20], f"is longer than {MAXIMUM_LENGTH} characters")
    total: Counter[str] = Counter()
    for part in _SEPARATOR.split(text):
        leading = re.match("[0-9]+", part)
        coefficient = int(leading.group()) if leading else 1
        body = part[leading.end() :] if leading else part
        if not body:
            raise FormulaError(formula, part or ".", "names no substance")
        if coefficient == 0:
            raise FormulaError(formula, part, "has a coefficient of zero")
        for symbol, count in _part_counts(formula, body).items():
            total[symbol] += coefficient * count
    return MappingProxyType({symbol: float(count) for symbol, count in total.items()})


def _part_counts(formula: str, part: str) -> Counter[str]:
    """Count the atoms of one part, which has no dot and no leading coefficient."""
    weights = atomic_weights()
    levels: list[tuple[str, Counter[str]]] = [("", Counter())]
    position = 0
    for token in _TOKEN.findall(part):
        position += len(token)
        opening, counts = levels[-1]
        if token in _CLOSING:
            levels.append((token, Counter()))
        elif token[0] in ")]}":
            if _CLOSING.get(opening) != token[0]:
                raise FormulaError(formula, part[:position], "closes a bracket that is not open")
            if not counts:
                raise FormulaError(formula, opening + token, "is an empty bracket")
            levels.pop()
            count = _count(formula, token, token[1:])
            for symbol, inner in counts.items():
                levels[-1][1][symbol] += inner * count
        else:
            symbol = token.rstrip("0123456789")
            if symbol not in weights:
                raise FormulaError(formula, symbol, "is not the symbol of a known element")
            counts[symbol] += _count(formula, token, token[len(symbol) :])
    if len(levels) > 1:
        raise FormulaError(formula, levels[-1][0], "is never closed")
    return levels[0][1]


def _count(formula: str, token: str, digits: str) -> int:
    if not digits:
        return 1
    if int(digits) == 0:
        raise FormulaError(formula, token, "has a count of zero")
    return int(digits)


def molar_mass(formula: str) -> float:
    """
    Return the molar mass of a formula.

    Parameters
    ----------
    formula : str
        As for `element_counts`.

    Returns
    -------
    float
        Molar mass [g/mol].

    Raises
    ------
    FormulaError
        If the formula cannot be read.
    """
    weights = atomic_weights()
    return sum(weights[symbol] * count for symbol, count in element_counts(formula).items())


def mass_fraction(formula: str, symbol: str) -> float:
    """
    Return the share of an element in the mass of a substance.

    Parameters
    ----------
    formula : str
        As for `element_counts`.
    symbol : str
        Symbol of the element.

    Returns
    -------
    float
        Mass fraction, 0 when the substance lacks the element [dimensionless].

    Raises
    ------
    FormulaError
        If the formula or the symbol cannot be read.
    """
    weights = atomic_weights()
    if symbol not in weights:
        raise FormulaError(formula, symbol, "is not the symbol of a known element")
    return weights[symbol] * element_counts(formula).get(symbol, 0.0) / molar_mass(formula)
