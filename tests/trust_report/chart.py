"""A quantity as a picture: ours against theirs, and the error against theirs."""

import math
from collections.abc import Sequence
from html import escape

from service.api.formats.svg_chart import rising_ticks
from service.api.formats.trust_page import digits, unit_of
from tests.comparisons import Comparison
from tests.trust_report.figures import BASES, error
from tests.trust_report.quantities import Quantity

WIDTH, HEIGHT = 760, 330
TOP, BOTTOM, PANEL, LEFT, GAP = 34, 58, 290, 62, 100
MOST_POINTS = 220
DECADES = 1.5
"""Positive values that span more decades than this are drawn on a logarithmic axis."""


class Axis:
    """One axis: from values to places, with its ticks."""

    def __init__(self, low: float, high: float, start: float, end: float, *, log: bool) -> None:
        self.log = log
        if log:
            low, high = math.floor(math.log10(low)), math.ceil(math.log10(high))
            self.ticks = [10.0**power for power in range(int(low), int(high) + 1)]
            if len(self.ticks) > 6:
                self.ticks = self.ticks[:: math.ceil(len(self.ticks) / 6)]
        else:
            step = rising_ticks(max(high - low, 1e-9), 5)[1]
            low, high = math.floor(low / step) * step, math.ceil(high / step) * step
            count = round((high - low) / step)
            self.ticks = [round(low + place * step, 12) for place in range(count + 1)]
        self.low, self.high, self.start, self.end = low, max(high, low + 1e-9), start, end

    def at(self, value: float) -> float:
        """Return the place of a value."""
        value = math.log10(value) if self.log else value
        share = (value - self.low) / (self.high - self.low)
        return round(self.start + share * (self.end - self.start), 1)


def chart(quantity: Quantity, comparisons: Sequence[Comparison]) -> str:
    """Return the picture as SVG, to stand in a page."""
    points = [each for basis in BASES for each in _sample(quantity, comparisons, basis)]
    values = [value for each in points for value in (each.expected, each.ours)]
    low, high = min(values), max(values)
    log = low > 0.0 and math.log10(high / low) > DECADES
    if not log and high - low < 1e-9:
        low, high = low - 1.0, high + 1.0
    errors = [found for each in points if (found := error(quantity, each)) is not None]
    reach = max(max(map(abs, errors), default=0.0), 1e-3)
    bottom = HEIGHT - BOTTOM
    said = unit_of("percent" if quantity.error == "percent" else "absolute", quantity.unit).strip()
    first = Axis(low, high, LEFT, LEFT + PANEL, log=log)
    up = Axis(low, high, bottom, TOP, log=log)
    second = Axis(low, high, LEFT + PANEL + GAP, LEFT + 2 * PANEL + GAP, log=log)
    across = Axis(-reach, reach, bottom, TOP, log=False)
    title = f"{quantity.title}: ours against theirs, and the error"
    words = (
        f"{len(comparisons)} values from {digits(min(values))} to {digits(max(values))};"
        f" errors from {digits(min(errors, default=0.0))} to {digits(max(errors, default=0.0))}"
        f" {said}. Filled dots are printed or computed values, rings those of no standing."
    )
    ends = f"{first.start} {up.at(_least(up))} {first.end} {up.at(_most(up))}".split()
    marks = [
        _grid(first, up, f"theirs, {quantity.unit}", "ours"),
        '<line class="limit" x1="{}" y1="{}" x2="{}" y2="{}"/>'.format(*ends),
        "".join(_mark(first.at(p.expected), up.at(p.ours), p) for p in points),
        _grid(second, across, f"theirs, {quantity.unit}", f"error, {said or '1'}"),
        f'<line class="limit" x1="{second.start}" y1="{across.at(0.0)}" x2="{second.end}"'
        f' y2="{across.at(0.0)}"/>',
        "".join(
            _mark(second.at(p.expected), across.at(found), p)
            for p in points
            if (found := error(quantity, p)) is not None
        ),
    ]
    name = f"{quantity.key}-chart"
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="{name}-t {name}-d">'
        f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{escape(words)}</desc>'
        f'<rect class="ground" width="{WIDTH}" height="{HEIGHT}"/>{"".join(marks)}</svg>'
    )


def _least(axis: Axis) -> float:
    return 10.0**axis.low if axis.log else axis.low


def _most(axis: Axis) -> float:
    return 10.0**axis.high if axis.log else axis.high


def _sample(quantity: Quantity, comparisons: Sequence[Comparison], basis: str) -> list[Comparison]:
    """Return the values of one basis: all of them, or the largest errors and an even choice."""
    chosen = [each for each in comparisons if each.basis == basis]
    if len(chosen) <= MOST_POINTS:
        return chosen
    by_error = sorted(chosen, key=lambda each: -abs(error(quantity, each) or 0.0))
    most, rest = by_error[: MOST_POINTS // 5], by_error[MOST_POINTS // 5 :]
    rest.sort(key=lambda each: each.expected)
    every = math.ceil(len(rest) / (MOST_POINTS - len(most)))
    return [*rest[::every], *most]


def _mark(x: float, y: float, point: Comparison) -> str:
    kind = "dot" if point.basis in BASES[:2] else "recalled"
    return f'<circle class="{kind}" cx="{x}" cy="{y}" r="2.6"/>'


def _grid(across: Axis, up: Axis, below: str, beside: str) -> str:
    """Return the frame of a panel with its ticks and the words of its axes."""
    bottom, top = up.start, up.end
    parts = []
    for tick in across.ticks:
        x = across.at(tick)
        parts.append(f'<line class="grid" x1="{x}" y1="{top}" x2="{x}" y2="{bottom}"/>')
        parts.append(f'<text class="small" x="{x}" y="{bottom + 18}" text-anchor="middle">')
        parts.append(f"{tick:.6g}</text>")
    for tick in up.ticks:
        y = up.at(tick)
        parts.append(
            f'<line class="grid" x1="{across.start}" y1="{y}" x2="{across.end}" y2="{y}"/>'
        )
        parts.append(f'<text class="small" x="{across.start - 6}" y="{y + 4}" text-anchor="end">')
        parts.append(f"{tick:.6g}</text>")
    middle = 0.5 * (across.start + across.end)
    parts.append(
        f'<path class="axis" d="M{across.start} {top}V{bottom}H{across.end}"/>'
        f'<text x="{middle}" y="{bottom + 40}" text-anchor="middle">{escape(below)}</text>'
        f'<text x="{across.start}" y="{top - 12}">{escape(beside)}</text>'
    )
    return "".join(parts)
