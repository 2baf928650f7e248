"""
The formulas of a working: arithmetic on named quantities, and nothing else.

A reader evaluates them with a pocket calculator, a program with a few lines; the same few lines
are here, for the values that no finished result holds.
"""

import ast
import functools
import math
import operator
from collections.abc import Callable, Mapping
from typing import Final


def significant(value: float, digits: float) -> float:
    """
    Return a number rounded to significant digits, as answers are.

    Parameters
    ----------
    value : float
        The number.
    digits : float
        How many digits stay.

    Returns
    -------
    float
        The rounded number.
    """
    return float(f"{value:.{int(digits)}g}") + 0.0


FUNCTIONS: Final[Mapping[str, Callable[..., float]]] = {
    "min": min,
    "max": max,
    "exp": math.exp,
    "log": math.log,
    "log10": math.log10,
    "floor": math.floor,
    "nearest": round,
    "significant": significant,
}
"""
What a formula may call; `log` is the natural logarithm, `floor` the whole number below, `nearest`
the nearest whole number, the even one of two.
"""

_OPERATORS: Final[Mapping[type[ast.AST], Callable[..., float]]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


@functools.lru_cache(maxsize=4096)
def _parsed(formula: str) -> ast.Expression:
    """Return a formula read; the same ones come with every request."""
    return ast.parse(formula, mode="eval")


@functools.lru_cache(maxsize=4096)
def names_in(formula: str) -> tuple[str, ...]:
    """
    Return the quantities that a formula names, each once, in order.

    Parameters
    ----------
    formula : str
        The formula.

    Returns
    -------
    tuple of str
        Names that are no functions.
    """
    found = [
        (node.lineno, node.col_offset, node.id)
        for node in ast.walk(_parsed(formula))
        if isinstance(node, ast.Name) and node.id not in FUNCTIONS
    ]
    return tuple(dict.fromkeys(name for _, _, name in sorted(found)))


def evaluated(formula: str, values: Mapping[str, float]) -> float:
    """
    Return the value of a formula.

    Parameters
    ----------
    formula : str
        Numbers, names, ``+ - * / **`` and the functions of `FUNCTIONS`.
    values : mapping of str to float
        The named quantities.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If the formula holds anything else.
    KeyError
        If a quantity is not among the values.
    """
    return _value(_parsed(formula).body, values, formula)


def _value(node: ast.expr, values: Mapping[str, float], formula: str) -> float:
    """Return the value of a part of a formula."""
    match node:
        case ast.Constant(value=float() | int() as number) if not isinstance(number, bool):
            return float(number)
        case ast.Name(id=name):
            return values[name]
        case ast.BinOp(left=left, op=sign, right=right) if type(sign) in _OPERATORS:
            parts = _value(left, values, formula), _value(right, values, formula)
            return float(_OPERATORS[type(sign)](*parts))
        case ast.UnaryOp(op=ast.USub(), operand=inner):
            return -_value(inner, values, formula)
        case ast.Call(func=ast.Name(id=name), args=list(inner), keywords=[]) if name in FUNCTIONS:
            return float(FUNCTIONS[name](*(_value(each, values, formula) for each in inner)))
    message = f"{formula!r} is no formula of a working"
    raise ValueError(message)
