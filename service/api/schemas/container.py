"""What the roots stand in, and a meter reading of what drains from it."""

from typing import Annotated, Final, Literal

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.fields import Quantity, Request, Truth
from service.api.schemas.plants import Medium, Setup
from service.api.schemas.strength import MeterScale

DrainageKind = Literal["drainage", "pour_through"]

_NUMBER: Final = ["number", "string"]


class Container(Request):
    """The pot or mount of one plant; what `plants` says already may be left out."""

    diameter_cm: Annotated[float, Quantity(ge=2, le=100)] | None = Field(
        default=None,
        description="Inner diameter of the pot at its rim; its volume is that of an ordinary pot.",
        examples=[12, "5 in"],
    )
    volume_l: Annotated[float, Quantity(ge=0.01, le=200)] | None = Field(
        default=None, description="Volume of the empty pot, where it is known.", examples=[0.9]
    )
    medium: Medium | None = Field(
        default=None,
        description="What the roots are in; bark in a pot and clay pebbles over a reservoir if"
        " absent.",
        examples=["bark"],
    )
    setup: Setup | None = Field(
        default=None,
        description="What the roots stand in; `wet_dry_pot` if absent.",
        examples=["wet_dry_pot"],
    )
    plant_count: Annotated[int, Quantity(ge=1, le=1_000_000, whole=True)] | None = Field(
        default=None,
        description="Number of pots that are treated alike; one if absent.",
        examples=[12],
    )


class DrainageReading(Request):
    """What a meter shows of the water that drains from the pot."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"ec_ms_per_cm": _NUMBER, "ppm": "null", "scale": "null"},
            {"ppm": _NUMBER, "ec_ms_per_cm": "null"},
        )
    )

    ec_ms_per_cm: Annotated[float, Quantity(ge=0.01, le=20)] | None = Field(
        default=None, description="The reading as a conductivity.", examples=[1.6]
    )
    ppm: Annotated[float, Quantity(ge=5, le=14_000)] | None = Field(
        default=None, description="The reading in parts per million.", examples=[800]
    )
    scale: MeterScale | None = Field(
        default=None,
        description="Scale of the ppm. Absent, 500 is taken and said: it makes the most of the"
        " reading, the safe side when a reading is judged.",
        examples=[500],
    )
    temperature_celsius: Annotated[float, Quantity(ge=0, le=50)] | None = Field(
        default=None, description="Temperature of the sample.", examples=[20]
    )
    compensated: Truth | None = Field(
        default=None,
        description="Whether the meter refers its reading to 25 °C by itself; most do, and that is"
        " taken if absent. If not, `temperature_celsius` is needed to refer it.",
        examples=[True],
    )
    kind: DrainageKind | None = Field(
        default=None,
        description="How it was collected: `drainage`, the last of what drains at a watering (taken"
        " if absent), or `pour_through`, a little water poured an hour after a watering.",
        examples=["drainage"],
    )

    @model_validator(mode="after")
    def _one_reading(self) -> "DrainageReading":
        check_one_given(self, "ec_ms_per_cm", "ppm")
        check_not_both(self, "scale", "ec_ms_per_cm", "a conductivity has no ppm scale.")
        return self
