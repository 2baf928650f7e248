"""The report as one page: no script, no other file, light or dark, to print or to listen to."""

import re
from collections.abc import Mapping, Sequence
from html import escape

from service.api.formats.page import table
from service.api.formats.trust_page import (
    HEADINGS,
    digits,
    error_range,
    figure_cells,
    trust_page,
)
from service.api.schemas.trust import QuantityChecks, TrustReport
from tests.comparisons import Comparison
from tests.trust_report.chart import chart
from tests.trust_report.mistakes import ANSWER_WORDS
from tests.trust_report.prose import prose
from tests.trust_report.quantities import Quantity, differences, opening_words

TITLE = "How far to trust it"
HOW_TO_READ = (
    "An error is ours less theirs. It is given in the middle (half of all values are nearer) and"
    " from the lowest to the highest. “Of what is allowed” is the largest share of the difference"
    " that the test of a row lets pass, which for printed values is mostly the rounding of the last"
    " digit. Recalled values are held to plausibility and prove nothing. A picture of more than 200"
    " values shows the largest errors and an even choice of the others."
)


def web_page(
    report: TrustReport,
    known: Mapping[str, Quantity],
    grouped: Mapping[str, Sequence[Comparison]],
) -> str:
    """Return the page."""
    sections = "".join(
        _section(each, known[each.key], grouped[each.key]) for each in report.quantities
    )
    contents = "".join(
        f'<li><a href="#{each.key}">{escape(each.title)}</a></li>' for each in report.quantities
    )
    return trust_page(
        f"Velamen: {TITLE.lower()}",
        f"<h1>{TITLE}</h1><p>{lead(report)}</p>{_headlines(report)}<p>{HOW_TO_READ}</p>"
        f'<nav aria-label="Quantities"><ul>{contents}<li><a href="#mistakes">Mistakes of the trade'
        '</a></li><li><a href="#reasons">How it is checked, what is left out and why</a></li>'
        '<li><a href="#sources">Sources</a></li></ul></nav>'
        f"{sections}{_mistakes(report)}{_reasons(known)}{_sources(report)}"
        f'<p class="soft">Sum of tables and check rows: <code>{report.inputs}</code>.'
        " Counts and errors are those of the tests; where it holds and what cannot be known was"
        " written by hand.</p>",
    )


def lead(report: TrustReport) -> str:
    """Return what the report is, in a paragraph."""
    return (
        f"Made from {report.test_count:,} tests that passed, which compare"
        f" {report.comparison_count:,} values with what is printed, with what other programs"
        " compute, and with the practice of growers."
    )


def _headlines(report: TrustReport) -> str:
    rows = [
        [
            each.what,
            f"{each.count:,}",
            f"{digits(each.median)} {each.unit}",
            error_range(each.lowest, each.highest, f" {each.unit}"),
        ]
        for each in report.headlines
    ]
    headings = ("What is compared", "Values", "Median error", "Lowest to highest")
    return table(headings, rows, caption="The five numbers that matter most")


def _section(checks: QuantityChecks, quantity: Quantity, comparisons: Sequence[Comparison]) -> str:
    title = escape(checks.title)
    rows = [figure_cells(each, checks.error, checks.unit) for each in checks.checks]
    parts = [
        f'<section id="{checks.key}"><h2>{title}</h2>',
        f"<p><strong>Holds for:</strong> {escape(checks.validity)}</p>",
    ]
    if checks.cannot_be_known:
        parts.append(f"<p><strong>Cannot be known:</strong> {escape(checks.cannot_be_known)}</p>")
    parts.append(table(HEADINGS, rows, caption=f"{checks.title}: errors"))
    parts.append(chart(quantity, comparisons))
    parts.append(_origins(checks, quantity))
    return "".join(parts) + "</section>"


def _origins(checks: QuantityChecks, quantity: Quantity) -> str:
    """Return what it is compared with, and where the reasons stand."""
    origins = dict.fromkeys(origin for each in checks.checks for origin in each.origins)
    listed = "".join(f"<li>{escape(origin)}</li>" for origin in origins)
    named = (*quantity.tests, *quantity.differences)
    links = "; ".join(f'<a href="#{place(name)}">{escape(name)}</a>' for name in named)
    return (
        f"<h3>Compared with</h3><ul>{listed}</ul>"
        f"<p>How it is checked, what is left out and why: {links}.</p>"
    )


def place(name: str) -> str:
    """Return the place of a reason on the page."""
    return "how-" + re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _reasons(known: Mapping[str, Quantity]) -> str:
    """Return how all is checked, what is left out and why, in the words of the tests."""
    explained = differences()
    tests = dict.fromkeys(name for each in known.values() for name in each.tests)
    headings = dict.fromkeys(name for each in known.values() for name in each.differences)
    said = [
        f'<h3 id="{place(name)}"><code>tests/{escape(name)}</code></h3>'
        + prose(opening_words(name), name)
        for name in tests
    ]
    said += [
        f'<h3 id="{place(name)}">Differences: {escape(name)}</h3>{prose(explained[name], name)}'
        for name in headings
    ]
    return (
        '<section id="reasons"><h2>How it is checked, what is left out and why</h2><p>In the words'
        f" of the tests themselves.</p>{''.join(said)}</section>"
    )


def _mistakes(report: TrustReport) -> str:
    rows = [
        [each.slip, ANSWER_WORDS[each.answer], each.how, ", ".join(_names(each.tests))]
        for each in report.mistakes
    ]
    headings = ("What goes wrong", "Here it is", "How", "Shown by")
    return (
        '<section id="mistakes"><h2>Mistakes of the trade</h2><p>Slips that growers make and that'
        " pages in print repeat. Every test that is named passed when this was made.</p>"
        f"{table(headings, rows, caption='Slips, and what becomes of them')}</section>"
    )


def _names(tests: Sequence[str]) -> list[str]:
    return [name.partition("::")[2] for name in tests]


def _sources(report: TrustReport) -> str:
    titles = {each.key: each.title for each in report.quantities}
    rows = "".join(
        f'<tr><th scope="row"><a href="/v1/sources/{escape(key)}.html">{escape(key)}</a></th><td>'
        + escape("; ".join(titles[each] for each in found.quantities) or str(found.reason))
        + "</td></tr>"
        for key, found in report.sources.items()
    )
    return (
        '<section id="sources"><h2>Sources</h2><table><caption>What covers the numbers of each'
        ' source</caption><thead><tr><th scope="col">Source</th><th scope="col">Checks, or why'
        f" there are none</th></tr></thead><tbody>{rows}</tbody></table></section>"
    )
