"""Reservoir corrections: what a reservoir was read, what it was last given, what it shall be."""

from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from service.api.schemas.acid import Acid
from service.api.schemas.alternatives import check_not_both, check_one_given, either
from service.api.schemas.dilutions import MOST_PRODUCTS
from service.api.schemas.fields import Quantity, Request, Truth, fault
from service.api.schemas.instruments import Instruments
from service.api.schemas.product import Product
from service.api.schemas.readings import ReadingScale
from service.api.schemas.water import Water

MOST_STOCKS: Final = 2
_NUMBER: Final[list[Any]] = ["number", "string"]

Millilitres = Annotated[float, Quantity(ge=0, le=1_000_000)]
Litres = Annotated[float, Quantity(ge=0, le=1_000_000)]


class ReservoirState(Request):
    """What the probes of a reservoir show."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"ec_ms_per_cm": _NUMBER, "ppm": "null", "scale": "null"},
            {"ppm": _NUMBER, "ec_ms_per_cm": "null"},
        )
    )

    ec_ms_per_cm: Annotated[float, Quantity(ge=0, le=80)] | None = Field(
        default=None, description="Conductivity.", examples=[0.72]
    )
    ppm: Annotated[float, Quantity(ge=0, le=40_000)] | None = Field(
        default=None, description="The conductivity in parts per million.", examples=[360]
    )
    scale: ReadingScale | None = Field(
        default=None,
        description="Scale of the ppm. Absent, 500 is taken and said: it makes the most of the"
        " reading, so that least is dosed.",
        examples=["500"],
    )
    compensated: Truth | None = Field(
        default=None,
        description="Whether the meter refers its conductivity to 25 °C by itself; taken if"
        " absent. If not, `temperature_celsius` is needed.",
        examples=[True],
    )
    ph: Annotated[float, Quantity(ge=0, le=14)] | None = Field(
        default=None,
        description="pH; without it neither acid nor base is given. Outside 3 to 10 it is refused"
        " as no reading of a reservoir.",
        examples=[6.6],
    )
    temperature_celsius: Annotated[float, Quantity(ge=-60, le=130)] | None = Field(
        default=None,
        description="Temperature of the reservoir; 25 if absent. Outside 0 to 45, and at exactly 0"
        " or 85, which probes show when they fail, it is refused.",
        examples=[21],
    )
    level_percent: Annotated[float, Quantity(ge=0, le=200)] | None = Field(
        default=None,
        description="How full it is, of `volume_l`; full if absent. 0 and above 100 are refused.",
        examples=[85],
    )
    alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None,
        description="Alkalinity of the reservoir itself, by a drop test. Without it the least that"
        " water, feed and pH allow is taken.",
        examples=[35, "2 dKH"],
    )
    age_minutes: Annotated[float, Quantity(ge=0, le=1_000_000)] | None = Field(
        default=None,
        description="Minutes since it was read; 0 if absent. More than 15 is refused.",
        examples=[0.5],
    )

    @model_validator(mode="after")
    def _one_conductivity(self) -> "ReservoirState":
        check_one_given(self, "ec_ms_per_cm", "ppm")
        check_not_both(self, "scale", "ec_ms_per_cm", "a conductivity has no ppm scale.")
        return self


class ReservoirTarget(Request):
    """What the reservoir shall be."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"ph": _NUMBER, "alkalinity_mg_per_l_caco3": "null"},
            {"alkalinity_mg_per_l_caco3": _NUMBER, "ph": "null"},
            {"ph": "null", "alkalinity_mg_per_l_caco3": "null"},
        )
    )

    ec_ms_per_cm: Annotated[float, Quantity(ge=0.05, le=10)] = Field(
        description="Conductivity at 25 °C, the water included. Within 5 % of it nothing is added.",
        examples=[0.9],
    )
    ph: Annotated[float, Quantity(ge=3, le=9)] | None = Field(
        default=None,
        description="pH; below 5.0 it is refused. Within 0.1 of it nothing is added.",
        examples=[5.9],
    )
    alkalinity_mg_per_l_caco3: Annotated[float, Quantity(ge=0, le=2_000)] | None = Field(
        default=None,
        description="In place of a pH: the alkalinity to be left. It does not drift as carbon"
        " dioxide leaves.",
        examples=[40],
    )

    @model_validator(mode="after")
    def _one_target(self) -> "ReservoirTarget":
        check_not_both(self, "ph", "alkalinity_mg_per_l_caco3", "one decides the other.")
        return self


