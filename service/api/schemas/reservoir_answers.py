"""What a reservoir is given now, and the examples of its requests."""

from typing import Any, Final, Literal

from pydantic import Field

from service.api.schemas.answer import Envelope, Outcome, Step
from service.api.schemas.fields import Number3, Number4
from service.api.schemas.ph_adjustments import PreDilution

Correction = Literal["none", "wait", "water", "feed", "acid", "withheld"]


class ReservoirCorrectionResult(Outcome):
    """One portion: carried out once, mixed, and measured again."""

    correction: Correction = Field(
        description="What this answer does: `water` dilutes, `feed` adds stocks, `acid` adds acid"
        " or base; `wait` while the last dose mixes; `withheld` where something is needed and not"
        " given; `none` where nothing is needed."
    )
    water_l: Number4 | None = Field(
        description="Water to add; null where this water cannot reach the target."
    )
    drain_l: Number4 = Field(description="Solution to take out by hand before; never by a pump.")
    stock_a_ml: Number4 | None = Field(
        description="First stock, rounded down to syringe or pump; null without one."
    )
    stock_b_ml: Number4 | None = Field(description="Second stock, likewise.")
    acid_volume_ml: Number4 | None = Field(
        description="Acid or base from the bottle; null without one, for what is weighed, and"
        " where none may be poured."
    )
    acid_mass_g: Number4 | None = Field(description="Grams of what is weighed; null otherwise.")
    dose_volume_ml: Number4 | None = Field(
        description="What to take up with the syringe, of the bottle or of `pre_dilution`, rounded"
        " down; null for a pump and for what is weighed."
    )
    pump_seconds: dict[str, Number4] = Field(
        description="Running time of each pump that is named, rounded down and never above its"
        " `largest_seconds`; run stock B only after the wait in `steps`."
    )
    not_before_minutes: Number4 = Field(
        description="Minutes from now in which nothing may be given; 0 where this answer may be"
        " carried out, once, at once."
    )
    remeasure_after_minutes: Number4 = Field(
        description="Minutes after which to measure and ask again, with what was given."
    )
    ec_ms_per_cm: Number4 = Field(description="The reading at 25 °C.")
    present_volume_l: Number4 = Field(description="What is in the reservoir now.")
    expected_ec_ms_per_cm: Number3 = Field(
        description="Conductivity that the next reading should show."
    )
    lowest_expected_ph: Number3 | None = Field(
        description="pH after the portion with the least buffer that is possible; the reading"
        " where nothing is added to change it."
    )
    needed_water_l: Number4 | None = Field(
        description="All the water that the target would take, of which this is a portion."
    )
    needed_stock_ml: Number4 | None = Field(
        description="All of each stock that the target would take."
    )
    acid_mmol_per_l: Number4 | None = Field(description="Acid or base of this portion.")
    acid_low_mmol_per_l: Number4 | None = Field(
        description="Least that the target can take, by the least alkalinity and the error of it;"
        " the portion is a quarter of it."
    )
    acid_high_mmol_per_l: Number4 | None = Field(
        description="Most that the target can take; null where it is not known."
    )
    alkalinity_low_mg_per_l_caco3: Number3 | None = Field(
        description="Least alkalinity that water, feed and pH allow: in balance with the air, or"
        " as mixed where that is less. Null where no acid was planned."
    )
    alkalinity_high_mg_per_l_caco3: Number3 | None = Field(
        description="Most that they allow: with all the carbon of the water, as just filled."
    )
    pre_dilution: PreDilution | None = Field(
        description="The weaker solution to dose by hand, where the portion is under twenty steps"
        " of the syringe."
    )
    steps: list[Step] = Field(
        description="What to do, in order: water; stock A, a wait, stock B; acid last, alone."
    )
    reasons: list[str] = Field(description="Why, for people.")


class ReservoirCorrectionAnswer(Envelope, ReservoirCorrectionResult):
    """What a reservoir is given now."""


_PUMPED: Final[dict[str, Any]] = {
    "ml_per_second": 1.2,
    "largest_seconds": 120,
    "largest_ml_per_day": 300,
}

RESERVOIR_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "A hundred litres below their strength, two stocks with pumps, a first call",
        {
            "volume_l": 100,
            "reading": {
                "ec_ms_per_cm": 0.58,
                "compensated": True,
                "ph": 6.6,
                "temperature_celsius": 21,
                "level_percent": 90,
            },
            "target": {"ec_ms_per_cm": 0.9, "ph": 5.9},
            "water": "soft_tap",
            "stocks": [
                {"products": [{"product": "calcium_nitrate_tetrahydrate", "g_per_l": 60}]},
                {
                    "products": [
                        {"product": "potassium_nitrate", "g_per_l": 30},
                        {"product": "monopotassium_phosphate", "g_per_l": 12},
                        {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 30},
                    ]
                },
            ],
            "acid": {"kind": "nitric", "percent": 10},
            "pump": {
                "stock_a": _PUMPED,
                "stock_b": _PUMPED,
                "acid": {"ml_per_second": 0.5, "largest_seconds": 10, "largest_ml_per_day": 20},
            },
            "last_dose": {"none": True},
        },
    ),
    "us": (
        "Fifty US gallons above their strength, by hand, on a meter in ppm",
        {
            "volume_l": "50 US gal",
            "reading": {
                "ppm": 620,
                "scale": 500,
                "ph": 6.2,
                "temperature_celsius": "72 °F",
                "level_percent": 70,
            },
            "target": {"ec_ms_per_cm": 1.0},
            "water": "rain",
        },
    ),
    "caution": (
        "At its strength, pH too high and the alkalinity not measured: little acid, by hand",
        {
            "volume_l": 60,
            "reading": {"ec_ms_per_cm": 0.8, "ph": 7.1, "temperature_celsius": 22},
            "target": {"ec_ms_per_cm": 0.8, "ph": 6.0},
            "water": "moderate_tap",
            "stocks": [{"ec_rise_ms_per_cm": 0.12}, {"ec_rise_ms_per_cm": 0.1}],
            "acid": {"kind": "phosphoric", "percent": 10},
            "last_dose": {
                "minutes_since": 45,
                "stock_a_ml": 20,
                "stock_b_ml": 20,
                "earlier_ec_ms_per_cm": 0.73,
            },
        },
    ),
}
