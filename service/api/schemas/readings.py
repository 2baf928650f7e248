"""Readings: what a conductivity meter says."""

from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request, Truth
from service.api.schemas.plants import Plants

Kind = Literal["feed", "drainage", "water"]


def _scale_as_text(received: object) -> object:
    if isinstance(received, int | float) and not isinstance(received, bool):
        return f"{received:g}"
    return received


ReadingScale = Annotated[
    Literal["500", "640", "700", "kcl", "nacl", "442"],
    BeforeValidator(_scale_as_text),
    WithJsonSchema(
        {"enum": ["500", "640", "700", "kcl", "nacl", "442", 500, 640, 700, 442]},
        mode="validation",
    ),
]
"""A scale of a meter: a factor, or a table of a reference salt."""

_NUMBER: Final = ["number", "string"]


class ReadingRequest(Request):
    """What the meter shows, of what, and for which plants."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"ec_ms_per_cm": _NUMBER, "ppm": "null", "scale": "null"},
            {"ppm": _NUMBER, "ec_ms_per_cm": "null"},
        )
    )

    ec_ms_per_cm: Annotated[float, Quantity(ge=0, le=80)] | None = Field(
        default=None, description="The reading as a conductivity.", examples=[0.8]
    )
    ppm: Annotated[float, Quantity(ge=0, le=40_000)] | None = Field(
        default=None, description="The reading in parts per million.", examples=[560]
    )
    scale: ReadingScale | None = Field(
        default=None,
        description="Scale of the ppm: 500, 640 or 700 for each mS/cm, or the table of a reference"
        " salt (`kcl`, `nacl`, `442`). Absent, 500 is taken: it makes the most of the reading,"
        " the safe side when a reading is judged.",
        examples=["500"],
    )
    temperature_celsius: Annotated[float, Quantity(ge=0, le=50)] | None = Field(
        default=None, description="Temperature of the sample.", examples=[18]
    )
    compensated: Truth | None = Field(
        default=None,
        description="Whether the meter refers its reading to 25 °C by itself; most do, and that is"
        " taken if absent.",
        examples=[True],
    )
    kind: Kind | None = Field(
        default=None,
        description="What was measured: the `feed` in the can (taken if absent), the `drainage`"
        " below the pot, or the `water` alone.",
        examples=["drainage"],
    )
    feed_ec_ms_per_cm: Annotated[float, Quantity(ge=0.01, le=20)] | None = Field(
        default=None,
        description="Conductivity of the feed that the plants get, to judge a drainage by.",
        examples=[0.8],
    )
    plants: Plants | None = Field(
        default=None,
        description="The plants; absent means `moth_orchid` and is said. `profile` and `size`"
        " count here.",
    )

    @model_validator(mode="after")
    def _one_reading(self) -> "ReadingRequest":
        check_one_given(self, "ec_ms_per_cm", "ppm")
        check_not_both(self, "scale", "ec_ms_per_cm", "a conductivity has no ppm scale.")
        return self


class SalinityBand(Answer):
    """One band of conductivity and what it means for these plants."""

    band: str = Field(description="Its name.", examples=["in_range"])
    ec_from_ms_per_cm: Number3 = Field(description="Its lower end at 25 °C.")
    ec_to_ms_per_cm: Number3 | None = Field(
        description="Its upper end at 25 °C, itself in the band; null for the highest."
    )
    meaning: str = Field(description="What it means, for people.")


class ReadingResult(Outcome):
    """The reading at 25 °C, on every scale, and what it means."""

    ec_ms_per_cm: Number4 = Field(description="Conductivity at 25 °C.")
    meter_ppm_500: Number4 = Field(description="The same on the 500 scale.")
    meter_ppm_640: Number4 = Field(description="The same on the 640 scale.")
    meter_ppm_700: Number4 = Field(description="The same on the 700 scale.")
    meter_ppm_kcl: Number4 | None = Field(
        description="The same on the potassium chloride scale; null above its table."
    )
    meter_ppm_nacl: Number4 | None = Field(
        description="The same on the sodium chloride scale; null above its table."
    )
    meter_ppm_442: Number4 | None = Field(
        description="The same on the 442 scale of natural waters; null above its table."
    )
    compensation_factor: Number4 = Field(
        description="What the reading was multiplied by to refer it to 25 °C; 1 where the meter"
        " has done it."
    )
    salinity_band: str = Field(
        description="The band of `salinity_bands` that the reading lies in.", examples=["in_range"]
    )
    salinity_bands: list[SalinityBand] = Field(
        description="All bands for these plants and this kind of sample, the lowest first."
    )
    feed_ratio: Number3 | None = Field(
        description="A drainage in relation to its feed; null for other samples."
    )


class ReadingAnswer(Envelope, ReadingResult):
    """What a meter reading means."""


READING_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "The feed of moth orchids, on a meter that compensates",
        {
            "ec_ms_per_cm": 0.9,
            "temperature_celsius": 24,
            "compensated": True,
            "kind": "feed",
            "plants": {"profile": "moth_orchid", "size": "large"},
        },
    ),
    "us": (
        "A reading in ppm on the 700 scale, of water from the tap",
        {"ppm": 210, "scale": 700, "temperature_celsius": "59 °F", "kind": "water"},
    ),
    "caution": (
        "A drainage far above its feed, read cold on a meter that does not compensate",
        {
            "ec_ms_per_cm": 1.9,
            "temperature_celsius": 15,
            "compensated": False,
            "kind": "drainage",
            "feed_ec_ms_per_cm": 0.8,
            "plants": {"profile": "moth_orchid"},
        },
    ),
}
