"""The mixing sheet of a batch as plain text: to read at the bench, or to print on A4."""

import math
from collections.abc import Sequence
from textwrap import wrap
from typing import Final

from service.api.batch import Batch
from service.api.formats.bench_lines import (
    OF_WEIGHING,
    bench_notes,
    pre_stocks,
    printable,
    problem_lines,
    refusal_words,
    row_lines,
    row_name,
)
from service.api.formats.mix_sheet import mix_lines
from service.planning import rows

WIDEST_LINE: Final = 94
LONGEST_WATER: Final = 15

HEADINGS: Final = ("id", "litres", "water", "put in, in this order", "EC", "pH", "see")
ID, LITRES, WATER, RECIPE, EC, PH, SEE = range(7)
RIGHT: Final = (LITRES, EC, PH)
GAP: Final = 2


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
        Weak stocks to make first, the rows, then what the notes mean.
    """
    keys: dict[str, int] = {}
    table = [_cells(batch, index, keys) for index in range(len(batch.outcomes))]
    widths = _widths(table)
    count = len(table)
    lines = [f"MIXING SHEET, {count} {'row' if count == 1 else 'rows'}", ""]
    lines += _stocks(batch)
    if batch.mixes is not None:
        names = [row_name(batch, index) for index in range(count)]
        lines += mix_lines(batch, names, lambda bits: _notes_of(bits, keys))
    lines += _row_lines([(text,) for text in HEADINGS], widths)
    lines.append("-" * WIDEST_LINE)
    for index, cells in enumerate(table):
        lines += _row_lines(cells, widths)
        lines += _remarks(batch, index)
    summary = batch.summary()
    lines += [
        "-" * WIDEST_LINE,
        f"{summary['ok']} to mix, {summary['infeasible']} not to mix,"
        f" {summary['rejected']} that could not be read. EC in mS/cm at 25 °C.",
        "Tick off each addition; stir before the next. Measure EC and pH before use.",
    ]
    lines += _legend("See", _note_texts(batch, keys))
    lines += _legend("Taken to be so", [("-", each["message"]) for each in batch.assumptions()])
    return "\n".join(printable(line).rstrip() for line in lines) + "\n"


def _widths(table: Sequence[Sequence[Sequence[str]]]) -> list[int]:
    widths = [
        max(
            len(text) for cells in (*table, [(each,) for each in HEADINGS]) for text in cells[place]
        )
        for place in range(len(HEADINGS))
    ]
    widths[SEE] = min(widths[SEE], 9)
    others = sum(widths) - widths[RECIPE] + GAP * (len(widths) - 1)
    widths[RECIPE] = max(WIDEST_LINE - others, 20)
    return widths


def _row_lines(cells: Sequence[Sequence[str]], widths: Sequence[int]) -> list[str]:
    """Return one row as lines; the recipe and the notes may take several."""
    columns = [
        [
            part
            for text in texts
            for part in (wrap(text, widths[place], subsequent_indent="  ") or [""])
        ]
        if place in (RECIPE, SEE)
        else list(texts)
        for place, texts in enumerate(cells)
    ]
    lines = []
    for line in range(max(len(column) for column in columns)):
        parts = []
        for place, column in enumerate(columns):
            text = column[line] if line < len(column) else ""
            width = widths[place]
            parts.append(text.rjust(width) if place in RIGHT else text.ljust(width))
        lines.append((" " * GAP).join(parts))
    return lines


def _remarks(batch: Batch, index: int) -> list[str]:
    outcome = batch.outcomes[index]
    texts = problem_lines(outcome)
    if outcome.remark:
        texts.append(printable(outcome.remark))
    indent = "    "
    return [
        line
        for text in texts
        for line in wrap(text, WIDEST_LINE, initial_indent=indent, subsequent_indent=indent + "  ")
    ]


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


def _cells(batch: Batch, index: int, keys: dict[str, int]) -> list[tuple[str, ...]]:
    """Return the cells of one row, each a tuple of lines; cautions become numbers of the legend."""
    outcome, result = batch.outcomes[index], batch.results[index]
    name = row_name(batch, index)
    status = rows.STATUSES[result["status"]]
    if status == "rejected":
        return [(name,), ("",), ("",), ("NOT READ",), ("",), ("",), ("",)]
    answer = batch.answers[index]
    bits = int(result["cautions"])
    if answer["mix"] is not None:
        bits &= ~OF_WEIGHING
    notes = _notes_of(bits, keys)
    water = outcome.water.replace("_", " ")[:LONGEST_WATER]
    if status == "infeasible":
        words = f"DO NOT MIX: {refusal_words(answer)}"
        return [
            (name,),
            (_number(answer["volume_l"], 1),),
            (water,),
            (words,),
            ("",),
            ("",),
            (notes,),
        ]
    if answer["mix"] is None:
        recipe = _recipe(batch, index)
        conductivity, ph = answer["predicted_ec_ms_per_cm"], answer["predicted_ph"]
    else:
        recipe, conductivity, ph = _poured(batch, index)
    return [
        (name,),
        (_number(answer["volume_l"], 1),),
        (water,),
        tuple(recipe),
        (_number(conductivity, 2),),
        (_number(ph, 1),),
        (notes,),
    ]


def _notes_of(bits: int, keys: dict[str, int]) -> str:
    """Return the numbers under which the legend explains caution bits."""
    return " ".join(str(keys.setdefault(each.code, len(keys) + 1)) for each in bench_notes(bits))


def _poured(batch: Batch, index: int) -> tuple[list[str], float | None, float | None]:
    """Return what a row gets from its mix, with conductivity and pH of the mix."""
    answer = batch.answers[index]
    below = answer["mix_below_own_percent"]
    weaker = f", {below:.0f} % below its own strength" if below >= 0.5 else ""
    words = f"[ ] from mix {answer['mix']}{weaker}"
    assert batch.mixes is not None
    ph = float(batch.mixes.planned.mixes[answer["mix"] - 1].fillings[0].result["predicted_ph"])
    return [words], answer["mix_ec_ms_per_cm"], ph if ph == ph else None


def _recipe(batch: Batch, index: int) -> list[str]:
    return [
        f"[ ] {each.amount} {each.words}".replace("  ", " ") for each in row_lines(batch, index)
    ]


def _stocks(batch: Batch) -> list[str]:
    """Return the weak stocks that rows take from, with how much of each is needed in all."""
    stocks = pre_stocks(batch)
    if not stocks:
        return []
    lines = ["MAKE FIRST, each made up to 1 L with pure water; label it, it keeps for weeks:"]
    for each in stocks:
        text = (
            f"[ ] {each.amount} of {each.product} to 1 L ({each.strength});"
            f" {each.needed_ml:.0f} mL needed, for {', '.join(each.users)}"
        )
        lines += wrap(text, WIDEST_LINE, initial_indent="  ", subsequent_indent="      ")
    return [*lines, ""]


def _number(value: float | None, decimals: int) -> str:
    """Return a number with these decimals, or with as many as its first two digits need."""
    if value is None:
        return ""
    if value != 0.0:
        decimals = max(decimals, 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"
