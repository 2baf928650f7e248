"""Doses: the whole mixing card for one group of plants."""

from typing import Annotated, Any, Final, Literal

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.acid import Acid
from service.api.schemas.air import Air
from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Envelope, Outcome, Step
from service.api.schemas.answer_range import AnswerRange
from service.api.schemas.dates import IsoDate
from service.api.schemas.dilutions import MOST_PRODUCTS, Addition, Saturation, Volume
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request, RowId, fault
from service.api.schemas.instruments import Instruments
from service.api.schemas.last_applied import LastApplied
from service.api.schemas.plants import Application, Plants
from service.api.schemas.product import Product, ProductAtStrength
from service.api.schemas.site import Hemisphere
from service.api.schemas.strength import Strength
from service.api.schemas.targets import IntervalDays, PublishedRange
from service.api.schemas.water import Water

TargetPh = Annotated[float, Quantity(ge=3, le=9)]


class DoseFields(Request):
    """Everything that can be said of a dose; a batch says it in defaults and in rows."""

    id: RowId | None = Field(
        default=None,
        description="The caller's own name of the request or row, handed back unchanged.",
        examples=["bench 3"],
    )
    plants: Plants | None = Field(
        default=None, description="The plants; absent means `moth_orchid` and is said."
    )
    air: Air | None = Field(
        default=None,
        description="The air; without it the strength is not adjusted to it, and that is said.",
    )
    application: Application | None = Field(
        default=None, description="What the can is for; `feed` if absent."
    )
    interval_days: IntervalDays | None = Field(
        default=None, description="Days from one feeding to the next.", examples=[7]
    )
    product: Product | None = Field(
        default=None, description="Key of `/v1/products`, or a label.", examples=["feed_20_20_20"]
    )
    strength: Strength | None = Field(
        default=None,
        description="How strong; absent, as strong as these plants bear in this air.",
    )
    products: list[ProductAtStrength] | None = Field(
        default=None,
        description="Several products that share the can, in place of `product`.",
        min_length=1,
        max_length=MOST_PRODUCTS,
    )
    water: Water | None = Field(
        default=None, description="The water; `moderate_tap` if absent.", examples=["moderate_tap"]
    )
    volume_l: Volume | None = Field(
        default=None, description="Volume of the finished solution.", examples=[10]
    )
    volume_per_plant_ml: Annotated[float, Quantity(ge=0.1, le=100_000)] | None = Field(
        default=None,
        description="In place of `volume_l`: volume for each plant, times `plants.count`.",
        examples=[250],
    )
    target_ph: TargetPh | None = Field(
        default=None,
        description="pH of the finished solution; absent, the pH is predicted and left.",
        examples=[5.8],
    )
    acid: Acid | None = Field(default=None, description="What sets the pH; needed for a target.")
    instruments: Instruments | None = Field(
        default=None, description="What is measured with; ordinary household tools if absent."
    )


ONE_PRODUCT_OR_SEVERAL: Final = either(
    {"product": ["string", "object"], "products": "null"},
    {"products": "array", "product": "null", "strength": "null"},
    {"application": "string", "product": "null", "products": "null", "strength": "null"},
)
ONE_PRODUCT_OR_SEVERAL["oneOf"][2]["properties"]["application"] = {"const": "flush"}
"""A flush is plain water and needs no product."""
_COUNT: Final = {"count": {"type": ["integer", "string"]}}
_POT: Final = {**_COUNT, "pot_diameter_cm": {"type": ["number", "string"]}}
_MOUNT: Final = {**_COUNT, "setup": {"const": "mount"}, "pot_diameter_cm": {"type": "null"}}
ONE_VOLUME: Final = either(
    {"volume_l": ["number", "string"], "volume_per_plant_ml": "null"},
    {
        "volume_per_plant_ml": ["number", "string"],
        "plants": {"type": "object", "required": ["count"], "properties": _COUNT},
        "volume_l": "null",
    },
    {
        "plants": {
            "type": "object",
            "required": ["count", "pot_diameter_cm"],
            "properties": _POT,
        },
        "volume_l": "null",
        "volume_per_plant_ml": "null",
    },
    {
        "plants": {"type": "object", "required": ["count", "setup"], "properties": _MOUNT},
        "volume_l": "null",
        "volume_per_plant_ml": "null",
    },
)


