"""
The frame of a page for people: no script, no other file, light or dark as the screen, A4 on paper.

Numbers that are read at the bench are large; what is printed is black on white.
"""

from collections.abc import Sequence
from html import escape
from typing import Final

STYLE: Final = """
:root { color-scheme: light dark; --ink: #1c2321; --soft: #55605c; --line: #c9d1ce;
  --page: #fbfcfb; --cell: #ffffff; --warn: #8a3b00; --stop: #a01616; --lead: #2f6b3c; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6ebe9; --soft: #a9b4b0; --line: #3b4643;
  --page: #151a19; --cell: #1d2423; --warn: #f0a878; --stop: #ff9a8f; --lead: #8fd19c; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 46rem; background: var(--page);
  color: var(--ink); font: 1rem/1.45 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; } h2 { font-size: 1.15rem; margin: 1.4rem 0 .4rem; }
p { margin: .3rem 0; } .soft { color: var(--soft); font-size: .9rem; }
a { color: var(--lead); }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .6rem .35rem 0;
  border-bottom: 1px solid var(--line); overflow-wrap: anywhere; }
th { font-weight: 600; color: var(--soft); font-size: .9rem; }
.steps { list-style: none; margin: 0; padding: 0; }
.steps li { border-bottom: 1px solid var(--line); }
.steps label { display: grid; grid-template-columns: 2.1rem 10.5rem 1fr; gap: .6rem;
  align-items: center; padding: .5rem 0; min-height: 3.2rem; }
.steps .what { font-size: 1.1rem; line-height: 1.35; }
.steps input { width: 1.9rem; height: 1.9rem; margin: 0; accent-color: var(--lead); }
.amount { font-size: 2rem; font-weight: 700; line-height: 1.15; white-space: nowrap; }
.amount small { display: block; font-size: .85rem; font-weight: 400; color: var(--soft); }
.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(8rem, 1fr)); gap: .6rem;
  margin: 0; }
.figures div { border: 1px solid var(--line); background: var(--cell); padding: .5rem .7rem; }
.figures dt { color: var(--soft); font-size: .9rem; }
.figures dd { margin: 0; font-size: 1.7rem; font-weight: 700; line-height: 1.2; }
.figures dd b { white-space: nowrap; }
.figures dd small { display: block; font-size: .85rem; font-weight: 400; color: var(--soft); }
.tally label { display: inline-flex; align-items: center; gap: .4rem; margin: .3rem .9rem .3rem 0; }
.tally input { width: 1.6rem; height: 1.6rem; accent-color: var(--lead); }
.warning { color: var(--warn); } .danger { color: var(--stop); font-weight: 600; }
summary { cursor: pointer; padding: .5rem 0; font-weight: 600; }
form { display: grid; grid-template-columns: repeat(auto-fit, minmax(13rem, 1fr)); gap: .7rem; }
form label { display: block; font-size: .9rem; color: var(--soft); }
form input, form select, form button { font: inherit; width: 100%; padding: .5rem;
  color: var(--ink); background: var(--cell); border: 1px solid var(--soft); }
form button { background: var(--lead); color: var(--page); border-color: var(--lead);
  font-weight: 700; cursor: pointer; align-self: end; }
:focus-visible { outline: 3px solid var(--lead); outline-offset: 2px; }
iframe { width: 100%; height: 48rem; border: 1px solid var(--line); background: var(--page); }
@page { size: A4; margin: 12mm; }
@media (max-width: 34rem) {
  .steps label { grid-template-columns: 2.1rem 1fr; } .steps .what { grid-column: 2; }
  .steps .amount:empty { display: none; }
  .figures dd { font-size: 1.35rem; }
}
@media print {
  :root { color-scheme: light; --ink: #000; --soft: #222; --line: #777; --page: #fff;
    --cell: #fff; --warn: #000; --stop: #000; --lead: #000; }
  body { padding: 0; max-width: none; font-size: 10pt; }
  h2 { margin: 2.5mm 0 1mm; font-size: 12pt; break-after: avoid; }
  li, tr, .figures div { break-inside: avoid; }
  .steps label { min-height: 0; padding: .9mm 0; }
  .steps .what { font-size: 11pt; line-height: 1.25; }
  .amount { font-size: 18pt; line-height: 1.1; }
  .steps input, .tally input { appearance: none; width: 5mm; height: 5mm; border: .4mm solid #000; }
  details:not([open]) { display: none; }
}
"""


def page(title: str, body: str, *, more_style: str = "") -> str:
    """
    Return a whole page.

    Parameters
    ----------
    title : str
        Plain text of the title.
    body : str
        HTML, escaped already.
    more_style : str
        Rules of this page alone; one of `page_policy.STYLE_SHEETS`.
    """
    more = f"<style>{more_style}</style>" if more_style else ""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style>"
        f"{more}</head><body><main>{body}</main></body></html>\n"
    )


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], *, caption: str = "") -> str:
    """
    Return a table that a screen reader can walk: headings above, the first cell names its row.

    Parameters
    ----------
    headings : sequence of str
        Plain texts.
    rows : sequence of sequence of str
        Plain texts, one for each heading.
    caption : str
        Plain text of what the table is; none where a heading stands above it.
    """
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in headings)
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        + "</tr>"
        for name, *cells in rows
    )
    said = f"<caption>{escape(caption)}</caption>" if caption else ""
    return f"<table>{said}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