class StockProduct(Request):
    """One product of a stock."""

    model_config = ConfigDict(
        json_schema_extra=either(
            {"g_per_l": _NUMBER, "ml_per_l": "null"}, {"ml_per_l": _NUMBER, "g_per_l": "null"}
        )
    )

    product: Product = Field(
        description="Key of `/v1/products`, or a label.", examples=["calcium_nitrate_tetrahydrate"]
    )
    g_per_l: Annotated[float, Quantity(ge=0.001, le=2_000)] | None = Field(
        default=None, description="Grams in a litre of the stock.", examples=[90]
    )
    ml_per_l: Annotated[float, Quantity(ge=0.001, le=1_000)] | None = Field(
        default=None, description="Millilitres of a liquid in a litre of the stock.", examples=[200]
    )

    @model_validator(mode="after")
    def _one_amount(self) -> "StockProduct":
        check_one_given(self, "g_per_l", "ml_per_l")
        return self


class Stock(Request):
    """One stock: what is in it, what it does to the meter, or both."""

    model_config = ConfigDict(
        json_schema_extra={
            "anyOf": [
                {"required": ["products"], "properties": {"products": {"type": "array"}}},
                {
                    "required": ["ec_rise_ms_per_cm"],
                    "properties": {"ec_rise_ms_per_cm": {"type": _NUMBER}},
                },
            ]
        }
    )

    products: list[StockProduct] | None = Field(
        default=None,
        description="What is in a litre of it; the conductivity is computed, and phosphate and"
        " ammonium count for the acid.",
        min_length=1,
        max_length=MOST_PRODUCTS,
    )
    ec_rise_ms_per_cm: Annotated[float, Quantity(ge=0.001, le=10)] | None = Field(
        default=None,
        description="By how much 1 mL of it in a litre raises the conductivity, as you measured it;"
        " it counts before the computed one.",
        examples=[0.11],
    )

    @model_validator(mode="after")
    def _something_known(self) -> "Stock":
        if self.products is None and self.ec_rise_ms_per_cm is None:
            detail = "Give `products` or `ec_rise_ms_per_cm`."
            names = ["products", "ec_rise_ms_per_cm"]
            raise fault("missing", detail, field=names[0], received=None, allowed=names)
        return self


class PumpLine(Request):
    """One pump, and the bounds that it never passes."""

    ml_per_second: Annotated[float, Quantity(ge=0.001, le=1_000)] = Field(
        description="What it delivers, as you calibrated it.", examples=[1.2]
    )
    largest_seconds: Annotated[float, Quantity(ge=0.01, le=3_600)] = Field(
        description="Longest run at once.", examples=[30]
    )
    largest_ml_per_day: Annotated[float, Quantity(ge=0, le=1_000_000)] = Field(
        description="Most that it may deliver within 24 hours.", examples=[60]
    )


class ReservoirPumps(Request):
    """The pumps; what has none is measured by hand."""

    water: PumpLine | None = Field(default=None, description="Pump or valve of the water.")
    stock_a: PumpLine | None = Field(default=None, description="Pump of the first stock.")
    stock_b: PumpLine | None = Field(default=None, description="Pump of the second stock.")
    acid: PumpLine | None = Field(
        default=None, description="Pump of the acid or base; `acid.percent` must be given."
    )
    interval_minutes: Annotated[float, Quantity(ge=15, le=1_440)] | None = Field(
        default=None, description="Least time between two doses; 15 if absent.", examples=[20]
    )


def _only_true(received: object) -> object:
    if received is None or received is True or received == "true":
        return None if received is None else True
    detail = "Only true can be said here; leave it out where something was given."
    raise fault("not_allowed", detail, received=str(received)[:100], allowed=["true"])


Nothing = Annotated[
    Literal[True],
    BeforeValidator(_only_true),
    WithJsonSchema({"enum": [True, "true"]}, mode="validation"),
]
"""True, or the text of it."""

_RECORD: Final = (
    "water_l",
    "stock_a_ml",
    "stock_b_ml",
    "acid_volume_ml",
    "earlier_ec_ms_per_cm",
    "earlier_ph",
    "today_water_l",
    "today_stock_a_ml",
    "today_stock_b_ml",
    "today_acid_volume_ml",
)


