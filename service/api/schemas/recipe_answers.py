"""What a recipe answers: amounts, what they give, and what to do."""

from pydantic import Field

from service.api.schemas.answer import Envelope, Outcome, Step
from service.api.schemas.fields import Answer, Exact, Number3, Number4
from service.api.schemas.solutions import SolidIndex


class PreStockStage(Answer):
    """One pre-stock of a series."""

    order: int = Field(description="Place in the series, from 1.", ge=1)
    product_mass_g: Number4 | None = Field(
        description="Grams of the product that go in; null for a liquid and for later stages."
    )
    product_volume_ml: Number4 | None = Field(description="The same of a liquid, in millilitres.")
    stage_before_ml: Number4 | None = Field(
        description="Millilitres of the stage before that go in; null for the first."
    )
    made_up_to_l: Number4 = Field(description="Volume that it is filled up to with pure water.")
    g_per_l: Number4 | None = Field(description="Product in it; null for a liquid.")
    ml_per_l: Number4 | None = Field(description="The same of a liquid.")


class PreStockSeries(Answer):
    """The pre-stocks of one product, and how much of the last goes into the can."""

    volume_ml: Number4 = Field(description="Millilitres of the last stage that go into the can.")
    stages: list[PreStockStage] = Field(description="Pre-stocks, each made out of the one before.")


class RecipeAmount(Answer):
    """How much of one item is used."""

    order: int = Field(description="Place in the sequence of adding, from 1.", ge=1)
    product: str = Field(description="Key or name of the item.", examples=["potassium_nitrate"])
    percent: Number4 | None = Field(description="Strength of an acid or base; null for a product.")
    shelf_place: int = Field(description="Place in the `shelf` of the request, from 0.")
    g_per_l: Exact | None = Field(
        description="Grams in a litre, as measured; null for what is measured out."
    )
    ml_per_l: Exact | None = Field(
        description="Millilitres in a litre, as measured; null for what is weighed."
    )
    mass_g: Exact | None = Field(description="Grams for the volume, as measured.")
    volume_ml: Exact | None = Field(description="Millilitres for the volume, as measured.")
    exact_mass_g: Exact | None = Field(description="Grams before rounding to the balance.")
    exact_volume_ml: Exact | None = Field(description="Millilitres before rounding.")
    pre_stock: PreStockSeries | None = Field(
        description="What is dosed instead of the product itself, where it is too little to"
        " measure."
    )
    cost: Number4 | None = Field(description="Its price; null where none is given.")


class RecipeResult(Outcome):
    """What to weigh, and what it gives."""

    volume_l: Exact = Field(description="Volume that the amounts are for.")
    amounts: list[RecipeAmount] = Field(
        description="What is used, in the order to add it; of an infeasible request the nearest"
        " recipe that keeps the limits."
    )
    achieved_mg_per_l: dict[str, Number4] = Field(
        description="All elements and the forms of nitrogen of the finished solution, the water"
        " included, with the amounts as measured."
    )
    deviation_percent: dict[str, Exact | None] = Field(
        description="By how much each target is passed; null for a target of 0."
    )
    mean_deviation_percent: Exact = Field(
        description="Root of the weighted mean of the squared deviations, of which the closest"
        " profile has the least."
    )
    water_mg_per_l: dict[str, Number4] = Field(description="What of it the water brings.")
    cost: Number4 | None = Field(
        description="Price of the whole volume; null where a price of what is used is not given."
    )
    cost_of_a_litre: Number4 | None = Field(description="The same of a litre.")
    product_count: int = Field(description="Number of items that are used.")
    ph: Number3 | None = Field(
        description="pH at 25 °C without contact to air; null where the alkalinity of the water is"
        " not known."
    )
    ec_ms_per_cm: Number4 = Field(description="Conductivity at 25 °C.")
    ec_low_ms_per_cm: Number4 | None = Field(
        description="Lower end of the conductivity where a label leaves it open; null otherwise."
    )
    ec_high_ms_per_cm: Number4 | None = Field(description="Upper end of the same.")
    meter_ppm_500: Number4 = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number4 = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number4 = Field(description="The reading on the 700 scale.")
    alkalinity_mg_per_l_caco3: Number4 | None = Field(
        description="Alkalinity of the solution; null where that of the water is not known."
    )
    saturation: list[SolidIndex] = Field(
        description="Solids all of whose ions are there; above 0 a solid can come out."
    )
    steps: list[Step] = Field(description="What to do, in order.")


class RecipeAnswer(Envelope, RecipeResult):
    """Amounts of what is on the shelf for a profile."""
