"""The report as Markdown, figures and words without the pictures."""

from collections.abc import Mapping, Sequence

from service.api.formats.trust_page import HEADINGS, digits, error_range, figure_cells
from service.api.schemas.trust import Headline, QuantityChecks, TrustReport
from tests.trust_report.mistakes import ANSWER_WORDS
from tests.trust_report.quantities import Quantity, differences, opening_words
from tests.trust_report.web_page import HOW_TO_READ, TITLE, lead


def markdown(report: TrustReport, known: Mapping[str, Quantity]) -> str:
    """Return the report."""
    parts = [f"# {TITLE}", lead(report), "\n".join(headline_lines(report)), HOW_TO_READ]
    for each in report.quantities:
        parts += _section(each, known[each.key])
    parts += ["## Mistakes of the trade", _mistakes(report)]
    parts += ["## How it is checked, what is left out and why", *_reasons(known)]
    parts += ["## Sources", _sources(report)]
    parts.append(f"Made from tables and check rows with the sum `{report.inputs}`.")
    return "\n\n".join(parts) + "\n"


def headline_lines(report: TrustReport) -> list[str]:
    """Return the table of the numbers that matter most, as the README states it."""
    headings = ("what is compared", "values", "median error", "lowest to highest")
    return table(headings, [_headline(each) for each in report.headlines]).splitlines()


def _headline(each: Headline) -> list[str]:
    said = f" {each.unit}"
    return [
        each.what,
        f"{each.count:,}",
        digits(each.median) + said,
        error_range(each.lowest, each.highest, said),
    ]


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table; bars in the cells are escaped."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "\n".join(
        "| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines
    )


def _section(checks: QuantityChecks, quantity: Quantity) -> list[str]:
    rows = [figure_cells(each, checks.error, checks.unit) for each in checks.checks]
    parts = [f"## {checks.title}", f"Holds for: {checks.validity}"]
    if checks.cannot_be_known:
        parts.append(f"Cannot be known: {checks.cannot_be_known}")
    parts.append(table(HEADINGS, rows))
    origins = dict.fromkeys(origin for each in checks.checks for origin in each.origins)
    parts.append("Compared with:\n\n" + "\n".join(f"* {origin}" for origin in origins))
    named = "; ".join((*(f"`tests/{name}`" for name in quantity.tests), *quantity.differences))
    parts.append(f"How it is checked, what is left out and why: below, under {named}.")
    return parts


def _reasons(known: Mapping[str, Quantity]) -> list[str]:
    explained = differences()
    parts = []
    for name in dict.fromkeys(name for each in known.values() for name in each.tests):
        parts += [f"### `tests/{name}`", opening_words(name)]
    for name in dict.fromkeys(name for each in known.values() for name in each.differences):
        parts += [f"### Differences: {name}", explained[name]]
    return parts


def _mistakes(report: TrustReport) -> str:
    rows = [
        [each.slip, ANSWER_WORDS[each.answer], each.how, ", ".join(f"`{n}`" for n in each.tests)]
        for each in report.mistakes
    ]
    return table(("what goes wrong", "here it is", "how", "shown by"), rows)


def _sources(report: TrustReport) -> str:
    titles = {each.key: each.title for each in report.quantities}
    rows = [
        [f"`{key}`", "; ".join(titles[each] for each in found.quantities) or str(found.reason)]
        for key, found in report.sources.items()
    ]
    return table(("source", "checks, or why there are none"), rows)
