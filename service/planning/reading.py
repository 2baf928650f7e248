"""What a meter reading means: the conductivity at 25 degC, every scale, and the band it lies in."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.chemistry.compensation import (
    LINEAR_COEFFICIENT,
    NATURAL_WATER,
    compensation_factor,
)
from service.chemistry.meter import (
    SCALE_500,
    SCALE_NAMES,
    conductivity_from_reading,
    meter_reading,
)
from service.planning import rows
from service.planning.card import number
from service.planning.catalogue import Catalogue
from service.planning.notes import Notes, RefusalError
from service.planning.profiles import EC_CEILING, SIZE_METER_PPM
from service.planning.targets import DOSING_SCALE
from service.planning.water import FREEZING_POINT
from service.reference.plants import PlantProfile, plants

STEADY_RATIO: Final = 1.2
FLUSH_RATIO: Final = 2.0
"""Drainage over feed up to which salt does not gather, and above which it is flushed out; common
practice."""

LEAST_ROOM: Final = 0.5
"""Share of the ceiling that a water may use up where no published range says more; common
practice."""

REFERENCE_CELSIUS: Final = 25.0
NOTICED_CELSIUS: Final = 1.0
"""Distance from 25 degC from which a compensation is worth a word [degC]."""

RANGE: Final = "ec_ms_per_cm"


@dataclass(frozen=True)
class Judge:
    """
    What a reading is held against.

    Attributes
    ----------
    name : str
        Profile as the answer names it.
    ceiling : float
        Highest conductivity that the plants bear [mS/cm].
    low, high : float or None
        Published range of their feed [mS/cm].
    sources : tuple of str
        Keys of the sources of these numbers.
    """

    name: str
    ceiling: float
    low: float | None
    high: float | None
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Band:
    """
    One band of conductivity.

    Attributes
    ----------
    name : str
        Its name.
    low, high : float
        Its ends; the upper one belongs to it and may be infinite [mS/cm].
    meaning : str
        Sentence for people.
    """

    name: str
    low: float
    high: float
    meaning: str


def reference_reading(asked: Any, notes: Notes) -> tuple[float, float]:
    """
    Return the conductivity at 25 degC behind a reading.

    Parameters
    ----------
    asked : object
        Attributes of the contract: `ec_ms_per_cm` or `ppm` and `scale`, `temperature_celsius`,
        `compensated`.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    conductivity : float
        Conductivity at 25 degC [mS/cm].
    factor : float
        What the reading was multiplied by [dimensionless].

    Raises
    ------
    RefusalError
        If the reading is beyond its scale, or the sample too warm to be referred to 25 degC.
    """
    shown = asked.ec_ms_per_cm
    if shown is None:
        scale = SCALE_500
        if asked.scale is None:
            notes.assume("reading_scale_assumed")
        else:
            scale = SCALE_NAMES.index(asked.scale)
        shown = float(conductivity_from_reading(scale, asked.ppm))
        if np.isnan(shown):
            raise RefusalError("reading_beyond_scale")
    celsius = asked.temperature_celsius
    if asked.compensated is None:
        notes.assume("compensation_assumed")
    if celsius is None:
        if asked.compensated is False:
            notes.caution("reading_not_compensated")
        return shown, 1.0
    factor = float(compensation_factor(NATURAL_WATER, celsius + FREEZING_POINT, LINEAR_COEFFICIENT))
    away = abs(celsius - REFERENCE_CELSIUS) >= NOTICED_CELSIUS
    if asked.compensated is False:
        if np.isnan(factor):
            raise RefusalError("reading_too_warm")
        if away:
            notes.caution(
                "reading_compensated_here",
                reading=shown,
                temperature=celsius,
                reference=shown * factor,
            )
        return shown * factor, factor
    if away and not np.isnan(factor):
        percent = 100.0 * (factor - 1.0)
        if asked.compensated is None:
            notes.caution(
                "reading_perhaps_not_compensated", reference=shown * factor, percent=percent
            )
        else:
            notes.caution("reading_compensated_already", percent=percent)
    return shown, 1.0


def judge_of(position: int, size: str | None, catalogue: Catalogue, notes: Notes) -> Judge:
    """
    Return what the readings of a kind of plant are held against.

    Parameters
    ----------
    position : int
        Row of the profile in the catalogue.
    size : str or None
        Size of the plants.
    catalogue : Catalogue
        Knows the profile.
    notes : Notes
        Receives what is assumed.

    Returns
    -------
    Judge
        Ceiling and published range.
    """
    row = catalogue.profile_table[position]
    ceiling = float(row[EC_CEILING])
    if size is None:
        notes.assume("size_not_judged")
    else:
        ppm = float(row[SIZE_METER_PPM + rows.SIZES.index(size)])
        ceiling = min(ceiling, ppm / DOSING_SCALE)
    name = catalogue.profile_names[position]
    profile: PlantProfile | None = plants().get(name)
    if profile is None:
        return Judge(name, ceiling, None, None, ())
    published = profile.ranges.get(RANGE)
    limits = [profile.ec_ceiling_ms_per_cm.provenance.source]
    if published is None:
        return Judge(name, ceiling, None, None, tuple(limits))
    limits.append(published.provenance.source)
    return Judge(name, ceiling, published.low, published.high, tuple(dict.fromkeys(limits)))


def feed_bands(judge: Judge) -> list[Band]:
    """
    Return the bands of a feed, the lowest first.

    Parameters
    ----------
    judge : Judge
        What it is held against.

    Returns
    -------
    list of Band
        They follow each other from 0 without a gap.
    """
    over = Band(
        "over_ceiling", judge.ceiling, np.inf, "Stronger than these plants bear: dilute it."
    )
    if judge.low is None or judge.high is None or judge.low >= judge.ceiling:
        within = "Within what these plants bear; no published range says more."
        return [Band("within_ceiling", 0.0, judge.ceiling, within), over]
    high = min(judge.high, judge.ceiling)
    bands = [
        Band("below_range", 0.0, judge.low, "Weaker than published feeds of these plants."),
        Band("in_range", judge.low, high, "In the published range of these plants."),
    ]
    if high < judge.ceiling:
        above = "Above the published range, below the ceiling: not for every day."
        bands.append(Band("above_range", high, judge.ceiling, above))
    return [*bands, over]


def water_bands(judge: Judge) -> list[Band]:
    """
    Return the bands of a water before anything is added, the lowest first.

    Parameters
    ----------
    judge : Judge
        What its feed will be held against.

    Returns
    -------
    list of Band
        They follow each other from 0 without a gap.
    """
    room = LEAST_ROOM * judge.ceiling
    if judge.low is not None and judge.ceiling - judge.low > 0.0:
        room = judge.ceiling - judge.low
    return [
        Band("leaves_room", 0.0, room, "Leaves room for a feed below the ceiling of these plants."),
        Band(
            "little_room",
            room,
            judge.ceiling,
            "Leaves too little room for a feed: blend it with rain or reverse osmosis water.",
        ),
        Band(
            "over_ceiling",
            judge.ceiling,
            np.inf,
            "Stronger than these plants bear even without a feed: use another water.",
        ),
    ]


def drainage_bands(feed: float) -> list[Band]:
    """
    Return the bands of a drainage, the lowest first.

    Parameters
    ----------
    feed : float
        Conductivity of the feed [mS/cm].

    Returns
    -------
    list of Band
        They follow each other from 0 without a gap.
    """
    return [
        Band("steady", 0.0, STEADY_RATIO * feed, "About as strong as the feed: nothing gathers."),
        Band(
            "rising",
            STEADY_RATIO * feed,
            FLUSH_RATIO * feed,
            "Stronger than the feed: salt gathers; water more freely or with plain water in turn.",
        ),
        Band(
            "flush",
            FLUSH_RATIO * feed,
            np.inf,
            "More than twice the feed: flush with plain water before the next feed.",
        ),
    ]


def band_of(conductivity: float, bands: list[Band]) -> Band:
    """
    Return the band that a conductivity lies in.

    Parameters
    ----------
    conductivity : float
        Conductivity at 25 degC [mS/cm].
    bands : list of Band
        Bands that follow each other.

    Returns
    -------
    Band
        The first whose upper end is not below the conductivity.
    """
    return next(band for band in bands if conductivity <= band.high)


def reading_fields(asked: Any, judge: Judge, notes: Notes) -> dict[str, Any]:
    """
    Return the flat results of a reading, and note what is to be known about it.

    Parameters
    ----------
    asked : object
        Attributes of the contract.
    judge : Judge
        What it is held against.
    notes : Notes
        Receives cautions and assumptions.

    Returns
    -------
    dict
        Fields of the answer, and `feed_ec_ms_per_cm` as it was understood.
    """
    conductivity, factor = reference_reading(asked, notes)
    kind = asked.kind
    if kind is None:
        notes.assume("reading_kind_assumed")
        kind = "feed"
    ratio = None
    feed = asked.feed_ec_ms_per_cm
    if kind == "drainage":
        if feed is None:
            feed = judge.low if judge.low is not None else LEAST_ROOM * judge.ceiling
            feed = min(feed, judge.ceiling)
            notes.assume("feed_conductivity_assumed", feed=feed)
        ratio = conductivity / feed
        bands = drainage_bands(feed)
    else:
        bands = water_bands(judge) if kind == "water" else feed_bands(judge)
    band = band_of(conductivity, bands)
    if band.name == "over_ceiling":
        notes.caution("reading_over_ceiling", reading=conductivity, ceiling=judge.ceiling)
    elif band.name == "flush":
        notes.caution("drainage_calls_for_flush", ratio=ratio)
    if kind != "water":
        notes.caution("reading_blind_to_urea")
    scales = {
        f"meter_ppm_{name}": number(meter_reading(scale, conductivity))
        for scale, name in enumerate(SCALE_NAMES)
    }
    return {
        "ec_ms_per_cm": conductivity,
        **scales,
        "compensation_factor": factor,
        "salinity_band": band.name,
        "salinity_bands": [
            {
                "band": each.name,
                "ec_from_ms_per_cm": each.low,
                "ec_to_ms_per_cm": number(each.high),
                "meaning": each.meaning,
            }
            for each in bands
        ],
        "feed_ratio": ratio,
        "kind": kind,
        "feed_ec_ms_per_cm": feed if kind == "drainage" else None,
    }
