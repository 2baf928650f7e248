"""A product: a key of the catalogue, or what its label says."""

from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, Tag

from service.api.schemas.fields import Key, Quantity, Request, ShortText
from service.api.schemas.strength import Strength
from service.api.validation import tag

Percent = Annotated[float, Quantity(ge=0, le=100)]


class Label(Request):
    """The guaranteed analysis, in percent of mass or of mass per volume as `basis` says."""

    basis: Literal["mass", "volume"] | None = Field(
        default=None,
        description="`mass`: grams in 100 g; `volume`: grams in 100 mL. `mass` if absent.",
    )
    total_n_percent: Percent | None = Field(
        default=None, description="Total nitrogen.", examples=[20]
    )
    nitrate_n_percent: Percent | None = Field(
        default=None, description="Nitrogen as nitrate.", examples=[6]
    )
    ammonium_n_percent: Percent | None = Field(
        default=None, description="Nitrogen as ammonium.", examples=[4]
    )
    urea_n_percent: Percent | None = Field(
        default=None, description="Nitrogen as urea, which no meter sees.", examples=[10]
    )
    p_percent: Percent | None = Field(default=None, description="Phosphorus.", examples=[8.7])
    p2o5_percent: Percent | None = Field(
        default=None, description="Phosphorus as P2O5.", examples=[20]
    )
    k_percent: Percent | None = Field(default=None, description="Potassium.", examples=[16.6])
    k2o_percent: Percent | None = Field(
        default=None, description="Potassium as K2O.", examples=[20]
    )
    ca_percent: Percent | None = Field(default=None, description="Calcium.", examples=[5])
    cao_percent: Percent | None = Field(default=None, description="Calcium as CaO.", examples=[7])
    mg_percent: Percent | None = Field(default=None, description="Magnesium.", examples=[2])
    mgo_percent: Percent | None = Field(
        default=None, description="Magnesium as MgO.", examples=[3.3]
    )
    s_percent: Percent | None = Field(default=None, description="Sulfur.", examples=[3])
    so3_percent: Percent | None = Field(default=None, description="Sulfur as SO3.", examples=[7.5])
    na_percent: Percent | None = Field(default=None, description="Sodium.", examples=[0.1])
    na2o_percent: Percent | None = Field(
        default=None, description="Sodium as Na2O.", examples=[0.13]
    )
    cl_percent: Percent | None = Field(default=None, description="Chloride.", examples=[0.5])
    b_percent: Percent | None = Field(default=None, description="Boron.", examples=[0.02])
    fe_percent: Percent | None = Field(default=None, description="Iron.", examples=[0.1])
    mn_percent: Percent | None = Field(default=None, description="Manganese.", examples=[0.05])
    zn_percent: Percent | None = Field(default=None, description="Zinc.", examples=[0.05])
    cu_percent: Percent | None = Field(default=None, description="Copper.", examples=[0.05])
    mo_percent: Percent | None = Field(default=None, description="Molybdenum.", examples=[0.001])
    si_percent: Percent | None = Field(default=None, description="Silicon.", examples=[1])
    sio2_percent: Percent | None = Field(
        default=None, description="Silicon as SiO2.", examples=[2.1]
    )
    ec_ms_per_cm_at_100_mg_per_l_n: Annotated[float, Quantity(ge=0.01, le=10)] | None = Field(
        default=None,
        description="Conductivity that the maker states for 100 mg/L of nitrogen; preferred to"
        " one that is computed.",
        examples=[0.65],
    )


class LabelledProduct(Request):
    """A product that is not in the catalogue, by its label."""

    union_tag: ClassVar[str] = tag("labelled product")

    name: ShortText = Field(description="A name for the answer.", examples=["house_feed"])
    form: Literal["solid", "liquid"] = Field(description="Weighed, or measured out.")
    density_kg_per_l: Annotated[float, Quantity(ge=0.5, le=3)] | None = Field(
        default=None,
        description="Density; needed to measure a liquid whose label is by mass.",
        examples=[1.25],
    )
    label: Label = Field(description="The guaranteed analysis.")


def _product_tag(value: object) -> str | None:
    if isinstance(value, str):
        return tag("key")
    if isinstance(value, dict | LabelledProduct):
        return LabelledProduct.union_tag
    return None


Product = Annotated[
    Annotated[Key, Tag(tag("key"))] | Annotated[LabelledProduct, Tag(LabelledProduct.union_tag)],
    Discriminator(
        _product_tag,
        custom_error_type="unknown_basis",
        custom_error_message="A product is the key of `/v1/products` or an object with a `label`.",
    ),
]
"""A key of `/v1/products` as a text, or a label as an object."""


class ProductAtStrength(Request):
    """One of several products that share a can."""

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["calcium_nitrate_tetrahydrate"]
    )
    strength: Strength = Field(
        description="How strong this product is to be.",
        examples=[{"basis": "element", "element": "calcium", "mg_per_l": 60}],
    )
