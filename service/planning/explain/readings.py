"""The working of a reading: referred to 25 °C, on every scale, and the bands it is held against."""

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from service.chemistry.meter import SCALE_FACTORS, SCALE_NAMES
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.reading import FLUSH_RATIO, LEAST_ROOM, STEADY_RATIO, Judge
from service.reference.solution_properties import METER_SCALE, NATURAL_WATER_FACTOR

COMPENSATION: Final = "iso-7888-1985"
SCALES: Final = "tds-conversion-table"
READ: Final = "reading_ms_per_cm"


def reading_working(asked: Any, judge: Judge, fields: Mapping[str, Any]) -> list[Line]:
    """
    Return the working of a reading.

    Parameters
    ----------
    asked : object
        Attributes of the contract.
    judge : Judge
        What it is held against.
    fields : mapping
        The finished reading, of `service.planning.reading.reading_fields`.

    Returns
    -------
    list of Line
        The lines; the last are the fields of the answer.
    """
    working = Working()
    working.part("reading")
    shown_lines(working, asked)
    factor = factor_line(working, asked.temperature_celsius, float(fields["compensation_factor"]))
    working.computed("ec_at_25_ms_per_cm", f"{READ} * {factor}", fields["ec_ms_per_cm"])
    working.part("what it is held against")
    _band_lines(working, judge, fields)
    if fields["feed_ratio"] is not None:
        working.computed(
            "ratio_to_the_feed",
            "ec_at_25_ms_per_cm / feed_ec_ms_per_cm",
            fields["feed_ratio"],
            NUMBER,
        )
        working.answer("feed_ratio", "ratio_to_the_feed", 3)
    working.part("answer")
    working.answer("compensation_factor", factor, 4)
    for scale, name in enumerate(SCALE_NAMES):
        if fields[f"meter_ppm_{name}"] is not None:
            _scale_answer(working, scale, name)
    working.answer("ec_ms_per_cm", "ec_at_25_ms_per_cm", 4)
    return working.lines


def shown_lines(working: Working, asked: Any) -> str:
    """
    Add the conductivity that a meter shows, also where it shows ppm.

    Parameters
    ----------
    working : Working
        Receives the lines.
    asked : object
        Attributes `ec_ms_per_cm`, or `ppm` and `scale`.

    Returns
    -------
    str
        Its name.
    """
    if asked.ec_ms_per_cm is not None:
        return working.given(READ, asked.ec_ms_per_cm)
    shown = working.given("shown_ppm", asked.ppm)
    scale = SCALE_NAMES.index(asked.scale or "500")
    if scale < len(SCALE_FACTORS):
        factor = f"{SCALE_FACTORS[scale]:g}"
        return working.computed(READ, f"{shown} / {factor}", source="meter-factor-manual")
    column = scale - len(SCALE_FACTORS) + 1
    formula, where = between(METER_SCALE, working.value(shown), column, 0, shown)
    return working.computed(READ, formula, source=SCALES, where=where)


def between(
    table: Any, value: float, column: int, wanted: int, name: str
) -> tuple[str, dict[str, float]]:
    """
    Return the formula of a linear interpolation in a table.

    Parameters
    ----------
    table : ndarray
        Rising in `column`.
    value : float
        Value in that column.
    column, wanted : int
        Columns.
    name : str
        Name of the value.

    Returns
    -------
    formula : str
        With the rows around the value as `below`, `above`, `at_below` and `at_above`.
    where : dict of str to float
        Those numbers; the row below the first is zero.
    """
    place = int(np.searchsorted(table[:, column], value))
    below, at_below = (0.0, 0.0) if place == 0 else table[place - 1, [column, wanted]]
    where = {
        "below": float(below),
        "above": float(table[place, column]),
        "at_below": float(at_below),
        "at_above": float(table[place, wanted]),
    }
    formula = f"at_below + ({name} - below) / (above - below) * (at_above - at_below)"
    return formula, where


