"""Solubilities: how much more dissolves."""

from typing import Annotated, Any, Final, Literal

from pydantic import Field

from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request
from service.api.schemas.product import Product

Evidence = Literal["single_salt", "measured", "estimated"]

MOST_IN_THE_TANK: Final = 16


class TankContent(Request):
    """A product that is dissolved already."""

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["potassium_nitrate"]
    )
    g_per_kg_water: Annotated[float, Quantity(ge=0, le=10_000)] = Field(
        description="Grams as sold in a kilogram of the water that was added.", examples=[100]
    )


class SolubilityRequest(Request):
    """A product, a temperature, and what is in the tank already."""

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["monopotassium_phosphate"]
    )
    temperature_celsius: Annotated[float, Quantity(ge=0, le=40)] = Field(
        description="Temperature of the tank: the coldest that it will stand through.",
        examples=[10],
    )
    background: list[TankContent] | None = Field(
        default=None,
        description="What is in the tank already; nothing but water if absent.",
        max_length=MOST_IN_THE_TANK,
    )


class NearSolid(Answer):
    """A solid near its saturation."""

    solid: str = Field(description="Name of the mineral, or key of the salt.", examples=["gypsum"])
    index: Number3 = Field(description="Saturation index; at 0 the solution is saturated with it.")
    margin: Number3 = Field(description="Uncertainty of the index.")
    margin_percent: Number3 = Field(description="The same as per cent of the contents.")
    evidence: Evidence = Field(description="What the margin rests on.")


class SolubilityResult(Outcome):
    """How much dissolves."""

    solubility_g_per_kg_water: Number4 = Field(
        description="Grams of the product as sold that dissolve in a kilogram of water added; the"
        " water in its crystals is not part of that kilogram. 0 where the tank is saturated"
        " without it."
    )
    safe_g_per_kg_water: Number4 = Field(
        description="The same with the margin taken off: plan with this figure."
    )
    solubility_g_per_l: Number4 = Field(description="The same in a litre of the finished solution.")
    density_kg_per_l: Number4 = Field(description="Density of the saturated solution.")
    limiting_solid: str = Field(
        description="What comes out first: the product itself, or a solid that its ions form with"
        " others."
    )
    margin_percent: Number3 = Field(description="How far the model may be off.")
    evidence: Evidence = Field(
        description="`single_salt`: the adopted table of the salt alone; `measured`: mixtures of"
        " these ions were measured; `estimated`: none was at hand."
    )
    saturation: list[NearSolid] = Field(
        description="Solids near their saturation when so much is dissolved."
    )


class SolubilityAnswer(Envelope, SolubilityResult):
    """How much more dissolves."""


SOLUBILITY_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Monopotassium phosphate beside potassium nitrate, on a cold night",
        {
            "product": "monopotassium_phosphate",
            "temperature_celsius": 10,
            "background": [{"product": "potassium_nitrate", "g_per_kg_water": 100}],
        },
    ),
    "us": (
        "Epsom salt alone at 50 degrees Fahrenheit",
        {"product": "magnesium_sulfate_heptahydrate", "temperature_celsius": "50 °F"},
    ),
    "caution": (
        "Calcium nitrate into a tank that holds sulfate: gypsum comes out at once",
        {
            "product": "calcium_nitrate_tetrahydrate",
            "temperature_celsius": 15,
            "background": [{"product": "magnesium_sulfate_heptahydrate", "g_per_kg_water": 100}],
        },
    ),
}
