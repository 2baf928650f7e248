"""Targets: how strong a solution these plants bear in this air."""

from typing import Annotated, Any, Final, Literal

from pydantic import Field

from service.api.schemas.air import Air
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.fields import Answer, Exact, Number3, Quantity, Request
from service.api.schemas.plants import Application, Plants

IntervalDays = Annotated[float, Quantity(ge=0.1, le=120)]


class TargetRequest(Request):
    """These plants, this air."""

    plants: Plants | None = Field(
        default=None, description="The plants; absent means `moth_orchid` and is said."
    )
    air: Air = Field(description="The air around the plants.")
    application: Application | None = Field(
        default=None, description="What the can is for; `feed` if absent."
    )
    interval_days: IntervalDays | None = Field(
        default=None, description="Days from one feeding to the next.", examples=[7, "1 week"]
    )


class FlushAdvice(Answer):
    """Whether the pot is to be leached with plain water."""

    due: bool = Field(description="Whether it is due now.")
    within_days: Number3 | None = Field(description="Days until it is due; 0 when it is due.")
    message: str = Field(description="Why, for people.")


class PublishedRange(Answer):
    """What trials and growers' guides recommend, and where the answer lies in it."""

    quantity: str = Field(description="What is recommended, with its unit.")
    low: Exact = Field(description="Lower end.")
    high: Exact = Field(description="Upper end.")
    value: Number3 | None = Field(description="The number of this answer; null where it has none.")
    position: Literal["below", "within", "above"] | None = Field(
        description="Where the number lies; null where there is none."
    )
    source: str = Field(description="Key of `/v1/sources`.")
    note: str | None = Field(description="Remark on the range, or null.")


class StrongFeed(Answer):
    """The other way to feed in dry air: full strength for a while, then flushed out."""

    meter_ppm: Number3 = Field(description="What the meter is to show, on `meter_scale`.")
    ec_ms_per_cm: Number3 = Field(description="Conductivity of the can at 25 °C.")
    minutes: Number3 = Field(description="How long it stays on the roots.")
    message: str = Field(description="What to do, for people.")


class TargetResult(Outcome):
    """The strength, and what limits it."""

    meter_ppm: Number3 | None = Field(description="What the meter is to show, on `meter_scale`.")
    meter_scale: int | None = Field(description="Scale of `meter_ppm`: 500, 640 or 700.")
    meter_ppm_500: Number3 | None = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number3 | None = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number3 | None = Field(description="The reading on the 700 scale.")
    ec_ms_per_cm: Number3 | None = Field(description="Conductivity of the can at 25 °C.")
    nitrogen_mg_per_l: Number3 | None = Field(
        description="Ceiling of total nitrogen, that of the water and of urea included."
    )
    ammonium_and_urea_nitrogen_mg_per_l: Number3 | None = Field(
        description="Ceiling of nitrogen as ammonium and urea."
    )
    vapour_pressure_deficit_kpa: Number3 | None = Field(
        description="Vapour pressure deficit of today's air. In air cooler than 22 °C, or where the"
        " usual air is drier, `reasons` name the deficit that counts."
    )
    binding_limit: str | None = Field(
        description="Which limit decided: `air`, `plant_size`, `conductivity`, `application` (a"
        " supplement, a stimulant or a flush has a strength of its own), `daily_feed` (a mount fed"
        " within four days) or `reservoir` (one that is only topped up)."
    )
    projected_ec_ms_per_cm: Number3 | None = Field(
        description="Conductivity that a topped-up reservoir comes to by its next flush; null for"
        " every other setup."
    )
    dry_air_alternative: StrongFeed | None = Field(
        description="Full strength for a quarter of an hour and then a flush, where dry air is what"
        " limits the strength; null otherwise."
    )
    published_ranges: list[PublishedRange] = Field(
        description="What is published for these plants. Practices differ because they feed at"
        " different intervals: compare nitrogen per plant per month."
    )
    flush: FlushAdvice | None = Field(description="Whether to leach first.")
    reasons: list[str] = Field(description="Why this strength, in the order it was found.")


class TargetAnswer(Envelope, TargetResult):
    """The strength for these plants in this air."""


TARGET_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Moth orchids on a window sill",
        {
            "plants": {"profile": "moth_orchid", "size": "medium", "setup": "wet_dry_pot"},
            "air": {"humidity_percent": 55, "temperature_celsius": 22},
            "interval_days": 7,
        },
    ),
    "us": (
        "The same, in the units of a US household",
        {
            "plants": {"profile": "moth_orchid"},
            "air": {"humidity_percent": 55, "temperature_celsius": "72 °F"},
            "interval_days": "1 week",
        },
    ),
    "caution": (
        "Dry air and a pot that was not flushed for two months",
        {
            "plants": {
                "profile": "moth_orchid",
                "setup": "semi_hydroponic_pot",
                "refill": "topped_up",
                "days_since_flush": 60,
            },
            "air": {"humidity_percent": 30, "temperature_celsius": 26},
        },
    ),
}
