"""The working of a reservoir correction: reading, what is missing, the portion, the pump."""

from collections.abc import Mapping
from typing import Any, Final

from service.planning import reagents
from service.planning.explain.acid import acid_source
from service.planning.explain.readings import factor_line, shown_lines
from service.planning.explain.reservoir_answers import BALANCE, ENTERING, NOW, reservoir_answers
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.reagent_dose import bottle_density
from service.planning.reservoir import (
    FEED_PORTION,
    WATER_STEP_L,
    Asked,
    ReservoirPlan,
)
from service.planning.reservoir_acid import PORTION
from service.planning.reservoir_pumps import SECONDS_STEP
from service.planning.reservoir_stocks import Stocks

ALKALINITY: Final = "stumm-morgan-1996"
TARGET: Final = "target_ms_per_cm"


def reservoir_working(asked: Asked, plan: ReservoirPlan, fields: Mapping[str, Any]) -> list[Line]:
    """
    Return the working of a reservoir correction.

    Parameters
    ----------
    asked : Asked
        The request.
    plan : ReservoirPlan
        The plan.
    fields : mapping
        Its fields, of `service.planning.reservoir_card.reservoir_fields`.

    Returns
    -------
    list of Line
        The lines; the fields of the answer among them.
    """
    working = Working()
    _reading_lines(working, asked, plan)
    if plan.correction == "wait":
        working.part("waiting")
        working.computed(
            "minutes_left",
            f"{plan.not_before_minutes!r}",
            plan.not_before_minutes,
            "min",
        )
    elif plan.needed_water_l is not None or plan.too_salty:
        _water_lines(working, plan)
    elif plan.needed_stock_ml is not None and asked.stocks is not None:
        _stock_lines(working, asked, asked.stocks, plan, fields)
    if plan.buffer is not None:
        _acid_lines(working, asked, plan)
    reservoir_answers(working, plan, fields)
    return working.lines


def _reading_lines(working: Working, asked: Asked, plan: ReservoirPlan) -> None:
    """Add reading, volume and target."""
    request, reading = asked.request, plan.reading
    working.part("reading")
    shown = shown_lines(working, request.reading)
    factor = 1.0
    if request.reading.compensated is False and working.value(shown) > 0.0:
        factor = reading.ec_ms_per_cm / working.value(shown)
    name = factor_line(working, request.reading.temperature_celsius, factor)
    working.computed(NOW, f"{shown} * {name}", reading.ec_ms_per_cm)
    working.given("full_l", request.volume_l)
    level = request.reading.level_percent
    working.given("level_percent", 100.0 if level is None else level)
    working.computed("present_l", "full_l * level_percent / 100", reading.volume_l)
    working.given(TARGET, request.target.ec_ms_per_cm)
    working.known(
        ENTERING,
        asked.water.ec_ms_per_cm,
        "conductivity of the water: that of its ions, or the measured one where it is higher",
        "onsager-1927",
    )


def _limited(working: Working, plan: ReservoirPlan, line: str, wanted: str) -> str:
    """Add what a pump may deliver of what is wanted; return its formula [mL]."""
    pump = plan.lines.get(line)
    today = plan.last.today[line]
    if pump is None:
        return wanted
    rate = working.given(f"{line}_ml_per_second", pump.ml_per_second, "mL/s")
    longest = working.given(f"{line}_largest_seconds", pump.largest_seconds)
    most = working.given(f"{line}_largest_ml_per_day", pump.largest_ml_per_day, "mL/d")
    if today is None:
        return "0"
    millilitres = 1000.0 * today if line == "water" else today
    so_far = working.given(f"{line}_today_ml", millilitres)
    return f"min({wanted}, max({most} - {so_far}, 0), {rate} * {longest})"


