"""The mixing sheet of a batch as plain text: a table to read at the bench or to print."""

import math
from collections.abc import Sequence
from textwrap import wrap
from typing import Any, Final

from service.api.batch import Batch
from service.planning import rows
from service.planning.card import additions
from service.planning.cautions import CAUTIONS, Notice, notices

WIDEST_LINE: Final = 118
LONGEST_ID: Final = 24
BENCH_NOTES: Final = ("pre_stock", "acid_pre_dilution", "urea_not_on_the_meter")
"""Notes of severity `info` that change what is done at the bench."""

HEADINGS: Final = ("id", "litres", "add", "acid", "EC mS/cm", "pH", "notes")


def mixing_sheet(batch: Batch) -> str:
    """
    Return the sheet of a planned batch.

    Parameters
    ----------
    batch : Batch
        Rows in the order of the request.

    Returns
    -------
    str
        Table, then what the notes mean; no line is longer than `WIDEST_LINE`.
    """
    keys: dict[str, int] = {}
    table = [_line(batch, index, keys) for index in range(len(batch.outcomes))]
    widths = [max(len(row[column]) for row in (HEADINGS, *table)) for column in range(6)]
    room = WIDEST_LINE - sum(widths) - 2 * len(widths)
    lines = ["MIXING SHEET", ""]
    lines += _wrapped(HEADINGS, widths, room)
    lines.append("-" * WIDEST_LINE)
    for row in table:
        lines += _wrapped(row, widths, room)
    summary = batch.summary()
    lines += [
        "",
        f"{summary['total']} rows: {summary['ok']} to mix, {summary['infeasible']} that this water"
        f" cannot meet, {summary['rejected']} that could not be read.",
    ]
    lines += _legend("Notes", _note_texts(batch, keys))
    said = [each["message"] for each in batch.assumptions()]
    lines += _legend("Taken to be so", [("-", text) for text in said])
    return "\n".join(lines) + "\n"


def _note_texts(batch: Batch, keys: dict[str, int]) -> list[tuple[str, str]]:
    words = {each["code"]: each for each in batch.cautions()}
    return [
        (f"{number}", f"{words[code]['severity'].upper()}: {words[code]['message']}")
        for code, number in keys.items()
    ]


def _legend(title: str, entries: Sequence[tuple[str, str]]) -> list[str]:
    if not entries:
        return []
    lines = ["", f"{title}:"]
    for mark, text in entries:
        first, *more = wrap(text, WIDEST_LINE - 6)
        lines.append(f"{mark:>4}  {first}")
        lines += [f"      {each}" for each in more]
    return lines


def _line(batch: Batch, index: int, keys: dict[str, int]) -> tuple[str, ...]:
    """Return the cells of one row; caution codes become numbers of the legend."""
    outcome, result = batch.outcomes[index], batch.results[index]
    name = printable(outcome.id or f"{index + 1}")[:LONGEST_ID]
    status = rows.STATUSES[result["status"]]
    if status == "rejected":
        why = printable("; ".join(fault.detail for fault in outcome.problems))
        return (name, "", "NOT READ", "", "", "", why)
    answer = batch.row(index)
    shown = [each for each in notices(int(result["cautions"]), CAUTIONS) if _for_bench(each)]
    notes = " ".join(str(keys.setdefault(each.code, len(keys) + 1)) for each in shown)
    add = _additions(batch, index) if status == "ok" else "WATER TOO STRONG"
    return (
        name,
        _number(answer["volume_l"], 1),
        add,
        _acid(answer["acid_volume_ml"], answer["acid_mass_g"]),
        _number(answer["predicted_ec_ms_per_cm"], 2),
        _number(answer["predicted_ph"], 1),
        notes,
    )


def _for_bench(notice: Notice) -> bool:
    """Tell what somebody who mixes must know from what can be read at leisure."""
    return notice.severity != "info" or notice.code in BENCH_NOTES


def _additions(batch: Batch, index: int) -> str:
    listed = additions(batch.requests[index], batch.results[index], batch.catalogue)
    return " + ".join(_addition(each) for each in listed) or "plain water"


def _addition(each: dict[str, Any]) -> str:
    name = printable(each["product"].replace("_", " "))
    stock = each["pre_stock"]
    if stock is not None:
        strength = (
            f"{stock['g_per_l']:g} g/L" if stock["g_per_l"] else f"{stock['ml_per_l']:g} mL/L"
        )
        return f"{_number(stock['volume_ml'], 1)} mL of {strength} pre-stock, {name}"
    if each["mass_g"] is not None:
        return f"{_number(each['mass_g'], 2)} g {name}"
    return f"{_number(each['volume_ml'], 1)} mL {name}"


def _acid(volume_ml: float | None, mass_g: float | None) -> str:
    """Return the acid as it is measured; weighed where its density is not known."""
    if volume_ml is None:
        return f"{_number(mass_g, 2)} g" if mass_g else ""
    return f"{_number(volume_ml, 2)} mL" if volume_ml else ""


def _number(value: float | None, decimals: int) -> str:
    """Return a number with these decimals, or with as many as its first three digits need."""
    if value is None:
        return ""
    if value != 0.0:
        decimals = max(decimals, 2 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def printable(text: str) -> str:
    """Return a text of the caller on one line, without signs that a terminal would obey."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _wrapped(cells: Sequence[str], widths: Sequence[int], room: int) -> list[str]:
    """Return one row as lines; only the last column may take several."""
    parts = wrap(cells[6], max(room, 20)) or [""]
    shown = []
    for position, width in enumerate(widths):
        left = position in (0, 2)
        shown.append(cells[position].ljust(width) if left else cells[position].rjust(width))
    lead = "  ".join(shown)
    blank = " " * len(lead)
    return [f"{lead if place == 0 else blank}  {part}".rstrip() for place, part in enumerate(parts)]