class DoseRequest(DoseFields):
    """These plants, this air, this water, this shelf."""

    model_config = ConfigDict(json_schema_extra={"allOf": [ONE_PRODUCT_OR_SEVERAL, ONE_VOLUME]})

    @model_validator(mode="after")
    def _complete(self) -> "DoseRequest":
        if self.application != "flush" or self.product is not None or self.products is not None:
            check_one_given(self, "product", "products")
        check_not_both(self, "strength", "products", "each of `products` has its own strength.")
        self._check_volume()
        return self

    def _check_volume(self) -> None:
        """Refuse a dose whose volume is not known, or said in two ways."""
        plants = self.plants
        counted = plants is not None and plants.count is not None
        if self.volume_l is not None or (self.volume_per_plant_ml is not None and counted):
            check_one_given(self, "volume_l", "volume_per_plant_ml")
        elif not (
            counted
            and plants is not None
            and (plants.pot_diameter_cm is not None or plants.setup == "mount")
        ):
            detail = (
                "Give `volume_l`, or `plants.count` with `volume_per_plant_ml` or with"
                " `plants.pot_diameter_cm` (mounts need the count alone)."
            )
            raise fault("missing", detail, field="volume_l", received=None)


class TodaysDoseRequest(DoseRequest):
    """A dose of today: what was given before may decide what it is."""

    today: IsoDate | None = Field(
        default=None,
        description="Day of the can, for `application: auto` with `last_applied`.",
        examples=["2027-03-01"],
    )
    last_applied: LastApplied | None = Field(
        default=None,
        description="When each was last given. With `application: auto` and `today` the rhythm of a"
        " programme decides whether feed, supplement, stimulant or plain water is due, and of"
        " `products` only those of that kind go into the can.",
    )
    hemisphere: Hemisphere | None = Field(
        default=None,
        description="Where the seasons come from in `application: auto`; none if absent.",
        examples=["north"],
    )

    @model_validator(mode="after")
    def _day_is_known(self) -> "TodaysDoseRequest":
        if self.last_applied is not None and self.today is None:
            detail = "Give the day of the can as `today`: how long ago it was follows from it."
            raise fault("missing", detail, field="today", received=None)
        return self


class DueToday(Answer):
    """What is due today, and why."""

    application: Literal["feed", "supplement", "stimulant", "water"] = Field(
        description="What today's can is; `water` means plain water."
    )
    flush_first: bool = Field(description="Whether the pot is leached with plain water before.")
    reasons: list[str] = Field(description="Why, for people.")


class AchievedStrength(Answer):
    """How strong the finished can is, in every way that growers say it."""

    product_g_per_l: Number4 | None = Field(description="Grams of product in a litre.")
    product_ml_per_l: Number4 | None = Field(description="Millilitres of product in a litre.")
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")
    ec_ms_per_cm: Number3 | None = Field(description="Conductivity of the can at 25 °C.")
    meter_ppm_500: Number3 | None = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number3 | None = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number3 | None = Field(description="The reading on the 700 scale.")


class SplitCan(Answer):
    """One of several equal cans; each is measured out on its own, so that none is too strong."""

    count: int = Field(description="How many of them are mixed.", ge=2)
    volume_l: Number4 = Field(description="Volume of each.")
    additions: list[Addition] = Field(description="What goes into each, in order.")
    acid_volume_ml: Number4 | None = Field(
        description="Acid or base for each, from the bottle; null for what is weighed."
    )
    acid_mass_g: Number4 | None = Field(description="The same in grams.")
    predicted_ec_ms_per_cm: Number3 = Field(description="Conductivity of each at 25 °C.")
    steps: list[Step] = Field(description="What to do for each, in order.")