def _granted(working: Working, plan: ReservoirPlan, line: str, allowed: str) -> str:
    """Add the running time of a pump and what it delivers; return the name of the volume."""
    given = plan.given[line]
    name = f"{line}_given_ml"
    if line not in plan.lines:
        return working.computed(name, allowed, given.ml)
    seconds = working.computed(
        f"{line}_seconds",
        f"min(floor({allowed} / {line}_ml_per_second / {SECONDS_STEP:g} + 1e-9)"
        f" * {SECONDS_STEP:g}, {line}_largest_seconds)",
        given.seconds,
    )
    return working.computed(name, f"min({seconds} * {line}_ml_per_second, {allowed})", given.ml)


def _water_lines(working: Working, plan: ReservoirPlan) -> None:
    """Add the water that brings a conductivity down."""
    working.part("water")
    if plan.too_salty:
        return
    working.computed(
        "needed_l",
        f"present_l * ({NOW} - {TARGET}) / ({TARGET} - {ENTERING})",
        plan.needed_water_l,
        source=BALANCE,
    )
    room = working.computed("room_l", "full_l - present_l", plan.reading.room_l)
    drain = "0"
    if plan.drain_l > 0.0:
        drain = working.computed(
            "drained_first_l",
            f"{FEED_PORTION:g} * max(present_l - full_l * ({TARGET} - {ENTERING})"
            f" / ({NOW} - {ENTERING}), 0)",
            plan.drain_l,
            source=BALANCE,
        )
    wanted = f"min({FEED_PORTION:g} * needed_l, {room})"
    if plan.drain_l > 0.0 and "water" not in plan.lines:
        wanted = f"max({wanted}, {room} + {drain})"
    if "water" in plan.lines:
        allowed = _limited(working, plan, "water", f"1000 * {wanted}")
    else:
        allowed = f"1000 * floor({wanted} / {WATER_STEP_L:g} + 1e-9) * {WATER_STEP_L:g}"
    _granted(working, plan, "water", allowed)


def _stock_lines(
    working: Working,
    asked: Asked,
    stocks: Stocks,
    plan: ReservoirPlan,
    fields: Mapping[str, Any],
) -> None:
    """Add the stock that is missing, and the half of it that is given."""
    working.part("stock")
    request = asked.request
    if stocks.stated_rise_ms_per_cm is not None:
        rise = working.given("rise_of_1_ml_per_l_ms_per_cm", stocks.stated_rise_ms_per_cm)
        for name, wanted in (("present", NOW), ("target", TARGET)):
            working.computed(
                f"{name}_stock_ml_per_l",
                f"max({wanted} - {ENTERING}, 0) / {rise}",
                stocks.amount_at(working.value(wanted)),
                "mL/L",
            )
    else:
        for name, wanted in (("present", NOW), ("target", TARGET)):
            working.solved(
                f"{name}_stock_ml_per_l",
                stocks.amount_at(working.value(wanted)),
                f"millilitres of each stock in a litre whose ions conduct `{wanted}`",
                "onsager-1927",
                "mL/L",
            )
    working.computed(
        "needed_ml",
        "max(target_stock_ml_per_l - present_stock_ml_per_l, 0) * present_l",
        plan.needed_stock_ml,
    )
    names = ("stock_a", "stock_b")[: stocks.count]
    allowed = f"{FEED_PORTION:g} * needed_ml"
    for name in names:
        allowed = _limited(working, plan, name, allowed)
    tools = request.instruments
    if any(name not in plan.lines for name in names):
        step = None if tools is None else tools.syringe_resolution_ml
        syringe = working.given("syringe_resolution_ml", 0.1 if step is None else step)
        allowed = f"floor({allowed} / {syringe} + 1e-9) * {syringe}"
    for name in names:
        _granted(working, plan, name, allowed)
    after = f"{stocks.count} stocks" if stocks.count > 1 else "the stock"
    working.solved(
        "expected_ms_per_cm",
        fields["expected_ec_ms_per_cm"],
        f"{NOW} and what the ions of {after} add at `present_stock_ml_per_l`",
        "onsager-1927",
    )


