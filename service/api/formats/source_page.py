"""A source for people: the citation, what checks it, and the rows of tables that rest on it."""

from html import escape
from itertools import groupby
from typing import Final

from service.api.formats.page import table
from service.api.formats.trust_page import HEADINGS, figure_cells, trust_page
from service.api.schemas.trust import CitedRow, QuantityChecks, SourcePage

KIND_WORDS: Final = {
    "published": "publication",
    "standard": "standard",
    "informal": "page of no standing",
    "memory": "recalled",
    "common_practice": "practice of the trade",
}


def source_html(source: SourcePage) -> str:
    """Return the page of a source."""
    link = ""
    if source.url is not None:
        link = f'<p><a href="{escape(source.url)}" rel="noreferrer">{escape(source.url)}</a></p>'
    parts = [
        f"<h1>{escape(source.key)}</h1><p>{escape(source.citation)}</p>{link}",
        f'<p class="soft">Kind: {KIND_WORDS[source.kind]}.</p>',
        f"<h2>What checks it</h2>{_checks(source)}",
        f"<h2>What rests on it</h2>{_rows(source)}",
        '<p class="soft"><a href="/trust">How far to trust all of it</a> ·'
        ' <a href="/v1/sources">all sources</a></p>',
    ]
    return trust_page(f"Source {source.key}", "".join(parts))


def _checks(source: SourcePage) -> str:
    """Return the checks of what is computed from the source."""
    if not source.checks:
        return f"<p>{escape(source.unchecked or 'No check covers it.')}</p>"
    return "".join(map(_quantity, source.checks))


def _quantity(quantity: QuantityChecks) -> str:
    rows = [figure_cells(each, quantity.error, quantity.unit) for each in quantity.checks]
    place = f"/trust#{quantity.key}"
    return (
        table(HEADINGS, rows, caption=quantity.title)
        + f'<p class="soft">{escape(quantity.validity)} <a href="{escape(place)}">More</a></p>'
    )


def _rows(source: SourcePage) -> str:
    """Return what rests on the source, table by table."""
    words = []
    if source.modules:
        listed = ", ".join(f"<code>{escape(each)}</code>" for each in source.modules)
        words.append(f"<p>Cited in the code: {listed}.</p>")
    for name, rows in groupby(source.rows, key=lambda row: row.table):
        words.append(_table(name, list(rows)))
    return "".join(words) or "<p>Cited in words only; no row of the tables names it.</p>"


def _table(name: str, rows: list[CitedRow]) -> str:
    """Return the rows of one table: what names a row, what it says, and how that is known."""
    cells = []
    for row in rows:
        (_, first), *values = row.values.items()
        said = "; ".join(f"{column.replace('_', ' ')} {value}" for column, value in values)
        known = ": ".join(filter(None, ((row.basis or "").replace("_", " "), row.locator)))
        cells.append([first, said, known, row.note or ""])
    headings = (next(iter(rows[0].values)).replace("_", " "), "Row", "Known as, and where", "Note")
    return table(headings, cells, caption=f"Table {name}, {len(rows)} rows")
