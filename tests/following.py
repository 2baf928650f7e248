"""
Follow a working as a reader with a pocket calculator does, with no code of the service.

Every formula is evaluated on the numbers that stand beside it; a number that comes from an earlier
line must be the number of that line; and the last line of each field must be the plain answer.
"""

import ast
import math
from collections.abc import Iterator
from typing import Any

AROUND = (
    "conflicts",
    "nearest",
    "display",
    "inputs",
    "assumptions",
    "cautions",
    "models",
    "sources",
    "version",
    "steps",
)
"""Fields of an answer that stand around its results."""

AGREES = 1e-6
"""Relative difference: a speciation for a reading is known to a millionth."""

NOTHING = 2e-5
"""Share of the ionic strength that a balance may leave: twenty species that are not shown."""

CALLED = {
    "min": min,
    "max": max,
    "exp": math.exp,
    "log": math.log,
    "log10": math.log10,
    "floor": math.floor,
    "nearest": round,
    "significant": lambda value, digits: float(f"{value:.{int(digits)}g}") + 0.0,
}


def calculated(formula: str, inputs: dict[str, float]) -> float:
    """Return the value of a formula: arithmetic on named numbers, and nothing else."""

    def value(node: ast.AST) -> float:
        if isinstance(node, ast.Expression):
            return value(node.body)
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            return float(node.value)
        if isinstance(node, ast.Name):
            return inputs[node.id]
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            return -value(node.operand)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and not node.keywords:
            return float(CALLED[node.func.id](*map(value, node.args)))
        if isinstance(node, ast.BinOp):
            left, right = value(node.left), value(node.right)
            if isinstance(node.op, ast.Add):
                return left + right
            if isinstance(node.op, ast.Sub):
                return left - right
            if isinstance(node.op, ast.Mult):
                return left * right
            if isinstance(node.op, ast.Div):
                return left / right
            if isinstance(node.op, ast.Pow):
                return left**right
        raise AssertionError(f"{ast.dump(node)} is no arithmetic")

    return value(ast.parse(formula, mode="eval"))


def numbers_of(node: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Yield the dotted names of all numbers of an answer's results."""
    if isinstance(node, dict):
        for name, inner in node.items():
            if path or name not in AROUND:
                yield from numbers_of(inner, f"{path}{name}.")
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            yield from numbers_of(inner, f"{path}{place}.")
    elif isinstance(node, int | float) and not isinstance(node, bool):
        yield path[:-1], float(node)


def is_written_out(step: dict[str, Any]) -> bool:
    """Tell whether a line has a formula and not words."""
    return step["how"] in ("computed", "check", "answer")


def faults_of(working: dict[str, Any]) -> list[str]:
    """Return every line of a working that a reader cannot follow."""
    found = []
    known: dict[str, float] = {}
    strength = 0.0
    for place, step in enumerate(working["steps"], start=1):
        name = step["quantity"]
        if step["order"] != place:
            found.append(f"{name}: line {step['order']} stands at {place}")
        if is_written_out(step):
            found += [
                f"{name}: {each} is {step['inputs'][each]}, and was {known[each]}"
                for each in step["inputs"]
                if each in known and known[each] != step["inputs"][each]
            ]
            found += fault_of(step, strength)
        elif step["inputs"]:
            found.append(f"{name}: words with inputs")
        if step["field"] is None:
            if name in known:
                found.append(f"{name}: stands twice")
            known[name] = step["value"]
        elif step["field"] != name:
            found.append(f"{name}: is called {step['field']}")
        if name.endswith("ionic_strength"):
            strength = step["value"]
    return found


def fault_of(step: dict[str, Any], strength: float) -> list[str]:
    """Return what is wrong with the value of a line."""
    try:
        value = calculated(step["formula"], step["inputs"])
    except (KeyError, ZeroDivisionError, ValueError, SyntaxError, OverflowError) as error:
        return [f"{step['quantity']}: {step['formula']} fails with {error!r}"]
    told = step["value"]
    if step["how"] == "check":
        right = abs(told) <= NOTHING * strength and abs(value - told) <= 1e-12
    elif step["how"] == "answer":
        right = value == told
    else:
        # Differences of large numbers are known as well as those numbers.
        largest = max([abs(each) for each in step["inputs"].values()], default=0.0)
        least = 1e-9 if step["unit"] == "%" else 1e-9 * min(largest, 1.0)
        right = abs(value - told) <= AGREES * abs(told) + least
    return [] if right else [f"{step['quantity']}: {step['formula']} is {value}, told {told}"]


def fields_of(working: dict[str, Any]) -> dict[str, float]:
    """Return the fields that a working ends in; each stands there once."""
    fields: dict[str, float] = {}
    for step in working["steps"]:
        if step["field"] is not None:
            assert step["field"] not in fields, step["field"]
            assert step["how"] == "answer"
            fields[step["field"]] = step["value"]
    return fields