def factor_line(working: Working, celsius: float | None, factor: float) -> str:
    """
    Add the factor that refers a reading to 25 °C.

    Parameters
    ----------
    working : Working
        Receives the lines.
    celsius : float or None
        Temperature of the sample [degC].
    factor : float
        The finished factor, 1 for a reading that the meter has referred already.

    Returns
    -------
    str
        Its name.
    """
    name = "factor_to_25_celsius"
    if factor == 1.0 or celsius is None:
        return working.given(name, factor, NUMBER, "1: the meter refers its readings to 25 °C")
    temperature = working.given("sample_celsius", celsius, "°C")
    place = min(int(celsius), len(NATURAL_WATER_FACTOR) - 2)
    return working.computed(
        name,
        f"at_below + ({temperature} - below) * (at_above - at_below)",
        factor,
        NUMBER,
        COMPENSATION,
        {
            "below": float(NATURAL_WATER_FACTOR[place, 0]),
            "at_below": float(NATURAL_WATER_FACTOR[place, 1]),
            "at_above": float(NATURAL_WATER_FACTOR[place + 1, 1]),
        },
    )


def _band_lines(working: Working, judge: Judge, fields: Mapping[str, Any]) -> None:
    """Add the ends of the bands."""
    source = judge.sources[0] if judge.sources else None
    working.known("ceiling_ms_per_cm", judge.ceiling, "most that these plants bear", source)
    ends = {"ceiling_ms_per_cm": judge.ceiling}
    if judge.low is not None and judge.high is not None:
        published = judge.sources[-1] if judge.sources else None
        for name, value in (("published_low", judge.low), ("published_high", judge.high)):
            working.known(f"{name}_ms_per_cm", value, "published range of their feed", published)
            ends[f"{name}_ms_per_cm"] = value
    feed = fields["feed_ec_ms_per_cm"]
    if feed is not None:
        working.given("feed_ec_ms_per_cm", feed)
        for name, ratio in (("steady", STEADY_RATIO), ("flush", FLUSH_RATIO)):
            working.computed(f"{name}_limit_ms_per_cm", f"{ratio:g} * feed_ec_ms_per_cm")
            ends[f"{name}_limit_ms_per_cm"] = working.value(f"{name}_limit_ms_per_cm")
    if fields["kind"] == "water":
        formula = (
            "ceiling_ms_per_cm - published_low_ms_per_cm"
            if judge.low is not None and judge.ceiling > judge.low
            else f"{LEAST_ROOM:g} * ceiling_ms_per_cm"
        )
        working.computed("room_for_a_feed_ms_per_cm", formula)
        ends["room_for_a_feed_ms_per_cm"] = working.value("room_for_a_feed_ms_per_cm")
    for place, band in enumerate(fields["salinity_bands"]):
        for end in ("from", "to"):
            value = band[f"ec_{end}_ms_per_cm"]
            if value is not None:
                name = _end_name(value, ends)
                working.answer(f"salinity_bands.{place}.ec_{end}_ms_per_cm", name, 3)


def _end_name(value: float, ends: Mapping[str, float]) -> str:
    """Return the name of the end that a band has."""
    if value == 0.0:
        return "0"
    return next(name for name, each in ends.items() if each == value)


def _scale_answer(working: Working, scale: int, name: str) -> None:
    """Add what a meter of one scale shows."""
    field, conductivity = f"meter_ppm_{name}", "ec_at_25_ms_per_cm"
    if scale < len(SCALE_FACTORS):
        working.answer(field, f"{conductivity} * {SCALE_FACTORS[scale]:g}", 4)
        return
    column = scale - len(SCALE_FACTORS) + 1
    formula, where = between(METER_SCALE, working.value(conductivity), 0, column, conductivity)
    shown = working.computed(f"shown_on_{name}_ppm", formula, None, "ppm", SCALES, where)
    working.answer(field, shown, 4)
