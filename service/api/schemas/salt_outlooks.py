"""Salt outlooks: the salt of a pot over the coming weeks."""

from typing import Annotated, Any, Final, Literal

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.air import Air
from service.api.schemas.alternatives import either
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.container import Container
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request, fault
from service.api.schemas.plants import Plants
from service.api.schemas.water import Water

WateringKind = Literal["feed", "supplement", "water", "flush"]
ChangeKind = Literal["flush", "plain_water", "weaker_feed"]

PotConductivity = Annotated[float, Quantity(ge=0, le=20)]
Day = Annotated[int, Quantity(ge=1, le=728, whole=True)]
PotMass = Annotated[float, Quantity(ge=1, le=200_000)]

MOST_ITEMS: Final = 24


class ScheduleItem(Request):
    """One kind of watering, on days of its own or in turn with the others."""

    kind: WateringKind = Field(description="What is poured.", examples=["feed"])
    ec_ms_per_cm: PotConductivity | None = Field(
        default=None,
        description="Conductivity of what is poured, water included; needed for a feed and a"
        " supplement, that of `water` for the others if absent.",
        examples=[0.8],
    )
    volume_ml: Annotated[float, Quantity(ge=1, le=200_000)] | None = Field(
        default=None,
        description="Volume for one pot. Absent, the watering of a mixing card, so much that"
        " some of it drains; for a flush twice the volume of the pot.",
        examples=[250, "1 cup"],
    )
    every_days: Annotated[int, Quantity(ge=1, le=365, whole=True)] | None = Field(
        default=None, description="Days from one time to the next.", examples=[28]
    )
    from_day: Day | None = Field(
        default=None,
        description="First day, from 1; alone it means once. Items with neither `from_day` nor"
        " `every_days` take turns, one at each watering.",
        examples=[1],
    )
    to_day: Day | None = Field(default=None, description="Last day.", examples=[180])


_NUMBER: Final = ["number", "string"]
_WEIGHED: Final = ("pot_mass_wet_g", "pot_mass_dry_g", "days_between_weighings")


class SaltOutlookRequest(Request):
    """A pot, its water and the schedule of its feeds."""

    model_config = ConfigDict(
        json_schema_extra=either(dict.fromkeys(_WEIGHED, _NUMBER), dict.fromkeys(_WEIGHED, "null"))
    )

    container: Container = Field(description="What the roots stand in.")
    air: Air | None = Field(
        default=None,
        description="The air; it counts where the water use is not measured. A dry living room if"
        " absent.",
    )
    water: Water | None = Field(
        default=None,
        description="Plain water and that of the flushes; `moderate_tap` if absent.",
        examples=["soft_tap"],
    )
    schedule: list[ScheduleItem] = Field(
        description="What is poured, and when.", min_length=1, max_length=MOST_ITEMS
    )
    start_ec_ms_per_cm: PotConductivity | None = Field(
        default=None,
        description="What the drainage reads at the start, at 25 °C; that of the first feed if"
        " absent.",
        examples=[1.0],
    )
    plants: Plants | None = Field(
        default=None,
        description="The plants; absent means `moth_orchid` and is said. `profile`, `size` and"
        " `refill` count here, and what `container` leaves out.",
    )
    weeks: Annotated[int, Quantity(ge=1, le=104, whole=True)] | None = Field(
        default=None, description="How many weeks; 26 if absent.", examples=[26]
    )
    limit_ec_ms_per_cm: Annotated[float, Quantity(ge=0.02, le=20)] | None = Field(
        default=None,
        description="What the pot is not to pass; from the plant and the feed if absent.",
        examples=[1.8],
    )
    days_between_waterings: Annotated[float, Quantity(ge=0.5, le=120)] | None = Field(
        default=None,
        description="Days until the pot is ready for water again; also the interval at which items"
        " without days take turns.",
        examples=[7],
    )
    pot_mass_wet_g: PotMass | None = Field(
        default=None, description="Mass of pot and plant after a watering.", examples=[780]
    )
    pot_mass_dry_g: PotMass | None = Field(
        default=None, description="Mass of the same before the next watering.", examples=[640]
    )
    days_between_weighings: Annotated[float, Quantity(ge=0.1, le=120)] | None = Field(
        default=None, description="Days between the two weighings.", examples=[7]
    )
    salt_uptake_percent: Annotated[float, Quantity(ge=0, le=90)] | None = Field(
        default=None,
        description="Share of the salt staying with a feed that the plants take up; none if absent,"
        " the safe side.",
        examples=[0],
    )

    @model_validator(mode="after")
    def _weighed_twice(self) -> "SaltOutlookRequest":
        missing = [name for name in _WEIGHED if getattr(self, name) is None]
        if missing and len(missing) < len(_WEIGHED):
            detail = f"Two weighings need `{missing[0]}` too."
            raise fault("missing", detail, field=missing[0], received=None, allowed=list(_WEIGHED))
        return self


