"""
A batch as a page for the bench and for A4: cans first, the rows under the can that they take from.

Every addition has a box to tick and its amount in large figures; no row is cut by the end of a
page; what the numbers rest on is opened on request, and printed only when it is open.
"""

from collections.abc import Iterator, Sequence
from html import escape
from typing import Any, Final

from service.api.batch import Batch
from service.api.formats.bench_lines import (
    OF_WEIGHING,
    BenchLine,
    bench_notes,
    can_lines,
    mix_bits,
    mix_conductivity,
    mix_ph,
    pre_stocks,
    printable,
    problem_lines,
    refusal_words,
    row_lines,
    row_name,
)
from service.api.formats.page import page, table
from service.api.formats.programme_texts import SAFETY_WORDS, quantity
from service.planning import rows
from service.planning.mix_cans import Filling
from service.planning.words import BINDING_WORDS

MOST_PRINTED: Final = 5_000
"""Rows beyond this make no page: some two hundred sheets of paper."""

TITLE: Final = "Mixing sheet"
STYLE: Final = """
.batch { max-width: 60rem; }
.can { border: 2px solid var(--soft); border-radius: .4rem; padding: .7rem .9rem; margin: .9rem 0;
  box-decoration-break: clone; }
.can h3 { font-size: 1.3rem; margin: 0; } .can h4 { font-size: 1rem; margin: .7rem 0 0; }
.own { display: grid; grid-template-columns: repeat(auto-fill, minmax(20rem, 1fr)); gap: 0 1.6rem; }
.row { border-top: 2px solid var(--soft); padding: .5rem 0 .7rem; }
.row h3 { font-size: 1.2rem; margin: 0; overflow-wrap: anywhere; }
.own .steps label { grid-template-columns: 2.1rem 6.8rem 1fr; min-height: 2.6rem; }
.own .amount { font-size: 1.5rem; } .own .what, .taking .what { font-size: 1rem; }
.taking { display: grid; grid-template-columns: repeat(auto-fill, minmax(17rem, 1fr));
  gap: 0 1.2rem; list-style: none; margin: 0; padding: 0; }
.taking label { display: grid; grid-template-columns: 1.9rem 5.6rem 1fr; gap: .5rem;
  align-items: center; padding: .3rem 0; min-height: 2.4rem; }
.taking input { width: 1.5rem; height: 1.5rem; margin: 0; accent-color: var(--lead); }
.taking .amount { font-size: 1.3rem; }
.taking .what { overflow-wrap: anywhere; }
.notes li { margin: .3rem 0; }
@media (max-width: 34rem) { .own { grid-template-columns: 1fr; }
  .own .steps label { grid-template-columns: 2.1rem 1fr; } }
@media print {
  .batch { max-width: none; } .row, .taking li { break-inside: avoid; }
  .can h3, .can h4 { break-after: avoid; } .own { grid-template-columns: 1fr 1fr; gap: 0 7mm; }
  .taking { grid-template-columns: 1fr 1fr; }
  .own .steps label { grid-template-columns: 7mm 26mm 1fr; min-height: 0; padding: 1mm 0; }
  .own .amount { font-size: 15pt; } .own .what, .taking .what { font-size: 10pt; }
  .taking .amount { font-size: 13pt; }
  .taking label { grid-template-columns: 7mm 23mm 1fr; min-height: 0; padding: .8mm 0; }
  .taking input { appearance: none; width: 5mm; height: 5mm; border: .4mm solid #000; }
}
"""


class _Notes(dict[str, int]):
    """Numbers of the notes at the foot, in the order in which they are first needed."""

    def see(self, bits: int) -> str:
        """Return the numbers that caution bits lead to, as words; empty for none."""
        numbers = [self.setdefault(each.code, len(self) + 1) for each in bench_notes(bits)]
        return f" · see {', '.join(map(str, sorted(numbers)))}" if numbers else ""


