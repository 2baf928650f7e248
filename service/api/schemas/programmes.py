"""Programmes: a dated calendar of feeding."""

from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import ConfigDict, Discriminator, Field, Tag, model_validator

from service.api.schemas.air import Air
from service.api.schemas.alternatives import check_not_both, either
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.dates import IsoDate
from service.api.schemas.dilutions import PreStock, Volume
from service.api.schemas.fields import (
    Answer,
    Exact,
    Key,
    Number3,
    Number4,
    Quantity,
    Request,
    RowId,
    fault,
)
from service.api.schemas.instruments import Instruments
from service.api.schemas.last_applied import LastApplied
from service.api.schemas.plants import Growth, Plants
from service.api.schemas.product import LabelledProduct, Product
from service.api.schemas.site import SITE_EXAMPLES, Site
from service.api.schemas.water import Water
from service.api.validation import tag

Role = Literal["feed", "supplement", "stimulant"]
Kind = Literal["feed", "supplement", "stimulant", "water", "flush", "repot_check"]
Season = Literal["winter", "spring", "summer", "autumn"]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]

MOST_ON_SHELF: Final = 12


class ShelfProduct(Request):
    """A product with the role that it plays."""

    union_tag: ClassVar[str] = tag("product with role")

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["calcium_nitrate_tetrahydrate"]
    )
    role: Role | None = Field(
        default=None,
        description="What it is for. Absent, its contents tell: nitrogen with phosphorus or"
        " potassium is a feed, calcium or magnesium without them a supplement.",
        examples=["supplement"],
    )


def _shelf_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("key")
    if isinstance(value, ShelfProduct) or (isinstance(value, dict) and "product" in value):
        return ShelfProduct.union_tag
    if isinstance(value, dict | LabelledProduct):
        return LabelledProduct.union_tag
    return None


ShelfItem = Annotated[
    Annotated[Key, Tag(tag("key"))]
    | Annotated[ShelfProduct, Tag(ShelfProduct.union_tag)]
    | Annotated[LabelledProduct, Tag(LabelledProduct.union_tag)],
    Discriminator(
        _shelf_tag,
        custom_error_type="unknown_basis",
        custom_error_message="What is on the shelf is the key of a product, a label, or an object"
        " with `product` and `role`.",
    ),
]
"""A product as a key or a label, or an object that adds its role."""


RHYTHM: Final = either(
    {"interval_days": ["integer", "string"], "weekdays": "null"},
    {"weekdays": "array", "interval_days": "null"},
    {"weekdays": "null", "interval_days": "null"},
)
REPOTTING: Final = either(
    {"repotted_on": "string", "days_since_repot": "null"},
    {"days_since_repot": ["integer", "string"], "repotted_on": "null"},
    {"days_since_repot": "null", "repotted_on": "null"},
)


