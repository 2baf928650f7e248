"""The plants that are fed, and what they stand in."""

from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, Tag

from service.api.schemas.fields import Key, Quantity, Request, ShortText
from service.api.validation import tag

Size = Literal["large", "medium", "mini"]
Setup = Literal["wet_dry_pot", "semi_hydroponic_pot", "mount"]
Growth = Literal["active", "spike_initiation", "in_bloom", "resting"]
Medium = Literal["bark", "sphagnum", "bark_and_sphagnum", "clay_pebbles", "pumice", "none"]
Refill = Literal["drained", "topped_up"]
Application = Literal["feed", "supplement", "stimulant", "flush", "auto"]
Micronutrient = Literal["boron", "iron", "manganese", "zinc", "copper", "molybdenum"]


class PlantProfile(Request):
    """A profile of one's own: the ceilings of a solution that these plants bear."""

    union_tag: ClassVar[str] = tag("profile")

    name: ShortText | None = Field(
        default=None, description="A name for the answer.", examples=["my_seedlings"]
    )
    based_on: Key | None = Field(
        default=None,
        description="Catalogue profile that supplies what is not given; `moth_orchid` if absent.",
        examples=["moth_orchid"],
    )
    ec_ceiling_ms_per_cm: Annotated[float, Quantity(gt=0, le=5)] | None = Field(
        default=None, description="Highest conductivity of the whole can.", examples=[1.2]
    )
    nitrogen_ceiling_mg_per_l: Annotated[float, Quantity(gt=0, le=1_000)] | None = Field(
        default=None,
        description="Highest total nitrogen, that of the water and of urea included.",
        examples=[150],
    )
    ammonium_share_ceiling_percent: Annotated[float, Quantity(gt=0, le=100)] | None = Field(
        default=None,
        description="Highest share of ammonium and urea in total nitrogen.",
        examples=[30],
    )
    micronutrient_ceilings_mg_per_l: (
        dict[Micronutrient, Annotated[float, Quantity(gt=0, le=100)]] | None
    ) = Field(
        default=None,
        description="Highest concentration of single micronutrients.",
        examples=[{"boron": 0.5}],
    )


def _profile_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("key")
    return tag("profile") if isinstance(value, dict | PlantProfile) else None


ProfileChoice = Annotated[
    Annotated[ShortText, Tag(tag("key"))] | Annotated[PlantProfile, Tag(tag("profile"))],
    Discriminator(
        _profile_tag,
        custom_error_type="unknown_basis",
        custom_error_message="`profile` is the key of a profile or an object of ceilings.",
    ),
]


class Plants(Request):
    """One group of plants that get the same can."""

    profile: ProfileChoice | None = Field(
        default=None,
        description="Key of `/v1/plants`, a genus, or an object of one's own ceilings. Absent means"
        " `moth_orchid`; a plant that is not known gets the weakest profile and a caution.",
        examples=["moth_orchid"],
    )
    size: Size | None = Field(
        default=None,
        description="Size of the plants; `mini`, the most careful, if absent.",
        examples=["medium"],
    )
    setup: Setup | None = Field(
        default=None,
        description="What the roots are in; `wet_dry_pot` if absent.",
        examples=["wet_dry_pot"],
    )
    growth: Growth | None = Field(
        default=None, description="What the plants are doing; `active` if absent."
    )
    count: Annotated[int, Quantity(ge=1, le=1_000_000, whole=True)] | None = Field(
        default=None, description="Number of plants.", examples=[12]
    )
    medium: Medium | None = Field(
        default=None, description="What the roots are in.", examples=["bark"]
    )
    pot_diameter_cm: Annotated[float, Quantity(ge=2, le=100)] | None = Field(
        default=None, description="Inner diameter of the pot at its rim.", examples=[12]
    )
    refill: Refill | None = Field(
        default=None,
        description="Whether a semi-hydroponic pot is emptied before it is filled again.",
    )
    days_since_flush: Annotated[float, Quantity(ge=0, le=3_650)] | None = Field(
        default=None, description="Days since the pot was last leached.", examples=[28]
    )
