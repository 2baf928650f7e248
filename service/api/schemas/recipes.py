"""Recipes: amounts of what is on the shelf for a profile of elements."""

from typing import Annotated, Any, ClassVar, Final, Literal, get_args

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    WithJsonSchema,
    model_validator,
)

from service.api.schemas.acid import Acid
from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.fields import Key, Quantity, Request, fault
from service.api.schemas.instruments import Instruments
from service.api.schemas.product import LabelledProduct, Product
from service.api.schemas.strength import ELEMENT_BY_SYMBOL
from service.api.schemas.water import Water
from service.api.validation import tag
from service.reference.labels import label_nutrients

MOST_ON_THE_SHELF: Final = 60

NutrientName = Literal[
    "nitrogen",
    "phosphorus",
    "potassium",
    "calcium",
    "magnesium",
    "sulfur",
    "sodium",
    "chlorine",
    "boron",
    "iron",
    "manganese",
    "zinc",
    "copper",
    "molybdenum",
    "silicon",
    "fluorine",
    "nitrate_nitrogen",
    "ammonium_nitrogen",
    "urea_nitrogen",
]
OXIDES: Final = {
    "P2O5": "phosphorus",
    "K2O": "potassium",
    "CaO": "calcium",
    "MgO": "magnesium",
    "SO3": "sulfur",
    "SiO2": "silicon",
}
"""Oxides by which labels name elements."""

NUTRIENT_NAMES: Final = get_args(NutrientName)


def _from_symbol(received: object) -> object:
    return ELEMENT_BY_SYMBOL.get(received, received) if isinstance(received, str) else received


Nutrient = Annotated[
    NutrientName,
    BeforeValidator(_from_symbol),
    WithJsonSchema(
        {"type": "string", "enum": [*NUTRIENT_NAMES, *ELEMENT_BY_SYMBOL]}, mode="validation"
    ),
]
"""The name of an element or its symbol, or a form of nitrogen."""


def _no_element_twice(received: object) -> object:
    """Refuse a map that names an element by its name and by its symbol."""
    if isinstance(received, dict):
        for symbol, name in ELEMENT_BY_SYMBOL.items():
            if symbol in received and name in received:
                detail = f"`{symbol}` and `{name}` are the same element; give one of them."
                raise fault("contradiction", detail, field=symbol, received=symbol, allowed=[name])
    return received


def _no_oxide(received: object) -> object:
    """Refuse a target that is named as labels do, and say what it is as an element."""
    if isinstance(received, dict):
        for oxide, element in OXIDES.items():
            if oxide in received:
                share = label_nutrients()[f"{oxide.lower()}_percent"].element_mass_fraction
                detail = (
                    f"`{oxide}` is an oxide; targets are elements: send `{element}`, {share:.3f} of"
                    " the figure."
                )
                raise fault("not_allowed", detail, field=oxide, received=oxide, allowed=[element])
    return received


Targets = Annotated[
    dict[Nutrient, Annotated[float, Quantity(ge=0, le=5_000)]],
    Field(min_length=1),
    BeforeValidator(_no_element_twice),
    BeforeValidator(_no_oxide),
]
Weights = Annotated[
    dict[Nutrient, Annotated[float, Quantity(ge=0.01, le=100)]],
    BeforeValidator(_no_element_twice),
]
Price = Annotated[float, Quantity(ge=0, le=1_000_000)]
LargestAmount = Annotated[float, Quantity(ge=0, le=1_000)]
MajorLimit = Annotated[float, Quantity(ge=0, le=5_000)]
TraceLimit = Annotated[float, Quantity(ge=0, le=100)]
Share = Annotated[float, Quantity(ge=0, le=100)]


class ShelfEntry(Request):
    """A product or an acid with its price and the most that may be used of it."""

    union_tag: ClassVar[str] = tag("shelf entry")
    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                either(
                    {"product": ["string", "object"], "acid": "null"},
                    {"acid": "object", "product": "null"},
                ),
                {
                    "not": {
                        "required": ["largest_g_per_l", "largest_ml_per_l"],
                        "properties": {
                            "largest_g_per_l": {"type": ["number", "string"]},
                            "largest_ml_per_l": {"type": ["number", "string"]},
                        },
                    }
                },
            ]
        }
    )

    product: Product | None = Field(
        default=None,
        description="Key of `/v1/products`, or a label.",
        examples=["potassium_nitrate"],
    )
    acid: Acid | None = Field(
        default=None,
        description="An acid or a base in place of a product; acid needs a water of known"
        " alkalinity and takes at most 90 % of it.",
    )
    price: Price | None = Field(
        default=None,
        description="Price of a kilogram of what is weighed, of a litre of what is measured out, in"
        " your own money.",
        examples=[4.5],
    )
    largest_g_per_l: LargestAmount | None = Field(
        default=None,
        description="Most grams in a litre of the solution; never more than 10 of a product.",
        examples=[1],
    )
    largest_ml_per_l: LargestAmount | None = Field(
        default=None,
        description="Most millilitres in a litre of the solution; never more than 20 of a product.",
        examples=[2],
    )

    @model_validator(mode="after")
    def _one_thing(self) -> "ShelfEntry":
        check_one_given(self, "product", "acid")
        check_not_both(
            self, "largest_ml_per_l", "largest_g_per_l", "an item is weighed or measured out."
        )
        return self


