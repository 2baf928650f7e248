"""
A feeding programme as a page to hang beside the bench: month by month, with boxes to tick.

The page needs no script and no other file, follows the light or dark of the screen, and prints on
A4 in black on white.
"""

import calendar
from collections.abc import Mapping, Sequence
from datetime import date
from html import escape
from typing import Final

from service.api.feeding_programme import Programme
from service.api.formats.programme_texts import (
    GROWTH_WORDS,
    KIND_WORDS,
    SAFETY_WORDS,
    amount_words,
    plain_name,
    quantity,
    strength_words,
)
from service.api.schemas.programmes import (
    ProductTotal,
    ProgrammeEvent,
    ProgrammeMonth,
)

MONTHS: Final = tuple(calendar.month_name)
DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

STYLE: Final = """
:root { color-scheme: light dark; --ink: #1c2321; --soft: #5a6562; --line: #c9d1ce;
  --page: #fbfcfb; --cell: #ffffff; --feed: #2f6b3c; --supplement: #1f5f8b; --stimulant: #7a4b12;
  --water: #4d6b78; --flush: #0b6e75; --repot_check: #7b3b6b; --warn: #8a3b00; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6ebe9; --soft: #a3afab; --line: #3b4643;
  --page: #151a19; --cell: #1d2423; --feed: #8fd19c; --supplement: #8cc4ec; --stimulant: #e0b070;
  --water: #a9c3cf; --flush: #7fd0d5; --repot_check: #dba3cc; --warn: #f0a878; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 64rem; background: var(--page);
  color: var(--ink); font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.4rem; margin: 0 0 .3rem; } h2 { font-size: 1.15rem; margin: 1.6rem 0 .4rem; }
p { margin: .3rem 0; } .soft { color: var(--soft); font-size: .875rem; }
table { border-collapse: collapse; width: 100%; font-size: .875rem; }
th, td { text-align: left; vertical-align: top; padding: .25rem .5rem .25rem 0;
  border-bottom: 1px solid var(--line); overflow-wrap: anywhere; }
th { font-weight: 600; } th.mark { font-weight: 700; white-space: nowrap; }
.days { list-style: none; margin: 0; padding: 0; display: grid;
  grid-template-columns: repeat(7, minmax(0, 1fr)); border: solid var(--line);
  border-width: 1px 0 0 1px; }
.days li { background: var(--cell); border: solid var(--line); border-width: 0 1px 1px 0;
  min-height: 4.6rem; padding: .25rem; font-size: .8125rem; }
.days li.name { min-height: 0; font-weight: 600; color: var(--soft); }
.days li.blank { background: var(--page); }
.days b { display: block; color: var(--soft); font-weight: 600; }
.days b span { display: none; }
label { display: flex; gap: .3rem; align-items: center; margin: .15rem 0; }
input { width: 1.5rem; height: 1.5rem; margin: 0; flex: none; accent-color: currentColor; }
.feed { color: var(--feed); } .supplement { color: var(--supplement); }
.stimulant { color: var(--stimulant); } .water { color: var(--water); }
.flush { color: var(--flush); } .repot_check { color: var(--repot_check); }
.warning { color: var(--warn); }
@media screen and (max-width: 42rem) {
  .days { display: block; border: 0; }
  .days li { min-height: 0; padding: .4rem 0; border-width: 0 0 1px; background: none;
    font-size: 1rem; display: grid; grid-template-columns: 7.6rem 1fr; }
  .days b { white-space: nowrap; line-height: 2rem; }
  .days li.empty, .days li.name, .days li.blank { display: none; }
  .days b span { display: inline; } .days div { grid-column: 2; }
  label { min-height: 2rem; align-items: center; }
  table.cans, table.cans tbody, table.cans tr, table.cans th,
  table.cans td { display: block; width: 100%; }
  table.cans thead { display: none; } table.cans tr { border-bottom: 1px solid var(--line);
    padding: .4rem 0; } table.cans th, table.cans td { border: 0;
    padding: 0; }
}
@page { size: A4; margin: 12mm; }
@media print {
  :root { color-scheme: light; --ink: #000; --soft: #333; --line: #888; --page: #fff;
    --cell: #fff; --feed: #000; --supplement: #000; --stimulant: #000; --water: #000;
    --flush: #000; --repot_check: #000; --warn: #000; }
  body { padding: 0; max-width: none; font-size: 9pt; }
  h1 { font-size: 14pt; } h2 { font-size: 11pt; margin-top: 4mm; break-after: avoid; }
  section.month { break-inside: avoid; } tr { break-inside: avoid; }
  .days li { min-height: 11mm; font-size: 7.5pt; line-height: 1.2; padding: .5mm; }
  .days li, .days li.blank { background: none; }
  label { margin: 0; }
  table, .soft { font-size: 8pt; }
  input { width: 3mm; height: 3mm; appearance: none; border: .3mm solid #000; }
}
"""


