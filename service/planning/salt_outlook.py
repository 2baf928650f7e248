"""
Salt at the roots over the coming weeks, under a schedule, and the changes that keep it low.

Three runs of one balance, for a low, a middle and a high water use, give a line and its band.
Each change that is proposed was run through the same balance, at the high water use.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning.catalogue import Catalogue
from service.planning.containers import Container, understood_container
from service.planning.drainage_reading import RISING_UP_TO
from service.planning.notes import Notes, RefusalError
from service.planning.poured_water import PouredWater, poured_water
from service.planning.salt_weeks import (
    COLUMN_COUNT,
    DRIED_OUT,
    DRIEST,
    MOIST,
    salt_weeks,
)
from service.planning.water_use import WaterUse, water_use
from service.planning.watering_schedule import (
    FEEDS,
    Watering,
    flush_volume,
    in_order,
    table_of,
    waterings_of,
)

FloatArray = NDArray[np.float64]

DEFAULT_WEEKS: Final = 26
LIMIT_OF_PLANT: Final = 2.0
"""Drainage over the strongest feed of a plant that no schedule is to pass; common practice."""

WEAKEST_CHANGES: Final = tuple(range(5, 80, 5))
"""Percent by which a feed may be weakened, the smallest first."""

TURNS: Final = tuple(range(12, 1, -1))
"""Which watering in turn becomes plain water, the rarest first."""

LONGEST_FLUSH_INTERVAL: Final = 12
"""Weeks between flushes that are still called a habit; common practice."""

DRYING_BORNE: Final = 2.0
"""Conductivity at the driest moment over the limit that a pot between waterings reaches anyway."""

ROUNDING: Final = 1e-9


@dataclass(frozen=True)
class Change:
    """
    A change of the schedule that keeps the salt under the limit.

    Attributes
    ----------
    kind : str
        `flush`, `plain_water` or `weaker_feed`.
    amount : int
        Weeks between flushes, place of the plain watering in the turn, or percent.
    highest_ec_ms_per_cm : float
        Highest conductivity of the weeks with this change, at the high water use.
    """

    kind: str
    amount: int
    highest_ec_ms_per_cm: float


@dataclass(frozen=True, eq=False)
class Outlook:
    """
    The weeks of one pot with everything that explains them.

    Attributes
    ----------
    container : Container
        The pot.
    water : PouredWater
        Plain water.
    use : WaterUse
        How fast it dries.
    waterings : tuple of Watering
        The schedule by days.
    start_ec_ms_per_cm : float
        Conductivity at the start.
    uptake_share : float
        Share of the salt of a feed that the plant takes.
    limit_ec_ms_per_cm : float
        What the pot is not to pass.
    limit_origin : str
        `stated`, `feed` or `plant`.
    low, middle, high : ndarray, shape (n_weeks, n_columns)
        Columns of `service.planning.salt_weeks`, each the lowest, middle and highest of the runs.
    changes : tuple of Change
        What keeps it under; empty where nothing is needed or nothing helps.
    """

    container: Container
    water: PouredWater
    use: WaterUse
    waterings: tuple[Watering, ...]
    start_ec_ms_per_cm: float
    uptake_share: float
    limit_ec_ms_per_cm: float
    limit_origin: str
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    changes: tuple[Change, ...]

    def first_week_over(self, line: FloatArray) -> int | None:
        """
        Return the first week in which a line passes the limit.

        Parameters
        ----------
        line : ndarray, shape (n_weeks, n_columns)
            One of the lines.

        Returns
        -------
        int or None
            Week from 1, None when it stays under.
        """
        over = np.flatnonzero(line[:, MOIST] > self.limit_ec_ms_per_cm * (1.0 + ROUNDING))
        return int(over[0]) + 1 if over.size else None


def plan_outlook(request: Any, profile: int, catalogue: Catalogue, notes: Notes) -> Outlook:
    """
    Follow the salt of one pot over the weeks asked for.

    Parameters
    ----------
    request : object
        Attributes as in the contract of salt outlooks.
    profile : int
        Row of the plant's profile.
    catalogue : Catalogue
        Knows profiles and waters.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    Outlook
        The weeks.

    Raises
    ------
    RefusalError
        If the request contradicts itself or says too little.
    """
    pot = understood_container(request.container, request.plants, profile, catalogue, notes)
    if pot.is_mount:
        raise RefusalError("mount_keeps_no_salt")
    water = poured_water(request.water, profile, catalogue, notes)
    use = water_use(request, pot, notes)
    weeks = request.weeks or DEFAULT_WEEKS
    waterings = waterings_of(request, pot, use.held_l, water.ec_ms_per_cm, weeks, notes)
    uptake = (request.salt_uptake_percent or 0.0) / 100.0
    if uptake == 0.0:
        notes.assume("no_salt_uptake")
    notes.assume("salt_mass_from_conductivity")
    limit, origin = _limit(request, pot, waterings)
    start = request.start_ec_ms_per_cm
    if start is None:
        first = next((each for each in waterings if each.kind in FEEDS), None)
        start = water.ec_ms_per_cm if first is None else first.ec_ms_per_cm
        what = "the water" if first is None else "the first feed"
        notes.assume("start_strength_assumed", start=start, what=what)
    case = Case(pot, use.held_l, start, uptake, weeks)
    lines = [case.run(waterings, each) for each in (use.low_l, use.middle_l, use.high_l)]
    outlook = Outlook(
        container=pot,
        water=water,
        use=use,
        waterings=waterings,
        start_ec_ms_per_cm=start,
        uptake_share=uptake,
        limit_ec_ms_per_cm=limit,
        limit_origin=origin,
        low=np.minimum.reduce(lines),
        middle=lines[1],
        high=np.maximum.reduce(lines),
        changes=(),
    )
    if outlook.first_week_over(outlook.high) is not None:
        changes = _changes(case, waterings, use.high_l, water.ec_ms_per_cm, limit)
        outlook = replace(outlook, changes=tuple(changes))
    _caution(outlook, notes)
    return outlook


def _limit(request: Any, pot: Container, waterings: Sequence[Watering]) -> tuple[float, str]:
    """Return what the pot is not to pass, and where that comes from."""
    if request.limit_ec_ms_per_cm is not None:
        return request.limit_ec_ms_per_cm, "stated"
    ceiling = pot.ceiling_ms_per_cm
    feeds = [each.ec_ms_per_cm for each in waterings if each.kind in FEEDS]
    doubled = RISING_UP_TO * max(feeds, default=0.0)
    if ceiling < doubled < LIMIT_OF_PLANT * ceiling:
        return doubled, "feed"
    return (ceiling if doubled <= ceiling else LIMIT_OF_PLANT * ceiling), "plant"


@dataclass(frozen=True)
class Case:
    """
    What stays the same while schedules are tried on one pot.

    Attributes
    ----------
    pot : Container
        The pot.
    held_l : float
        Water that it holds.
    start_ec_ms_per_cm : float
        Conductivity at the start.
    uptake_share : float
        Share of the salt of a feed that the plant takes.
    weeks : int
        Weeks of the outlook.
    """

    pot: Container
    held_l: float
    start_ec_ms_per_cm: float
    uptake_share: float
    weeks: int

    def run(self, waterings: Sequence[Watering], use: float) -> FloatArray:
        """
        Return the weeks of a schedule.

        Parameters
        ----------
        waterings : sequence of Watering
            In order.
        use : float
            Water lost in a day [L].

        Returns
        -------
        ndarray, shape (n_weeks, n_columns)
            Columns of `service.planning.salt_weeks`.
        """
        table = table_of(waterings, topped_up=self.pot.refill == "topped_up")
        result = np.empty((self.weeks, COLUMN_COUNT))
        salt_weeks(
            table.day,
            table.volume_l,
            table.ec_ms_per_cm,
            table.drains,
            table.is_feed,
            self.held_l,
            self.pot.efficiency,
            use,
            self.start_ec_ms_per_cm,
            self.uptake_share,
            result,
        )
        return result


def _changes(
    case: Case, waterings: Sequence[Watering], use: float, water: float, limit: float
) -> Iterator[Change]:
    """Yield the smallest change of each kind that keeps the salt under the limit."""
    for kind, amounts in (
        ("flush", range(min(LONGEST_FLUSH_INTERVAL, case.weeks), 0, -1)),
        ("plain_water", TURNS),
        ("weaker_feed", WEAKEST_CHANGES),
    ):
        for amount in amounts:
            changed = with_change(case, waterings, kind, amount, water, limit)
            highest = float(np.max(case.run(changed, use)[:, MOIST]))
            if highest <= limit:
                yield Change(kind, amount, highest)
                break


def with_change(
    case: Case, waterings: Sequence[Watering], kind: str, amount: int, water: float, limit: float
) -> tuple[Watering, ...]:
    """
    Return a schedule with one change.

    Parameters
    ----------
    case : Case
        The pot.
    waterings : sequence of Watering
        In order.
    kind : str
        `flush`, `plain_water` or `weaker_feed`.
    amount : int
        Weeks between flushes, place of the plain watering in the turn, or percent.
    water : float
        Conductivity of plain water [mS/cm].
    limit : float
        What the pot is not to pass; above it at the start, the first flush is on the first day
        [mS/cm].

    Returns
    -------
    tuple of Watering
        The schedule, in order.
    """
    if kind == "flush":
        days = list(range(7 * amount, 7 * case.weeks + 1, 7 * amount))
        if case.start_ec_ms_per_cm > limit:
            days.insert(0, 1)
        volume = flush_volume(case.pot)
        return in_order([*waterings, *(Watering(day, "flush", volume, water) for day in days)])
    changed = []
    turn = 0
    for each in waterings:
        if each.kind not in FEEDS:
            changed.append(each)
            continue
        turn += 1
        if kind == "weaker_feed":
            added = max(each.ec_ms_per_cm - water, 0.0)
            weaker = each.ec_ms_per_cm - 0.01 * amount * added
            changed.append(replace(each, ec_ms_per_cm=weaker))
        elif turn % amount == 0:
            changed.append(replace(each, kind="water", ec_ms_per_cm=water))
        else:
            changed.append(each)
    return in_order(changed)


def _caution(outlook: Outlook, notes: Notes) -> None:
    """Note what the weeks warn of."""
    limit = outlook.limit_ec_ms_per_cm
    first = outlook.first_week_over(outlook.high)
    if outlook.container.refill == "topped_up":
        notes.caution("salt_gathers_in_reservoir")
    if outlook.water.ec_ms_per_cm > limit:
        notes.caution("water_over_limit", water=outlook.water.ec_ms_per_cm, limit=limit)
    if first is not None:
        when = f"in week {first} at the earliest"
        if outlook.use.measured:
            middle = outlook.first_week_over(outlook.middle)
            if middle is not None:
                when = f"in about week {middle}"
        computed = "; what_keeps_it_under names changes that were computed through"
        remedy = computed if outlook.changes else ""
        notes.caution("salt_over_limit", limit=limit, when=when, remedy=remedy)
        if not outlook.changes:
            notes.caution("nothing_keeps_salt_under")
    driest = float(np.max(outlook.middle[:, DRIEST]))
    if driest > DRYING_BORNE * limit:
        notes.caution("salt_over_limit_when_dry", driest=driest, limit=limit)
    if np.any(outlook.middle[:, DRIED_OUT] > 0.0):
        notes.caution("pot_dries_out")
