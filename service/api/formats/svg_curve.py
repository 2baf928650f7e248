"""One quantity over another as an SVG picture with one point on it, in the style of `svg_chart`."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from service.api.formats.svg_chart import (
    BOTTOM,
    HEIGHT,
    LEFT,
    MOST_TICKS,
    PLOT_HEIGHT,
    PLOT_WIDTH,
    RIGHT,
    STYLE,
    TOP,
    WIDTH,
    rising_ticks,
)

FRAME: Final = TOP + PLOT_HEIGHT


@dataclass(frozen=True)
class Curve:
    """
    A curve and its words.

    Attributes
    ----------
    across, up : sequence of float
        The points of the line.
    point : tuple of float
        The one that the answer is about.
    levels : sequence of (float, str)
        Values that are drawn across, with what they are.
    title, description : str
        For readers and for screen readers.
    across_words, up_words, point_words : str
        Labels with their units.
    across_start, up_start : float
        Where the axes begin.
    """

    across: Sequence[float]
    up: Sequence[float]
    point: tuple[float, float]
    levels: Sequence[tuple[float, str]]
    title: str
    description: str
    across_words: str
    up_words: str
    point_words: str
    across_start: float = 0.0
    up_start: float = 0.0


def curve_chart(curve: Curve) -> str:
    """
    Return the picture.

    Parameters
    ----------
    curve : Curve
        At least two points.

    Returns
    -------
    str
        SVG, complete.
    """
    widest = max(*curve.across, curve.point[0]) - curve.across_start
    highest = max(*curve.up, curve.point[1], *(level for level, _ in curve.levels), 0.0)
    steps = rising_ticks(widest, MOST_TICKS)
    heights = rising_ticks(1.03 * (highest - curve.up_start), MOST_TICKS)

    def x_of(value: float) -> float:
        return LEFT + PLOT_WIDTH * (value - curve.across_start) / steps[-1]

    def y_of(value: float) -> float:
        return TOP + PLOT_HEIGHT * (1.0 - (value - curve.up_start) / heights[-1])

    line = " ".join(
        f"{x_of(across):.1f},{y_of(up):.1f}"
        for across, up in zip(curve.across, curve.up, strict=True)
    )
    x, y = x_of(curve.point[0]), y_of(curve.point[1])
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"'
        f' width="{WIDTH}" height="{HEIGHT}" role="img" aria-labelledby="title description">',
        f'<title id="title">{escape(curve.title)}</title>',
        f'<desc id="description">{escape(curve.description)}</desc>',
        f"<style>{STYLE}</style>",
        f'<rect class="ground" width="{WIDTH}" height="{HEIGHT}"/>',
        f'<text class="title" x="{LEFT}" y="26">{escape(curve.title)}</text>',
    ]
    for height in heights:
        level = y_of(curve.up_start + height)
        parts.append(
            f'<line class="grid" x1="{LEFT}" y1="{level:.1f}" x2="{WIDTH - RIGHT}"'
            f' y2="{level:.1f}"/><text class="small" x="{LEFT - 8}" y="{level + 4:.1f}"'
            f' text-anchor="end">{curve.up_start + height:.3g}</text>'
        )
    for step in steps:
        mark = x_of(curve.across_start + step)
        parts.append(
            f'<line class="axis" x1="{mark:.1f}" y1="{FRAME}" x2="{mark:.1f}" y2="{FRAME + 5}"/>'
            f'<text class="small" x="{mark:.1f}" y="{FRAME + 19}" text-anchor="middle">'
            f"{curve.across_start + step:.3g}</text>"
        )
    for value, words in curve.levels:
        level = y_of(value)
        parts.append(
            f'<line class="limit" x1="{LEFT}" y1="{level:.1f}" x2="{WIDTH - RIGHT}"'
            f' y2="{level:.1f}"/><text class="small" x="{WIDTH - RIGHT}" y="{level - 6:.1f}"'
            f' text-anchor="end">{escape(words)}</text>'
        )
    parts += [
        f'<polyline class="line" points="{line}"/>',
        f'<path class="axis" d="M{LEFT},{TOP} V{FRAME} H{WIDTH - RIGHT}"/>',
        f'<line class="driest" x1="{x:.1f}" y1="{y:.1f}" x2="{x:.1f}" y2="{FRAME}"/>',
        f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="6"/>',
        f'<text x="{LEFT + PLOT_WIDTH / 2:.0f}" y="{FRAME + 40}" text-anchor="middle">'
        f"{escape(curve.across_words)}</text>",
        f'<text x="{LEFT - 44}" y="{TOP - 14}">{escape(curve.up_words)}</text>',
        f'<circle class="mark" cx="{LEFT + 6}" cy="{HEIGHT - BOTTOM + 62}" r="5"/>'
        f'<text x="{LEFT + 18}" y="{HEIGHT - BOTTOM + 67}">{escape(curve.point_words)}</text>',
        "</svg>",
    ]
    return "\n".join(parts) + "\n"