def programme_html(made: Programme) -> str:
    """Return the page of a programme."""
    answer = made.answer
    first, last = date.fromisoformat(answer.first_date), date.fromisoformat(answer.last_date)
    heading = "Feeding calendar" if answer.id is None else f"Feeding calendar: {answer.id}"
    marks = _marks(answer.events)
    by_day: dict[str, list[ProgrammeEvent]] = {}
    for event in answer.events:
        by_day.setdefault(event.date, []).append(event)
    months = "".join(_month(month, by_day, marks, first, last) for month in answer.months)
    if not months:
        months = "<p>No watering day falls between the two dates.</p>"
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(heading)}</title>"
        f"<style>{STYLE}</style></head><body><main>"
        f"<h1>{escape(heading)}</h1>"
        f'<p class="soft">{_date_words(first)} to {_date_words(last)}</p>'
        f"{_cautions(made, marks)}{_cans(marks)}{months}{_needs(answer.products)}"
        f"<h2>Safety</h2><p>{escape(SAFETY_WORDS)}</p>"
        '<p class="soft">The rhythm is common practice, no published source; strengths and amounts'
        " are computed for each can. Look at the roots before you follow a calendar.</p>"
        "</main></body></html>\n"
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _date_words(day: date) -> str:
    return f"{day.day} {MONTHS[day.month]} {day.year}"


Marks = Mapping[tuple[object, ...], tuple[str, ProgrammeEvent]]


def _key(event: ProgrammeEvent) -> tuple[object, ...]:
    """Return what makes two cans the same on paper."""
    return (event.kind, amount_words(event), event.volume_l, strength_words(event))


def _marks(events: Sequence[ProgrammeEvent]) -> Marks:
    """Return a short mark for every can that is mixed, in the order of first use."""
    found: dict[tuple[object, ...], tuple[str, ProgrammeEvent]] = {}
    counts: dict[str, int] = {}
    for event in events:
        if event.product is None or _key(event) in found:
            continue
        counts[event.kind] = counts.get(event.kind, 0) + 1
        mark = f"{KIND_WORDS[event.kind]} {counts[event.kind]}"
        found[_key(event)] = (mark, event)
    return found


def _cautions(made: Programme, marks: Marks) -> str:
    """Return the cautions that change what is done; the others are in the JSON answer."""
    of_cans: dict[str, dict[str, str]] = {}
    for event, warnings in zip(made.answer.events, made.warnings, strict=True):
        mark = marks[_key(event)][0] if _key(event) in marks else KIND_WORDS[event.kind]
        for code, message in warnings.items():
            of_cans.setdefault(code, {}).setdefault(mark, message)
    lines = [
        each.message
        for each in made.answer.cautions
        if each.severity != "info" and each.code not in of_cans
    ]
    for found in of_cans.values():
        (mark, message), *others = found.items()
        alike = f" Alike: {', '.join(other for other, _ in others)}." if others else ""
        lines.append(f"{mark}: {message}{alike}")
    if not lines:
        return ""
    listed = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<h2>Before you pour</h2><ul class="warning">{listed}</ul>'


