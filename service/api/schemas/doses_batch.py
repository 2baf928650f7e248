"""Doses for many rows."""

from typing import Any, Final, Literal

from pydantic import Field

from service.api.schemas.answer import Assumption, Caution, Provenance, Status
from service.api.schemas.batch_mixes import Mix, MixSummary, MixWishes
from service.api.schemas.doses import DoseFields
from service.api.schemas.fields import Answer, Number3, Number4, Request
from service.api.validation import FieldError


class DoseBatchRequest(Request):
    """
    Rows, and what they have in common.

    The defaults are merged into each row, object by object; lists and the objects of a union
    replace. A row that is wrong is `rejected` and disturbs no other.
    """

    defaults: DoseFields | None = Field(
        default=None, description="Fields of a dose for all rows that do not say otherwise."
    )
    rows: list[DoseFields] = Field(
        description="One dose each, with an `id` to find it by; `/v1/limits` says how many.",
        max_length=10_000_000,
    )
    mixes: MixWishes | None = Field(
        default=None,
        description="Serve the rows from few cans; absent, every row is mixed on its own.",
    )


class DoseBatchSummary(Answer):
    """How the rows came out."""

    total: int = Field(description="Rows received.", ge=0)
    ok: int = Field(description="Rows with a dose.", ge=0)
    infeasible: int = Field(description="Rows that no dose meets.", ge=0)
    rejected: int = Field(description="Rows that are wrong.", ge=0)


class DoseRow(Answer):
    """The results of one row."""

    id: str | None = Field(description="The caller's own name of the row.")
    status: Status = Field(description="How the row came out.")
    volume_l: Number4 | None = Field(description="Volume of the finished solution.")
    product_mass_g: Number4 | None = Field(description="Grams of the one product.")
    product_volume_ml: Number4 | None = Field(description="Millilitres of the one product.")
    binding_limit: str | None = Field(description="Name of the limit that decided the amount.")
    acid_volume_ml: Number4 | None = Field(
        description="Millilitres of acid from the bottle; null where only its mass is known."
    )
    acid_mass_g: Number4 | None = Field(description="The same in grams; solids are weighed.")
    predicted_ec_ms_per_cm: Number3 | None = Field(description="What a meter will show, 25 °C.")
    predicted_ph: Number3 | None = Field(description="pH when it is mixed.")
    predicted_ph_open: Number3 | None = Field(description="pH once it stood open to the air.")
    nitrogen_mg_per_l: Number4 | None = Field(description="Total nitrogen of the can.")
    nitrogen_mg_per_plant_per_month: Number4 | None = Field(
        description="Nitrogen that each plant gets in a month of 30.44 days."
    )
    feasible_water_share_percent: Number3 | None = Field(
        description="Share of this water in a blend with pure water that would do; null unless the"
        " water alone is above a ceiling."
    )
    mix: int | None = Field(
        description="Number of the mix that serves the row; null in none, or if none were asked."
    )
    mix_ec_ms_per_cm: Number3 | None = Field(
        description="What a meter will show in that mix, 25 °C: the strength that the row gets."
    )
    mix_below_own_percent: Number3 | None = Field(
        description="By how much less the row gets of it than it bears, which is the dose above."
    )
    cautions: list[str] = Field(description="Codes; the texts stand once at the top.")
    problems: list[FieldError] = Field(
        description="What is wrong with a rejected row; pointers start at the row."
    )


class DoseBatchResult(Answer):
    """The results of all rows, in their order."""

    status: Literal["ok"] = Field(description="Always `ok`: the batch was read; rows have theirs.")
    summary: DoseBatchSummary = Field(description="Counts of rows by status.")
    rows: list[DoseRow] = Field(description="One result per row, in the order of the request.")
    mixes_summary: MixSummary | None = Field(
        description="All mixes together; null if none were asked."
    )
    mixes: list[Mix] = Field(
        description="The cans to mix, in the order of mixing: kind by kind, the strongest first."
    )
    assumptions: list[Assumption] = Field(description="What was taken to be so, each once.")
    cautions: list[Caution] = Field(description="The texts of the codes in the rows, each once.")


class DoseBatchAnswer(Provenance, DoseBatchResult):
    """The results of all rows, and what they rest on."""


DOSE_BATCH_EXAMPLES: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "metric": (
        "Two benches that share product and water",
        {
            "defaults": {
                "product": "feed_15_5_15_ca_mg",
                "water": "moderate_tap",
                "air": {"humidity_percent": 60, "temperature_celsius": 22},
            },
            "rows": [
                {"id": "bench 1", "plants": {"size": "large"}, "volume_l": 20},
                {"id": "bench 2", "plants": {"size": "mini"}, "volume_l": 5},
            ],
        },
    ),
    "mixes": (
        "Three benches from at most two cans, mixed in cans of 10 and 4 litres",
        {
            "defaults": {
                "product": "feed_15_5_15_ca_mg",
                "water": "rain",
                "air": {"humidity_percent": 60, "temperature_celsius": 22},
            },
            "rows": [
                {"id": "bench 1", "plants": {"size": "large"}, "volume_l": 20},
                {"id": "bench 2", "plants": {"size": "medium"}, "volume_l": 12},
                {"id": "bench 3", "plants": {"size": "mini"}, "volume_l": 5},
            ],
            "mixes": {"max_count": 2, "can_volumes_l": [10, 4]},
        },
    ),
    "us": (
        "Volumes in US gallons",
        {
            "defaults": {"product": "feed_13_3_15_ca_mg", "water": "rain"},
            "rows": [{"id": "a", "volume_l": "1 US gal"}, {"id": "b", "volume_l": "3 US gal"}],
        },
    ),
    "caution": (
        "A row that is wrong beside one that is right",
        {
            "defaults": {"product": "feed_20_20_20", "water": "hard_tap"},
            "rows": [
                {"id": "right", "volume_l": 10},
                {"id": "wrong", "volume_l": 10, "product": "feed_20_20_21"},
            ],
        },
    ),
}
