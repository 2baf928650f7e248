"""
A reservoir brought back to its target in portions that cannot overshoot.

One thing at a time: the conductivity first, from below with half of what is missing, from above
with half of the water that it takes; the pH only where the conductivity is right, with a quarter
of the least acid that it can take. After each the reservoir is stirred, and measured again.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.chemistry.reservoir import diluting_volume, drained_volume
from service.planning.acid_dose import LOWEST_TARGET
from service.planning.catalogue import Catalogue
from service.planning.defaults import DEFAULT_SYRINGE_RESOLUTION
from service.planning.instruments import rounded_amount
from service.planning.known_water import KnownWater
from service.planning.notes import Notes, RefusalError
from service.planning.reservoir_acid import (
    PORTION,
    AcidPlan,
    Adjusted,
    acid_cautions,
    plan_acid,
    portion_of,
)
from service.planning.reservoir_alkalinity import Buffered, buffered
from service.planning.reservoir_history import (
    WAIT_MINUTES,
    LastDose,
    check_borne_out,
    last_dose_of,
    minutes_to_wait,
)
from service.planning.reservoir_pumps import (
    SHORT_RUN,
    Granted,
    Line,
    allowed_ml,
    granted,
    lines_of,
)
from service.planning.reservoir_reading import ReservoirReading, true_reading
from service.planning.reservoir_stocks import Stocks
from service.reference.acids import acids
from service.reference.components import COMPONENT_COUNT

FEED_PORTION: Final = 0.5
"""Share of the missing stock, or of the diluting water, that is given at once; common practice."""

EC_BAND: Final = 0.05
"""Distance from the target, relative, at which a conductivity is right: the error of a meter."""

PH_BAND: Final = 0.1
"""Distance from the target at which a pH is right: the error of a meter in use; common practice."""

SETTLED_MINUTES: Final = 60.0
"""Time until a reservoir that needs nothing is measured again [min]; common practice."""

FREEBOARD: Final = 0.02
"""Share of the full volume that still fits above the mark; common practice."""

WATER_STEP_L: Final = 0.01
"""Step in which water is measured by hand [L]."""

MILLILITRES: Final = 1000.0


@dataclass(frozen=True, eq=False)
class Asked:
    """
    A request for a reservoir, its words replaced by what they stand for.

    Attributes
    ----------
    request : object
        Attributes of the contract.
    water : KnownWater
        The water; pure where none is named.
    water_known : bool
        Whether one is named.
    stocks : Stocks or None
        The stocks.
    catalogue : Catalogue
        Tables.
    """

    request: Any
    water: KnownWater
    water_known: bool
    stocks: Stocks | None
    catalogue: Catalogue


@dataclass(eq=False)
class ReservoirPlan:
    """
    What a reservoir is given now.

    Attributes
    ----------
    reading : ReservoirReading
        The reading.
    last : LastDose
        What was given before.
    interval_minutes : float
        Time between two doses.
    lines : dict of str to Line
        The pumps.
    correction : str
        ``none``, ``wait``, ``water``, ``feed``, ``acid`` or ``withheld``.
    given : dict of str to Granted
        By line, what is given now.
    not_before_minutes : float
        Time until anything may be given.
    drain_l : float
        What is to leave first.
    needed_water_l, needed_stock_ml : float or None
        All that the target would take.
    too_salty : bool
        Whether the water cannot bring it to the target.
    buffer : Buffered or None
        What is known of the alkalinity.
    acid : AcidPlan or None
        The acid that was planned.
    reasons : list of str
        Why, for people.
    """

    reading: ReservoirReading
    last: LastDose
    interval_minutes: float
    lines: dict[str, Line]
    correction: str
    given: dict[str, Granted]
    not_before_minutes: float = 0.0
    drain_l: float = 0.0
    needed_water_l: float | None = None
    needed_stock_ml: float | None = None
    too_salty: bool = False
    buffer: Buffered | None = None
    acid: AcidPlan | None = None
    reasons: list[str] | None = None

    def say(self, reason: str) -> None:
        """
        Add a reason.

        Parameters
        ----------
        reason : str
            A sentence.
        """
        self.reasons = [*(self.reasons or []), reason]


def plan_reservoir(asked: Asked, notes: Notes) -> ReservoirPlan:
    """
    Plan what a reservoir is given now.

    Parameters
    ----------
    asked : Asked
        The request.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    ReservoirPlan
        The plan.

    Raises
    ------
    RefusalError
        If the reading cannot be true, or the target may not be aimed at.
    """
    request, stocks = asked.request, asked.stocks
    _check_target(asked)
    last = last_dose_of(request.last_dose)
    if not last.known and request.pump is not None:
        raise RefusalError("last_dose_needed")
    if not last.known:
        notes.assume("nothing_dosed_before")
    water = asked.water if asked.water_known else None
    reading = true_reading(request.reading, request.volume_l, water, fed=last.fed, notes=notes)
    interval = WAIT_MINUTES
    if request.pump is not None and request.pump.interval_minutes is not None:
        interval = request.pump.interval_minutes
    plan = ReservoirPlan(reading, last, interval, lines_of(request.pump), "none", {})
    plan.not_before_minutes = minutes_to_wait(last, reading, interval)
    if plan.not_before_minutes > 0.0:
        plan.correction = "wait"
        return plan
    target = request.target.ec_ms_per_cm
    rise = None
    if stocks is not None and last.stock_a_ml + last.stock_b_ml > 0.0:
        rise = stocks.rise(min(reading.ec_ms_per_cm, target))
    check_borne_out(last, reading, rise, asked.water.ec_ms_per_cm, notes)
    if reading.ec_ms_per_cm > (1.0 + EC_BAND) * target:
        _dilute(asked, plan, notes)
    elif reading.ec_ms_per_cm < (1.0 - EC_BAND) * target:
        if stocks is None:
            plan.say("The conductivity is below its target, and no stock is named to raise it.")
            _set_ph(asked, plan, notes)
        else:
            _feed(stocks, asked, plan, notes)
    else:
        _set_ph(asked, plan, notes)
    _note_pumps(plan, notes)
    poured = plan.acid is not None and plan.acid.portion is not None
    if plan.given and not poured and not any(each.ml > 0.0 for each in plan.given.values()):
        plan.correction = "withheld"
    return plan


def _check_target(asked: Asked) -> None:
    """Refuse a pH that may not be aimed at, and acid against an alkalinity that nobody knows."""
    request = asked.request
    if request.target.ph is not None and request.target.ph < LOWEST_TARGET:
        raise RefusalError("acid_target_too_low", "target.ph")
    if request.acid is None or request.reading.alkalinity_mg_per_l_caco3 is not None:
        return
    if not (asked.water_known and asked.water.alkalinity_known):
        raise RefusalError("acid_alkalinity_unknown", "water.alkalinity_mg_per_l_caco3")


def _syringe(asked: Asked) -> float:
    tools = asked.request.instruments
    step = None if tools is None else tools.syringe_resolution_ml
    return DEFAULT_SYRINGE_RESOLUTION if step is None else float(step)


def _dilute(asked: Asked, plan: ReservoirPlan, notes: Notes) -> None:
    """Give half of the water that brings the conductivity down."""
    reading, target = plan.reading, asked.request.target.ec_ms_per_cm
    entering = asked.water.ec_ms_per_cm
    state = (reading.ec_ms_per_cm, entering, target)
    plan.correction = "water"
    needed = float(diluting_volume(reading.volume_l, *state))
    if np.isnan(needed):
        plan.too_salty = True
        plan.correction = "withheld"
        plan.given["water"] = Granted(0.0, 0.0 if "water" in plan.lines else None, None)
        plan.say(
            f"The water has {entering:.2f} mS/cm itself and never brings the reservoir down to"
            f" {target:.2f} mS/cm."
        )
        return
    plan.needed_water_l = needed
    plan.say(
        f"{reading.ec_ms_per_cm:.2f} mS/cm is above the target of {target:.2f}: water alone brings"
        f" it down, half of the {needed:.3g} L that it takes at a time."
    )
    full = reading.volume_l + reading.room_l
    wanted = min(FEED_PORTION * needed, reading.room_l)
    if wanted < FEED_PORTION * needed:
        drained = float(drained_volume(reading.volume_l, full, *state))
        plan.drain_l = FEED_PORTION * drained
        notes.caution("reservoir_has_no_room", "drain_l", room=reading.room_l, drain=plan.drain_l)
        if "water" not in plan.lines:
            # By hand the room is made first; a pump never counts on it.
            wanted = max(wanted, reading.room_l + plan.drain_l)
    line = plan.lines.get("water")
    today = plan.last.today["water"]
    today_ml = None if today is None else MILLILITRES * today
    volume, limit = allowed_ml(MILLILITRES * wanted, line, today_ml)
    if line is None:
        volume = MILLILITRES * float(rounded_amount(volume / MILLILITRES, WATER_STEP_L, True))
    plan.given["water"] = granted(volume, line, limit)


def _feed(stocks: Stocks, asked: Asked, plan: ReservoirPlan, notes: Notes) -> None:
    """Give half of the stock that is missing, the same of each."""
    reading, target = plan.reading, asked.request.target.ec_ms_per_cm
    missing = stocks.amount_at(target) - stocks.amount_at(reading.ec_ms_per_cm)
    plan.correction = "feed"
    plan.needed_stock_ml = max(missing, 0.0) * reading.volume_l
    plan.say(
        f"{reading.ec_ms_per_cm:.2f} mS/cm is below the target of {target:.2f}: half of the missing"
        f" {plan.needed_stock_ml:.3g} mL of each stock, then it is measured again."
    )
    names = ("stock_a", "stock_b")[: stocks.count]
    wanted = FEED_PORTION * plan.needed_stock_ml
    limits: dict[str, str | None] = {}
    for name in names:
        allowed, limits[name] = allowed_ml(wanted, plan.lines.get(name), plan.last.today[name])
        wanted = min(wanted, allowed)
    by_hand = any(name not in plan.lines for name in names)
    if by_hand:
        wanted = float(rounded_amount(wanted, _syringe(asked), True))
        if wanted <= 0.0 and not any(limits.values()):
            notes.caution("nothing_to_measure", "stock_a_ml")
    for name in names:
        plan.given[name] = granted(wanted, plan.lines.get(name), limits[name])
    if stocks.holds_urea:
        notes.caution("reading_blind_to_urea", "reading.ec_ms_per_cm")
    if stocks.count * wanted / MILLILITRES > reading.room_l + FREEBOARD * asked.request.volume_l:
        notes.caution("reservoir_would_overflow", "stock_a_ml", room=reading.room_l)


def _set_ph(asked: Asked, plan: ReservoirPlan, notes: Notes) -> None:
    """Give a quarter of the least acid or base that brings the pH to its target."""
    request, reading = asked.request, plan.reading
    target, ph = request.target, reading.ph
    by_alkalinity = target.alkalinity_mg_per_l_caco3 is not None
    if request.acid is None or ph is None or (target.ph is None and not by_alkalinity):
        lacking = [
            ("no acid is named", request.acid is None),
            ("no pH was read", ph is None),
            ("no pH or alkalinity is aimed at", target.ph is None and not by_alkalinity),
        ]
        listed = ", ".join(words for words, lacks in lacking if lacks)
        plan.say(f"Nothing is done about the pH: {listed}.")
        return
    is_base = acids()[request.acid.kind].role == "base"
    if not by_alkalinity:
        away = target.ph - ph if is_base else ph - target.ph
        if away < -PH_BAND:
            notes.caution("wrong_side_of_ph", ph=ph, target=target.ph)
        if away <= PH_BAND:
            plan.say(f"pH {ph:.2f} needs no {'base' if is_base else 'acid'} for {target.ph:.2f}.")
            return
    plan.buffer = buffered(
        _mixed(asked, reading.ec_ms_per_cm),
        ph,
        reading.temperature_celsius,
        reading.alkalinity_mg_per_l_caco3,
    )
    if plan.buffer is None:
        plan.correction = "withheld"
        notes.caution("ph_not_explained", "reading.ph", ph=ph)
        plan.say("No acid or base is given: what was mixed does not have this pH.")
        return
    place = (ph, reading.temperature_celsius, reading.volume_l, plan.buffer)
    acid = plan_acid(request, *place, asked.catalogue)
    plan.acid = acid
    if acid.portion is None:
        plan.correction = "none" if acid.whole.feasible else "withheld"
        if acid.whole.feasible and by_alkalinity:
            plan.say("The least alkalinity that this pH allows is at the target already.")
        elif acid.whole.feasible:
            plan.say("There is so little buffer that the least dose is none.")
        else:
            notes.take(acid_cautions(acid.whole, asked.catalogue, by_hand=False), ())
            plan.say("This acid would bring more phosphorus than plants are given.")
        return
    plan.correction = "acid"
    _pour(asked, plan, acid, notes)
    if not plan.buffer.measured:
        notes.caution("alkalinity_from_ph", "reading.alkalinity_mg_per_l_caco3")
    if plan.acid.portion is None:
        plan.say("The pump of the acid is not run; the cautions say why.")
        return
    plan.say(
        "At most a quarter of the least "
        f"{'base' if is_base else 'acid'} that it can take, {acid.low_mmol_per_l:.3g} mmol/L, is"
        " given at once; the rest is decided by the next reading."
    )


def _pour(asked: Asked, plan: ReservoirPlan, acid: AcidPlan, notes: Notes) -> None:
    """Bring the portion within what the pump may deliver."""
    portion = acid.portion
    if portion is None or plan.buffer is None or plan.reading.ph is None:
        return
    line = plan.lines.get("acid")
    volume = float(portion.result["acid_volume_ml"])
    if line is not None and (asked.request.acid.percent is None or np.isnan(volume)):
        plan.correction = "withheld"
        plan.acid = AcidPlan(acid.whole, None, acid.low_mmol_per_l, acid.high_mmol_per_l)
        plan.given["acid"] = Granted(0.0, 0.0, None)
        notes.caution("bottle_of_pump_unknown")
        return
    if line is None:
        # What is weighed, or measured in a weaker solution, is in the portion itself.
        plan.given["acid"] = Granted(0.0 if np.isnan(volume) else volume, None, None)
        notes.take(acid_cautions(portion, asked.catalogue, by_hand=True), ())
        return
    allowed, limit = allowed_ml(volume, line, plan.last.today["acid"])
    pumped = granted(allowed, line, limit)
    plan.given["acid"] = pumped
    cut: Adjusted | None = portion
    if pumped.ml < volume:
        place = (plan.reading.ph, plan.reading.temperature_celsius, plan.reading.volume_l)
        amount = pumped.ml / volume * PORTION * acid.low_mmol_per_l
        cut = None
        if amount > 0.0:
            cut = portion_of(asked.request, *place, plan.buffer, amount, asked.catalogue)
        plan.acid = AcidPlan(acid.whole, cut, acid.low_mmol_per_l, acid.high_mmol_per_l)
    if cut is not None:
        notes.take(acid_cautions(cut, asked.catalogue, by_hand=False), ())


def _mixed(asked: Asked, conductivity: float) -> np.ndarray:
    """Return water and feed as they were mixed for a conductivity [mmol/L]."""
    mixed = np.array(asked.water.composition_mmol_per_l)
    stocks = asked.stocks
    if stocks is not None and stocks.parts:
        mixed += stocks.amount_at(conductivity) * stocks.composition_mmol_per_ml
    return mixed[:COMPONENT_COUNT]


def _note_pumps(plan: ReservoirPlan, notes: Notes) -> None:
    """Say where a pump, or what is known of it, held something back."""
    for name, each in plan.given.items():
        if each.limit == "daily":
            notes.caution("daily_total_reached", f"pump.{name}.largest_ml_per_day")
        elif each.limit == "run":
            notes.caution("run_cut_short", f"pump.{name}.largest_seconds")
        elif each.limit == "unknown":
            notes.caution("daily_total_unknown", f"last_dose.today_{_FIELD[name]}")
        if plan.lines and name not in plan.lines and each.ml > 0.0:
            notes.caution("line_without_pump", f"pump.{name}")
        if each.seconds is not None and 0.0 < each.seconds < SHORT_RUN:
            notes.caution("run_very_short", "pump_seconds", seconds=each.seconds)


_FIELD: Final = {
    "water": "water_l",
    "stock_a": "stock_a_ml",
    "stock_b": "stock_b_ml",
    "acid": "acid_volume_ml",
}
