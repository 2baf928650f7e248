"""The chart: well-formed, described, inside its frame, and readable without colour."""

import math
import re
import xml.etree.ElementTree as ElementTree

import pytest

from service.api.formats.svg_chart import (
    HEIGHT,
    MOST_TICKS,
    WIDTH,
    Band,
    Legend,
    band_chart,
    rising_ticks,
    step_ticks,
)

NAMESPACE = "{http://www.w3.org/2000/svg}"
LEGEND = Legend(
    title="Salt <in> the pot",
    description="From 0.8 & up",
    steps="Week",
    values="Conductivity at 25 °C (mS/cm)",
    middle="after watering",
    band="low to high use",
    dotted="driest moment",
    limit="limit 1.6 mS/cm",
    mark="over the limit from week 3",
)


def chart(weeks: int = 5, marked: int | None = 1, dry: float = 1.5) -> ElementTree.Element:
    middle = [0.8 + 0.3 * week for week in range(weeks)]
    band = Band(
        low=[0.9 * value for value in middle],
        middle=middle,
        high=[1.2 * value for value in middle],
        dotted=[dry * value for value in middle],
    )
    return ElementTree.fromstring(band_chart(band, 1.6, marked, LEGEND))


def texts(picture: ElementTree.Element) -> str:
    return " ".join("".join(text.itertext()) for text in picture.iter(NAMESPACE + "text"))


def test_picture_has_a_title_and_a_description_for_screen_readers() -> None:
    picture = chart()
    title = picture.find(NAMESPACE + "title")
    description = picture.find(NAMESPACE + "desc")
    assert title is not None
    assert description is not None
    assert title.text == LEGEND.title
    assert description.text == LEGEND.description
    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"


def test_axes_and_lines_are_named_with_their_units() -> None:
    words = texts(chart())
    for each in (LEGEND.steps, LEGEND.values, LEGEND.middle, LEGEND.band, LEGEND.limit):
        assert each in words
    assert LEGEND.mark in words


def test_dark_screens_are_followed_and_paper_is_not() -> None:
    style = "".join(chart().itertext())
    assert "@media screen and (prefers-color-scheme: dark)" in style
    assert ".ground { fill: #ffffff }" in style


def test_lines_differ_without_colour() -> None:
    style = "".join(chart().itertext())
    assert len(set(re.findall(r"stroke-dasharray: ([\d ]+)", style))) == 2


@pytest.mark.parametrize("weeks", [1, 2, 5, 26, 104])
def test_everything_lies_inside_the_frame(weeks: int) -> None:
    picture = chart(weeks)
    for shape in picture.iter():
        for points in (shape.get("points") or "").split():
            x, y = map(float, points.split(","))
            assert 0.0 <= x <= WIDTH
            assert 0.0 <= y <= HEIGHT
        for name in ("x", "x1", "x2", "cx", "y", "y1", "y2", "cy"):
            value = shape.get(name)
            if value is not None:
                assert 0.0 <= float(value) <= max(WIDTH, HEIGHT)


def test_dry_line_far_above_the_band_is_left_out_with_its_name() -> None:
    near, far = chart(dry=1.5), chart(dry=20.0)
    assert LEGEND.dotted in texts(near)
    assert LEGEND.dotted not in texts(far)


def test_no_mark_where_the_limit_is_kept() -> None:
    assert not list(chart(marked=None).iter(NAMESPACE + "circle"))


@pytest.mark.parametrize("highest", [0.003, 0.08, 0.9, 1.0, 1.7, 9.9, 12.0, 137.0])
def test_ticks_are_round_and_reach_the_highest(highest: float) -> None:
    ticks = rising_ticks(highest, MOST_TICKS)
    assert ticks[0] == 0.0
    assert ticks[-1] >= highest * (1.0 - 1e-9)
    assert 2 <= len(ticks) <= MOST_TICKS + 1
    mantissa = ticks[1] / 10.0 ** math.floor(math.log10(ticks[1]) + 1e-9)
    assert min(abs(mantissa - each) for each in (1.0, 2.0, 5.0)) < 1e-6


@pytest.mark.parametrize("count", [1, 5, 14, 15, 26, 52, 104])
def test_labelled_steps_rise_and_are_few(count: int) -> None:
    steps = step_ticks(count, 14)
    assert steps == sorted(set(steps))
    assert steps[0] == 1
    assert steps[-1] <= count
    assert len(steps) <= 15