class ProgrammeRequest(Request):
    """These plants at this site, these dates, this shelf."""

    model_config = ConfigDict(json_schema_extra={"allOf": [RHYTHM, REPOTTING]})

    id: RowId | None = Field(
        default=None,
        description="The caller's own name of the programme, handed back unchanged.",
        examples=["south bench"],
    )
    plants: Plants | None = Field(
        default=None,
        description="The plants; absent means `moth_orchid` and is said. `growth`, where given,"
        " stands for every day that no phase covers.",
    )
    site: Site = Field(
        description="Where they stand over the year.", examples=[SITE_EXAMPLES[0], SITE_EXAMPLES[1]]
    )
    first_date: IsoDate = Field(description="First day of the programme.", examples=["2027-03-01"])
    last_date: IsoDate = Field(
        description="Last day of the programme, at most two years later.", examples=["2027-08-31"]
    )
    shelf: list[ShelfItem] = Field(
        description="What is at hand. Several products of one role take turns; an empty shelf gives"
        " a calendar of plain water.",
        max_length=MOST_ON_SHELF,
        examples=[["feed_13_3_15_ca_mg", "calcium_nitrate_tetrahydrate", "seaweed_extract"]],
    )
    water: Water | None = Field(
        default=None, description="The water; `moderate_tap` if absent.", examples=["rain"]
    )
    air: Air | None = Field(
        default=None,
        description="The usual air, where the site's climate is silent or absent; the averages are"
        " taken where they are given.",
    )
    interval_days: Annotated[int, Quantity(ge=1, le=120, whole=True)] | None = Field(
        default=None,
        description="Days from one can to the next; 7 if neither it nor `weekdays` is given.",
        examples=[7, "1 week"],
    )
    weekdays: list[Weekday] | None = Field(
        default=None,
        description="In place of the interval: the days of the week on which there is a can.",
        min_length=1,
        max_length=7,
        examples=[["saturday"]],
    )
    volume_l: Volume | None = Field(default=None, description="Volume of one can.", examples=[10])
    volume_per_plant_ml: Annotated[float, Quantity(ge=0.1, le=100_000)] | None = Field(
        default=None,
        description="In place of `volume_l`: volume for each plant, times `plants.count`. Without"
        " either, `plants.count` with `plants.pot_diameter_cm` gives it (mounts: the count).",
        examples=[250],
    )
    last_applied: LastApplied | None = Field(
        default=None, description="When each was last given; the programme goes on from there."
    )
    repotted_on: IsoDate | None = Field(
        default=None, description="When the plants were last repotted.", examples=["2026-04-10"]
    )
    days_since_repot: Annotated[int, Quantity(ge=0, le=7_300, whole=True)] | None = Field(
        default=None,
        description="In place of the date: days from repotting to `first_date`.",
        examples=[320],
    )
    instruments: Instruments | None = Field(
        default=None, description="What is measured with; ordinary household tools if absent."
    )

    @model_validator(mode="after")
    def _complete(self) -> "ProgrammeRequest":
        check_not_both(self, "interval_days", "weekdays", "one of them sets the rhythm.")
        check_not_both(self, "days_since_repot", "repotted_on", "they say the same thing.")
        first, last = self.first_date, self.last_date
        if last < first:
            detail = f"`last_date` {last} lies before `first_date` {first}."
            raise fault(
                "dates_out_of_order",
                detail,
                field="last_date",
                received=last.isoformat(),
                allowed=f"{first} or later",
            )
        if (last.year, last.month, last.day) > (first.year + 2, first.month, first.day):
            detail = f"From {first} to {last} is more than two years; split the programme."
            raise fault(
                "period_too_long",
                detail,
                field="last_date",
                received=last.isoformat(),
                allowed="at most two years after first_date",
            )
        return self


class CanStrength(Answer):
    """How strong a can is."""

    meter_ppm: Number3 | None = Field(description="What the meter shows, on `meter_scale`.")
    meter_scale: int = Field(description="Scale of `meter_ppm`.")
    meter_ppm_500: Number3 | None = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number3 | None = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number3 | None = Field(description="The reading on the 700 scale.")
    ec_ms_per_cm: Number3 | None = Field(description="Conductivity at 25 °C.")
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")


class ProgrammeEvent(Answer):
    """One thing to do on one date."""

    date: str = Field(description="The date.", examples=["2027-03-01"])
    kind: Kind = Field(description="What is done.")
    season: Season | None = Field(description="Meteorological season; null without seasons.")
    growth: Growth = Field(description="What the plants are doing.")
    product: str | None = Field(description="Key or name of the product; null for plain water.")
    product_name: str | None = Field(description="The product's name for people.")
    product_mass_g: Number4 | None = Field(
        description="Grams for the can; null for a liquid, and where this water leaves no room."
    )
    product_volume_ml: Number4 | None = Field(
        description="Millilitres for the can; null for a solid."
    )
    pre_stock: PreStock | None = Field(
        description="The pre-stock to dose instead, where the amount is too small to measure."
    )
    volume_l: Number4 | None = Field(description="Volume of the can; null for a look at the bark.")
    strength: CanStrength | None = Field(description="How strong the can is; null without a feed.")
    ec_ceiling_ms_per_cm: Number3 | None = Field(
        description="Conductivity that the plants bear on this day, in this kind of can."
    )
    binding_limit: str | None = Field(description="Name of the limit that decided the amount.")
    predicted_ph: Number3 | None = Field(description="pH of the can when it is mixed.")
    reason: str = Field(description="Why, for people.")
    cautions: list[str] = Field(description="Codes; the texts stand once under `cautions`.")