def _shelf_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("key")
    if isinstance(value, LabelledProduct | ShelfEntry):
        return value.union_tag
    if not isinstance(value, dict):
        return None
    return (LabelledProduct if "label" in value else ShelfEntry).union_tag


ShelfItem = Annotated[
    Annotated[Key, Tag(tag("key"))]
    | Annotated[LabelledProduct, Tag(LabelledProduct.union_tag)]
    | Annotated[ShelfEntry, Tag(ShelfEntry.union_tag)],
    Discriminator(
        _shelf_tag,
        custom_error_type="unknown_basis",
        custom_error_message="An item of the shelf is the key of `/v1/products`, an object with a"
        " `label`, or an object with `product` or `acid`.",
    ),
]
"""A key, a label, or an object that adds price and largest amount."""


class RecipeLimits(Request):
    """Most that the finished solution may hold, the water included; any of them."""

    nitrogen_mg_per_l: MajorLimit | None = Field(
        default=None, description="Total nitrogen.", examples=[150]
    )
    nitrate_nitrogen_mg_per_l: MajorLimit | None = Field(
        default=None, description="Nitrogen as nitrate.", examples=[120]
    )
    ammonium_nitrogen_mg_per_l: MajorLimit | None = Field(
        default=None, description="Nitrogen as ammonium.", examples=[20]
    )
    urea_nitrogen_mg_per_l: MajorLimit | None = Field(
        default=None, description="Nitrogen as urea, which no meter sees.", examples=[0]
    )
    ammonium_share_percent: Share | None = Field(
        default=None, description="Ammonium in total nitrogen.", examples=[20]
    )
    urea_share_percent: Share | None = Field(
        default=None, description="Urea in total nitrogen.", examples=[0]
    )
    ammonium_and_urea_share_percent: Share | None = Field(
        default=None, description="Ammonium and urea together in total nitrogen.", examples=[30]
    )
    phosphorus_mg_per_l: MajorLimit | None = Field(
        default=None, description="Phosphorus.", examples=[30]
    )
    potassium_mg_per_l: MajorLimit | None = Field(
        default=None, description="Potassium.", examples=[150]
    )
    calcium_mg_per_l: MajorLimit | None = Field(default=None, description="Calcium.", examples=[90])
    magnesium_mg_per_l: MajorLimit | None = Field(
        default=None, description="Magnesium.", examples=[40]
    )
    sulfur_mg_per_l: MajorLimit | None = Field(default=None, description="Sulfur.", examples=[30])
    sulfate_mg_per_l: MajorLimit | None = Field(
        default=None, description="Sulfate, as SO4.", examples=[80]
    )
    sodium_mg_per_l: MajorLimit | None = Field(default=None, description="Sodium.", examples=[20])
    chloride_mg_per_l: MajorLimit | None = Field(
        default=None, description="Chloride.", examples=[30]
    )
    silicon_mg_per_l: MajorLimit | None = Field(default=None, description="Silicon.", examples=[30])
    boron_mg_per_l: TraceLimit | None = Field(default=None, description="Boron.", examples=[0.5])
    iron_mg_per_l: TraceLimit | None = Field(default=None, description="Iron.", examples=[3])
    manganese_mg_per_l: TraceLimit | None = Field(
        default=None, description="Manganese.", examples=[1]
    )
    zinc_mg_per_l: TraceLimit | None = Field(default=None, description="Zinc.", examples=[0.5])
    copper_mg_per_l: TraceLimit | None = Field(default=None, description="Copper.", examples=[0.2])
    molybdenum_mg_per_l: TraceLimit | None = Field(
        default=None, description="Molybdenum.", examples=[0.1]
    )
    fluoride_mg_per_l: TraceLimit | None = Field(
        default=None, description="Fluoride.", examples=[1]
    )
    alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None,
        description="Alkalinity that is left; an acid on the shelf brings it down.",
        examples=[60],
    )
    product_count: Annotated[int, Quantity(ge=1, le=MOST_ON_THE_SHELF, whole=True)] | None = Field(
        default=None, description="Most items that are used.", examples=[5]
    )


