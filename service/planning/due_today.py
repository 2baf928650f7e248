"""What a single can is to be today, by the rhythm of the calendar and what was last given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from service.planning.products import ProductRow
from service.planning.programme import RULES, Due, Situation, application_due
from service.planning.programme_cans import role_of
from service.planning.seasons import season_on

USUAL_INTERVAL_DAYS: Final = 7
"""Days between cans where nothing is said; common practice."""

FEED: Final = "feed"


@dataclass(frozen=True)
class Record:
    """
    What is known of the day and of the cans before it.

    Attributes
    ----------
    today : date
        The day of the can.
    last_applied : mapping of str to date
        Last feed, supplement, stimulant and flush, as far as known.
    hemisphere : str or None
        One of `seasons.HEMISPHERES`; None without seasons.
    interval_days : float or None
        Days between cans; None means `USUAL_INTERVAL_DAYS`.
    """

    today: date
    last_applied: Mapping[str, date]
    hemisphere: str | None
    interval_days: float | None


def due_today(
    record: Record, plants: Any, air: Any, shelf: Sequence[ProductRow]
) -> tuple[Due, list[int]]:
    """
    Return what is due today and which products go into its can.

    Parameters
    ----------
    record : Record
        The day and the cans before it.
    plants : object or None
        Attributes `setup`, `refill` and `growth`, None where the caller is silent.
    air : object or None
        Attribute `temperature_celsius`, and `humidity_percent`.
    shelf : sequence of ProductRow
        The products at hand. One whose contents do not tell a role counts as a feed.

    Returns
    -------
    due : Due
        The kind of can, whether a flush comes first, and the reasons.
    places : list of int
        Positions of the products of that kind; empty for plain water.
    """
    roles = [role_of(product) or FEED for product in shelf]
    interval = USUAL_INTERVAL_DAYS if record.interval_days is None else record.interval_days
    due = application_due(
        RULES,
        record.today,
        record.last_applied,
        Situation(
            growth=getattr(plants, "growth", None) or "active",
            day_temperature_celsius=getattr(air, "temperature_celsius", None),
            humidity_percent=getattr(air, "humidity_percent", None),
            season=season_on(record.today, record.hemisphere),
            setup=getattr(plants, "setup", None) or "wet_dry_pot",
            refill=getattr(plants, "refill", None),
            shelf=tuple(roles),
            interval_days=max(round(interval), 1),
        ),
    )
    return due, [place for place, role in enumerate(roles) if role == due.kind]
