"""The frame of the report on how far to trust the service, and words that its pages share."""

import math
from typing import Final

from service.api.formats import svg_chart
from service.api.formats.page import page
from service.api.schemas.trust import CheckFigures, Error

STYLE: Final = (
    svg_chart.STYLE
    + """
svg { display: block; width: 100%; height: auto; margin: .4rem 0; }
.dot { fill-opacity: .65 } .recalled { fill: none; stroke: #10324a; stroke-width: 1.1 }
caption { text-align: left; font-weight: 600; padding: .6rem 0 .2rem; }
thead th { overflow-wrap: normal; }
html { overflow-wrap: anywhere; }
@media (max-width: 30rem) { th, td { font-size: .75rem; padding-right: .25rem; } }
h3 { font-size: 1rem; margin: .9rem 0 .2rem; } nav ul { columns: 18rem; }
nav li { margin: .35rem 0; }
code { font-size: .85em; overflow-wrap: anywhere; }
@media screen and (prefers-color-scheme: dark) { .recalled { stroke: #dceaf5 } }
@media print { nav { display: none; } svg { break-inside: avoid; } h3 { break-after: avoid; } }
"""
)

BASIS_WORDS: Final = {
    "published": "printed in a publication",
    "computed": "computed by another program",
    "informal": "on a page of no standing",
    "memory": "recalled, plausibility only",
}
HEADINGS: Final = (
    "Theirs are",
    "Values",
    "Median error",
    "Lowest to highest",
    "Of what is allowed",
)


def trust_page(title: str, body: str) -> str:
    """
    Return a whole page.

    Parameters
    ----------
    title : str
        Plain text of the title.
    body : str
        HTML, escaped already.
    """
    return page(title, body, more_style=STYLE)


def digits(value: float) -> str:
    """Return a number with two significant digits, and without a power of ten where it can be."""
    if abs(value) < 1e-6:
        return "0"
    places = max(0, 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if places else text


def unit_of(error: Error, unit: str) -> str:
    """Return the unit of errors with a blank before it; nothing for plain numbers."""
    if error == "percent":
        return " %"
    return "" if unit == "1" else f" {unit}"


def error_range(lowest: float, highest: float, unit: str) -> str:
    """Return the lowest and the highest error, each with its sign."""
    low, high = (f"{'+' if each > 0.0 else ''}{digits(each)}" for each in (lowest, highest))
    return f"{low} to {high}{unit}"


def figure_cells(figures: CheckFigures, error: Error, unit: str) -> list[str]:
    """Return a row of the table of checks, below `HEADINGS`."""
    nearest, said = figures.nearest_percent, unit_of(error, unit)
    return [
        BASIS_WORDS[figures.basis],
        f"{figures.count:,}",
        digits(figures.median) + said,
        error_range(figures.lowest, figures.highest, said),
        "bounded together" if nearest is None else f"{digits(nearest)} %",
    ]
