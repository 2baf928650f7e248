"""How strong a solution shall be, in any of the ways that growers say it."""

from typing import Annotated, ClassVar, Final, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema

from service.api.schemas.fields import Quantity, Request, whole_number_from_text
from service.api.validation import tag

Counts = Literal["added", "whole_can"]

ElementName = Literal[
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
]

ELEMENT_BY_SYMBOL: Final = {
    "N": "nitrogen",
    "P": "phosphorus",
    "K": "potassium",
    "Ca": "calcium",
    "Mg": "magnesium",
    "S": "sulfur",
    "Na": "sodium",
    "Cl": "chlorine",
    "B": "boron",
    "Fe": "iron",
    "Mn": "manganese",
    "Zn": "zinc",
    "Cu": "copper",
    "Mo": "molybdenum",
    "Si": "silicon",
    "F": "fluorine",
}


def _element_from_symbol(received: object) -> object:
    return ELEMENT_BY_SYMBOL.get(received, received) if isinstance(received, str) else received


Element = Annotated[
    ElementName,
    BeforeValidator(_element_from_symbol),
    WithJsonSchema(
        {"type": "string", "enum": [*ELEMENT_BY_SYMBOL.values(), *ELEMENT_BY_SYMBOL]},
        mode="validation",
    ),
]
"""The name of an element, or its symbol; as the element, never as an oxide."""

MeterScale = Annotated[
    Literal[500, 640, 700],
    BeforeValidator(whole_number_from_text),
    WithJsonSchema({"enum": [500, 640, 700, "500", "640", "700"]}, mode="validation"),
]
"""What a meter multiplies mS/cm by to show ppm."""

COUNTS_DESCRIPTION: Final = (
    "`added` counts what the product adds, as a label rate does; `whole_can` counts the water too,"
    " as a ceiling does."
)


class ElementStrength(Request):
    """So much of one element."""

    union_tag: ClassVar[str] = tag("element")

    basis: Literal["element"] = Field(description="This kind of strength.")
    element: Element = Field(description="The element that is counted.", examples=["nitrogen"])
    mg_per_l: Annotated[float, Quantity(gt=0, le=200_000)] = Field(
        description="Its concentration, as the element.", examples=[100]
    )
    counts: Counts | None = Field(default=None, description=COUNTS_DESCRIPTION)


class ProductMassStrength(Request):
    """So many grams of the product in a litre."""

    union_tag: ClassVar[str] = tag("product by mass")

    basis: Literal["product"] = Field(description="This kind of strength.")
    g_per_l: Annotated[float, Quantity(gt=0, le=1_000)] = Field(
        description="Grams of product for each litre.", examples=[0.5]
    )
    counts: Counts | None = Field(default=None, description=COUNTS_DESCRIPTION)


class ProductVolumeStrength(Request):
    """So many millilitres of the product in a litre."""

    union_tag: ClassVar[str] = tag("product by volume")

    basis: Literal["product"] = Field(description="This kind of strength.")
    ml_per_l: Annotated[float, Quantity(gt=0, le=1_000)] = Field(
        description="Millilitres of product for each litre.", examples=[2, "1 tsp/US gal"]
    )
    counts: Counts | None = Field(default=None, description=COUNTS_DESCRIPTION)


class ConductivityStrength(Request):
    """A conductivity, refused for products whose nitrogen a meter cannot see."""

    union_tag: ClassVar[str] = tag("conductivity")

    basis: Literal["conductivity"] = Field(description="This kind of strength.")
    ec_ms_per_cm: Annotated[float, Quantity(gt=0, le=20)] = Field(
        description="Conductivity at 25 °C.", examples=[0.8]
    )
    counts: Counts | None = Field(default=None, description=COUNTS_DESCRIPTION)


class MeterStrength(Request):
    """The ppm that a conductivity meter shows."""

    union_tag: ClassVar[str] = tag("meter_ppm")

    basis: Literal["meter_ppm"] = Field(description="This kind of strength.")
    ppm: Annotated[float, Quantity(gt=0, le=14_000)] = Field(
        description="The reading.", examples=[350]
    )
    scale: MeterScale | None = Field(
        default=None,
        description="Scale of the meter. Absent, it is taken on the safe side and said: 700 when"
        " dosing, 500 when judging a reading.",
        examples=[500],
    )
    counts: Counts | None = Field(default=None, description=COUNTS_DESCRIPTION)


BASES: Final = ("element", "product", "conductivity", "meter_ppm")


def _strength_tag(value: object) -> str | None:
    if isinstance(value, Request):
        return value.union_tag
    if not isinstance(value, dict):
        return None
    basis = value.get("basis")
    if basis == "product":
        return tag("product by volume" if "ml_per_l" in value else "product by mass")
    return tag(basis) if basis in BASES else None


Strength = Annotated[
    Annotated[ElementStrength, Tag(ElementStrength.union_tag)]
    | Annotated[ProductMassStrength, Tag(ProductMassStrength.union_tag)]
    | Annotated[ProductVolumeStrength, Tag(ProductVolumeStrength.union_tag)]
    | Annotated[ConductivityStrength, Tag(ConductivityStrength.union_tag)]
    | Annotated[MeterStrength, Tag(MeterStrength.union_tag)],
    Discriminator(
        _strength_tag,
        custom_error_type="unknown_basis",
        custom_error_message="A strength is an object whose `basis` is `element`, `product`,"
        " `conductivity` or `meter_ppm`.",
    ),
]
"""One way of saying how strong; `basis` says which."""
