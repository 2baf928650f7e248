"""Pumps of a reservoir: how long each runs, and what it may never exceed."""

import math
from dataclasses import dataclass
from typing import Any, Final

from service.planning.reservoir_history import LINES

SECONDS_STEP: Final = 0.01
"""Step of a running time [s]."""

SHORT_RUN: Final = 1.0
"""Running time under which starting and stopping count as much as the run [s]; common practice."""


@dataclass(frozen=True)
class Line:
    """
    One pump.

    Attributes
    ----------
    ml_per_second : float
        What it delivers, by calibration.
    largest_seconds : float
        Longest run.
    largest_ml_per_day : float
        Most that it may deliver in 24 hours.
    """

    ml_per_second: float
    largest_seconds: float
    largest_ml_per_day: float


@dataclass(frozen=True)
class Granted:
    """
    What a line may deliver of what is wanted.

    Attributes
    ----------
    ml : float
        Volume, never above what is wanted.
    seconds : float or None
        Running time; None without a pump.
    limit : str or None
        ``daily`` or ``run`` where that bound cut it, ``unknown`` where today's total is not told.
    """

    ml: float
    seconds: float | None
    limit: str | None


def lines_of(pump: Any) -> dict[str, Line]:
    """
    Return the pumps of a request.

    Parameters
    ----------
    pump : object or None
        Attributes by the names of `LINES`.

    Returns
    -------
    dict of str to Line
        Those that are there.
    """
    if pump is None:
        return {}
    asked = {name: getattr(pump, name) for name in LINES}
    return {
        name: Line(each.ml_per_second, each.largest_seconds, each.largest_ml_per_day)
        for name, each in asked.items()
        if each is not None
    }


def allowed_ml(
    wanted: float, line: Line | None, today_ml: float | None
) -> tuple[float, str | None]:
    """
    Return how much of what is wanted a line may deliver now.

    Parameters
    ----------
    wanted : float
        Volume wanted [mL].
    line : Line or None
        The pump, None for a hand.
    today_ml : float or None
        What went in within the last 24 hours [mL].

    Returns
    -------
    volume : float
        Volume [mL].
    limit : str or None
        What cut it.
    """
    if line is None or wanted <= 0.0:
        return wanted, None
    if today_ml is None:
        return 0.0, "unknown"
    left = max(line.largest_ml_per_day - today_ml, 0.0)
    run = line.ml_per_second * line.largest_seconds
    if wanted <= min(left, run):
        return wanted, None
    return (left, "daily") if left <= run else (run, "run")


def granted(wanted: float, line: Line | None, limit: str | None) -> Granted:
    """
    Return the running time of a volume that a line may deliver.

    Parameters
    ----------
    wanted : float
        Volume from `allowed_ml` [mL].
    line : Line or None
        The pump, None for a hand.
    limit : str or None
        What cut it.

    Returns
    -------
    Granted
        Volume and time, rounded down.
    """
    if line is None:
        return Granted(wanted, None, limit)
    # A hair of tolerance keeps 2.4 s from becoming 2.39 s through binary fractions.
    steps = math.floor(wanted / line.ml_per_second / SECONDS_STEP + 1e-9)
    seconds = min(steps * SECONDS_STEP, line.largest_seconds)
    return Granted(min(seconds * line.ml_per_second, wanted), round(seconds, 2), limit)
