"""From a planned reservoir to the numbers, the steps and the conflicts of its answer."""

from typing import Any, Final

from service.chemistry.reservoir import mixed_conductivity
from service.planning import reagents
from service.planning.card import number
from service.planning.ph_adjustment_steps import pre_dilution_steps
from service.planning.pre_dilution import pre_dilution
from service.planning.reservoir import MILLILITRES, SETTLED_MINUTES, Asked, ReservoirPlan
from service.reference.acids import acids
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

STIR_MINUTES: Final = 5.0
"""Time between stock A and stock B, so that they never meet undiluted [min]; common practice."""

PUREST: Final = "reverse_osmosis"
WITHOUT_PHOSPHORUS: Final = "nitric"

MODELS: Final = (
    "parkhurst-appelo-2013",
    "onsager-1927",
    "kell-1975",
    "stumm-morgan-1996",
    "laliberte-2009",
)
SOURCES: Final = ("common-practice", "prohaska-2022", "iso-7888-1985")

Doing = tuple[str, float | None, str | None]


def reservoir_fields(asked: Asked, plan: ReservoirPlan) -> dict[str, Any]:
    """
    Return the flat results of a reservoir.

    Parameters
    ----------
    asked : Asked
        The request.
    plan : ReservoirPlan
        The plan.

    Returns
    -------
    dict
        By the names of the answer.
    """
    stocks, acid, buffer = asked.stocks, plan.acid, plan.buffer
    count = 0 if stocks is None else stocks.count
    portion = None if acid is None else acid.portion
    volume = plan.reading.volume_l
    by_hand = "acid" not in plan.lines
    return {
        "status": "infeasible" if _infeasible(plan) else "ok",
        "correction": plan.correction,
        "water_l": None if plan.too_salty else _given(plan, "water") / MILLILITRES,
        "drain_l": plan.drain_l,
        "stock_a_ml": _given(plan, "stock_a") if count >= 1 else None,
        "stock_b_ml": _given(plan, "stock_b") if count >= 2 else None,
        "acid_volume_ml": _acid_volume(asked, plan),
        "acid_mass_g": None if portion is None else _mass(portion.result),
        "dose_volume_ml": (
            number(portion.result["dose_volume_ml"]) if portion is not None and by_hand else None
        ),
        "pump_seconds": {
            name: 0.0 if name not in plan.given else plan.given[name].seconds or 0.0
            for name in plan.lines
        },
        "not_before_minutes": plan.not_before_minutes,
        "remeasure_after_minutes": _remeasure(plan),
        "ec_ms_per_cm": plan.reading.ec_ms_per_cm,
        "present_volume_l": volume,
        "expected_ec_ms_per_cm": _expected_ec(asked, plan),
        "lowest_expected_ph": (
            number(portion.result["predicted_ph"]) if portion is not None else plan.reading.ph
        ),
        "needed_water_l": plan.needed_water_l,
        "needed_stock_ml": plan.needed_stock_ml,
        "acid_mmol_per_l": _amount(portion),
        "acid_low_mmol_per_l": None if acid is None else acid.low_mmol_per_l,
        "acid_high_mmol_per_l": None if acid is None else acid.high_mmol_per_l,
        "alkalinity_low_mg_per_l_caco3": (
            None if buffer is None else CALCIUM_CARBONATE_MG_PER_MEQ * buffer.least_meq_per_l
        ),
        "alkalinity_high_mg_per_l_caco3": (
            None if buffer is None else CALCIUM_CARBONATE_MG_PER_MEQ * buffer.most_meq_per_l
        ),
        "pre_dilution": (
            pre_dilution(portion.row, portion.result) if portion is not None and by_hand else None
        ),
    }


def _given(plan: ReservoirPlan, name: str) -> float:
    return plan.given[name].ml if name in plan.given else 0.0


def _amount(portion: Any) -> float | None:
    return None if portion is None else number(portion.result["acid_mmol_per_l"])


def _mass(result: Any) -> float | None:
    """Return the grams of what is weighed, None for what is measured."""
    return number(result["acid_mass_g"]) if number(result["acid_volume_ml"]) is None else None