class DoseResult(Outcome):
    """What to mix, and what it will be."""

    id: str | None = Field(description="The caller's own name of the request.")
    volume_l: Number4 | None = Field(description="Volume of the finished solution.")
    volume_per_plant_ml: Number4 | None = Field(description="Volume for each plant.")
    product_mass_g: Number4 | None = Field(
        description="Grams of the one product; null for a liquid or several products."
    )
    product_volume_ml: Number4 | None = Field(
        description="Millilitres of the one product; null for a solid or several products."
    )
    additions: list[Addition] = Field(description="All products, in the order to add them.")
    strength: AchievedStrength | None = Field(description="How strong the finished can is.")
    binding_limit: str | None = Field(description="Name of the limit that decided the amount.")
    acid_volume_ml: Number4 | None = Field(description="Millilitres of acid from the bottle.")
    acid_mass_g: Number4 | None = Field(description="The same in grams; solids are weighed.")
    acid_mmol_per_l: Number4 | None = Field(description="Acid in each litre of the can.")
    acid_dilution_factor: Number4 | None = Field(
        description="How many times to dilute the bottle first, so that the syringe can measure it;"
        " 1 from the bottle. `acid_volume_ml` is always of the bottle."
    )
    predicted_ec_ms_per_cm: Number3 | None = Field(description="What a meter will show, 25 °C.")
    meter_ppm_500: Number3 | None = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number3 | None = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number3 | None = Field(description="The reading on the 700 scale.")
    predicted_ph: Number3 | None = Field(description="pH when it is mixed.")
    predicted_ph_open: Number3 | None = Field(description="pH once it stood open to the air.")
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")
    nitrogen_mg_per_plant_per_month: Number4 | None = Field(
        description="Nitrogen that each plant gets in a month of 30.44 days."
    )
    elements_mg_per_l: dict[str, Number4] = Field(
        description="Elements of the whole can, water and acid included."
    )
    vapour_pressure_deficit_kpa: Number3 | None = Field(
        description="Vapour pressure deficit of the air."
    )
    feasible_water_share_percent: Number3 | None = Field(
        description="Share of this water in a blend with pure water that would do; null unless the"
        " water alone is above a ceiling."
    )
    saturation: list[Saturation] = Field(description="Solids that could come out.")
    range: AnswerRange | None = Field(
        description="Between which bounds the answer lies where the water's analysis or a label"
        " leaves it open; null where nothing is open."
    )
    published_ranges: list[PublishedRange] = Field(
        description="What is published for these plants. Practices differ because they feed at"
        " different intervals: compare nitrogen per plant per month."
    )
    due: DueToday | None = Field(
        description="What is due today, where `application` is `auto` and `last_applied` is given."
    )
    split: SplitCan | None = Field(
        description="Equal cans in place of one, where `instruments.largest_can_l` is less than"
        " `volume_l`; the other fields are for the whole volume."
    )
    steps: list[Step] = Field(description="What to do, in order.")


class DoseAnswer(Envelope, DoseResult):
    """The whole mixing card."""


DOSE_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Ten litres for moth orchids, tap water, nitric acid",
        {
            "plants": {"profile": "moth_orchid", "count": 12},
            "air": {"humidity_percent": 55, "temperature_celsius": 22},
            "interval_days": 7,
            "product": "feed_15_5_15_ca_mg",
            "water": "moderate_tap",
            "volume_l": 10,
            "target_ph": 5.8,
            "acid": {"kind": "nitric", "percent": 38},
        },
    ),
    "us": (
        "Two US gallons of rain water",
        {
            "plants": {"profile": "moth_orchid"},
            "air": {"humidity_percent": 50, "temperature_celsius": "75 °F"},
            "product": "feed_13_3_15_ca_mg",
            "water": "rain",
            "volume_l": "2 US gal",
        },
    ),
    "caution": (
        "A phosphate feed in hard water, from which brushite can come out",
        {
            "product": "feed_20_20_20",
            "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 150},
            "water": "hard_tap",
            "volume_l": 10,
        },
    ),
}
