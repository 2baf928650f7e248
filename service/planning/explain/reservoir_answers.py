"""The fields of a reservoir correction, from the lines of its working."""

from collections.abc import Mapping
from typing import Any, Final

from service.planning.explain.pre_dilutions import pre_dilution_answers
from service.planning.explain.working import NUMBER, Working
from service.planning.pre_dilution import pre_dilution
from service.planning.reservoir import SETTLED_MINUTES, ReservoirPlan
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

BALANCE: Final = "parkhurst-appelo-2013"
NOW: Final = "ec_now_ms_per_cm"
ENTERING: Final = "water_ms_per_cm"


def reservoir_answers(working: Working, plan: ReservoirPlan, fields: Mapping[str, Any]) -> None:
    """
    Add the fields of the answer.

    Parameters
    ----------
    working : Working
        Holds everything that they follow from.
    plan : ReservoirPlan
        The plan.
    fields : mapping
        Its fields.
    """
    working.part("answer")
    formulas: dict[str, tuple[str, int]] = {
        "present_volume_l": ("present_l", 4),
        "needed_water_l": ("needed_l", 4),
        "needed_stock_ml": ("needed_ml", 4),
        "drain_l": ("drained_first_l", 4),
        "not_before_minutes": ("minutes_left", 4),
        "acid_low_mmol_per_l": ("least_acid_mmol_per_l", 4),
        "acid_high_mmol_per_l": ("most_acid_mmol_per_l", 4),
        "acid_mmol_per_l": ("acid_given_mmol_per_l", 4),
        "alkalinity_low_mg_per_l_caco3": ("least_alkalinity_meq_per_l", 3),
        "alkalinity_high_mg_per_l_caco3": ("most_alkalinity_meq_per_l", 3),
    }
    for field, (name, digits) in formulas.items():
        if fields[field] is None:
            continue
        formula = name if working.knows(name) else "0"
        if field.startswith("alkalinity"):
            formula = f"{CALCIUM_CARBONATE_MG_PER_MEQ!r} * {name}"
        working.answer(field, formula, digits)
    _expected_answers(working, plan, fields)
    _given_answers(working, plan, fields)
    working.answer("ec_ms_per_cm", NOW, 4)
    if plan.acid is not None and plan.acid.portion is not None and fields["pre_dilution"]:
        card = pre_dilution(plan.acid.portion.row, plan.acid.portion.result) or {}
        pre_dilution_answers(working, card, "measured_ml", "acid_given_mmol_per_l * present_l")


def _expected_answers(working: Working, plan: ReservoirPlan, fields: Mapping[str, Any]) -> None:
    """Add what the next reading should show, and when it is due."""
    if working.knows("expected_ms_per_cm"):
        expected = "expected_ms_per_cm"
    elif working.knows("water_given_ml"):
        left = "(present_l - drained_first_l)" if plan.drain_l > 0.0 else "present_l"
        expected = working.computed(
            "expected_ms_per_cm",
            f"({left} * {NOW} + water_given_ml / 1000 * {ENTERING})"
            f" / ({left} + water_given_ml / 1000)",
            fields["expected_ec_ms_per_cm"],
            source=BALANCE,
        )
    else:
        expected = NOW
    working.answer("expected_ec_ms_per_cm", expected, 3)
    if fields["lowest_expected_ph"] is not None:
        if plan.acid is not None and plan.acid.portion is not None:
            name = working.solved(
                "ph_after_the_portion",
                fields["lowest_expected_ph"],
                "pH of the least alkalinity with the portion in it, before carbon dioxide leaves",
                BALANCE,
                NUMBER,
            )
        else:
            name = "ph_now"
            if not working.knows(name):
                working.given(name, fields["lowest_expected_ph"], NUMBER)
        working.answer("lowest_expected_ph", name, 3)
    minutes = fields["remeasure_after_minutes"]
    words = (
        f"{SETTLED_MINUTES:g} min where nothing is given, otherwise the time until a dose has mixed"
    )
    working.given("minutes_to_the_next_reading", minutes, "min", words)
    working.answer("remeasure_after_minutes", "minutes_to_the_next_reading", 4)


def _given_answers(working: Working, plan: ReservoirPlan, fields: Mapping[str, Any]) -> None:
    """Add what goes in, and how long pumps run."""
    if fields["water_l"] is not None:
        given = "water_given_ml / 1000" if working.knows("water_given_ml") else "0"
        working.answer("water_l", given, 4)
    for line in ("stock_a", "stock_b"):
        if fields[f"{line}_ml"] is not None:
            given = f"{line}_given_ml"
            working.answer(f"{line}_ml", given if working.knows(given) else "0", 4)
    portion = None if plan.acid is None else plan.acid.portion
    if fields["acid_mass_g"] is not None:
        working.answer("acid_mass_g", "bottle_mass_g", 4)
    if fields["dose_volume_ml"] is not None:
        working.answer("dose_volume_ml", "measured_ml", 4)
    if fields["acid_volume_ml"] is not None:
        if "acid" in plan.lines or portion is None:
            given = "acid_given_ml"
            working.answer("acid_volume_ml", given if working.knows(given) else "0", 4)
        else:
            diluted = working.knows("measured_ml") and working.value("dilution") <= 1.0
            strength = float(portion.result["pre_solution_g_per_l"])
            from_bottle = diluted and strength <= 0.0
            working.answer(
                "acid_volume_ml", "measured_ml" if from_bottle else "bottle_volume_ml", 4
            )
    for line in fields["pump_seconds"]:
        seconds = f"{line}_seconds"
        working.answer(f"pump_seconds.{line}", seconds if working.knows(seconds) else "0", 4, "s")