class RecipeRequest(Request):
    """A profile, a shelf and a water."""

    target_mg_per_l: Targets = Field(
        description="Elements of the finished solution, by name or symbol, as the element and the"
        " water included; `nitrate_nitrogen`, `ammonium_nitrogen` and `urea_nitrogen` are targets"
        " of their own. What is not named is left as it comes.",
        examples=[{"nitrogen": 120, "phosphorus": 15, "potassium": 100, "calcium": 60}],
    )
    shelf: list[ShelfItem] = Field(
        description="What may be used.",
        min_length=1,
        max_length=MOST_ON_THE_SHELF,
        examples=[["calcium_nitrate_tetrahydrate", "potassium_nitrate"]],
    )
    water: Water | None = Field(
        default=None,
        description="The water; pure water that has stood in air if absent.",
        examples=["soft_tap"],
    )
    limits: RecipeLimits | None = Field(
        default=None, description="Limits that are kept whatever the targets say."
    )
    objective: Literal["closest_profile", "lowest_cost", "fewest_products"] | None = Field(
        default=None,
        description="`closest_profile` makes the weighted sum of the squared deviations least, in"
        " percent of the targets (taken if absent); `lowest_cost` and `fewest_products` are sought"
        " among the recipes that meet every target within `tolerance_percent`.",
    )
    tolerance_percent: Annotated[float, Quantity(ge=0.1, le=100)] | None = Field(
        default=None,
        description="By how much a target may be missed. Absent, 5 for cost and number, and no"
        " bound for the closest profile. A target of 0 counts 10 mg/L as 100 %, 0.1 mg/L of a"
        " micronutrient.",
        examples=[5],
    )
    weights: Weights | None = Field(
        default=None,
        description="Importance of single targets in the closest profile; 1 if absent.",
        examples=[{"sulfur": 0.1}],
    )
    volume_l: Annotated[float, Quantity(ge=0.01, le=100_000)] | None = Field(
        default=None,
        description="Volume that is made. Absent, the amounts are for a litre and not rounded.",
        examples=[10],
    )
    instruments: Instruments | None = Field(
        default=None,
        description="What is measured with, where a volume is given; ordinary household tools if"
        " absent.",
    )
    pre_stocks: Literal["all", "traces", "none"] | None = Field(
        default=None,
        description="Which products go through a pre-stock where less than twenty steps of the"
        " instrument is needed: `all` (taken if absent), only those that bring `traces`, `none`."
        " Other products are used from the least that the instrument measures, or not at all.",
    )


RECIPE_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Four salts for a profile in ten litres of soft tap water",
        {
            "target_mg_per_l": {
                "nitrogen": 100,
                "phosphorus": 15,
                "potassium": 100,
                "calcium": 60,
                "magnesium": 20,
            },
            "shelf": [
                "calcium_nitrate_tetrahydrate",
                "potassium_nitrate",
                "monopotassium_phosphate",
                "magnesium_sulfate_heptahydrate",
                "magnesium_nitrate_hexahydrate",
            ],
            "water": "soft_tap",
            "limits": {"chloride_mg_per_l": 30, "ammonium_and_urea_share_percent": 20},
            "volume_l": 10,
        },
    ),
    "us": (
        "The cheapest recipe for five US gallons, with prices",
        {
            "target_mg_per_l": {"N": "100 ppm", "P": "15 ppm", "K": "90 ppm"},
            "shelf": [
                {"product": "potassium_nitrate", "price": 4},
                {"product": "monopotassium_phosphate", "price": 6},
                {"product": "ammonium_nitrate", "price": 2, "largest_g_per_l": "0.02 oz/US gal"},
                {"product": "calcium_nitrate_tetrahydrate", "price": 3},
            ],
            "water": "rain",
            "objective": "lowest_cost",
            "tolerance_percent": 10,
            "volume_l": "5 US gal",
        },
    ),
    "caution": (
        "Potassium asked for without the chloride that it comes with",
        {
            "target_mg_per_l": {"potassium": 120, "nitrogen": 20},
            "shelf": ["potassium_chloride", "potassium_nitrate"],
            "water": "rain",
            "limits": {"chloride_mg_per_l": 10},
            "tolerance_percent": 5,
        },
    ),
}
