"""The water that a solution is made with: a preset or an analysis."""

from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, Tag

from service.api.schemas.fields import Quantity, Request
from service.api.validation import tag

WaterPreset = Literal[
    "reverse_osmosis", "rain", "soft_tap", "moderate_tap", "hard_tap", "softened_tap"
]

MajorIon = Annotated[float, Quantity(ge=0, le=5_000)]
TraceIon = Annotated[float, Quantity(ge=0, le=100)]


class WaterAnalysis(Request):
    """An analysis as a laboratory or a supplier states it; every value may be left out."""

    union_tag: ClassVar[str] = tag("analysis")

    ph: Annotated[float, Quantity(ge=3, le=11)] | None = Field(
        default=None, description="pH as measured.", examples=[7.8]
    )
    alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None,
        description="Total alkalinity as calcium carbonate. Without it, or bicarbonate, no acid"
        " is computed.",
        examples=[180, "10 dKH"],
    )
    bicarbonate_mg_per_l: Annotated[float, Quantity(ge=0, le=2_500)] | None = Field(
        default=None, description="Bicarbonate, in place of the alkalinity.", examples=[220]
    )
    hardness_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=5_000)] | None = Field(
        default=None,
        description="Total hardness as calcium carbonate, where calcium and magnesium are not"
        " stated.",
        examples=[250, "14 °dH"],
    )
    calcium_mg_per_l: MajorIon | None = Field(default=None, description="Calcium.", examples=[80])
    magnesium_mg_per_l: MajorIon | None = Field(
        default=None, description="Magnesium.", examples=[12]
    )
    potassium_mg_per_l: MajorIon | None = Field(
        default=None, description="Potassium.", examples=[2]
    )
    sodium_mg_per_l: MajorIon | None = Field(default=None, description="Sodium.", examples=[15])
    chloride_mg_per_l: MajorIon | None = Field(default=None, description="Chloride.", examples=[25])
    sulfate_mg_per_l: MajorIon | None = Field(
        default=None, description="Sulfate, as SO4.", examples=[35]
    )
    nitrate_mg_per_l: MajorIon | None = Field(
        default=None, description="Nitrate, as NO3.", examples=[8]
    )
    nitrate_nitrogen_mg_per_l: MajorIon | None = Field(
        default=None, description="Nitrate, as N; in place of `nitrate_mg_per_l`.", examples=[1.8]
    )
    ammonium_nitrogen_mg_per_l: MajorIon | None = Field(
        default=None, description="Ammonium, as N.", examples=[0.1]
    )
    phosphate_phosphorus_mg_per_l: MajorIon | None = Field(
        default=None, description="Phosphate, as P.", examples=[0.2]
    )
    boron_mg_per_l: TraceIon | None = Field(default=None, description="Boron.", examples=[0.05])
    iron_mg_per_l: TraceIon | None = Field(default=None, description="Iron.", examples=[0.1])
    manganese_mg_per_l: TraceIon | None = Field(
        default=None, description="Manganese.", examples=[0.02]
    )
    zinc_mg_per_l: TraceIon | None = Field(default=None, description="Zinc.", examples=[0.1])
    copper_mg_per_l: TraceIon | None = Field(default=None, description="Copper.", examples=[0.05])
    fluoride_mg_per_l: TraceIon | None = Field(
        default=None, description="Fluoride.", examples=[0.7]
    )
    silica_mg_per_l: Annotated[float, Quantity(ge=0, le=500)] | None = Field(
        default=None, description="Silica, as SiO2.", examples=[12]
    )
    ec_ms_per_cm: Annotated[float, Quantity(ge=0, le=20)] | None = Field(
        default=None, description="Conductivity at 25 °C.", examples=[0.55]
    )
    temperature_celsius: Annotated[float, Quantity(ge=0, le=50)] | None = Field(
        default=None, description="Temperature of the water.", examples=[15]
    )


def _water_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("preset")
    return tag("analysis") if isinstance(value, dict | WaterAnalysis) else None


Water = Annotated[
    Annotated[WaterPreset, Tag(tag("preset"))] | Annotated[WaterAnalysis, Tag(tag("analysis"))],
    Discriminator(
        _water_tag,
        custom_error_type="unknown_basis",
        custom_error_message="`water` is the key of a preset or an object with an analysis.",
    ),
]
"""A preset of `/v1/waters` as a text, or an analysis as an object."""