class ProductTotal(Answer):
    """How much of a product is needed."""

    product: str = Field(description="Key or name of the product.")
    product_name: str = Field(description="Its name for people.")
    mass_g: Number4 | None = Field(description="Grams; null for a liquid.")
    volume_ml: Number4 | None = Field(description="Millilitres; null for a solid.")
    can_count: int = Field(description="Cans that hold it.", ge=0)


class ProgrammeMonth(Answer):
    """What a calendar month takes, as far as it lies in the programme."""

    month: str = Field(description="Year and month.", examples=["2027-03"])
    feed_count: int = Field(description="Feeds.", ge=0)
    supplement_count: int = Field(description="Supplements.", ge=0)
    stimulant_count: int = Field(description="Stimulants.", ge=0)
    water_count: int = Field(description="Cans of plain water.", ge=0)
    flush_count: int = Field(description="Flushes.", ge=0)
    repot_check_count: int = Field(description="Looks at the bark.", ge=0)
    products: list[ProductTotal] = Field(description="What the month needs.")
    nitrogen_mg_per_plant_per_month: Number4 | None = Field(
        description="Nitrogen that each plant gets in this month; null while the number of plants"
        " is not known."
    )


class ProgrammeRule(Answer):
    """One number of the rhythm."""

    rule: str = Field(description="Its name.", examples=["flush_days"])
    value: Exact = Field(description="The number, in `unit`.")
    unit: str = Field(description="Its unit.", examples=["d"])
    meaning: str = Field(description="What it is, for people.")
    basis: str = Field(description="How it is known.")


class ProgrammeResult(Outcome):
    """The calendar, and what it needs."""

    id: str | None = Field(description="The caller's own name of the programme.")
    first_date: str = Field(description="First day.", examples=["2027-03-01"])
    last_date: str = Field(description="Last day.", examples=["2027-08-31"])
    events: list[ProgrammeEvent] = Field(description="What is done when, sorted by date.")
    months: list[ProgrammeMonth] = Field(description="What each month takes.")
    products: list[ProductTotal] = Field(description="What the whole programme needs.")
    rules: list[ProgrammeRule] = Field(description="The numbers of the rhythm.")


class ProgrammeAnswer(Envelope, ProgrammeResult):
    """A dated calendar of feeding."""


PROGRAMME_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Moth orchids in bark on a window sill, half a year",
        {
            "plants": {
                "profile": "moth_orchid",
                "size": "large",
                "setup": "wet_dry_pot",
                "medium": "bark",
                "count": 12,
            },
            "site": {"hemisphere": "north", "climate": "heated_home"},
            "first_date": "2027-03-01",
            "last_date": "2027-08-31",
            "shelf": ["feed_13_3_15_ca_mg", "calcium_nitrate_tetrahydrate", "seaweed_extract"],
            "water": "rain",
            "interval_days": 7,
            "volume_l": 5,
            "last_applied": {"flush": "2027-02-10"},
            "repotted_on": "2025-10-20",
        },
    ),
    "us": (
        "Mounts under lamps, sprayed daily, volumes in US gallons",
        {
            "plants": {"profile": "moth_orchid", "size": "mini", "setup": "mount", "count": 30},
            "site": {
                "artificial": {
                    "temperature_celsius": "77 °F",
                    "night_temperature_celsius": "68 °F",
                    "humidity_percent": 75,
                    "light_hours": 12,
                }
            },
            "first_date": "2027-01-04",
            "last_date": "2027-01-31",
            "shelf": [
                {"product": "feed_15_5_15_ca_mg", "role": "feed"},
                {"product": "calcium_magnesium_supplement", "role": "supplement"},
            ],
            "water": "reverse_osmosis",
            "interval_days": 1,
            "volume_l": "0.5 US gal",
        },
    ),
    "caution": (
        "Near the equator without phases: even feeding, and said so",
        {
            "plants": {
                "profile": "vanda",
                "size": "large",
                "setup": "semi_hydroponic_pot",
                "refill": "topped_up",
            },
            "site": {"hemisphere": "equator"},
            "first_date": "2028-02-01",
            "last_date": "2028-03-31",
            "shelf": ["feed_20_20_20"],
            "water": "soft_tap",
            "weekdays": ["wednesday", "saturday"],
            "volume_l": 10,
        },
    ),
}
