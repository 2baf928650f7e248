"""pH adjustments: acid or base for a pH or for a residual alkalinity."""

from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from service.api.schemas.acid import Acid
from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.answer import Caution, Envelope, Outcome, Step
from service.api.schemas.dilutions import MOST_PRODUCTS, Saturation, Volume
from service.api.schemas.fields import Answer, Exact, Number3, Number4, Quantity, Request, fault
from service.api.schemas.instruments import Instruments
from service.api.schemas.plants import Plants
from service.api.schemas.product import Product
from service.api.schemas.water import Water

CarbonDioxide = Literal["closed", "open"]
AcidGoes = Literal["after_feed", "before_feed"]


def _yes_or_no(received: object) -> object:
    if received is None or isinstance(received, bool):
        return received
    if received in ("true", "false"):
        return received == "true"
    raise fault("not_allowed", "True or false is needed.", received=str(received)[:100])


YesOrNo = Annotated[
    bool,
    BeforeValidator(_yes_or_no),
    WithJsonSchema(
        {"type": ["boolean", "string"], "enum": [True, False, "true", "false"]}, mode="validation"
    ),
]
"""True or false, or the text of it, as a query has nothing else."""

PerLitre = Annotated[float, Quantity(ge=0, le=1_000)]


class AdditionPerLitre(Request):
    """One product of the can whose pH is set, by its amount in each litre."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"g_per_l": ["number", "string"], "ml_per_l": "null"},
            {"ml_per_l": ["number", "string"], "g_per_l": "null"},
        )
    )

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["feed_15_5_15_ca_mg"]
    )
    g_per_l: PerLitre | None = Field(
        default=None, description="Grams in a litre of the can.", examples=[0.6]
    )
    ml_per_l: PerLitre | None = Field(
        default=None, description="Millilitres of a liquid in a litre of the can.", examples=[1]
    )

    @model_validator(mode="after")
    def _one_amount(self) -> "AdditionPerLitre":
        check_one_given(self, "g_per_l", "ml_per_l")
        return self


class PhLimits(Request):
    """What the acid may bring along."""

    acid_phosphorus_mg_per_l: Annotated[float, Quantity(ge=0, le=1_000)] | None = Field(
        default=None,
        description="Most phosphorus that the acid alone may bring; 30 mg/L if absent. Above it"
        " another acid is proposed.",
        examples=[30],
    )


class PhAdjustmentRequest(Request):
    """A water, a feed, a bottle, and where the pH or the alkalinity shall be."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"target_ph": ["number", "string"], "target_alkalinity_mg_per_l_caco3": "null"},
            {"target_alkalinity_mg_per_l_caco3": ["number", "string"], "target_ph": "null"},
            {"target_ph": "null", "target_alkalinity_mg_per_l_caco3": "null"},
        )
    )

    water: Water = Field(
        description="The water; its alkalinity must be known.", examples=["moderate_tap"]
    )
    volume_l: Volume = Field(
        description="Volume of the finished solution, all additions in it.", examples=[10]
    )
    target_ph: Annotated[float, Quantity(ge=3, le=9)] | None = Field(
        default=None,
        description="pH to reach. Absent, and no alkalinity either: the upper end of the plant's"
        " window (its lower end for a base). Below 5.0 is refused.",
        examples=[5.8],
    )
    target_alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None,
        description="In place of a pH: alkalinity to be left. It does not change as carbon dioxide"
        " leaves, so it is the better target of a reservoir.",
        examples=[40],
    )
    acid: Acid | None = Field(
        default=None,
        description="The acid, or base. Absent, citric acid; phosphoric acid in a reservoir;"
        " potassium bicarbonate where the can is too acid. It is said.",
    )
    additions: list[AdditionPerLitre] | None = Field(
        default=None,
        description="The feed of the can. Its phosphate and ammonium change the dose.",
        max_length=MOST_PRODUCTS,
    )
    acid_goes: AcidGoes | None = Field(
        default=None,
        description="`after_feed`: the target holds with the feed in, the safer order and what is"
        " taken if absent. `before_feed`: the water alone is brought to the target, and the feed,"
        " acid itself by its phosphate and ammonium, moves the pH further.",
    )
    carbon_dioxide: CarbonDioxide | None = Field(
        default=None,
        description="`closed`: the target holds as mixed, as a meter shows it within the hour; if"
        " absent. `open`: it holds once the can is in balance with the air, which takes more acid.",
    )
    reservoir: YesOrNo | None = Field(
        default=None,
        description="The solution stands for days: absent a target it is dosed to 40 mg/L CaCO3 of"
        " alkalinity, and citric acid, which microbes eat, is advised against.",
        examples=[True],
    )
    limits: PhLimits | None = Field(default=None, description="What the acid may bring along.")
    plants: Plants | None = Field(
        default=None,
        description="Whose pH window holds; only `profile` matters here. `moth_orchid` if absent.",
    )
    instruments: Instruments | None = Field(
        default=None, description="What is measured with; ordinary household tools if absent."
    )

    @model_validator(mode="after")
    def _one_target(self) -> "PhAdjustmentRequest":
        check_not_both(
            self, "target_ph", "target_alkalinity_mg_per_l_caco3", "one decides the other."
        )
        return self


