"""Stock plans: concentrates in tanks with nothing coming out."""

from typing import Annotated, Any, Final, Literal

from pydantic import ConfigDict, Field, model_validator

from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Envelope, Outcome, Step
from service.api.schemas.fields import Answer, Exact, Number3, Number4, Quantity, Request
from service.api.schemas.injector_ratio import InjectorRatio
from service.api.schemas.recipes import RecipeLimits, ShelfItem, Targets
from service.api.schemas.solutions import MixAcid, MixAddition, SolidIndex
from service.api.schemas.water import Water

MOST_IN_A_RECIPE: Final = 24
_NUMBER: Final[list[Any]] = ["number", "string"]


class StockPlanRequest(Request):
    """A working solution, and how it is to be concentrated."""

    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                either(
                    {"concentration_factor": _NUMBER, "injector_ratio": "null"},
                    {"injector_ratio": _NUMBER, "concentration_factor": "null"},
                ),
                either(
                    {"recipe": "array", "target_mg_per_l": "null", "shelf": "null",
                     "limits": "null"},
                    {"target_mg_per_l": "object", "shelf": "array", "recipe": "null",
                     "acid": "null"},
                ),
            ]
        }
    )  # fmt: skip

    recipe: list[MixAddition] | None = Field(
        default=None,
        description="Products of the working solution, each once; grams or millilitres are for a"
        " litre of what the plants get, not of the concentrate.",
        min_length=1,
        max_length=MOST_IN_A_RECIPE,
    )
    acid: MixAcid | None = Field(
        default=None,
        description="An acid or a base that goes along with `recipe`, its amount for a litre of the"
        " working solution.",
    )
    target_mg_per_l: Targets | None = Field(
        default=None,
        description="Elements of the working solution, in place of a recipe; see `/v1/recipes`.",
        examples=[{"nitrogen": 120, "phosphorus": 15, "potassium": 100, "calcium": 60}],
    )
    shelf: list[ShelfItem] | None = Field(
        default=None,
        description="What may be used for the targets.",
        min_length=1,
        max_length=MOST_IN_A_RECIPE,
        examples=[["calcium_nitrate_tetrahydrate", "potassium_nitrate"]],
    )
    limits: RecipeLimits | None = Field(
        default=None, description="Limits that the recipe for the targets keeps."
    )
    concentration_factor: Annotated[float, Quantity(ge=1, le=1_000)] | None = Field(
        default=None,
        description="How many times stronger the concentrates are than the working solution.",
        examples=[100],
    )
    injector_ratio: Annotated[float, InjectorRatio(ge=1, le=1_000)] | None = Field(
        default=None,
        description="Setting of the injector in place of the factor: `1:100`, or 100.",
        examples=["1:100", 100],
    )
    injector_counts: Literal["parts_in", "parts_to"] | None = Field(
        default=None,
        description="What the injector's ratio counts: `parts_in`, one part in so many parts of"
        " working solution (taken if absent), or `parts_to`, one part added to so many parts of"
        " what passes the injector.",
        examples=["parts_in"],
    )
    tank_volume_l: Annotated[float, Quantity(gt=0, le=100_000)] | None = Field(
        default=None,
        description="Finished concentrate in each tank; 10 if absent.",
        examples=[10],
    )
    tank_count: Annotated[int, Quantity(ge=1, le=4, whole=True)] | None = Field(
        default=None,
        description="Number of tanks; the fewest that carry the factor if absent.",
        examples=[2],
    )
    coldest_celsius: Annotated[float, Quantity(ge=0, le=40)] | None = Field(
        default=None,
        description="Coldest temperature at which the tanks stand; 10 if absent.",
        examples=[10],
    )
    warmest_celsius: Annotated[float, Quantity(ge=0, le=40)] | None = Field(
        default=None,
        description="Warmest temperature at which they stand, since calcium phosphates and lime"
        " come out in the warm; 30, or the coldest if that is warmer, if absent.",
        examples=[30],
    )
    water: Water | None = Field(
        default=None,
        description="The water of the working solution; pure water if absent.",
        examples=["rain"],
    )
    tank_water: Water | None = Field(
        default=None,
        description="The water that the tanks are made with; that of the working solution if"
        " absent, or pure water where that one would cloud them.",
        examples=["reverse_osmosis"],
    )
    daily_use_l: Annotated[float, Quantity(gt=0, le=1_000_000)] | None = Field(
        default=None,
        description="Working solution that is used in a day, for how long the tanks last.",
        examples=[20],
    )
    balance_resolution_g: Annotated[float, Quantity(ge=0.0001, le=100)] | None = Field(
        default=None,
        description="Smallest step that the scale shows; masses are rounded to it.",
        examples=[0.1],
    )

    @model_validator(mode="after")
    def _one_strength(self) -> "StockPlanRequest":
        check_one_given(self, "concentration_factor", "injector_ratio")
        return self

    @model_validator(mode="after")
    def _one_recipe(self) -> "StockPlanRequest":
        check_one_given(self, "recipe", "target_mg_per_l")
        if self.recipe is None:
            check_one_given(self, "shelf")
            check_not_both(self, "acid", "target_mg_per_l", "put it on the shelf.")
        else:
            for name in ("shelf", "limits"):
                check_not_both(self, name, "recipe", "it belongs to `target_mg_per_l`.")
        return self


