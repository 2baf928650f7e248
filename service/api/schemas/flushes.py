"""Flushes: the water that leaches a pot or a mount."""

from typing import Annotated, Any, Final

from pydantic import Field

from service.api.schemas.answer import Envelope, Outcome, Step
from service.api.schemas.container import Container, DrainageReading
from service.api.schemas.fields import Number3, Number4, Quantity, Request
from service.api.schemas.plants import Plants
from service.api.schemas.water import Water

FeedConductivity = Annotated[float, Quantity(ge=0.01, le=20)]


class FlushTarget(Request):
    """What the drainage is to come down to."""

    ec_ms_per_cm: Annotated[float, Quantity(ge=0.02, le=20)] = Field(
        description="Conductivity of the drainage at 25 °C; it is also what the leaching fraction"
        " allows.",
        examples=[1.0],
    )


class FlushRequest(Request):
    """A pot, its drainage and the water that flushes it."""

    container: Container = Field(description="What the roots stand in.")
    reading: DrainageReading | None = Field(
        default=None,
        description="What the drainage reads; without it the flush is the usual one, twice the"
        " volume of the pot.",
    )
    target: FlushTarget | None = Field(
        default=None,
        description="What the drainage is to come down to; that of the feed if absent.",
    )
    feed_ec_ms_per_cm: FeedConductivity | None = Field(
        default=None,
        description="Conductivity of the feed that the plants get, water included; the most that"
        " the plant and its size are fed if absent.",
        examples=[0.8],
    )
    water: Water | None = Field(
        default=None,
        description="The water that flushes; `moderate_tap` if absent.",
        examples=["rain"],
    )
    plants: Plants | None = Field(
        default=None,
        description="The plants; absent means `moth_orchid` and is said. `profile`, `size` and"
        " `refill` count here, and what `container` leaves out.",
    )


class FlushResult(Outcome):
    """How much water, and how much of every watering has to drain."""

    flush_volume_l: Number4 | None = Field(
        description="Water for all pots together; 0 where no flush is needed, null where this water"
        " does not reach the target."
    )
    flush_volume_per_pot_l: Number4 | None = Field(description="Water for one pot.")
    pour_volume_per_pot_l: Number4 | None = Field(
        description="Water for one pot at a time; null where nothing is poured."
    )
    repeats: int | None = Field(description="How many times it is poured.", ge=0)
    leaching_fraction: Number3 = Field(
        description="Share of every watering that has to drain so that salt does not gather:"
        " conductivity of the feed over that allowed in the drainage."
    )
    watering_volume_per_pot_ml: Number3 | None = Field(
        description="An ordinary watering at that fraction, for a pot that has lost half of its"
        " water; null where no watering keeps the balance, and for mounts."
    )
    band: str | None = Field(
        description="What the reading says: `steady` up to 1.2 times the feed, `rising` up to 2,"
        " `flush` above; null without a reading."
    )
    drainage_ec_ms_per_cm: Number4 | None = Field(description="The reading at 25 °C.")
    target_ec_ms_per_cm: Number3 = Field(description="What the drainage comes down to.")
    feed_ec_ms_per_cm: Number3 = Field(description="The feed that it is judged by.")
    water_ec_ms_per_cm: Number3 = Field(description="The water that flushes.")
    held_water_per_pot_l: Number3 | None = Field(
        description="Water that a pot holds after draining; null for a mount."
    )
    largest_water_share_percent: Number3 | None = Field(
        description="Of a blend with rain or reverse osmosis water, the share of this water that"
        " still flushes well; null where this water will do."
    )
    steps: list[Step] = Field(description="What to do, in order.")
    reasons: list[str] = Field(description="Why, in the order it was found.")


class FlushAnswer(Envelope, FlushResult):
    """The flush of a pot or mount."""


FLUSH_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Twelve moth orchids in bark whose drainage reads twice the feed",
        {
            "container": {"diameter_cm": 12, "medium": "bark", "plant_count": 12},
            "reading": {"ec_ms_per_cm": 1.7, "temperature_celsius": 20, "compensated": True},
            "feed_ec_ms_per_cm": 0.8,
            "water": "rain",
            "plants": {"profile": "moth_orchid", "size": "large"},
        },
    ),
    "us": (
        "A five inch pot, a meter in ppm, rain water",
        {
            "container": {"diameter_cm": "5 in", "setup": "wet_dry_pot", "medium": "sphagnum"},
            "reading": {"ppm": 900, "scale": 500, "temperature_celsius": "68 °F"},
            "target": {"ec_ms_per_cm": "0.9 mS/cm"},
            "feed_ec_ms_per_cm": 0.8,
            "water": "rain",
        },
    ),
    "caution": (
        "Hard tap water that is saltier than the drainage is to be",
        {
            "container": {"volume_l": 0.8, "setup": "semi_hydroponic_pot"},
            "reading": {"ppm": 700},
            "target": {"ec_ms_per_cm": 0.5},
            "feed_ec_ms_per_cm": 0.5,
            "water": "hard_tap",
            "plants": {"profile": "moth_orchid", "size": "medium", "refill": "topped_up"},
        },
    ),
}