class LastDose(Request):
    """
    What the reservoir was last given: the memory of the service, kept by the caller.

    Either `none`, for a reservoir that was given nothing yet, or `minutes_since` with what it was.
    """

    model_config = ConfigDict(
        json_schema_extra=either(
            {
                "none": {"enum": [True, "true"]},
                "minutes_since": "null",
                **dict.fromkeys(_RECORD, "null"),
            },
            {"minutes_since": _NUMBER, "none": "null"},
        )
    )

    none: Nothing | None = Field(
        default=None, description="True: nothing was given yet.", examples=[True]
    )
    minutes_since: Annotated[float, Quantity(ge=0, le=10_000_000)] | None = Field(
        default=None, description="Minutes since the last dose of anything.", examples=[40]
    )
    water_l: Litres | None = Field(default=None, description="Water of that dose.", examples=[0])
    stock_a_ml: Millilitres | None = Field(
        default=None, description="First stock of that dose.", examples=[60]
    )
    stock_b_ml: Millilitres | None = Field(
        default=None, description="Second stock of that dose.", examples=[60]
    )
    acid_volume_ml: Millilitres | None = Field(
        default=None, description="Acid or base of that dose.", examples=[0]
    )
    earlier_ec_ms_per_cm: Annotated[float, Quantity(ge=0, le=80)] | None = Field(
        default=None,
        description="Conductivity at 25 °C read before that dose; a reading that contradicts the"
        " dose is then refused.",
        examples=[0.58],
    )
    earlier_ph: Annotated[float, Quantity(ge=0, le=14)] | None = Field(
        default=None, description="pH read before that dose.", examples=[6.6]
    )
    today_water_l: Litres | None = Field(
        default=None, description="Water of the last 24 hours, that dose in it.", examples=[0]
    )
    today_stock_a_ml: Millilitres | None = Field(
        default=None,
        description="First stock of the last 24 hours, that dose in it. Without it its pump is not"
        " run; so for the others.",
        examples=[60],
    )
    today_stock_b_ml: Millilitres | None = Field(
        default=None, description="Second stock of the last 24 hours.", examples=[60]
    )
    today_acid_volume_ml: Millilitres | None = Field(
        default=None, description="Acid or base of the last 24 hours.", examples=[1.5]
    )

    @model_validator(mode="after")
    def _something_or_nothing(self) -> "LastDose":
        check_one_given(self, "none", "minutes_since")
        for name in _RECORD:
            check_not_both(self, name, "none", "nothing was given yet.")
        return self


class ReservoirCorrectionRequest(Request):
    """A reservoir, what it reads, what it shall be, and what there is to add."""

    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                either({"pump": "null"}, {"pump": "object", "last_dose": "object"}),
                {
                    "anyOf": [
                        {"properties": {"stocks": {"items": {"required": [name]}}}}
                        for name in ("products", "ec_rise_ms_per_cm")
                    ]
                },
            ]
        }
    )

    volume_l: Annotated[float, Quantity(ge=0.5, le=1_000_000)] = Field(
        description="Volume of the reservoir filled to its mark; what is in it now follows from"
        " `reading.level_percent`.",
        examples=[100],
    )
    reading: ReservoirState = Field(description="What the probes show.")
    target: ReservoirTarget = Field(description="What it shall be.")
    water: Water | None = Field(
        default=None,
        description="The water that it is filled with. Its alkalinity is needed for acid, unless"
        " that of the reservoir is measured; taken as pure if absent.",
        examples=["moderate_tap"],
    )
    stocks: list[Stock] | None = Field(
        default=None,
        description="One stock, or A and B, of which the same volume is given: all by their"
        " products, or all by their rise of the meter. Without any, nothing raises the"
        " conductivity.",
        max_length=MOST_STOCKS,
    )
    acid: Acid | None = Field(
        default=None, description="The acid, or base. Without one nothing is done about the pH."
    )
    pump: ReservoirPumps | None = Field(
        default=None,
        description="The pumps, by what they deliver into. With pumps `last_dose` must be given.",
    )
    last_dose: LastDose | None = Field(
        default=None, description="What was given last. By hand, taken as long ago if absent."
    )
    instruments: Instruments | None = Field(
        default=None, description="What is measured with by hand; household tools if absent."
    )

    @model_validator(mode="after")
    def _stocks_are_known_alike(self) -> "ReservoirCorrectionRequest":
        stocks = self.stocks or []
        by_products = all(each.products is not None for each in stocks)
        by_rise = all(each.ec_rise_ms_per_cm is not None for each in stocks)
        if not (by_products or by_rise):
            detail = "Give `products` for every stock, or `ec_rise_ms_per_cm` for every stock."
            raise fault("contradiction", detail, field="stocks", received="both", allowed="one")
        return self