class PreDilution(Answer):
    """A weaker solution to make once, of which a measurable volume goes into the can."""

    acid_volume_ml: Number4 | None = Field(
        description="Millilitres from the bottle; null for what is weighed."
    )
    acid_mass_g: Number4 | None = Field(description="Grams to dissolve; null for a liquid.")
    water_ml: Number4 = Field(
        description="Water to start with: the acid goes into it, never the reverse."
    )
    batch_volume_ml: Number4 = Field(description="Volume of the weaker solution.")
    dilution_factor: Number4 | None = Field(
        description="How many times weaker than the bottle, by volume; null for a dissolved solid."
    )
    g_per_l: Number4 | None = Field(description="Grams in a litre of it; null for a liquid.")
    acid_mmol_per_l: Number4 = Field(description="Acid or base in a litre of it.")
    dose_ml: Number4 = Field(description="Millilitres of it for the can, rounded down.")
    label: str = Field(description="What to write on the bottle.")
    shelf_note: str = Field(description="How long it keeps, and how.")


class PhDose(Answer):
    """What one acid or base comes to."""

    acid_volume_ml: Number4 | None = Field(
        description="Millilitres from the bottle; null for what is weighed and where nothing may"
        " be poured."
    )
    acid_mass_g: Number4 | None = Field(description="The same in grams.")
    acid_mmol_per_l: Number4 | None = Field(
        description="Acid or base in each litre of the can. Of an infeasible answer: what the"
        " target would take."
    )
    acid_volume_low_ml: Number4 | None = Field(
        description="Least that it can take within the error of the analysis."
    )
    acid_volume_high_ml: Number4 | None = Field(
        description="Most that it can take; null where the target is then out of reach."
    )
    acid_mass_low_g: Number4 | None = Field(description="The least, in grams.")
    acid_mass_high_g: Number4 | None = Field(description="The most, in grams.")
    dose_volume_ml: Number4 | None = Field(
        description="What to take up with the syringe, of the bottle or of `pre_dilution`; rounded"
        " down."
    )
    dose_mass_g: Number4 | None = Field(
        description="What to weigh, rounded down; null for what is measured."
    )
    starting_ph: Number3 | None = Field(description="pH without acid, under `carbon_dioxide`.")
    ph_after_acid: Number3 | None = Field(
        description="pH as mixed once the acid is in; the feed is not, where the acid goes first."
    )
    predicted_ph: Number3 | None = Field(description="pH of the finished can as mixed.")
    predicted_ph_open: Number3 | None = Field(
        description="pH once it stood open to the air: it climbs as carbon dioxide leaves."
    )
    predicted_ph_low: Number3 | None = Field(
        description="Lowest pH as mixed that the error of the analysis allows with this dose."
    )
    predicted_ph_high: Number3 | None = Field(description="Highest pH, likewise.")
    neutralised_percent: Number3 | None = Field(
        description="Share of the alkalinity that the acid takes (of the bicarbonate for citric"
        " acid); above 90 is refused; null for a base."
    )
    residual_alkalinity_mg_per_l_caco3: Number4 | None = Field(
        description="Alkalinity of the finished can, as a titration to the carbon dioxide end"
        " point reads it."
    )
    added_mg_per_l: dict[str, Number4] = Field(
        description="Elements that the acid or base brings; credit them to the feed."
    )
    pre_dilution: PreDilution | None = Field(
        description="The weaker solution to dose, where the dose is under twenty steps of the"
        " instrument."
    )


class ChosenAcid(Answer):
    """An acid and its strength."""

    kind: str = Field(description="Key of `/v1/acids`.", examples=["sulfuric"])
    percent: Exact = Field(description="Strength by mass.")


class AlternativeDose(PhDose):
    """Another acid for the same target."""

    acid: ChosenAcid = Field(description="The acid, at its usual strength.")
    steps: list[Step] = Field(description="How to pour it, in order.")
    cautions: list[Caution] = Field(description="What to know before pouring it.")


class PhAdjustmentResult(PhDose, Outcome):
    """How much acid or base, and what the can will be."""

    range_reasons: list[str] = Field(description="Why the dose is a range, for people.")
    saturation: list[Saturation] = Field(description="Solids that could come out after dosing.")
    alternative: AlternativeDose | None = Field(
        description="Another acid, where the one asked for brings more phosphorus than allowed."
    )
    steps: list[Step] = Field(
        description="What to do, in order: half, wait, measure, the rest as needed."
    )


class PhAdjustmentAnswer(Envelope, PhAdjustmentResult):
    """Acid or base for a pH or for a residual alkalinity."""


PH_ADJUSTMENT_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Ten litres of feed to pH 5.8 with nitric acid",
        {
            "water": "moderate_tap",
            "volume_l": 10,
            "target_ph": 5.8,
            "acid": {"kind": "nitric", "percent": 38},
            "additions": [{"product": "feed_15_5_15_ca_mg", "g_per_l": 0.6}],
        },
    ),
    "us": (
        "A standing reservoir of 50 US gallons, dosed to a residual alkalinity",
        {
            "water": {"ph": 7.8, "alkalinity_mg_per_l_caco3": "9 dKH", "calcium_mg_per_l": 50},
            "volume_l": "50 US gal",
            "target_alkalinity_mg_per_l_caco3": 40,
            "acid": {"kind": "sulfuric", "percent": 35},
            "reservoir": True,
        },
    ),
    "caution": (
        "Phosphoric acid in hard water brings too much phosphorus: another acid is proposed",
        {
            "water": "hard_tap",
            "volume_l": 10,
            "target_ph": 6.0,
            "acid": {"kind": "phosphoric", "percent": 85},
        },
    ),
}
