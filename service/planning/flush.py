"""
How much water leaches a pot, and how much of every watering has to drain.

The volume of a flush follows from the water that the pot holds and from how well its medium is
rinsed; the leaching fraction from the balance of salt at every watering. A mount is rinsed.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

from service.chemistry.leaching import steady_leaching_fraction, water_with_leaching
from service.chemistry.root_zone import displacing_volume
from service.planning.catalogue import Catalogue
from service.planning.containers import Container, understood_container
from service.planning.drainage_reading import RISING_UP_TO, band_of, reading_at_25
from service.planning.notes import Notes
from service.planning.poured_water import PouredWater, poured_water
from service.planning.volumes import MOUNT_MILLILITRES

POT_VOLUMES_BY_CUSTOM: Final = 2.0
"""Flush of a pot of which nothing was measured, in pot volumes; uc-anr-soluble-salts, text."""

MOST_POT_VOLUMES: Final = 10.0
"""Flush beyond which another water is the better way, in pot volumes; common practice."""

FILL_SHARE: Final = 0.45
"""Water that fills a pot of pebbles to its rim, over its volume; common practice."""

RINSES_OF_A_MOUNT: Final = 2
DEPLETED_SHARE: Final = 0.5
"""Share of the held water that is gone when a pot is watered again; common practice."""

HIGHEST_PRACTICAL_FRACTION: Final = 0.9
"""Leaching fraction above which no ordinary watering keeps the balance; common practice."""

BLEND_SHARE_OF_TARGET: Final = 0.5
"""Conductivity of a blend that flushes well, over the target; common practice."""


@dataclass(frozen=True)
class FlushPlan:
    """
    A flush with everything that explains it; volumes are for one pot unless named otherwise.

    Attributes
    ----------
    container : Container
        The pots.
    water : PouredWater
        The water that is poured.
    feed_ec_ms_per_cm, target_ec_ms_per_cm, allowed_ec_ms_per_cm : float
        Feed; what the flush is to reach; what the leaching fraction allows in the drainage.
    drainage_ec_ms_per_cm : float or None
        Reading at 25 degC.
    band : str or None
        What the reading says beside the feed.
    feasible : bool
        Whether this water reaches the target.
    needed_volume_l : float
        Volume that would reach the target; NaN where none does.
    volume_l : float or None
        Volume of the flush, None where it is not feasible.
    repeats : int or None
        Into how many pours it is split.
    leaching_fraction : float
        Share of every watering that has to drain.
    watering_volume_l : float or None
        An ordinary watering at that fraction, None where no watering has it.
    """

    container: Container
    water: PouredWater
    feed_ec_ms_per_cm: float
    target_ec_ms_per_cm: float
    allowed_ec_ms_per_cm: float
    drainage_ec_ms_per_cm: float | None
    band: str | None
    feasible: bool
    needed_volume_l: float
    volume_l: float | None
    repeats: int | None
    leaching_fraction: float
    watering_volume_l: float | None

    @property
    def total_volume_l(self) -> float | None:
        """Volume for all pots."""
        return None if self.volume_l is None else self.volume_l * self.container.plant_count

    @property
    def largest_share_of_water_percent(self) -> float:
        """Share of this water in a blend with salt-free water that flushes well."""
        if self.water.ec_ms_per_cm <= 0.0:
            return 100.0
        share = BLEND_SHARE_OF_TARGET * self.target_ec_ms_per_cm / self.water.ec_ms_per_cm
        return 100.0 * min(share, 1.0)


def plan_flush(request: Any, profile: int, catalogue: Catalogue, notes: Notes) -> FlushPlan:
    """
    Plan a flush.

    Parameters
    ----------
    request : object
        Attributes as in the contract of flushes.
    profile : int
        Row of the plant's profile.
    catalogue : Catalogue
        Knows profiles and waters.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    FlushPlan
        The plan, feasible or not.

    Raises
    ------
    RefusalError
        If the request contradicts itself or lacks the size of the pot.
    """
    pot = understood_container(request.container, request.plants, profile, catalogue, notes)
    water = poured_water(request.water, profile, catalogue, notes)
    feed = request.feed_ec_ms_per_cm
    if feed is None:
        feed = pot.ceiling_ms_per_cm
        notes.assume("feed_strength_assumed", feed=feed)
    stated = None if request.target is None else request.target.ec_ms_per_cm
    target = feed if stated is None else stated
    if stated is None:
        notes.assume("target_from_feed", target=target)
    fraction, allowed = (1.0, feed) if pot.is_mount else _fraction(feed, stated, notes)
    reading = None if request.reading is None else reading_at_25(request.reading, notes)
    band = None if reading is None else band_of(reading, feed)
    if reading is not None:
        if band == "flush":
            notes.caution("flush_due", ratio=reading / feed)
        lowest = min(feed, water.ec_ms_per_cm)
        if reading < lowest * (1.0 - 0.1):
            notes.caution("reading_below_all_water", reading=reading, lowest=lowest)
    needed = _needed_volume(pot, water.ec_ms_per_cm, target, reading, notes)
    most = MOST_POT_VOLUMES * pot.pot_volume_l
    feasible = not math.isnan(needed) and (pot.is_mount or needed <= most)
    watering = None
    if not pot.is_mount and fraction <= HIGHEST_PRACTICAL_FRACTION:
        watering = float(water_with_leaching(DEPLETED_SHARE * pot.held_l, fraction))
    if feasible and needed > 0.0 and not pot.is_mount:
        notes.caution("roots_soak_in_drainage")
    return FlushPlan(
        container=pot,
        water=water,
        feed_ec_ms_per_cm=feed,
        target_ec_ms_per_cm=target,
        allowed_ec_ms_per_cm=allowed,
        drainage_ec_ms_per_cm=reading,
        band=band,
        feasible=feasible,
        needed_volume_l=needed,
        volume_l=needed if feasible else None,
        repeats=_repeats(pot, needed) if feasible else None,
        leaching_fraction=fraction,
        watering_volume_l=watering,
    )


def _fraction(feed: float, stated: float | None, notes: Notes) -> tuple[float, float]:
    """Return the leaching fraction, and the drainage that it allows."""
    if stated is None:
        allowed = RISING_UP_TO * feed
        notes.assume("drainage_allowed_assumed", allowed=allowed)
    else:
        allowed = stated
        if stated < feed:
            notes.caution("only_flushes_hold_target")
    return min(float(steady_leaching_fraction(feed, allowed)), 1.0), allowed


def _needed_volume(
    pot: Container, water: float, target: float, reading: float | None, notes: Notes
) -> float:
    """Return the volume for one pot; NaN where this water does not reach the target."""
    if reading is not None and reading <= target:
        return 0.0
    if water >= target:
        return math.nan
    if pot.is_mount:
        return RINSES_OF_A_MOUNT * MOUNT_MILLILITRES / 1000.0
    if reading is None:
        notes.assume("flush_by_custom")
        return POT_VOLUMES_BY_CUSTOM * pot.pot_volume_l
    return float(displacing_volume(reading, water, target, pot.held_l, pot.efficiency))


def _repeats(pot: Container, volume: float) -> int:
    """Return into how many pours a flush is split."""
    if volume <= 0.0:
        return 0
    if pot.is_mount:
        return RINSES_OF_A_MOUNT
    one = pot.pot_volume_l
    if pot.setup == "semi_hydroponic_pot":
        one *= FILL_SHARE
    return max(1, math.ceil(volume / one - 1e-9))
