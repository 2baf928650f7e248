"""Dilutions: how much of a product for a strength."""

from typing import Annotated, Any, Final

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Envelope, Outcome
from service.api.schemas.answer_range import AnswerRange
from service.api.schemas.fields import Answer, Number3, Number4, Quantity, Request
from service.api.schemas.instruments import Instruments
from service.api.schemas.product import Product, ProductAtStrength
from service.api.schemas.strength import Strength
from service.api.schemas.water import Water

Volume = Annotated[float, Quantity(ge=0.01, le=1_000_000)]

MOST_PRODUCTS: Final = 8


class DilutionRequest(Request):
    """One product at a strength, or several that share a can."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"product": ["string", "object"], "strength": "object", "products": "null"},
            {"products": "array", "product": "null", "strength": "null"},
        )
    )

    product: Product | None = Field(
        default=None,
        description="Key of `/v1/products`, or a label.",
        examples=["feed_20_20_20"],
    )
    strength: Strength | None = Field(default=None, description="How strong it is to be.")
    products: list[ProductAtStrength] | None = Field(
        default=None,
        description="Several products that share the can, each with its strength.",
        min_length=1,
        max_length=MOST_PRODUCTS,
    )
    water: Water | None = Field(
        default=None, description="The water; `moderate_tap` if absent.", examples=["rain"]
    )
    volume_l: Volume = Field(description="Volume of the finished solution.", examples=[10])
    instruments: Instruments | None = Field(
        default=None, description="What is measured with; ordinary household tools if absent."
    )

    @model_validator(mode="after")
    def _one_or_several(self) -> "DilutionRequest":
        check_one_given(self, "product", "products")
        check_not_both(self, "strength", "products", "each of `products` has its own strength.")
        if self.product is not None:
            check_one_given(self, "strength")
        return self


class PreStock(Answer):
    """A weaker stock of one product, of which a measurable volume goes into the can."""

    g_per_l: Number4 | None = Field(description="Grams made up to one litre; null for a liquid.")
    ml_per_l: Number4 | None = Field(
        description="Millilitres made up to one litre; null for a solid."
    )
    volume_ml: Number4 = Field(description="Millilitres of the pre-stock that go into the can.")


class Addition(Answer):
    """One product to add, in its place."""

    order: int = Field(description="Place in the sequence, from 1.", ge=1)
    product: str = Field(description="Key or name of the product.")
    mass_g: Number4 | None = Field(description="Grams to weigh; null for what is measured out.")
    volume_ml: Number4 | None = Field(
        description="Millilitres to measure; null for what is weighed."
    )
    exact_mass_g: Number4 | None = Field(description="Grams before rounding to the balance.")
    exact_volume_ml: Number4 | None = Field(
        description="Millilitres before rounding to the syringe."
    )
    pre_stock: PreStock | None = Field(
        description="The pre-stock to dose instead, where the amount is under twenty steps of the"
        " instrument."
    )


class Saturation(Answer):
    """How far a solid is from coming out; above 0 it can."""

    solid: str = Field(description="Name of the mineral.", examples=["brushite"])
    index: Number3 | None = Field(
        description="Saturation index of the can as mixed; null where an ion of the solid is"
        " absent."
    )
    index_open: Number3 | None = Field(description="The same once it stands open to the air.")


class DilutionResult(Outcome):
    """What to add, and what it gives."""

    product_mass_g: Number4 | None = Field(
        description="Grams of the one product; null for a liquid or several products."
    )
    product_volume_ml: Number4 | None = Field(
        description="Millilitres of the one product; null for a solid or several products."
    )
    additions: list[Addition] = Field(description="All products, in the order to add them.")
    elements_mg_per_l: dict[str, Number4 | None] = Field(
        description="Elements of the whole can, the water included."
    )
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")
    ec_ms_per_cm: Number3 | None = Field(description="Conductivity of the can at 25 °C.")
    predicted_ph: Number3 | None = Field(description="pH when it is mixed.")
    predicted_ph_open: Number3 | None = Field(description="pH once it stood open to the air.")
    saturation: list[Saturation] = Field(description="Solids that could come out.")
    range: AnswerRange | None = Field(
        description="Between which bounds the answer lies where the water's analysis or a label"
        " leaves it open; null where nothing is open."
    )
    meter_ppm_500: Number3 | None = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number3 | None = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number3 | None = Field(description="The reading on the 700 scale.")


class DilutionAnswer(Envelope, DilutionResult):
    """How much of a product for a strength."""


DILUTION_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "100 mg/L of nitrogen in ten litres of rain",
        {
            "product": "feed_20_20_20",
            "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 100},
            "water": "rain",
            "volume_l": 10,
        },
    ),
    "us": (
        "The same for five US gallons",
        {
            "product": "feed_20_20_20",
            "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": "100 ppm"},
            "water": "soft_tap",
            "volume_l": "5 US gal",
        },
    ),
    "caution": (
        "Calcium and magnesium beside each other in hard water",
        {
            "products": [
                {
                    "product": "calcium_nitrate_tetrahydrate",
                    "strength": {"basis": "element", "element": "calcium", "mg_per_l": 60},
                },
                {
                    "product": "magnesium_sulfate_heptahydrate",
                    "strength": {"basis": "element", "element": "magnesium", "mg_per_l": 20},
                },
            ],
            "water": "hard_tap",
            "volume_l": 10,
        },
    ),
}
