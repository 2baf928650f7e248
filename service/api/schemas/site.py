"""Where plants stand over a year: seasons and climate, dated phases, or artificial conditions."""

from itertools import pairwise
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import ConfigDict, Discriminator, Field, Tag, model_validator

from service.api.schemas.alternatives import check_not_both, either
from service.api.schemas.dates import IsoDate
from service.api.schemas.fields import Quantity, Request, fault
from service.api.schemas.plants import Growth
from service.api.validation import tag
from service.planning.seasons import CLIMATES, DEFAULT_CLIMATE, EQUATOR_CLIMATE, SEASONS

Hemisphere = Literal["north", "south", "equator"]
ClimateWord = Literal[
    "heated_home", "cool_greenhouse", "warm_greenhouse", "subtropical_outdoors", "tropical"
]
Temperature = Annotated[float, Quantity(ge=0, le=50)]
Humidity = Annotated[float, Quantity(ge=0, le=100)]

MOST_PHASES: Final = 60

CLIMATE_NUMBERS: Final = "; ".join(
    f"`{word}` "
    + ", ".join(
        f"{air.day_temperature_celsius:g}/{air.night_temperature_celsius:g}"
        f"/{air.humidity_percent:g}"
        for air in (seasons[name] for name in SEASONS)
    )
    for word, seasons in CLIMATES.items()
)
"""The numbers behind the words, for the description."""


class GrowthPhase(Request):
    """What the plants are doing from one date to another, both included."""

    growth: Growth = Field(description="What the plants are doing.", examples=["active"])
    first_date: IsoDate = Field(description="First day of the phase.", examples=["2027-03-01"])
    last_date: IsoDate = Field(
        description="Last day of the phase, not before the first.", examples=["2027-08-31"]
    )

    @model_validator(mode="after")
    def _ordered(self) -> "GrowthPhase":
        if self.last_date < self.first_date:
            detail = f"The phase ends on {self.last_date}, before it begins on {self.first_date}."
            raise fault(
                "dates_out_of_order",
                detail,
                field="last_date",
                received=self.last_date.isoformat(),
                allowed=f"{self.first_date} or later",
            )
        return self


class SeasonAir(Request):
    """The usual air of a season."""

    day_temperature_celsius: Temperature = Field(
        description="Usual highest temperature of the day.", examples=[22, "72 °F"]
    )
    night_temperature_celsius: Temperature = Field(
        description="Usual lowest temperature of the night.", examples=[17]
    )
    humidity_percent: Humidity | None = Field(
        default=None,
        description="Usual relative humidity by day; that of `air` if absent.",
        examples=[50],
    )


class SeasonalClimate(Request):
    """The air of the four seasons; it stands for the middle month, others lie between."""

    union_tag: ClassVar[str] = tag("seasons")

    spring: SeasonAir = Field(description="March to May, in the south September to November.")
    summer: SeasonAir = Field(description="June to August, in the south December to February.")
    autumn: SeasonAir = Field(description="September to November, in the south March to May.")
    winter: SeasonAir = Field(description="December to February, in the south June to August.")


def _climate_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("word")
    return tag("seasons") if isinstance(value, dict | SeasonalClimate) else None


Climate = Annotated[
    Annotated[ClimateWord, Tag(tag("word"))] | Annotated[SeasonalClimate, Tag(tag("seasons"))],
    Discriminator(
        _climate_tag,
        custom_error_type="unknown_basis",
        custom_error_message="`climate` is a word or an object with the four seasons.",
    ),
]
"""A word, or the numbers of the four seasons."""


class ArtificialConditions(Request):
    """A room without seasons: lamps, heating, perhaps a humidifier."""

    temperature_celsius: Temperature = Field(
        description="Temperature while the lamps are on.", examples=[24]
    )
    night_temperature_celsius: Temperature | None = Field(
        default=None, description="Temperature while they are off.", examples=[20]
    )
    humidity_percent: Humidity = Field(description="Relative humidity.", examples=[65])
    light_hours: Annotated[float, Quantity(ge=0, le=24)] | None = Field(
        default=None,
        description="Hours of light a day; under 10 the plants are treated as at rest.",
        examples=[12],
    )


class Site(Request):
    """
    Seasons, phases or artificial conditions.

    A hemisphere gives the meteorological seasons, and with the climate what the plants are doing;
    dated phases win over it. Near the equator there are no seasons: send phases. Artificial
    conditions have none either.
    """

    model_config = ConfigDict(
        json_schema_extra=either(
            {"hemisphere": "string", "artificial": "null"},
            {"artificial": "object", "hemisphere": "null", "climate": "null"},
            {"phases": "array", "hemisphere": "null", "climate": "null", "artificial": "null"},
        )
    )

    hemisphere: Hemisphere | None = Field(
        default=None, description="Which half of the year is summer.", examples=["north"]
    )
    climate: Climate | None = Field(
        default=None,
        description="With a hemisphere: the air of the seasons, by a word or by its numbers. A word"
        f" stands for day °C/night °C/humidity % in {', '.join(SEASONS)}: {CLIMATE_NUMBERS} (common"
        f" practice, no published source). Absent: `{DEFAULT_CLIMATE}`, near the equator"
        f" `{EQUATOR_CLIMATE}`, with the numbers of `air` where it is sent.",
        examples=["heated_home"],
    )
    phases: list[GrowthPhase] | None = Field(
        default=None,
        description="Dated phases of growth; no two may share a day.",
        min_length=1,
        max_length=MOST_PHASES,
    )
    artificial: ArtificialConditions | None = Field(
        default=None, description="Conditions that are the same all year."
    )

    @model_validator(mode="after")
    def _one_kind(self) -> "Site":
        check_not_both(self, "artificial", "hemisphere", "artificial conditions have no seasons.")
        if self.climate is not None and self.hemisphere is None:
            detail = "`climate` is by season and needs a `hemisphere`."
            raise fault("missing", detail, field="hemisphere", received=None)
        if self.hemisphere is None and self.artificial is None and self.phases is None:
            detail = "Give `hemisphere`, `phases` or `artificial`."
            raise fault("missing", detail, field="hemisphere", received=None)
        self._check_phases()
        return self

    def _check_phases(self) -> None:
        """Refuse phases that share a day."""
        ordered = sorted(self.phases or (), key=lambda phase: phase.first_date)
        for before, after in pairwise(ordered):
            if after.first_date <= before.last_date:
                detail = (
                    f"The phase from {after.first_date} begins before the one from"
                    f" {before.first_date} ends on {before.last_date}."
                )
                raise fault(
                    "phases_overlap",
                    detail,
                    field="phases",
                    received=after.first_date.isoformat(),
                    allowed=f"after {before.last_date}",
                )


SITE_EXAMPLES: Final[tuple[dict[str, Any], ...]] = (
    {"hemisphere": "north", "climate": "heated_home"},
    {"artificial": {"temperature_celsius": 24, "humidity_percent": 65, "light_hours": 12}},
)