def batch_sheet(batch: Batch) -> str:
    """
    Return the page of a planned batch.

    Parameters
    ----------
    batch : Batch
        Rows in the order of the request, at most `MOST_PRINTED`.

    Returns
    -------
    str
        HTML, complete.
    """
    notes = _Notes()
    summary = batch.summary()
    counted = [
        f"{summary['total']} {'row' if summary['total'] == 1 else 'rows'}",
        f"{summary['ok']} to mix",
    ]
    if summary["infeasible"]:
        counted.append(f"{summary['infeasible']} not to mix")
    if summary["rejected"]:
        counted.append(f"{summary['rejected']} that could not be read")
    parts = [
        f'<div class="batch"><h1>{TITLE}</h1><p class="soft">{escape(" · ".join(counted))}.'
        " Conductivity (EC) in mS/cm at 25 °C.</p>",
        _refused(batch),
        _stocks(batch),
        _mixes(batch, notes),
        _own_cans(batch, notes),
        _legend(batch, notes),
        f"<section><h2>Safety</h2><p>{escape(SAFETY_WORDS)}</p>"
        "<p>Tick off each addition and stir before the next. Measure conductivity and pH before"
        " use.</p></section>",
        _working(batch),
        "</div>",
    ]
    return page(TITLE, "".join(parts), more_style=STYLE)


def _indices(batch: Batch, status: str) -> list[int]:
    wanted = rows.STATUSES.index(status)
    return [int(each) for each in (batch.results["status"] == wanted).nonzero()[0]]


def _refused(batch: Batch) -> str:
    """Return the rows of which nothing may be mixed; first, so that nobody misses them."""
    lines = []
    for index in _indices(batch, "infeasible"):
        lines.append((row_name(batch, index), "Do not mix", refusal_words(batch.answers[index])))
    for index in _indices(batch, "rejected"):
        problems = " ".join(problem_lines(batch.outcomes[index]))
        lines.append((row_name(batch, index), "Not read", problems))
    if not lines:
        return ""
    return f"<section><h2>Nothing for these</h2>{table(('row', 'what', 'why'), lines)}</section>"


def _stocks(batch: Batch) -> str:
    stocks = pre_stocks(batch)
    if not stocks:
        return ""
    lines = [
        BenchLine(
            each.amount,
            f"{each.product}, made up to 1 L with pure water: {each.strength}."
            f" {each.needed_ml:.0f} mL are needed.",
        )
        for each in stocks
    ]
    return (
        '<section><h2>Make first</h2><p class="soft">Weak stocks; label them, they keep for'
        f" weeks.</p>{_boxes(lines)}</section>"
    )


def _boxes(lines: Sequence[BenchLine]) -> str:
    listed = "".join(
        f'<li><label><input type="checkbox"><span class="amount">{escape(each.amount)}</span>'
        f'<span class="what">{escape(each.words)}</span></label></li>'
        for each in lines
    )
    return f'<ol class="steps">{listed}</ol>'


def _mixes(batch: Batch, notes: _Notes) -> str:
    """Return the shared cans, under each the rows that take from it."""
    if batch.mixes is None:
        return ""
    planned = batch.mixes.planned
    parts = ["<section><h2>Mix in this order</h2>"]
    if not planned.feasible:
        parts.append('<p class="danger">Not all wishes can be kept; these are the nearest.</p>')
    for place, mix in enumerate(planned.mixes):
        ph = mix_ph(mix)
        figures = f"EC {mix_conductivity(mix):.2f} · pH {'unknown' if ph is None else f'{ph:.1f}'}"
        see = notes.see(mix_bits(mix))
        parts.append(
            f'<article class="can"><h3>Mix {place + 1}: {quantity(mix.made_l)} L</h3>'
            f'<p class="soft">{figures}{see}</p>'
        )
        parts += [_can(batch, mix, filling) for filling in mix.fillings]
        taking = "".join(_taking(batch, int(index), notes) for index in mix.rows)
        parts.append(f'<h4>For these plants</h4><ul class="taking">{taking}</ul></article>')
    return "".join([*parts, "</section>"])


