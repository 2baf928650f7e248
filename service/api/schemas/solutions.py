"""Solutions: what a mix will be."""

from typing import Annotated, Any, Final, Literal

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.acid import Acid
from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.dilutions import MOST_PRODUCTS
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request
from service.api.schemas.product import Product
from service.api.schemas.water import Water

CarbonDioxide = Literal["closed", "open"]
AmountPerLitre = Annotated[float, Quantity(ge=0, le=1_000)]
_NUMBER: Final[list[Any]] = ["number", "string"]


class MixAddition(Request):
    """One product and how much of it is in a litre."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"g_per_l": _NUMBER, "ml_per_l": "null"}, {"ml_per_l": _NUMBER, "g_per_l": "null"}
        )
    )

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["potassium_nitrate"]
    )
    g_per_l: AmountPerLitre | None = Field(
        default=None, description="Grams in a litre of the finished solution.", examples=[0.5]
    )
    ml_per_l: AmountPerLitre | None = Field(
        default=None,
        description="Millilitres of a liquid in a litre of the finished solution.",
        examples=[2],
    )

    @model_validator(mode="after")
    def _one_amount(self) -> "MixAddition":
        check_one_given(self, "g_per_l", "ml_per_l")
        return self


class MixAcid(Acid):
    """The acid or base that is in the mix, and how much of it."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"ml_per_l": _NUMBER, "g_per_l": "null", "mmol_per_l": "null"},
            {"g_per_l": _NUMBER, "ml_per_l": "null", "mmol_per_l": "null"},
            {"mmol_per_l": _NUMBER, "ml_per_l": "null", "g_per_l": "null"},
        )
    )

    ml_per_l: AmountPerLitre | None = Field(
        default=None,
        description="Millilitres from the bottle in a litre of the finished solution.",
        examples=[0.1],
    )
    g_per_l: AmountPerLitre | None = Field(
        default=None,
        description="Grams from the bottle or bag in a litre of the finished solution.",
        examples=[0.15],
    )
    mmol_per_l: Annotated[float, Quantity(ge=0, le=1_000)] | None = Field(
        default=None, description="Millimoles of the pure acid or base in a litre.", examples=[1.5]
    )

    @model_validator(mode="after")
    def _one_amount(self) -> "MixAcid":
        check_one_given(self, "ml_per_l", "g_per_l", "mmol_per_l")
        return self


class SolutionRequest(Request):
    """What goes into a litre."""

    model_config = ConfigDict(
        json_schema_extra={
            "not": {
                "required": ["carbon_dioxide", "carbon_dioxide_ppm"],
                "properties": {
                    "carbon_dioxide": {"const": "closed"},
                    "carbon_dioxide_ppm": {"type": _NUMBER},
                },
            }
        }
    )

    water: Water | None = Field(
        default=None,
        description="The water; pure water that has stood in air if absent.",
        examples=["hard_tap"],
    )
    additions: list[MixAddition] | None = Field(
        default=None,
        description="Products in the mix; their order does not matter.",
        max_length=MOST_PRODUCTS,
    )
    acid: MixAcid | None = Field(default=None, description="An acid or a base in the mix.")
    temperature_celsius: Annotated[float, Quantity(ge=0, le=40)] | None = Field(
        default=None, description="Temperature of the mix; 25 if absent.", examples=[18]
    )
    carbon_dioxide: CarbonDioxide | None = Field(
        default=None,
        description="`closed` keeps the carbon that the water and the products bring, as in a full"
        " bottle (taken if absent); `open` is in balance with the air.",
        examples=["closed"],
    )
    carbon_dioxide_ppm: Annotated[float, Quantity(ge=0, le=100_000)] | None = Field(
        default=None,
        description="Carbon dioxide of the air, parts of a million parts of air by volume, for"
        " `open`; 427, outdoor air, if absent.",
        examples=[427],
    )

    @model_validator(mode="after")
    def _no_air_in_a_closed_bottle(self) -> "SolutionRequest":
        if self.carbon_dioxide == "closed":
            check_not_both(
                self, "carbon_dioxide_ppm", "carbon_dioxide", "a closed mix has no air beside it."
            )
        return self


class SolidIndex(Answer):
    """How far a solid is from coming out; above 0 it can."""

    solid: str = Field(description="Name of the mineral.", examples=["gypsum"])
    index: Number3 = Field(description="Saturation index, a decimal logarithm.")


class SolutionResult(Outcome):
    """What the mix is."""

    ph: Number3 | None = Field(
        description="pH at the temperature of the mix; null where the alkalinity of the water is"
        " not known."
    )
    ec_ms_per_cm: Number4 = Field(
        description="Conductivity at 25 °C, of the ions and of what the water's own reading shows"
        " beyond its analysis."
    )
    ec_low_ms_per_cm: Number4 | None = Field(
        description="Lower end of the conductivity where a product is known by its label alone and"
        " its maker states none; null otherwise."
    )
    ec_high_ms_per_cm: Number4 | None = Field(description="Upper end of the same.")
    ec_at_temperature_ms_per_cm: Number4 = Field(
        description="What a meter without compensation shows at the temperature of the mix."
    )
    meter_ppm_500: Number4 = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number4 = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number4 = Field(description="The reading on the 700 scale.")
    ionic_strength_mol_per_kg: Number4 = Field(description="Ionic strength, ion pairs counted.")
    density_kg_per_l: Number4 = Field(description="Density at the temperature of the mix.")
    alkalinity_mg_per_l_caco3: Number4 | None = Field(
        description="Acid capacity to the carbon dioxide end point, negative in an acid; null where"
        " that of the water is not known."
    )
    elements_mg_per_l: dict[str, Number4] = Field(
        description="Elements in a litre at 25 °C, those of the water included."
    )
    ions_mmol_per_l: dict[str, Number4] = Field(
        description="Dissolved species in a litre at 25 °C, as they are at the temperature of the"
        " mix: free ions, molecules and ion pairs above 0.000001 mmol/L."
    )
    saturation: list[SolidIndex] = Field(
        description="Solids all of whose ions are there; above 0 a solid can come out."
    )
    water_charge_error_percent: Number3 | None = Field(
        description="By how much the cations of the water analysis exceed its anions; null where"
        " the analysis lacks a major ion or the alkalinity."
    )


class SolutionAnswer(Envelope, SolutionResult):
    """What a mix will be."""


SOLUTION_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "A calcium nitrate feed in hard tap water with a little nitric acid",
        {
            "water": "hard_tap",
            "additions": [
                {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 0.4},
                {"product": "potassium_nitrate", "g_per_l": 0.3},
            ],
            "acid": {"kind": "nitric", "percent": 38, "ml_per_l": 0.3},
            "temperature_celsius": 18,
        },
    ),
    "us": (
        "A teaspoon-sized amount for each US gallon, in a water of its own",
        {
            "water": {"ph": 7.4, "alkalinity_mg_per_l_caco3": "5 dKH"},
            "additions": [{"product": "feed_20_20_20", "g_per_l": "0.13 oz/US gal"}],
            "temperature_celsius": "68 °F",
        },
    ),
    "caution": (
        "Calcium and sulfate too close together in a concentrate",
        {
            "water": "reverse_osmosis",
            "additions": [
                {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 15},
                {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 10},
            ],
        },
    ),
}