class TankAddition(Answer):
    """One product of a tank, in its place in the order of dissolving."""

    order: int = Field(description="Place in the order of dissolving, from 1.", ge=1)
    product: str = Field(description="Key of the product, or the caller's name.")
    mass_g: Number4 | None = Field(
        description="What to weigh for the whole tank; null for a liquid of unknown density."
    )
    volume_ml: Number4 | None = Field(description="What to measure of a liquid; null for a solid.")
    g_per_l: Number4 | None = Field(description="Grams in a litre of the concentrate.")
    ml_per_l: Number4 | None = Field(description="Millilitres of a liquid in that litre.")
    reason: str = Field(description="Why it stands at this place.")


class TankSaturation(SolidIndex):
    """A solid that the ions of a tank could form, at the temperature where it is nearest to it."""

    margin: Number3 = Field(
        description="Uncertainty of the index; a tank is clear where both together are below 0."
    )
    evidence: str = Field(
        description="`single_salt` for a salt by itself, `measured` where data of such mixtures"
        " stand behind the margin, `estimated` where none do and the margin is wider."
    )
    at_celsius: Exact = Field(description="Temperature at which the solid is nearest to it.")


class StockTank(Answer):
    """One tank."""

    name: str = Field(description="`A` holds the calcium; then B, C and D.", examples=["A"])
    additions: list[TankAddition] = Field(description="Contents, in the order of dissolving.")
    saturation: list[TankSaturation] = Field(
        description="Solids, the nearest first, between the coldest and the warmest temperature."
    )
    highest_factor: Number4 = Field(
        description="Concentration factor to which this tank stays clear, the margin taken off;"
        " 1000 where nothing was found up to there."
    )
    limited_by: Literal["solid", "room", "model", "range"] = Field(
        description="`solid`; `room` where the products fill the tank; `model` where the chemistry"
        " holds no further; `range` at 1000."
    )
    limiting_solid: str | None = Field(description="The solid that comes out first, or null.")
    ph: Number3 | None = Field(
        description="Estimate of the pH, for a solution thinned to where the model of pH holds;"
        " null below 2 and above 12."
    )
    density_kg_per_l: Number4 = Field(description="Density at 25 °C.")
    volume_l: Number4 = Field(description="Finished concentrate.")
    mass_kg: Number4 = Field(description="Mass of the finished concentrate.")
    water_kg: Number4 = Field(
        description="Water that goes in all told; the crystal water of the salts comes on top."
    )
    water_to_start_l: Number4 = Field(
        description="Water to start with; the rest fills up to the mark."
    )
    label: str = Field(description="Text for the label, one line each.")


class StockInjector(Answer):
    """What the ratio of an injector means, and what its other reading would do."""

    counts: Literal["parts_in", "parts_to"] = Field(description="How the ratio is read.")
    injector_ratio: Number4 = Field(description="Second number of the ratio, the first being 1.")
    concentrate_ml_per_l: Number4 = Field(
        description="Of each concentrate in a litre of working solution."
    )
    water_ml_per_l: Number4 = Field(description="Of plain water in that litre.")
    other_reading_strength_percent: Number4 = Field(
        description="Strength of the working solution if the injector counts the other way: one"
        " percent away at 1:100."
    )
    other_reading_factor: Number4 = Field(
        description="Concentration factor that the same setting needs if it counts the other way."
    )


class WorkingSolution(Answer):
    """What the plants get."""

    elements_mg_per_l: dict[str, Number4] = Field(
        description="Elements, those of the water included."
    )
    ec_ms_per_cm: Number4 = Field(description="Conductivity at 25 °C.")
    ec_low_ms_per_cm: Number4 | None = Field(
        description="Lower end where a product is known by its label alone; null otherwise."
    )
    ec_high_ms_per_cm: Number4 | None = Field(description="Upper end of the same.")
    meter_ppm_500: Number4 = Field(description="The reading on the 500 scale.")
    meter_ppm_640: Number4 = Field(description="The reading on the 640 scale.")
    meter_ppm_700: Number4 = Field(description="The reading on the 700 scale.")
    ph: Number3 | None = Field(description="pH; null where the water's alkalinity is not known.")
    alkalinity_mg_per_l_caco3: Number4 | None = Field(
        description="Acid capacity; null where that of the water is not known."
    )
    saturation: list[SolidIndex] = Field(
        description="Solids all of whose ions are there; above 0 a solid can come out."
    )


