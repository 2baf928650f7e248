"""
What a date means for plants: the season, the air of the site and the growth that goes with it.

Seasons are the meteorological ones, whole months, half a year apart in the two hemispheres; near
the equator and under artificial conditions there are none. Every number of this module is common
practice, no published source; a caller's own climate and dated phases stand in their place.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Final

SEASONS: Final = ("winter", "spring", "summer", "autumn")
HEMISPHERES: Final = ("north", "south", "equator")
MONTHS_PER_YEAR: Final = 12
MONTHS_PER_SEASON: Final = 3
HALF_YEAR: Final = 6

COOL_NIGHT_CELSIUS: Final = 18.0
"""Night at or under which moth orchids set spikes in autumn [degC]; common practice."""

SHORT_LIGHT_HOURS: Final = 10.0
"""Light under which plants in artificial conditions are treated as at rest [h]; common practice."""

DEFAULT_CLIMATE: Final = "heated_home"
EQUATOR_CLIMATE: Final = "tropical"
MOTH_ORCHID: Final = "moth_orchid"


@dataclass(frozen=True)
class SiteAir:
    """
    Air of a day, where it is known.

    Attributes
    ----------
    day_temperature_celsius, night_temperature_celsius : float or None
        Usual highest and lowest temperature [degC].
    humidity_percent : float or None
        Usual relative humidity by day [percent].
    """

    day_temperature_celsius: float | None = None
    night_temperature_celsius: float | None = None
    humidity_percent: float | None = None

    def mixed(self, other: "SiteAir", share: float) -> "SiteAir":
        """
        Return the air between this one and another.

        Parameters
        ----------
        other : SiteAir
            The air of the next season.
        share : float
            Share of the other, 0 to 1.

        Returns
        -------
        SiteAir
            Each number between the two; unknown where either is unknown.
        """
        return SiteAir(
            *(
                None if mine is None or theirs is None else mine + share * (theirs - mine)
                for mine, theirs in (
                    (self.day_temperature_celsius, other.day_temperature_celsius),
                    (self.night_temperature_celsius, other.night_temperature_celsius),
                    (self.humidity_percent, other.humidity_percent),
                )
            )
        )

    def over(self, other: "SiteAir") -> "SiteAir":
        """
        Return this air, with the numbers of another where it is silent.

        Parameters
        ----------
        other : SiteAir
            What is taken where this air says nothing.

        Returns
        -------
        SiteAir
            The completed air.
        """
        return SiteAir(
            *(
                theirs if mine is None else mine
                for mine, theirs in (
                    (self.day_temperature_celsius, other.day_temperature_celsius),
                    (self.night_temperature_celsius, other.night_temperature_celsius),
                    (self.humidity_percent, other.humidity_percent),
                )
            )
        )


Climate = Mapping[str, SiteAir]
"""The air of each of `SEASONS`."""


def _climate(**seasons: tuple[float, float, float]) -> Climate:
    return MappingProxyType({name: SiteAir(*seasons[name]) for name in SEASONS})


CLIMATES: Final[Mapping[str, Climate]] = MappingProxyType(
    {
        "heated_home": _climate(
            winter=(21.0, 17.0, 35.0),
            spring=(22.0, 18.0, 45.0),
            summer=(25.0, 20.0, 55.0),
            autumn=(21.0, 17.5, 45.0),
        ),
        "cool_greenhouse": _climate(
            winter=(18.0, 13.0, 75.0),
            spring=(22.0, 14.0, 65.0),
            summer=(26.0, 17.0, 65.0),
            autumn=(20.0, 14.0, 75.0),
        ),
        "warm_greenhouse": _climate(
            winter=(24.0, 20.0, 70.0),
            spring=(26.0, 20.0, 70.0),
            summer=(29.0, 22.0, 70.0),
            autumn=(26.0, 20.0, 75.0),
        ),
        "subtropical_outdoors": _climate(
            winter=(19.0, 12.0, 65.0),
            spring=(25.0, 17.0, 65.0),
            summer=(31.0, 24.0, 75.0),
            autumn=(26.0, 18.0, 75.0),
        ),
        "tropical": _climate(
            winter=(31.0, 24.0, 80.0),
            spring=(31.0, 24.0, 80.0),
            summer=(31.0, 24.0, 80.0),
            autumn=(31.0, 24.0, 80.0),
        ),
    }
)
"""Climates by a word: day and night [degC] and humidity [percent]; common practice."""


@dataclass(frozen=True)
class Phase:
    """
    A dated phase of growth, both dates included.

    Attributes
    ----------
    growth : str
        One of `rows.GROWTHS`.
    first_date, last_date : date
        The phase's first and last day.
    """

    growth: str
    first_date: date
    last_date: date


@dataclass(frozen=True)
class Site:
    """
    Where the plants stand, as far as the calendar needs it.

    Attributes
    ----------
    profile : str
        Key of the plant profile; decides what winter is.
    hemisphere : str or None
        One of `HEMISPHERES`; None without seasons.
    climate : mapping of str to SiteAir or None
        Air of the four seasons.
    phases : tuple of Phase
        Dated phases; they win over the seasons.
    usual_air : SiteAir
        Air of every day, where the climate is silent.
    growth : str or None
        Growth of all days that no phase covers, when the caller says so.
    light_hours : float or None
        Hours of light a day under artificial conditions.
    """

    profile: str = MOTH_ORCHID
    hemisphere: str | None = None
    climate: Climate | None = None
    phases: tuple[Phase, ...] = ()
    usual_air: SiteAir = SiteAir()
    growth: str | None = None
    light_hours: float | None = None


@dataclass(frozen=True)
class Day:
    """
    One date at a site.

    Attributes
    ----------
    today : date
        The date.
    season : str or None
        One of `SEASONS`; None without seasons.
    growth : str
        One of `rows.GROWTHS`.
    growth_basis : str
        ``phase``, ``request``, ``season``, ``light`` or ``even``: what the growth follows from.
    air : SiteAir
        The air.
    """

    today: date
    season: str | None
    growth: str
    growth_basis: str
    air: SiteAir


def northern_month(month: int, hemisphere: str) -> int:
    """
    Return the month of the north that a month of a hemisphere is like.

    Parameters
    ----------
    month : int
        Month of the year, 1 to 12.
    hemisphere : str
        ``north`` or ``south``.

    Returns
    -------
    int
        Month of the year, half a year away in the south.
    """
    shift = HALF_YEAR if hemisphere == "south" else 0
    return (month - 1 + shift) % MONTHS_PER_YEAR + 1


def season_on(today: date, hemisphere: str | None) -> str | None:
    """
    Return the meteorological season of a date.

    Parameters
    ----------
    today : date
        The date.
    hemisphere : str or None
        One of `HEMISPHERES`, or None for a site without seasons.

    Returns
    -------
    str or None
        One of `SEASONS`; None near the equator and without a hemisphere.
    """
    if hemisphere is None or hemisphere == "equator":
        return None
    month = northern_month(today.month, hemisphere)
    return SEASONS[month % MONTHS_PER_YEAR // MONTHS_PER_SEASON]


def climate_in_month(climate: Climate, month: int) -> SiteAir:
    """
    Return the air of a month of the northern year.

    The numbers of a season stand for its middle month (January, April, July, October); the months
    between lie in thirds between their neighbours.

    Parameters
    ----------
    climate : mapping of str to SiteAir
        Air of the four seasons.
    month : int
        Month of the northern year, 1 to 12.

    Returns
    -------
    SiteAir
        The air.
    """
    place, step = divmod(month - 1, MONTHS_PER_SEASON)
    before, after = SEASONS[place], SEASONS[(place + 1) % len(SEASONS)]
    return climate[before].mixed(climate[after], step / MONTHS_PER_SEASON)


def air_on(site: Site, today: date) -> SiteAir:
    """
    Return the air of a date at a site.

    Parameters
    ----------
    site : Site
        The site.
    today : date
        The date.

    Returns
    -------
    SiteAir
        The climate's numbers, the usual air where it is silent; near the equator the mean of the
        four seasons.
    """
    if site.climate is None or site.hemisphere is None:
        return site.usual_air
    if site.hemisphere == "equator":
        first, second, third, fourth = (site.climate[name] for name in SEASONS)
        air = first.mixed(second, 0.5).mixed(third.mixed(fourth, 0.5), 0.5)
    else:
        air = climate_in_month(site.climate, northern_month(today.month, site.hemisphere))
    return air.over(site.usual_air)


def is_cool_night(night_temperature: float | None) -> bool:
    """
    Tell whether a night is cool enough to set spikes.

    Parameters
    ----------
    night_temperature : float or None
        Lowest temperature of the night [degC].

    Returns
    -------
    bool
        False where the temperature is not known.
    """
    return night_temperature is not None and night_temperature <= COOL_NIGHT_CELSIUS


def _growth_of_season(site: Site, season: str, air: SiteAir) -> str:
    """Growth that a season brings: spikes in cool autumn nights, then bloom or rest in winter."""
    if season == "autumn" and is_cool_night(air.night_temperature_celsius):
        return "spike_initiation"
    if season == "winter":
        if site.profile != MOTH_ORCHID:
            return "resting"
        spiked = site.climate is None or any(
            is_cool_night(climate_in_month(site.climate, month).night_temperature_celsius)
            for month in (9, 10, 11)
        )
        return "in_bloom" if spiked else "active"
    return "active"


def day_at(site: Site, today: date) -> Day:
    """
    Return what a date means at a site.

    Parameters
    ----------
    site : Site
        The site.
    today : date
        The date.

    Returns
    -------
    Day
        Season, growth and air.
    """
    season = season_on(today, site.hemisphere)
    air = air_on(site, today)
    for phase in site.phases:
        if phase.first_date <= today <= phase.last_date:
            return Day(today, season, phase.growth, "phase", air)
    if site.growth is not None:
        return Day(today, season, site.growth, "request", air)
    if season is not None:
        return Day(today, season, _growth_of_season(site, season, air), "season", air)
    if site.light_hours is not None and site.light_hours < SHORT_LIGHT_HOURS:
        return Day(today, season, "resting", "light", air)
    return Day(today, season, "active", "even", air)


def add_months(start: date, months: int) -> date:
    """
    Return the same day some months later, or the month's last day where there is none.

    Parameters
    ----------
    start : date
        A date.
    months : int
        Months to go on, at least 0.

    Returns
    -------
    date
        The later date; 29 February goes to 28 February of a common year.
    """
    years, month = divmod(start.month - 1 + months, MONTHS_PER_YEAR)
    year = start.year + years
    for day in (start.day, 30, 29, 28):
        try:
            return date(year, month + 1, min(day, start.day))
        except ValueError:
            continue
    raise ValueError(start)
