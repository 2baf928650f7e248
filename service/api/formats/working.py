"""A working for people: as plain text, as a table, and as a page to print."""

import re
from collections.abc import Mapping
from html import escape
from itertools import groupby
from typing import Final

from service.api.formats.csv_table import write_csv
from service.api.formats.page import page
from service.api.schemas.answer import Explanation, WorkingStep

READING: Final = (
    "A name in a formula is an earlier line, or a constant whose number stands below; ** is a"
    " power, significant(x, n) is x rounded to n digits, floor(x) the whole number below x."
    " The last lines are the answer."
)
"""How a working is read."""

COLUMNS: Final = ("order", "part", "quantity", "value", "unit", "how", "formula", "source", "field")
_NAME: Final = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
STYLE: Final = (
    "td.sum { font-family: ui-monospace, monospace; font-size: .85rem; }"
    " td.value { white-space: nowrap; font-weight: 600; }"
    " td.name { width: 30%; overflow-wrap: break-word; }"
    " @media (max-width: 34rem) { .working tr, .working td { display: block; width: auto; }"
    " .working td { border: 0; padding: .1rem 0; }"
    " .working tr { border-bottom: 1px solid var(--line); padding: .3rem 0; } }"
)


def shown(number: float) -> str:
    """Return a number with nine significant digits, about as a pocket calculator shows it."""
    return f"{number:.9g}"


def with_numbers(formula: str, inputs: Mapping[str, float]) -> str:
    """Return a formula with the numbers in the place of their names."""

    def number(match: re.Match[str]) -> str:
        name = match[0]
        if name not in inputs:
            return name
        value = inputs[name]
        alone = formula[match.start() - 1 : match.start()] in ("", "(") and (
            formula[match.end() : match.end() + 1] in ("", ",", ")")
        )
        return f"({shown(value)})" if value < 0.0 and not alone else shown(value)

    return _NAME.sub(number, formula)


def working_csv(working: Explanation, name: str) -> bytes:
    """Return one row for each line."""
    return write_csv(
        COLUMNS, [[getattr(step, column) for column in COLUMNS] for step in working.steps]
    )


def working_text(working: Explanation, name: str) -> str:
    """Return the lines as plain text."""
    lines = [f"How it was found: {name}, status {working.status}", READING, ""]
    for part, steps in groupby(working.steps, key=lambda step: step.part):
        lines.append(part.upper())
        for step in steps:
            unit = "" if step.unit == "1" else f" {step.unit}"
            source = "" if step.source is None else f"  [{step.source}]"
            lines.append(f"{step.order:>4}. {step.quantity} = {shown(step.value)}{unit}{source}")
            lines.append(f"      {step.formula}")
            if step.inputs:
                lines.append(f"      = {with_numbers(step.formula, step.inputs)}")
        lines.append("")
    for conflict in working.conflicts:
        lines.append(conflict.message)
    return "\n".join(lines)


def working_table(steps: list[WorkingStep]) -> str:
    """Return the lines as tables in HTML, one for each part."""
    tables = []
    for part, lines in groupby(steps, key=lambda step: step.part):
        rows = "".join(_row(step) for step in lines)
        tables.append(f'<h2>{escape(part.capitalize())}</h2><table class="working">{rows}</table>')
    return "".join(tables)


def _row(step: WorkingStep) -> str:
    """Return a line as a row of a table."""
    unit = "" if step.unit == "1" else f" {escape(step.unit)}"
    formula = escape(step.formula)
    if step.inputs:
        formula += f"<br>= {escape(with_numbers(step.formula, step.inputs))}"
    source = ""
    if step.source is not None:
        key = escape(step.source, quote=True)
        source = f'<br><a class="soft" href="/v1/sources/{key}">{_broken(step.source)}</a>'
    return (
        f'<tr><td>{step.order}</td><td class="name">{_broken(step.quantity)}{source}</td>'
        f'<td class="sum">{formula}</td><td class="value">{shown(step.value)}{unit}</td></tr>'
    )


def _broken(name: str) -> str:
    """Return a name that may be broken after its parts, not within them."""
    return re.sub(r"([_.-])", r"\1<wbr>", escape(name))


def working_html(working: Explanation, name: str) -> str:
    """Return the working as a page."""
    conflicts = "".join(
        f"<p class='danger'>{escape(each.message)}</p>" for each in working.conflicts
    )
    body = (
        f"<h1>How it was found</h1><p class='soft'>{escape(name)}, status"
        f" {escape(working.status)}. {READING}</p>{conflicts}{working_table(working.steps)}"
    )
    return page("How it was found", body, more_style=STYLE)
