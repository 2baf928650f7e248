"""Plan reservoirs from requests as the contract writes them, and let a reservoir follow."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from service.api.schemas.reservoir_corrections import ReservoirCorrectionRequest
from service.chemistry.equilibrium import CLOSED
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.solution import (
    STATE_COUNT,
    STATE_PH,
    conductivity_of_total,
    predicted_state,
    workspace,
)
from service.planning import reagents
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.mix_parts import acid_part, mix_part
from service.planning.notes import Notes
from service.planning.reservoir import Asked, ReservoirPlan, plan_reservoir
from service.planning.reservoir_card import (
    reservoir_conflicts,
    reservoir_fields,
    reservoir_nearest,
    reservoir_steps,
)
from service.planning.reservoir_stocks import Stocks, stocks_of

CALCIUM_STOCK = {"products": [{"product": "calcium_nitrate_tetrahydrate", "g_per_l": 60}]}
OTHER_STOCK = {
    "products": [
        {"product": "potassium_nitrate", "g_per_l": 30},
        {"product": "monopotassium_phosphate", "g_per_l": 12},
        {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 30},
    ]
}
STOCKS = [CALCIUM_STOCK, OTHER_STOCK]
NITRIC = {"kind": "nitric", "percent": 10}


def line(rate: float = 1.0, seconds: float = 600.0, day: float = 10_000.0) -> dict[str, float]:
    """Return a pump."""
    return {"ml_per_second": rate, "largest_seconds": seconds, "largest_ml_per_day": day}


@dataclass(frozen=True)
class Answered:
    """A planned reservoir and what is said of it."""

    asked: Asked
    plan: ReservoirPlan
    notes: Notes

    @property
    def fields(self) -> dict[str, Any]:
        return reservoir_fields(self.asked, self.plan)

    @property
    def steps(self) -> list[dict[str, Any]]:
        return reservoir_steps(self.asked, self.plan)

    @property
    def conflicts(self) -> list[dict[str, Any]]:
        return reservoir_conflicts(self.asked, self.plan)

    @property
    def nearest(self) -> dict[str, Any] | None:
        return reservoir_nearest(self.plan)

    @property
    def cautions(self) -> set[str]:
        return {each["code"] for each in self.notes.cautions}

    @property
    def assumptions(self) -> set[str]:
        return {each["code"] for each in self.notes.assumptions}


def stocks_in(request: Any, water: Any) -> Stocks | None:
    """Return the stocks of a request of catalogue products."""
    known = catalogue()
    parts = [
        [
            mix_part(
                known.product_rows[known.product_positions[each.product]],
                None if each.g_per_l is None else each.g_per_l / 1000.0,
                None if each.ml_per_l is None else each.ml_per_l / 1000.0,
                None,
                "stocks",
                Notes(),
            )
            for each in stock.products or []
        ]
        for stock in request.stocks or []
    ]
    return stocks_of(parts, [each.ec_rise_ms_per_cm for each in request.stocks or []], water)


def asked_of(notes: Notes, **given: Any) -> Asked:
    """Return a request; 100 L at 0.9 mS/cm of a target of 0.9 in a soft water unless given."""
    body = {
        "volume_l": 100,
        "reading": {"ec_ms_per_cm": 0.9, "compensated": True, "age_minutes": 0},
        "target": {"ec_ms_per_cm": 0.9},
        "water": "soft_tap",
        **given,
    }
    body["reading"] = {"level_percent": 100, "temperature_celsius": 25, **body["reading"]}
    request = ReservoirCorrectionRequest.model_validate(
        {name: value for name, value in body.items() if value is not None}
    )
    water = known_water(request.water, catalogue(), notes)
    stocks = stocks_in(request, water)
    return Asked(request, water, request.water is not None, stocks, catalogue())


def corrected(**given: Any) -> Answered:
    """Plan one reservoir."""
    notes = Notes()
    asked = asked_of(notes, **given)
    return Answered(asked, plan_reservoir(asked, notes), notes)


@dataclass
class Reservoir:
    """A reservoir that takes what it is given: the same water, two stocks and an acid."""

    asked: Asked
    full_l: float
    volume_l: float
    stock_ml_per_l: float
    open_to_air: bool
    water_share: float = 1.0
    acid_mmol_per_l: float = 0.0
    work: np.ndarray = field(default_factory=workspace)

    @property
    def composition(self) -> np.ndarray:
        stocks, acid = self.asked.stocks, self.asked.request.acid
        assert stocks is not None
        total = self.water_share * self.asked.water.composition_mmol_per_l
        total = total + self.stock_ml_per_l * stocks.composition_mmol_per_ml
        if acid is not None:
            kind = reagents.KINDS.index(acid.kind)
            total = total + self.acid_mmol_per_l * reagents.COMPOSITION[kind]
        return total

    @property
    def ec_ms_per_cm(self) -> float:
        unexplained = self.asked.water.unexplained_ec_ms_per_cm
        return float(conductivity_of_total(self.composition, False, self.work)) + unexplained

    @property
    def ph(self) -> float:
        pressure = ATMOSPHERIC_CARBON_DIOXIDE if self.open_to_air else CLOSED
        state = np.zeros(STATE_COUNT)
        predicted_state(self.composition, 298.15, pressure, False, self.work, state)
        return float(state[STATE_PH])

    def take(self, water_l: float, stock_ml: float, acid_ml: float) -> None:
        """Stir in water, the same of each stock, and acid from the bottle."""
        before = self.volume_l
        self.volume_l += water_l + 0.002 * stock_ml + 0.001 * acid_ml
        shrink = before / self.volume_l
        self.stock_ml_per_l = self.stock_ml_per_l * shrink + stock_ml / self.volume_l
        self.water_share = self.water_share * shrink + water_l / self.volume_l
        acid = self.asked.request.acid
        if acid is None:
            return
        per_ml = acid_part(_Millilitre(acid.kind, acid.percent), Notes())
        reagent = reagents.COMPOSITION[reagents.KINDS.index(acid.kind)]
        strength = float(per_ml.max() / reagent.max())
        self.acid_mmol_per_l *= shrink
        self.acid_mmol_per_l += strength * acid_ml / self.volume_l


@dataclass(frozen=True)
class _Millilitre:
    """A millilitre from a bottle in a litre."""

    kind: str
    percent: float
    ml_per_l: float | None = 1.0
    g_per_l: float | None = None
    mmol_per_l: float | None = None
