"""Water blends: two waters mixed to a limit."""

from typing import Annotated, Any, Final

from pydantic import Field

from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request
from service.api.schemas.water import Water

IonLimit = Annotated[float, Quantity(ge=0, le=5_000)]
TraceLimit = Annotated[float, Quantity(ge=0, le=100)]


class BlendLimits(Request):
    """Bounds of the blend; any of them, in the words of a water analysis."""

    alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None, description="Alkalinity as calcium carbonate.", examples=[60, "3 dKH"]
    )
    hardness_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=5_000)] | None = Field(
        default=None, description="Hardness as calcium carbonate.", examples=[100]
    )
    calcium_mg_per_l: IonLimit | None = Field(default=None, description="Calcium.", examples=[60])
    magnesium_mg_per_l: IonLimit | None = Field(
        default=None, description="Magnesium.", examples=[20]
    )
    potassium_mg_per_l: IonLimit | None = Field(
        default=None, description="Potassium.", examples=[10]
    )
    sodium_mg_per_l: IonLimit | None = Field(default=None, description="Sodium.", examples=[30])
    chloride_mg_per_l: IonLimit | None = Field(default=None, description="Chloride.", examples=[50])
    sulfate_mg_per_l: IonLimit | None = Field(
        default=None, description="Sulfate, as SO4.", examples=[50]
    )
    nitrate_mg_per_l: IonLimit | None = Field(
        default=None, description="Nitrate, as NO3.", examples=[20]
    )
    boron_mg_per_l: TraceLimit | None = Field(default=None, description="Boron.", examples=[0.3])
    iron_mg_per_l: TraceLimit | None = Field(default=None, description="Iron.", examples=[0.5])
    fluoride_mg_per_l: TraceLimit | None = Field(
        default=None, description="Fluoride.", examples=[0.5]
    )
    ec_ms_per_cm: Annotated[float, Quantity(ge=0, le=20)] | None = Field(
        default=None, description="Conductivity at 25 °C.", examples=[0.3]
    )


class WaterBlendRequest(Request):
    """Two waters and what the blend of them must keep."""

    waters: list[Water] = Field(
        description="The two waters: first the one to use as much of as the limits allow, usually"
        " the tap; then the one it is diluted with.",
        min_length=2,
        max_length=2,
        examples=[["hard_tap", "rain"]],
    )
    limits: BlendLimits | None = Field(
        default=None, description="Most that the blend may have; without any the tap is taken pure."
    )
    minima: BlendLimits | None = Field(
        default=None, description="Least that the blend must have, for instance of calcium."
    )


class BlendedWater(Answer):
    """The analysis of the blend; null where one of the waters does not state a value."""

    ph: Number3 | None = Field(description="pH, mixed without contact to air.")
    alkalinity_mg_per_l_caco3: Number4 | None = Field(description="Alkalinity, as CaCO3.")
    hardness_mg_per_l_caco3: Number4 | None = Field(description="Hardness, as CaCO3.")
    calcium_mg_per_l: Number4 | None = Field(description="Calcium.")
    magnesium_mg_per_l: Number4 | None = Field(description="Magnesium.")
    potassium_mg_per_l: Number4 | None = Field(description="Potassium.")
    sodium_mg_per_l: Number4 | None = Field(description="Sodium.")
    chloride_mg_per_l: Number4 | None = Field(description="Chloride.")
    sulfate_mg_per_l: Number4 | None = Field(description="Sulfate, as SO4.")
    nitrate_mg_per_l: Number4 | None = Field(description="Nitrate, as NO3.")
    ammonium_nitrogen_mg_per_l: Number4 | None = Field(description="Ammonium, as N.")
    phosphate_phosphorus_mg_per_l: Number4 | None = Field(description="Phosphate, as P.")
    boron_mg_per_l: Number4 | None = Field(description="Boron.")
    iron_mg_per_l: Number4 | None = Field(description="Iron.")
    manganese_mg_per_l: Number4 | None = Field(description="Manganese.")
    zinc_mg_per_l: Number4 | None = Field(description="Zinc.")
    copper_mg_per_l: Number4 | None = Field(description="Copper.")
    fluoride_mg_per_l: Number4 | None = Field(description="Fluoride.")
    silica_mg_per_l: Number4 | None = Field(description="Silica, as SiO2.")
    ec_ms_per_cm: Number4 | None = Field(description="Conductivity at 25 °C.")


class WaterBlendResult(Outcome):
    """How much of the first water, and what the blend is."""

    share_of_first_percent: Number4 = Field(
        description="Largest share of the first water, by volume, that keeps every limit; of an"
        " infeasible blend the share that passes them least."
    )
    binding_limit: str | None = Field(
        description="Name of the limit that stops the first water; null where none does."
    )
    ph: Number3 | None = Field(
        description="pH of the blend, mixed without contact to air; null where the alkalinity of a"
        " water is not known."
    )
    ec_ms_per_cm: Number4 = Field(description="Conductivity of the blend at 25 °C.")
    blend: BlendedWater = Field(
        description="Analysis of the blend, in the words of a water analysis: it can be sent as"
        " `water`."
    )


class WaterBlendAnswer(Envelope, WaterBlendResult):
    """Two waters mixed to a limit."""


WATER_BLEND_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "As much hard tap water in rain as 60 mg/L of alkalinity allow",
        {
            "waters": ["hard_tap", "rain"],
            "limits": {"alkalinity_mg_per_l_caco3": 60, "sodium_mg_per_l": 30},
        },
    ),
    "us": (
        "The same with limits in degrees and microsiemens",
        {
            "waters": ["moderate_tap", "reverse_osmosis"],
            "limits": {"alkalinity_mg_per_l_caco3": "3 dKH", "ec_ms_per_cm": "300 uS/cm"},
        },
    ),
    "caution": (
        "More calcium wanted than the limit of alkalinity leaves room for",
        {
            "waters": ["hard_tap", "rain"],
            "limits": {"alkalinity_mg_per_l_caco3": 40},
            "minima": {"calcium_mg_per_l": 60},
        },
    ),
}