class OneTank(Answer):
    """What one tank for everything would carry."""

    highest_factor: Number4 = Field(
        description="Factor to which everything together stays clear by its chemistry, the margin"
        " taken off."
    )
    limiting_solid: str | None = Field(description="The solid that comes out first, or null.")
    allowed: bool = Field(
        description="Whether no pair of products forbids it. Where one does no plan puts them"
        " together, weak as they may be."
    )


class RecipeLine(Answer):
    """One product of the working solution."""

    product: str = Field(description="Key of the product, or the caller's name.")
    g_per_l: Number4 | None = Field(description="Grams in a litre of the working solution.")
    ml_per_l: Number4 | None = Field(description="Millilitres of a liquid in that litre.")


class KeptApart(Answer):
    """Two products that share no tank."""

    products: list[str] = Field(description="The two.", min_length=2, max_length=2)
    reason: str = Field(description="What happens if they do.")


class StockPlanResult(Outcome):
    """The tanks."""

    concentration_factor: Number4 | None = Field(
        description="Factor of the tanks shown: the one asked for, or the nearest that there is."
    )
    tank_count: int | None = Field(description="Tanks shown.", ge=1)
    highest_factor: Number4 | None = Field(
        description="Factor that all tanks carry, the margin taken off."
    )
    limiting_solid: str | None = Field(description="Solid that comes out first if stronger.")
    limiting_tank: str | None = Field(description="Tank that it comes out of.")
    tanks: list[StockTank] = Field(
        description="The tanks; those of the nearest plan where the status is `infeasible`."
    )
    one_tank: OneTank = Field(description="What one tank for everything would carry.")
    kept_apart: list[KeptApart] = Field(description="Pairs that share no tank.")
    recipe: list[RecipeLine] = Field(description="The working solution, product by product.")
    deviation_percent: dict[str, Number3] | None = Field(
        description="By how much targets are missed; null for a recipe that was given."
    )
    injector: StockInjector | None = Field(description="How the tanks are thinned.")
    working_solution: WorkingSolution = Field(
        description="What the plants get, in the given water, all of the recipe in it."
    )
    working_volume_l: Number4 | None = Field(
        description="Working solution that one filling of the tanks makes."
    )
    lasts_days: Number3 | None = Field(
        description="How long it lasts at the daily use; null where none is given."
    )
    steps: list[Step] = Field(description="What to do, in order.")


class StockPlanAnswer(Envelope, StockPlanResult):
    """A stock plan."""


STOCK_PLAN_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "A feed from salts in two tanks of ten litres for an injector at 1:100",
        {
            "recipe": [
                {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 0.35},
                {"product": "potassium_nitrate", "g_per_l": 0.15},
                {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 0.15},
                {"product": "monopotassium_phosphate", "g_per_l": 0.07},
                {"product": "iron_dtpa", "g_per_l": 0.008},
                {"product": "manganese_sulfate_monohydrate", "g_per_l": 0.001},
            ],
            "injector_ratio": "1:100",
            "tank_volume_l": 10,
            "coldest_celsius": 10,
            "water": "rain",
            "daily_use_l": 20,
        },
    ),
    "us": (
        "Fifty times, two five gallon tanks in a cold shed",
        {
            "recipe": [
                {"product": "calcium_ammonium_nitrate_decahydrate", "g_per_l": "0.04 oz/US gal"},
                {"product": "magnesium_sulfate_heptahydrate", "g_per_l": "0.02 oz/US gal"},
                {"product": "monopotassium_phosphate", "g_per_l": "0.01 oz/US gal"},
            ],
            "concentration_factor": 50,
            "tank_volume_l": "5 US gal",
            "tank_count": 2,
            "coldest_celsius": "40 °F",
        },
    ),
    "caution": (
        "Everything in one tank: calcium meets sulfate and phosphate",
        {
            "recipe": [
                {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 1.18},
                {"product": "potassium_nitrate", "g_per_l": 0.5055},
                {"product": "monopotassium_phosphate", "g_per_l": 0.1361},
                {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 0.493},
            ],
            "concentration_factor": 100,
            "tank_volume_l": 1,
            "tank_count": 1,
        },
    ),
}