def _acid_volume(asked: Asked, plan: ReservoirPlan) -> float | None:
    if asked.request.acid is None or _phosphorus_bound(plan):
        return None
    portion = None if plan.acid is None else plan.acid.portion
    if portion is not None and number(portion.result["acid_volume_ml"]) is None:
        return None
    if portion is not None and "acid" not in plan.lines and _from_bottle(portion.result):
        return number(portion.result["dose_volume_ml"])
    return _given(plan, "acid")


def _from_bottle(result: Any) -> bool:
    """Tell whether the syringe takes up what is in the bottle, not a weaker solution."""
    return bool(result["acid_dilution_factor"] <= 1.0 and result["pre_solution_g_per_l"] <= 0.0)


def _phosphorus_bound(plan: ReservoirPlan) -> bool:
    return plan.acid is not None and not plan.acid.whole.feasible


def _infeasible(plan: ReservoirPlan) -> bool:
    return plan.too_salty or _phosphorus_bound(plan)


def _remeasure(plan: ReservoirPlan) -> float:
    if plan.correction == "wait":
        return plan.not_before_minutes
    return SETTLED_MINUTES if plan.correction in ("none", "withheld") else plan.interval_minutes


def _expected_ec(asked: Asked, plan: ReservoirPlan) -> float:
    """Return the conductivity that the next reading should show."""
    now, volume = plan.reading.ec_ms_per_cm, plan.reading.volume_l
    if plan.correction == "water":
        left = volume - plan.drain_l
        water = _given(plan, "water") / MILLILITRES
        return float(mixed_conductivity(left, now, water, asked.water.ec_ms_per_cm))
    if plan.correction == "feed" and asked.stocks is not None:
        stocks = asked.stocks
        present = stocks.amount_at(now)
        added = _given(plan, "stock_a") / volume
        return now + stocks.conductivity(present + added) - stocks.conductivity(present)
    return now


def reservoir_conflicts(asked: Asked, plan: ReservoirPlan) -> list[dict[str, Any]]:
    """
    Return which limits collide.

    Parameters
    ----------
    asked : Asked
        The request.
    plan : ReservoirPlan
        The plan.

    Returns
    -------
    list of dict
        Empty for a feasible plan.
    """
    if plan.too_salty:
        return [
            {
                "limit": "water.ec_ms_per_cm",
                "needed": asked.request.target.ec_ms_per_cm,
                "allowed": asked.water.ec_ms_per_cm,
                "message": "The water is saltier than the target: fill up with a purer one.",
            }
        ]
    if _phosphorus_bound(plan) and plan.acid is not None:
        whole = plan.acid.whole
        return [
            {
                "limit": "acid_phosphorus_mg_per_l",
                "needed": number(whole.result["acid_phosphorus_brought_mg_per_l"]),
                "allowed": number(whole.row["acid_phosphorus_mg_per_l"]),
                "message": "The acid would bring more phosphorus than plants are given: take one"
                " without.",
            }
        ]
    return []


def reservoir_nearest(plan: ReservoirPlan) -> dict[str, Any] | None:
    """
    Return the fields of a request that would be feasible.

    Parameters
    ----------
    plan : ReservoirPlan
        The plan.

    Returns
    -------
    dict or None
        Another water or another acid; None for a feasible plan.
    """
    if plan.too_salty:
        return {"water": PUREST}
    if _phosphorus_bound(plan):
        percent = acids()[WITHOUT_PHOSPHORUS].default_strength_percent
        return {"acid": {"kind": WITHOUT_PHOSPHORUS, "percent": percent}}
    return None


