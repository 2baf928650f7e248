"""
A line with its band over time as an SVG picture, drawn to be read on paper and on a screen.

Dark ink on a white ground, lines that differ by their dashes and not by colour alone, axes with
units, a title and a description for screen readers. On a dark screen the picture follows the
reader's setting; printed it is always dark on white.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

WIDTH: Final = 800
HEIGHT: Final = 460
LEFT: Final = 68
RIGHT: Final = 24
TOP: Final = 64
BOTTOM: Final = 84

PLOT_WIDTH: Final = WIDTH - LEFT - RIGHT
PLOT_HEIGHT: Final = HEIGHT - TOP - BOTTOM

MOST_TICKS: Final = 7
MOST_WEEK_TICKS: Final = 14

STYLE: Final = """
.ground { fill: #ffffff }
.band { fill: #9fb8cc; fill-opacity: 0.55; stroke: none }
.line { fill: none; stroke: #10324a; stroke-width: 2.4; stroke-linejoin: round }
.driest { fill: none; stroke: #5a4a00; stroke-width: 1.6; stroke-dasharray: 2 4;
  stroke-linecap: round }
.limit { stroke: #9c1c1c; stroke-width: 1.8; stroke-dasharray: 9 5; fill: none }
.grid { stroke: #d7dbdf; stroke-width: 1 }
.axis { stroke: #333333; stroke-width: 1.2; fill: none }
.mark { fill: #9c1c1c }
.dot { fill: #10324a }
text { font-family: "DejaVu Sans", Verdana, Helvetica, Arial, sans-serif; font-size: 13px;
  fill: #1a1a1a }
.title { font-size: 17px; font-weight: bold }
.small { font-size: 12px }
@media screen and (prefers-color-scheme: dark) {
  .ground { fill: #14181c }
  .band { fill: #4f7390; fill-opacity: 0.6 }
  .line { stroke: #dceaf5 }
  .driest { stroke: #e6cf7a }
  .limit { stroke: #ff9a8f }
  .grid { stroke: #343b42 }
  .axis { stroke: #c9ced3 }
  .mark { fill: #ff9a8f }
  .dot { fill: #dceaf5 }
  text { fill: #eef1f4 }
}
""".strip()


@dataclass(frozen=True)
class Band:
    """
    A line over steps of time, with the lowest and highest that it may be.

    Attributes
    ----------
    low, middle, high, dotted : sequence of float
        Values at the steps 1, 2, …; `dotted` is a second line.
    """

    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    dotted: Sequence[float]


@dataclass(frozen=True)
class Legend:
    """
    The words of a chart.

    Attributes
    ----------
    title, description : str
        For readers and for screen readers.
    steps, values : str
        Labels of the axes, with their units.
    middle, band, dotted, limit : str
        What each drawn thing is.
    mark : str
        What the dot says, at the step at which the limit is passed; empty for none.
    """

    title: str
    description: str
    steps: str
    values: str
    middle: str
    band: str
    dotted: str
    limit: str
    mark: str


def rising_ticks(highest: float, most: int) -> list[float]:
    """Return round numbers from 0 to at least `highest`, in steps of 1, 2 or 5."""
    rough = max(highest, 1e-6) / (most - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1.0, 2.0, 5.0, 10.0) if power * factor >= rough)
    count = math.ceil(highest / step - 1e-9)
    return [step * position for position in range(max(count, 1) + 1)]


def step_ticks(count: int, most: int) -> list[int]:
    """Return whole steps to label: the first, then every so many."""
    every = next(each for each in (1, 2, 4, 8, 13, 26, 52) if count / each <= most)
    return [1, *range(every, count + 1, every)] if every > 1 else list(range(1, count + 1))


def band_chart(band: Band, limit: float, marked: int | None, legend: Legend) -> str:
    """
    Return the picture.

    Parameters
    ----------
    band : Band
        The lines, all of one length.
    limit : float
        A level that is drawn across.
    marked : int or None
        Step of `band.middle` (or, where nothing is known, of `band.high`) to mark.
    legend : Legend
        Its words.

    Returns
    -------
    str
        SVG, complete.
    """
    count = len(band.middle)
    shown = max(limit, *band.high, *band.middle)
    dotted_shown = max(band.dotted) <= 2.0 * shown
    if dotted_shown:
        shown = max(shown, *band.dotted)
    ticks = rising_ticks(1.05 * shown, MOST_TICKS)
    top = ticks[-1]

    def across(step: int) -> float:
        return LEFT + PLOT_WIDTH * ((step - 1) / (count - 1) if count > 1 else 0.5)

    def up(value: float) -> float:
        return TOP + PLOT_HEIGHT * (1.0 - min(value, top) / top)

    def path(values: Sequence[float]) -> str:
        return " ".join(
            f"{across(step):.1f},{up(value):.1f}" for step, value in enumerate(values, 1)
        )

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"'
        f' width="{WIDTH}" height="{HEIGHT}" role="img" aria-labelledby="title description">',
        f'<title id="title">{escape(legend.title)}</title>',
        f'<desc id="description">{escape(legend.description)}</desc>',
        f"<style>{STYLE}</style>",
        f'<rect class="ground" width="{WIDTH}" height="{HEIGHT}"/>',
        f'<text class="title" x="{LEFT}" y="26">{escape(legend.title)}</text>',
        *_grid(ticks, count, across, up),
    ]
    if count > 1:
        back = " ".join(
            f"{across(step):.1f},{up(value):.1f}"
            for step, value in reversed(list(enumerate(band.low, 1)))
        )
        parts.append(f'<polygon class="band" points="{path(band.high)} {back}"/>')
        if dotted_shown:
            parts.append(f'<polyline class="driest" points="{path(band.dotted)}"/>')
        parts.append(f'<polyline class="line" points="{path(band.middle)}"/>')
    else:
        x = across(1)
        parts.append(
            f'<line class="axis" x1="{x:.1f}" y1="{up(band.low[0]):.1f}" x2="{x:.1f}"'
            f' y2="{up(band.high[0]):.1f}"/>'
            f'<circle class="mark" cx="{x:.1f}" cy="{up(band.middle[0]):.1f}" r="4"/>'
        )
    level = up(limit)
    parts.append(
        f'<line class="limit" x1="{LEFT}" y1="{level:.1f}" x2="{WIDTH - RIGHT}" y2="{level:.1f}"/>'
    )
    if marked is not None and legend.mark:
        parts.append(_mark(across(marked), level, legend.mark))
    parts += _axes(legend)
    parts += _key(legend, dotted=dotted_shown)
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _grid(
    ticks: Sequence[float],
    count: int,
    across: Callable[[int], float],
    up: Callable[[float], float],
) -> Iterator[str]:
    """Yield the grid with the numbers of both axes."""
    digits = max(0, -math.floor(math.log10(ticks[1]) + 1e-9))
    for tick in ticks:
        y = up(tick)
        yield f'<line class="grid" x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}" y2="{y:.1f}"/>'
        yield (
            f'<text class="small" x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">'
            f"{tick:.{digits}f}</text>"
        )
    bottom = TOP + PLOT_HEIGHT
    for step in step_ticks(count, MOST_WEEK_TICKS):
        x = across(step)
        yield f'<line class="axis" x1="{x:.1f}" y1="{bottom}" x2="{x:.1f}" y2="{bottom + 5}"/>'
        yield (
            f'<text class="small" x="{x:.1f}" y="{bottom + 19}" text-anchor="middle">{step}</text>'
        )


def _axes(legend: Legend) -> list[str]:
    bottom = TOP + PLOT_HEIGHT
    middle = LEFT + PLOT_WIDTH / 2
    return [
        f'<path class="axis" d="M{LEFT},{TOP} V{bottom} H{WIDTH - RIGHT}"/>',
        f'<text x="{middle:.0f}" y="{bottom + 38}" text-anchor="middle">'
        f"{escape(legend.steps)}</text>",
        f'<text x="{LEFT - 44}" y="{TOP - 14}">{escape(legend.values)}</text>',
    ]


def _mark(x: float, y: float, words: str) -> str:
    """Return a dot on the limit; its words stand above the picture, clear of the lines."""
    right = WIDTH - RIGHT
    return (
        f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        f'<text x="{right}" y="26" text-anchor="end">'
        f'<tspan class="mark">\u25cf</tspan> {escape(words)}</text>'
    )


def _key(legend: Legend, *, dotted: bool) -> list[str]:
    """Return the key below the picture, a sample beside each name."""
    y = HEIGHT - 18
    names = [("line", legend.middle), ("band", legend.band), ("limit", legend.limit)]
    if dotted:
        names.insert(2, ("driest", legend.dotted))
    parts = []
    width = PLOT_WIDTH / len(names)
    for position, (kind, words) in enumerate(names):
        x = LEFT + position * width
        if kind == "band":
            parts.append(f'<rect class="band" x="{x:.0f}" y="{y - 11}" width="30" height="13"/>')
        else:
            parts.append(
                f'<line class="{kind}" x1="{x:.0f}" y1="{y - 4}" x2="{x + 30:.0f}" y2="{y - 4}"/>'
            )
        parts.append(f'<text class="small" x="{x + 36:.0f}" y="{y}">{escape(words)}</text>')
    return parts
