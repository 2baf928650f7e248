"""The mixing sheet of a batch as plain text: to read at the bench, or to print on A4."""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Any, Final

from service.api.batch import Batch
from service.api.formats.mix_sheet import mix_lines, weighed_cans
from service.planning import rows
from service.planning.card import acid_portion, additions
from service.planning.cautions import CAUTIONS, Notice, caution_bit, notices

WIDEST_LINE: Final = 94
LONGEST_ID: Final = 16
LONGEST_WATER: Final = 15
BENCH_NOTES: Final = (
    "pre_stock",
    "acid_pre_dilution",
    "urea_not_on_the_meter",
    "brushite_may_form_open",
)
"""Notes of severity `info` that change what is done at the bench."""

OF_WEIGHING: Final = int(
    caution_bit("pre_stock") | caution_bit("acid_pre_dilution") | caution_bit("nothing_to_measure")
)
"""Cautions of a row that its mix answers for."""

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
        names = [_row_name(batch, index) for index in range(count)]
        lines += mix_lines(
            batch.mixes.planned,
            names,
            batch.catalogue,
            lambda each: _addition(each, batch),
            lambda bits: _notes_of(bits, keys),
        )
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


def printable(line: str) -> str:
    """Return a line without signs that would break it, or that a terminal would obey."""
    return "".join(sign if sign.isprintable() else " " for sign in line)


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
    texts = [printable(f"{_place(each.pointer)}{each.detail}") for each in outcome.problems]
    if outcome.remark:
        texts.append(printable(outcome.remark))
    indent = "    "
    return [
        line
        for text in texts
        for line in wrap(text, WIDEST_LINE, initial_indent=indent, subsequent_indent=indent + "  ")
    ]


def _place(pointer: str | None) -> str:
    name = (pointer or "#").removeprefix("#").strip("/").replace("/", ".")
    return f"{name}: " if name else ""


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
    name = (outcome.id or f"{index + 1}")[:LONGEST_ID]
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
        share = answer["feasible_water_share_percent"]
        words = "DO NOT MIX: the acid brings too much phosphorus; take another"
        if share is not None:
            words = f"DO NOT MIX: water too strong; at most {share:.0f} % of it, the rest pure"
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
    shown = [each for each in notices(bits, CAUTIONS) if _for_bench(each)]
    return " ".join(str(keys.setdefault(each.code, len(keys) + 1)) for each in shown)


def _for_bench(notice: Notice) -> bool:
    """Tell what somebody who mixes must know from what can be read at leisure."""
    return notice.severity != "info" or notice.code in BENCH_NOTES


def _row_name(batch: Batch, index: int) -> str:
    return printable(batch.outcomes[index].id or f"{index + 1}")[:LONGEST_ID]


def _mix_number(batch: Batch, index: int) -> int | None:
    number: int | None = batch.answers[index]["mix"]
    return number


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
    row, result = batch.requests[index], batch.results[index]
    lines = [f"[ ] {_addition(each, batch)}" for each in additions(row, result, batch.catalogue)]
    acid = acid_portion(row, result)
    if acid is not None and acid["amount"] > 0.0:
        halved = 0.0 < acid["first"] < acid["amount"]
        how = ": half, wait 15 min, measure, then the rest" if halved else ""
        lines.append(f"[ ] {acid['amount_text']} {acid['name']}{how}")
    return lines or ["[ ] plain water"]


def _name(product: str, batch: Batch) -> str:
    position = batch.catalogue.product_positions.get(product)
    return printable(product if position is None else batch.catalogue.product_rows[position].name)


def _addition(each: dict[str, Any], batch: Batch) -> str:
    name = _name(each["product"], batch)
    stock = each["pre_stock"]
    if stock is not None:
        return f"{stock['volume_ml']:g} mL of the {_strength(stock)} stock of {name}"
    if each["mass_g"] is not None:
        return f"{each['mass_g']:g} g {name}"
    return f"{each['volume_ml']:g} mL {name}"


def _strength(stock: dict[str, Any]) -> str:
    return f"{stock['g_per_l']:g} g/L" if stock["g_per_l"] else f"{stock['ml_per_l']:g} mL/L"


def _cans(batch: Batch) -> Iterator[tuple[str, Any, Any, int]]:
    """Yield name, request, result and number of every can that is weighed in."""
    if batch.mixes is not None:
        yield from weighed_cans(batch.mixes.planned)
    for index in range(len(batch.outcomes)):
        ok = batch.results[index]["status"] == rows.STATUSES.index("ok")
        if ok and _mix_number(batch, index) is None:
            yield _row_name(batch, index), batch.requests[index], batch.results[index], 1


def _stocks(batch: Batch) -> list[str]:
    """Return the weak stocks that rows take from, with how much of each is needed in all."""
    needed: dict[tuple[str, str], float] = defaultdict(float)
    users: dict[tuple[str, str], list[str]] = defaultdict(list)
    for name, row, result, times in _cans(batch):
        for each in additions(row, result, batch.catalogue):
            if each["pre_stock"] is not None:
                key = (each["product"], _strength(each["pre_stock"]))
                needed[key] += times * each["pre_stock"]["volume_ml"]
                users[key].append(name)
    if not needed:
        return []
    lines = ["MAKE FIRST, each made up to 1 L with pure water; label it, it keeps for weeks:"]
    for key, volume in needed.items():
        product, strength = key
        amount = strength.replace("/L", "")
        text = (
            f"[ ] {amount} of {_name(product, batch)} to 1 L ({strength});"
            f" {volume:.0f} mL needed, for {', '.join(users[key])}"
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