def _cans(marks: Marks) -> str:
    """Return the table of what is mixed."""
    if not marks:
        return ""
    lines = []
    for mark, event in marks.values():
        volume = "" if event.volume_l is None else f"{quantity(event.volume_l)} L"
        lines.append(
            f'<tr><th scope="row" class="mark {event.kind}">{escape(mark)}</th>'
            f"<td>{escape(amount_words(event))} in {volume}</td>"
            f"<td>{escape(strength_words(event))}</td></tr>"
        )
    return (
        '<h2>What is mixed</h2><table class="cans"><thead><tr>'
        '<th scope="col">Can</th><th scope="col">Amount</th>'
        '<th scope="col">Comes to</th>'
        f"</tr></thead><tbody>{''.join(lines)}</tbody></table>"
    )


def _month(
    month: ProgrammeMonth,
    by_day: Mapping[str, Sequence[ProgrammeEvent]],
    marks: Marks,
    first: date,
    last: date,
) -> str:
    """Return one month as a grid of days."""
    year, number = (int(part) for part in month.month.split("-"))
    lead, length = calendar.monthrange(year, number)
    cells = [f'<li class="name" aria-hidden="true">{name}</li>' for name in DAYS]
    cells += ['<li class="blank" aria-hidden="true"></li>'] * lead
    for place in range(1, length + 1):
        day = date(year, number, place)
        events = by_day.get(day.isoformat(), ())
        outside = not first <= day <= last
        cells.append(_day(day, events, marks, outside=outside))
    cells += ['<li class="blank" aria-hidden="true"></li>'] * (-(lead + length) % 7)
    return (
        f'<section class="month"><h2>{MONTHS[number]} {year}</h2>{_month_line(month, by_day)}'
        f'<ol class="days">{"".join(cells)}</ol></section>'
    )


def _month_line(month: ProgrammeMonth, by_day: Mapping[str, Sequence[ProgrammeEvent]]) -> str:
    """Return the month in one line: growth and needs."""
    growths = dict.fromkeys(
        GROWTH_WORDS[event.growth]
        for day, events in sorted(by_day.items())
        if day.startswith(month.month)
        for event in events
    )
    parts = [_sentence(", then ".join(growths))]
    parts += [_total(total) for total in month.products]
    if month.nitrogen_mg_per_plant_per_month:
        parts.append(f"{quantity(month.nitrogen_mg_per_plant_per_month)} mg nitrogen a plant")
    return f'<p class="soft">{escape(" · ".join(parts))}</p>'


def _day(day: date, events: Sequence[ProgrammeEvent], marks: Marks, *, outside: bool) -> str:
    """Return one day."""
    if not events:
        kind = "blank empty" if outside else "empty"
        return f'<li class="{kind}"><b>{day.day}</b></li>'
    boxes = "".join(_box(event, marks) for event in events)
    weekday = DAYS[day.weekday()]
    return (
        f"<li><b><span>{weekday} </span>{day.day}<span> {MONTHS[day.month][:3]}</span></b>"
        f"<div>{boxes}</div></li>"
    )


def _box(event: ProgrammeEvent, marks: Marks) -> str:
    """Return one thing to do, with a box to tick."""
    known = marks.get(_key(event))
    words = KIND_WORDS[event.kind] if known is None else known[0]
    if event.pre_stock is not None:
        words += f", {quantity(event.pre_stock.volume_ml)} mL pre-stock"
    elif event.product_mass_g is not None:
        words += f", {quantity(event.product_mass_g)} g"
    elif event.product_volume_ml is not None:
        words += f", {quantity(event.product_volume_ml)} mL"
    elif event.product is None and event.volume_l is not None:
        words += f", {quantity(event.volume_l)} L"
    return (
        f'<label class="{event.kind}" title="{escape(event.reason)}">'
        f'<input type="checkbox"><span>{escape(words)}</span></label>'
    )


def _total(total: ProductTotal) -> str:
    name = plain_name(total.product_name)
    if total.mass_g is not None:
        return f"{quantity(total.mass_g)} g {name}"
    return f"{quantity(total.volume_ml or 0.0)} mL {name}"


def _needs(totals: Sequence[ProductTotal]) -> str:
    """Return what the whole programme needs."""
    if not totals:
        return ""
    listed = "".join(
        f"<li>{escape(_total(total))}, for {total.can_count} cans</li>" for total in totals
    )
    return f"<h2>What it needs in all</h2><ul>{listed}</ul>"