def reservoir_steps(asked: Asked, plan: ReservoirPlan) -> list[dict[str, Any]]:
    """
    Return what to do, in order: water, stock A, a wait, stock B, a wait, acid last.

    Parameters
    ----------
    asked : Asked
        The request.
    plan : ReservoirPlan
        The plan.

    Returns
    -------
    list of dict
        Steps in order.
    """
    doings: list[Doing] = []
    if plan.correction == "wait":
        doings.append(
            ("Add nothing yet: the last dose has to mix.", plan.not_before_minutes, "min")
        )
    elif plan.correction == "water":
        if plan.drain_l > 0.0:
            doings.append(("Take solution out to make room.", plan.drain_l, "L"))
        doings.append(_dose(plan, "water", "the water", "L", MILLILITRES))
    elif plan.correction == "feed":
        doings.append(_dose(plan, "stock_a", "stock A", "mL", 1.0))
        if asked.stocks is not None and asked.stocks.count > 1:
            doings.append(("Stir, and wait before the other stock.", STIR_MINUTES, "min"))
            doings.append(_dose(plan, "stock_b", "stock B", "mL", 1.0))
    elif plan.correction == "acid":
        doings += _acid_doings(plan)
    else:
        doings.append(("Add nothing.", None, None))
    if plan.correction in ("water", "feed", "acid"):
        doings.append(("Stir, and wait until it has mixed.", plan.interval_minutes, "min"))
    doings.append(
        ("Measure conductivity, pH and level, and ask again.", _remeasure(plan), "min")
        if plan.correction in ("none", "withheld")
        else ("Measure conductivity, pH and level, and ask again.", None, None)
    )
    return [
        {
            "order": order,
            "instruction": words,
            "quantity": None if quantity is None else float(f"{quantity:.4g}"),
            "unit": unit,
        }
        for order, (words, quantity, unit) in enumerate(doings, 1)
    ]


def _dose(plan: ReservoirPlan, name: str, words: str, unit: str, millilitres: float) -> Doing:
    each = plan.given[name]
    if each.seconds is not None:
        return (f"Let the pump of {words} run while the solution moves.", each.seconds, "s")
    if each.ml <= 0.0:
        return (f"Leave out {words}: it comes to nothing that can be measured.", None, None)
    return (f"Add {words} where the solution moves.", each.ml / millilitres, unit)


def _acid_doings(plan: ReservoirPlan) -> list[Doing]:
    portion = None if plan.acid is None else plan.acid.portion
    if portion is None:
        return []
    row, result = portion.row, portion.result
    name = reagents.reagent_name(int(row["acid_kind"]))
    if plan.given["acid"].seconds is not None:
        return [_dose(plan, "acid", f"the {name}", "mL", 1.0)]
    doings: list[Doing] = [("Put goggles and gloves on and open a window.", None, None)]
    doings += pre_dilution_steps(row, result)
    weighed = number(result["dose_volume_ml"]) is None
    quantity = number(result["dose_mass_g"] if weighed else result["dose_volume_ml"])
    what = name if weighed or _from_bottle(result) else f"weaker solution of {name}"
    if not quantity:
        return [*doings, (f"Add no {what}: it comes to less than can be measured.", None, None)]
    words = f"Add the {what} slowly where the solution moves."
    return [*doings, (words, quantity, "g" if weighed else "mL")]


def reservoir_inputs(asked: Asked, plan: ReservoirPlan, given: dict[str, Any]) -> dict[str, Any]:
    """
    Return the request as it was understood.

    Parameters
    ----------
    asked : Asked
        The request.
    plan : ReservoirPlan
        The plan.
    given : dict
        What was sent, in canonical units.

    Returns
    -------
    dict
        The same, defaults filled in.
    """
    reading = {
        **given["reading"],
        "temperature_celsius": plan.reading.temperature_celsius,
        "level_percent": 100.0 * plan.reading.volume_l / given["volume_l"],
        "age_minutes": plan.reading.age_minutes,
        "compensated": given["reading"].get("compensated", True),
    }
    if "ppm" in reading:
        reading.setdefault("scale", "500")
    inputs = {**given, "reading": reading, "water": dict(asked.water.analysis)}
    if "pump" in inputs:
        inputs["pump"] = {**given["pump"], "interval_minutes": plan.interval_minutes}
    if "acid" in inputs and "percent" not in inputs["acid"]:
        percent = acids()[given["acid"]["kind"]].default_strength_percent
        inputs["acid"] = {**given["acid"], "percent": percent}
    return inputs
