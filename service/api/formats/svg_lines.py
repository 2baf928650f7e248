"""
Several quantities over one as an SVG picture, in the style of `svg_chart`.

Lines differ by dashes, by the shape of their marks and by a letter at their end, never by colour
alone.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from service.api.formats.svg_chart import (
    HEIGHT,
    LEFT,
    MOST_TICKS,
    PLOT_HEIGHT,
    STYLE,
    TOP,
    WIDTH,
    rising_ticks,
)

RIGHT: Final = 84
"""Room for the letters at the ends of the lines."""

PLOT_WIDTH: Final = WIDTH - LEFT - RIGHT
FRAME: Final = TOP + PLOT_HEIGHT
DASHES: Final = ("none", "10 5", "2 4", "12 4 2 4")
MARK: Final = 5.0
LETTER_HEIGHT: Final = 17.0

Point = tuple[float, float]
Scale = Callable[[float], float]


@dataclass(frozen=True)
class Line:
    """
    One line.

    Attributes
    ----------
    letter : str
        Stands at its end.
    name : str
        Stands in the key.
    points : sequence of Point
        At least two, from left to right.
    """

    letter: str
    name: str
    points: Sequence[Point]


@dataclass(frozen=True)
class LinesChart:
    """
    Lines and their words.

    Attributes
    ----------
    lines : sequence of Line
        At most four.
    ticks : sequence of float
        Labelled values of the lower axis, its ends included.
    kept : (float, float)
        Range of the lower axis that is shaded.
    limit : float
        A level that is drawn across.
    title, description : str
        For readers and for screen readers.
    across_words, up_words, kept_words, limit_words : str
        Labels with their units.
    """

    lines: Sequence[Line]
    ticks: Sequence[float]
    kept: tuple[float, float]
    limit: float
    title: str
    description: str
    across_words: str
    up_words: str
    kept_words: str
    limit_words: str


def lines_chart(chart: LinesChart) -> str:
    """
    Return the picture.

    Parameters
    ----------
    chart : LinesChart
        What it shows.

    Returns
    -------
    str
        SVG, complete.
    """
    start, end = chart.ticks[0], chart.ticks[-1]
    highest = max(up for line in chart.lines for _, up in line.points)
    heights = rising_ticks(min(max(1.15 * chart.limit, highest), 2.0 * chart.limit), MOST_TICKS)

    def x_of(value: float) -> float:
        return LEFT + PLOT_WIDTH * (value - start) / (end - start)

    def y_of(value: float) -> float:
        return TOP + PLOT_HEIGHT * (1.0 - value / heights[-1])

    shade = x_of(chart.kept[0])
    level = y_of(chart.limit)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"'
        f' width="{WIDTH}" height="{HEIGHT}" role="img" aria-labelledby="title description">',
        f'<title id="title">{escape(chart.title)}</title>',
        f'<desc id="description">{escape(chart.description)}</desc>',
        f"<style>{STYLE}</style>",
        f'<rect class="ground" width="{WIDTH}" height="{HEIGHT}"/>',
        f'<text class="title" x="{LEFT}" y="26">{escape(chart.title)}</text>',
        f'<rect class="band" x="{shade:.1f}" y="{TOP}"'
        f' width="{max(x_of(chart.kept[1]) - shade, 2.0):.1f}" height="{PLOT_HEIGHT}"/>',
        *_grid(chart, heights, x_of, y_of),
        f'<line class="limit" x1="{LEFT}" y1="{level:.1f}" x2="{LEFT + PLOT_WIDTH}"'
        f' y2="{level:.1f}"/>',
        f'<text class="small" x="{LEFT + PLOT_WIDTH - 6}" y="{level - 6:.1f}" text-anchor="end">'
        f"{escape(chart.limit_words)}</text>",
    ]
    for place, line in enumerate(chart.lines):
        parts += _line(line, place, heights[-1], x_of, y_of)
    parts += _letters(chart.lines, heights[-1], x_of, y_of)
    parts += [
        f'<path class="axis" d="M{LEFT},{TOP} V{FRAME} H{LEFT + PLOT_WIDTH}"/>',
        f'<text x="{LEFT + PLOT_WIDTH / 2:.0f}" y="{FRAME + 40}" text-anchor="middle">'
        f"{escape(chart.across_words)}</text>",
        f'<text x="{LEFT - 44}" y="{TOP - 14}">{escape(chart.up_words)}</text>',
        *_key(chart),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _grid(chart: LinesChart, heights: Sequence[float], x_of: Scale, y_of: Scale) -> Iterator[str]:
    for height in heights:
        y = y_of(height)
        yield (
            f'<line class="grid" x1="{LEFT}" y1="{y:.1f}" x2="{LEFT + PLOT_WIDTH}" y2="{y:.1f}"/>'
            f'<text class="small" x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">'
            f"{height:.3g}</text>"
        )
    for tick in chart.ticks:
        x = x_of(tick)
        yield (
            f'<line class="axis" x1="{x:.1f}" y1="{FRAME}" x2="{x:.1f}" y2="{FRAME + 5}"/>'
            f'<text class="small" x="{x:.1f}" y="{FRAME + 19}" text-anchor="middle">{tick:g}</text>'
        )


def _shown(points: Sequence[Point], top: float) -> list[Point]:
    """Return the part of a line below the top of the frame, cut where it leaves it."""
    kept: list[Point] = []
    for before, after in zip([points[0], *points], points, strict=False):
        if (before[1] > top) != (after[1] > top):
            share = (top - before[1]) / (after[1] - before[1])
            kept.append((before[0] + share * (after[0] - before[0]), top))
        if after[1] <= top:
            kept.append(after)
    return kept


def _line(line: Line, place: int, top: float, x_of: Scale, y_of: Scale) -> Iterator[str]:
    kept = _shown(line.points, top)
    drawn = " ".join(f"{x_of(across):.1f},{y_of(up):.1f}" for across, up in kept)
    yield (
        f'<polyline class="line" stroke-dasharray="{DASHES[place % len(DASHES)]}"'
        f' points="{drawn}"/>'
    )
    for across, up in kept:
        yield _mark(place, x_of(across), y_of(up))


def _mark(place: int, x: float, y: float) -> str:
    """Return a disc, a square, a triangle or a diamond."""
    shape = place % len(DASHES)
    if shape == 0:
        return f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{MARK - 0.5}"/>'
    corners = (
        ((-1, -1), (1, -1), (1, 1), (-1, 1)),
        ((0, -1.3), (1.2, 1), (-1.2, 1)),
        ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
    )[shape - 1]
    points = " ".join(f"{x + MARK * a * 0.9:.1f},{y + MARK * b * 0.9:.1f}" for a, b in corners)
    return f'<polygon class="dot" points="{points}"/>'


def _letters(lines: Sequence[Line], top: float, x_of: Scale, y_of: Scale) -> Iterator[str]:
    """Yield the letters at the ends of the lines, clear of each other."""
    ends = []
    for line in lines:
        kept = _shown(line.points, top)
        if kept:
            ends.append((y_of(kept[-1][1]), x_of(kept[-1][0]), line.letter))
    lowest = TOP - LETTER_HEIGHT
    for y, x, letter in sorted(ends):
        lowest = max(y + 5.0, lowest + LETTER_HEIGHT)
        yield f'<text class="title" x="{x + 12:.1f}" y="{lowest:.1f}">{escape(letter)}</text>'


def _key(chart: LinesChart) -> Iterator[str]:
    """Yield the key below the picture, a sample beside each name."""
    y = HEIGHT - 18
    width = (WIDTH - LEFT - 12) / (len(chart.lines) + 1)
    for place, line in enumerate(chart.lines):
        x = LEFT + place * width
        yield (
            f'<line class="line" stroke-dasharray="{DASHES[place % len(DASHES)]}" x1="{x:.0f}"'
            f' y1="{y - 4}" x2="{x + 34:.0f}" y2="{y - 4}"/>{_mark(place, x + 17, y - 4)}'
            f'<text class="small" x="{x + 40:.0f}" y="{y}">{escape(line.name)}</text>'
        )
    x = LEFT + len(chart.lines) * width
    yield (
        f'<rect class="band" x="{x:.0f}" y="{y - 11}" width="30" height="13"/>'
        f'<text class="small" x="{x + 36:.0f}" y="{y}">{escape(chart.kept_words)}</text>'
    )