def _can(batch: Batch, mix: Any, filling: Filling) -> str:
    often = f"{filling.times} cans of " if filling.times > 1 else "One can of "
    each_one = ", each:" if filling.times > 1 else ":"
    return (
        f"<h4>{often}{quantity(filling.volume_l)} L{each_one}</h4>"
        f"{_boxes(can_lines(batch, mix, filling))}"
    )


def _taking(batch: Batch, index: int, notes: _Notes) -> str:
    """Return a row that takes from a shared can."""
    answer, outcome = batch.answers[index], batch.outcomes[index]
    below = answer["mix_below_own_percent"]
    weaker = f" · {below:.0f} % below its own strength" if below >= 0.5 else ""
    see = notes.see(int(batch.results[index]["cautions"]) & ~OF_WEIGHING)
    small = f"<small>{escape(printable(outcome.remark))}</small>" if outcome.remark else ""
    return (
        '<li><label><input type="checkbox">'
        f'<span class="amount">{answer["volume_l"]:.3g} L</span>'
        f'<span class="what"><strong>{escape(row_name(batch, index))}</strong>'
        f"{escape(weaker + see)} {small}</span></label></li>"
    )


def _own_cans(batch: Batch, notes: _Notes) -> str:
    """Return the rows that are mixed on their own."""
    alone = [i for i in _indices(batch, "ok") if batch.answers[i]["mix"] is None]
    if not alone:
        return ""
    listed = "".join(_own_can(batch, index, notes) for index in alone)
    heading = "Cans of their own" if batch.mixes is not None else "The cans"
    return f'<section><h2>{heading}</h2><div class="own">{listed}</div></section>'


def _own_can(batch: Batch, index: int, notes: _Notes) -> str:
    answer, outcome = batch.answers[index], batch.outcomes[index]
    figures = [f"EC {answer['predicted_ec_ms_per_cm']:.2f}"]
    if answer["predicted_ph"] is not None:
        figures.append(f"pH {answer['predicted_ph']:.1f}")
    about = " · ".join([outcome.water.replace("_", " "), *figures])
    see = notes.see(int(batch.results[index]["cautions"]))
    remark = f'<p class="soft">{escape(printable(outcome.remark))}</p>' if outcome.remark else ""
    return (
        f'<article class="row"><h3>{escape(row_name(batch, index))}:'
        f" {quantity(answer['volume_l'])} L</h3>"
        f'<p class="soft">{escape(printable(about) + see)}</p>{remark}'
        f"{_boxes(row_lines(batch, index))}</article>"
    )


def _legend(batch: Batch, notes: _Notes) -> str:
    """Return what the numbers of the notes mean."""
    if not notes:
        return ""
    words = {each["code"]: each for each in batch.cautions()}
    listed = "".join(
        f'<li value="{number}" class="{words[code]["severity"]}">'
        f"{escape(words[code]['message'])}</li>"
        for code, number in notes.items()
    )
    return f'<section><h2>Notes</h2><ol class="notes">{listed}</ol></section>'


def _working(batch: Batch) -> str:
    """Return what the amounts rest on."""
    head = ("row", "what decided the amount", "nitrogen, mg/L", "a plant and month, mg", "pH later")
    listed = table(head, list(_worked_rows(batch)))
    taken = "".join(f"<li>{escape(each['message'])}</li>" for each in batch.assumptions())
    return (
        f"<details><summary>How it was found</summary>{listed}"
        f"<p>Taken to be so:</p><ul>{taken}</ul></details>"
    )


def _worked_rows(batch: Batch) -> Iterator[tuple[str, ...]]:
    for index in _indices(batch, "ok"):
        answer = batch.answers[index]
        monthly, later = answer["nitrogen_mg_per_plant_per_month"], answer["predicted_ph_open"]
        yield (
            row_name(batch, index),
            BINDING_WORDS[answer["binding_limit"] or "none"],
            quantity(answer["nitrogen_mg_per_l"]),
            "" if monthly is None else quantity(monthly),
            "" if later is None else f"{later:.1f}",
        )
