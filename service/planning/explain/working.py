"""
A working in the making: lines in their order, each resting on what stands above it.

A line is *given* (from the request or assumed), *looked up* (a table, with its source), *computed*
by its formula from earlier lines, *solved* (found by iteration: its equation is checked by later
lines), or a *check*. Values are those of the finished result; where it keeps none, the formula
itself is evaluated.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, Literal

from service.planning.explain.formula import evaluated, names_in
from service.units.canonical import CANONICAL_UNITS, suffix_of

How = Literal["given", "looked_up", "computed", "solved", "check", "answer"]

AS_SENT: Final = "as sent, or as assumed"
NUMBER: Final = "1"
"""Unit of what has none."""

NAME: Final = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
NOTHING: Final[Mapping[str, float]] = MappingProxyType({})


@dataclass(frozen=True)
class Line:
    """
    One line of a working.

    Attributes
    ----------
    part : str
        Heading under which it stands.
    quantity : str
        Name by which later formulas call it, or the dotted field of the answer.
    value : float
        Value in `unit`.
    unit : str
        Unit for people, ``1`` for a plain number.
    how : str
        Where the value comes from.
    formula : str
        A formula of `service.planning.explain.formula`, or words where nothing is computed.
    inputs : mapping of str to float
        The quantities of the formula; empty where it is words.
    source : str or None
        Key of a source, None for common practice and plain arithmetic.
    field : str or None
        Dotted name of the field of the plain answer that is equal to this value.
    """

    part: str
    quantity: str
    value: float
    unit: str
    how: How
    formula: str
    inputs: Mapping[str, float]
    source: str | None
    field: str | None


def unit_of(name: str) -> str:
    """
    Return the unit that the end of a name stands for.

    Parameters
    ----------
    name : str
        Name of a quantity.

    Returns
    -------
    str
        Symbol of the unit, ``1`` for a name without one.
    """
    suffix = suffix_of(name)
    return NUMBER if suffix is None else CANONICAL_UNITS[suffix].symbol


class Working:
    """
    Lines that are added one after another.

    Parameters
    ----------
    brief : bool
        Whether the species of solutions are left to the working of a single can.
    """

    def __init__(self, *, brief: bool = False) -> None:
        self.brief = brief
        self.lines: list[Line] = []
        self._values: dict[str, float] = {}
        self._part = ""

    def part(self, heading: str) -> None:
        """Begin a part of the working."""
        self._part = heading

    def knows(self, name: str) -> bool:
        """Tell whether a quantity stands in the working."""
        return name in self._values

    def value(self, name: str) -> float:
        """Return the value of a quantity that stands in the working."""
        return self._values[name]

    def evaluated(self, formula: str) -> float:
        """Return the value of a formula on the quantities of the working."""
        return evaluated(formula, self._values)

    def given(
        self,
        name: str,
        value: float,
        unit: str | None = None,
        words: str = AS_SENT,
        source: str | None = None,
    ) -> str:
        """Add a quantity of the request."""
        return self._add(name, float(value), unit, "given", words, {}, source)

    def known(
        self, name: str, value: float, words: str, source: str | None, unit: str | None = None
    ) -> str:
        """Add a quantity of a table or of a model, with its source."""
        return self._add(name, float(value), unit, "looked_up", words, {}, source)

    def solved(
        self, name: str, value: float, words: str, source: str | None, unit: str | None = None
    ) -> str:
        """Add a quantity that was found by iteration; checks follow it."""
        return self._add(name, float(value), unit, "solved", words, {}, source)

    def computed(
        self,
        name: str,
        formula: str,
        value: float | None = None,
        unit: str | None = None,
        source: str | None = None,
        where: Mapping[str, float] = NOTHING,
        how: How = "computed",
    ) -> str:
        """
        Add a quantity that its formula gives.

        Parameters
        ----------
        name : str
            Its name.
        formula : str
            How it follows from earlier quantities and from the constants.
        value : float, optional
            The value of the finished result; by default the formula is evaluated.
        unit : str, optional
            By default what the end of the name stands for.
        source : str, optional
            Key of the source of the formula or of its constants.
        where : mapping of str to float
            Numbers that this formula alone names.
        how : str
            ``check`` for a balance.

        Returns
        -------
        str
            The name.
        """
        inputs = {
            each: where[each] if each in where else self._values[each] for each in names_in(formula)
        }
        found = evaluated(formula, inputs) if value is None else float(value)
        return self._add(name, found, unit, how, formula, inputs, source)

    def check(
        self,
        name: str,
        formula: str,
        unit: str | None = None,
        source: str | None = None,
        where: Mapping[str, float] = NOTHING,
    ) -> str:
        """Add a balance, which comes to nothing but for the species that are left out."""
        return self.computed(name, formula, None, unit, source, where, "check")

    def answer(self, field: str, formula: str, digits: int, unit: str | None = None) -> None:
        """
        Add a field of the plain answer: a quantity, or a formula, rounded as answers are.

        Parameters
        ----------
        field : str
            Dotted name of the field.
        formula : str
            What is rounded.
        digits : int
            Significant digits.
        unit : str, optional
            By default what the end of the name stands for.
        """
        rounded = f"significant({formula}, {digits})"
        inputs = {each: self._values[each] for each in names_in(rounded)}
        found = evaluated(rounded, inputs)
        shown = unit_of(field) if unit is None else unit
        self.lines.append(
            Line(self._part, field, found, shown, "answer", rounded, inputs, None, field)
        )

    def take(self, other: "Working", prefix: str, heading: str) -> None:
        """
        Add the lines of another working under names of their own, its answers left out.

        Parameters
        ----------
        other : Working
            The other working.
        prefix : str
            Put before every name.
        heading : str
            Put before every part.
        """

        def renamed(match: re.Match[str]) -> str:
            return prefix + match[0] if match[0] in other._values else match[0]

        for line in other.lines:
            if line.how == "answer":
                continue
            inputs = {
                prefix + name if name in other._values else name: value
                for name, value in line.inputs.items()
            }
            formula = NAME.sub(renamed, line.formula) if line.inputs else line.formula
            part = f"{heading}: {line.part}"
            taken = replace(
                line, part=part, quantity=prefix + line.quantity, formula=formula, inputs=inputs
            )
            self.lines.append(taken)
            self._values[taken.quantity] = taken.value

    def _add(
        self,
        name: str,
        value: float,
        unit: str | None,
        how: How,
        formula: str,
        inputs: Mapping[str, float],
        source: str | None,
    ) -> str:
        if name in self._values:
            message = f"{name!r} stands in the working already"
            raise ValueError(message)
        self._values[name] = value
        shown = unit_of(name) if unit is None else unit
        self.lines.append(Line(self._part, name, value, shown, how, formula, inputs, source, None))
        return name


def signed_term(number: float, name: str) -> str:
    """
    Return a term of a sum with its sign before it.

    Parameters
    ----------
    number : float
        Factor.
    name : str
        What it multiplies.

    Returns
    -------
    str
        Such as `` + 2 * calcium`` or `` - nitrate``.
    """
    sign = "-" if number < 0.0 else "+"
    size = abs(number)
    return f" {sign} {name}" if size == 1.0 else f" {sign} {size:g} * {name}"


def signed_sum(terms: Sequence[str]) -> str:
    """
    Return terms of `signed_term` as one formula.

    Parameters
    ----------
    terms : sequence of str
        The terms.

    Returns
    -------
    str
        Their sum, empty without any.
    """
    return "".join(terms).removeprefix(" + ").strip()