def _acid_lines(working: Working, asked: Asked, plan: ReservoirPlan) -> None:
    """Add the alkalinity that a pH leaves open, the least acid, and the portion of it."""
    buffer, acid = plan.buffer, plan.acid
    if buffer is None:
        return
    working.part("acid or base")
    if plan.reading.ph is not None:
        working.given("ph_now", plan.reading.ph, NUMBER)
    for end, value in (("least", buffer.least_meq_per_l), ("most", buffer.most_meq_per_l)):
        words = (
            "measured alkalinity"
            if buffer.measured
            else f"{end} alkalinity that water and feed can have at `ph_now`: in balance with the"
            " air, with all their carbon, or as they were mixed"
        )
        working.solved(f"{end}_alkalinity_meq_per_l", value, words, ALKALINITY)
    if acid is None:
        return
    words = "acid or base that brings the alkalinity of that end to the target"
    working.solved("least_acid_mmol_per_l", acid.low_mmol_per_l, words, ALKALINITY)
    if acid.high_mmol_per_l is not None:
        working.solved("most_acid_mmol_per_l", acid.high_mmol_per_l, words, ALKALINITY)
    if acid.portion is not None:
        _portion_lines(working, plan, acid.portion.row, acid.portion.result)


def _portion_lines(working: Working, plan: ReservoirPlan, row: Any, result: Any) -> None:
    """Add the portion that is given now, and how it is measured."""
    kind = int(row["acid_kind"])
    working.computed(
        "portion_mmol_per_l",
        f"{PORTION:g} * least_acid_mmol_per_l",
        unit="mmol/L",
    )
    amount = working.solved(
        "acid_given_mmol_per_l",
        result["acid_mmol_per_l"],
        "`portion_mmol_per_l`, less where a pump may deliver less, with the water counted that"
        " what is poured displaces",
        ALKALINITY,
    )
    percent = working.given("acid_percent", row["acid_percent"])
    mass = working.computed(
        "bottle_mass_g",
        f"{amount} * present_l * molar_mass / (10 * {percent})",
        result["acid_mass_g"],
        source=acid_source(kind),
        where={"molar_mass": float(reagents.MOLAR_MASS[kind])},
    )
    density = float(bottle_density(kind, float(row["acid_percent"])))
    if density == density:
        bottle = working.known(
            "bottle_density_kg_per_l",
            density,
            f"density of {reagents.reagent_name(kind)} of this strength at 20 °C",
            "laliberte-2009",
        )
        working.computed("bottle_volume_ml", f"{mass} / {bottle}", result["acid_volume_ml"])
    if "acid" in plan.lines:
        working.given("acid_ml_per_second", plan.lines["acid"].ml_per_second, "mL/s")
        given = plan.given["acid"]
        working.solved(
            "acid_given_ml",
            given.ml,
            "what of it the pump may deliver, in whole hundredths of a second",
            None,
        )
        working.computed("acid_seconds", "acid_given_ml / acid_ml_per_second", given.seconds)
        return
    _dose_lines(working, row, result, mass)


def _dose_lines(working: Working, row: Any, result: Any, mass: str) -> None:
    """Add what the syringe or the balance shows."""
    syringe = working.given("acid_syringe_ml", row["syringe_resolution_ml"])
    dilution = working.computed(
        "dilution", f"{float(result['acid_dilution_factor']):g}", unit=NUMBER
    )
    strength = float(result["pre_solution_g_per_l"])
    if strength > 0.0:
        working.known("pre_solution_g_per_l", strength, "weakest handy solution", None)
        taken = f"1000 * {mass} / pre_solution_g_per_l"
    elif working.knows("bottle_volume_ml"):
        taken = f"bottle_volume_ml * {dilution}"
    else:
        return
    working.computed(
        "measured_ml", f"floor({taken} / {syringe} + 1e-9) * {syringe}", result["dose_volume_ml"]
    )
