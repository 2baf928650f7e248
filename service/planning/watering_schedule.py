"""
A schedule of feeds, supplements, plain water and flushes as a list of days.

Items with days of their own fall on those; the others take turns, one at each watering of the
rotation. What falls on one day is poured in the order flush, water, supplement, feed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.containers import Container
from service.planning.flush import DEPLETED_SHARE, POT_VOLUMES_BY_CUSTOM
from service.planning.notes import Notes, RefusalError
from service.planning.volumes import WATERING_SHARES

KINDS: Final = ("flush", "water", "supplement", "feed")
"""In the order in which they are poured on one day."""

FEEDS: Final = ("feed", "supplement")
SMALLEST_SURPLUS: Final = 1.25
"""Least volume of an ordinary watering over what the pot takes up; common practice."""

ROTATION_DAYS: Final = 7.0
"""Days from one watering to the next where nothing is said; common practice."""


@dataclass(frozen=True)
class Watering:
    """
    One watering of one pot.

    Attributes
    ----------
    day : int
        Day, from 1.
    kind : str
        One of `KINDS`.
    volume_l : float
        Volume poured.
    ec_ms_per_cm : float
        Conductivity of what is poured.
    """

    day: int
    kind: str
    volume_l: float
    ec_ms_per_cm: float


def in_order(waterings: Sequence[Watering]) -> tuple[Watering, ...]:
    """
    Return waterings by day, and by kind within a day.

    Parameters
    ----------
    waterings : sequence of Watering
        In any order.

    Returns
    -------
    tuple of Watering
        Sorted; equal ones keep their order.
    """
    return tuple(sorted(waterings, key=lambda each: (each.day, KINDS.index(each.kind))))


def waterings_of(
    request: Any, pot: Container, held: float, water: float, weeks: int, notes: Notes
) -> tuple[Watering, ...]:
    """
    Return the waterings of a schedule.

    Parameters
    ----------
    request : object
        Attributes as in the contract of salt outlooks.
    pot : Container
        The pot.
    held : float
        Water that it holds [L].
    water : float
        Conductivity of plain water [mS/cm].
    weeks : int
        Weeks of the outlook.
    notes : Notes
        Receives what is assumed.

    Returns
    -------
    tuple of Watering
        In order.

    Raises
    ------
    RefusalError
        If a feed has no strength, an item contradicts itself, or nothing falls into the weeks.
    """
    last = 7 * weeks
    ordinary = ordinary_volume(pot, held)
    found: list[Watering] = []
    turns: list[Watering] = []
    assumed = False
    for item in request.schedule:
        strength = item.ec_ms_per_cm
        if strength is None:
            if item.kind in FEEDS:
                raise RefusalError("schedule_strength_missing")
            strength = water
        if item.volume_ml is not None:
            volume = item.volume_ml / 1000.0
        else:
            assumed = True
            volume = flush_volume(pot) if item.kind == "flush" else ordinary
        one = Watering(0, item.kind, volume, strength)
        if item.every_days is None and item.from_day is None:
            if item.to_day is not None:
                raise RefusalError("schedule_item_unclear")
            turns.append(one)
            continue
        found += [replace(one, day=day) for day in _days(item, last)]
    if turns:
        every = request.days_between_waterings
        if every is None:
            every = ROTATION_DAYS
            notes.assume("rotation_interval_assumed", days=every)
        for turn in range(int(last / every) + 1):
            day = 1 + round(turn * every)
            if day <= last:
                found.append(replace(turns[turn % len(turns)], day=day))
    if not found:
        raise RefusalError("schedule_never_waters")
    if assumed:
        notes.assume("watering_volume_assumed", volume=1000.0 * ordinary)
    return in_order(found)


def _days(item: Any, last: int) -> range:
    """Return the days of an item that has days of its own."""
    first = 1 if item.from_day is None else item.from_day
    if item.every_days is None:
        if item.to_day is not None:
            raise RefusalError("schedule_item_unclear")
        return range(first, min(first, last) + 1)
    if item.to_day is not None and item.to_day < first:
        raise RefusalError("schedule_item_unclear")
    return range(first, min(item.to_day or last, last) + 1, item.every_days)


def ordinary_volume(pot: Container, held: float) -> float:
    """
    Return the usual watering of a pot: that of a mixing card, and some of it drains.

    Parameters
    ----------
    pot : Container
        The pot.
    held : float
        Water that it holds [L].

    Returns
    -------
    float
        Volume [L].
    """
    share = float(WATERING_SHARES[rows.MEDIA.index(pot.medium)])
    return max(share * pot.pot_volume_l, SMALLEST_SURPLUS * DEPLETED_SHARE * held)


def flush_volume(pot: Container) -> float:
    """
    Return the usual flush of a pot.

    Parameters
    ----------
    pot : Container
        The pot.

    Returns
    -------
    float
        Volume [L].
    """
    return POT_VOLUMES_BY_CUSTOM * pot.pot_volume_l


@dataclass(frozen=True, eq=False)
class WateringTable:
    """
    Waterings as the arrays that the kernel reads.

    Attributes
    ----------
    day : ndarray of int64, shape (n_waterings,)
        Days, rising.
    volume_l, ec_ms_per_cm : ndarray, shape (n_waterings,)
        What is poured.
    drains : ndarray of int64, shape (n_waterings,)
        Whether the surplus drains; a reservoir that is topped up takes no surplus.
    is_feed : ndarray of int64, shape (n_waterings,)
        Whether the plant takes salt from it.
    """

    day: NDArray[np.int64]
    volume_l: NDArray[np.float64]
    ec_ms_per_cm: NDArray[np.float64]
    drains: NDArray[np.int64]
    is_feed: NDArray[np.int64]


def table_of(waterings: Sequence[Watering], *, topped_up: bool) -> WateringTable:
    """
    Return waterings as arrays.

    Parameters
    ----------
    waterings : sequence of Watering
        In order.
    topped_up : bool
        Whether a reservoir is only topped up between flushes.

    Returns
    -------
    WateringTable
        The arrays.
    """
    return WateringTable(
        day=np.array([each.day for each in waterings], dtype=np.int64),
        volume_l=np.array([each.volume_l for each in waterings], dtype=np.float64),
        ec_ms_per_cm=np.array([each.ec_ms_per_cm for each in waterings], dtype=np.float64),
        drains=np.array(
            [int(not topped_up or each.kind == "flush") for each in waterings], dtype=np.int64
        ),
        is_feed=np.array([int(each.kind in FEEDS) for each in waterings], dtype=np.int64),
    )