class Week(Answer):
    """One week of the pot."""

    week: int = Field(description="Week, from 1.", ge=1)
    ec_low_ms_per_cm: Number3 = Field(description="The same as `ec_ms_per_cm` at low water use.")
    ec_ms_per_cm: Number3 = Field(
        description="Highest conductivity of the water in the pot just after a watering, as the"
        " last of the drainage shows it; at full pot in a week without watering."
    )
    ec_high_ms_per_cm: Number3 = Field(description="The same at high water use.")
    driest_ec_low_ms_per_cm: Number3 = Field(
        description="The same as `driest_ec_ms_per_cm` at low water use."
    )
    driest_ec_ms_per_cm: Number3 = Field(
        description="Conductivity at the driest moment of the week."
    )
    driest_ec_high_ms_per_cm: Number3 = Field(description="The same at high water use.")
    drainage_ec_ms_per_cm: Number3 | None = Field(
        description="Conductivity of all the drainage of the week together; null where nothing"
        " drains."
    )
    salt_low_mg: Number4 = Field(description="The same as `salt_mg` at low water use.")
    salt_mg: Number4 = Field(description="Salt in one pot when the week ends.")
    salt_high_mg: Number4 = Field(description="The same at high water use.")
    poured_ml: Number4 = Field(description="Water and feed poured into one pot.")
    drained_ml: Number4 = Field(description="What drained from it.")


class ScheduleChange(Answer):
    """A change of the schedule that keeps the salt under the limit."""

    change: ChangeKind = Field(description="What is changed.")
    every_weeks: int | None = Field(description="Weeks between flushes; null for other changes.")
    feed_number: int | None = Field(
        description="Which feed in a row becomes plain water, 2 for every second; null for other"
        " changes."
    )
    weaker_percent: int | None = Field(
        description="How much less the feeds add to the water; null for other changes."
    )
    highest_ec_ms_per_cm: Number3 = Field(
        description="Highest conductivity of all the weeks with this change, at high water use."
    )
    message: str = Field(description="What to do, for people.")


class SaltOutlookResult(Outcome):
    """When the salt passes the limit, and what keeps it under."""

    first_week_over_limit: int | None = Field(
        description="First week in which the pot passes the limit; null when it does not, and where"
        " the water use is not measured."
    )
    first_week_over_limit_low: int | None = Field(
        description="The earliest that it may be, at high water use; null when it stays under."
    )
    first_week_over_limit_high: int | None = Field(
        description="The latest that it may be, at low water use; null when it stays under."
    )
    limit_ec_ms_per_cm: Number3 = Field(description="What the pot is not to pass.")
    limit_origin: str = Field(
        description="Where the limit comes from: `stated`, `feed` (twice the strongest feed) or"
        " `plant`."
    )
    what_keeps_it_under: list[ScheduleChange] = Field(
        description="The smallest change of each kind, each run through the same weeks; empty when"
        " none is needed or none is enough."
    )
    weeks: list[Week] = Field(description="The weeks.")
    leaching_fraction: Number3 = Field(description="Share of everything poured that drains.")
    water_use_low_ml_per_day: Number3 = Field(description="Low water use of one pot.")
    water_use_ml_per_day: Number3 = Field(description="Water use of one pot.")
    water_use_high_ml_per_day: Number3 = Field(description="High water use of one pot.")
    water_use_basis: str = Field(
        description="How the water use is known: `weights`, `days` or `air` (estimated)."
    )
    held_water_per_pot_l: Number3 = Field(description="Water that a pot holds after draining.")
    water_ec_ms_per_cm: Number3 = Field(description="Conductivity of plain water.")
    reasons: list[str] = Field(description="Why, in the order it was found.")


class SaltOutlookAnswer(Envelope, SaltOutlookResult):
    """The salt of a pot over the coming weeks."""


SALT_OUTLOOK_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Three feeds, then plain water, in bark; the pot was weighed",
        {
            "container": {"diameter_cm": 12, "medium": "bark", "setup": "wet_dry_pot"},
            "water": "soft_tap",
            "schedule": [
                {"kind": "feed", "ec_ms_per_cm": 0.8},
                {"kind": "feed", "ec_ms_per_cm": 0.8},
                {"kind": "feed", "ec_ms_per_cm": 0.8},
                {"kind": "water"},
            ],
            "start_ec_ms_per_cm": 0.8,
            "plants": {"profile": "moth_orchid", "size": "large"},
            "weeks": 26,
            "days_between_waterings": 7,
            "pot_mass_wet_g": 780,
            "pot_mass_dry_g": 640,
            "days_between_weighings": 7,
        },
    ),
    "us": (
        "A five inch pot, cups and degrees Fahrenheit, nothing weighed: the answer is a band",
        {
            "container": {"diameter_cm": "5 in", "medium": "bark"},
            "air": {"humidity_percent": 50, "temperature_celsius": "72 °F"},
            "water": "moderate_tap",
            "schedule": [
                {"kind": "feed", "ec_ms_per_cm": 0.9, "volume_ml": "1 cup", "every_days": 7},
                {"kind": "flush", "volume_ml": "2 qt", "every_days": 56, "from_day": 56},
            ],
            "plants": {"profile": "moth_orchid", "size": "medium"},
            "weeks": 26,
        },
    ),
    "caution": (
        "A reservoir that is only topped up, with feed and hard water",
        {
            "container": {"volume_l": 1.0, "setup": "semi_hydroponic_pot"},
            "water": "hard_tap",
            "schedule": [{"kind": "feed", "ec_ms_per_cm": 1.1, "volume_ml": 300, "every_days": 5}],
            "plants": {"profile": "moth_orchid", "size": "medium", "refill": "topped_up"},
            "weeks": 16,
            "days_between_waterings": 5,
        },
    ),
}
