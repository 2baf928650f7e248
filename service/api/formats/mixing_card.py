"""A dose as a card for the potting bench: what to do in order, large numbers, boxes to tick."""

from collections.abc import Mapping, Sequence
from html import escape
from math import floor
from typing import Any, Final

from service.api.formats.page import page, table
from service.api.formats.programme_texts import SAFETY_WORDS, quantity
from service.api.schemas.answer import Step
from service.api.schemas.doses import DoseAnswer
from service.planning.words import BINDING_WORDS

MOST_BOXES: Final = 60
HANDLING: Final = ("acid_handling", "base_handling")
STOP: Final = "Do not mix this can."
FIELDS_OF_STEPS: Final = (("volume_l", "L"), ("product_mass_g", "g"), ("product_volume_ml", "mL"))
PUBLISHED_WORDS: Final = {
    "nitrogen_mg_per_l": "Nitrogen, mg/L",
    "potassium_mg_per_l": "Potassium, mg/L",
    "calcium_mg_per_l": "Calcium, mg/L",
    "calcium_to_magnesium_ratio": "Calcium for each part of magnesium",
    "nitrate_share": "Share of nitrate in the nitrogen",
    "ec_ms_per_cm": "Conductivity, mS/cm",
    "feed_ph": "pH",
    "root_optimum_ec_ms_per_cm": "Conductivity at the roots, mS/cm",
    "nitrogen_mg_per_pot_per_year": "Nitrogen for a pot and year, mg",
}
"""What ranges are published for, by the names of `plants.toml`."""

RANGE_WORDS: Final = {
    "product_mass": ("Product", "g"),
    "product_volume": ("Product", "mL"),
    "acid_volume": ("Acid", "mL"),
    "acid_mass": ("Acid", "g"),
    "predicted_ec": ("Conductivity", "mS/cm"),
    "predicted_ph": ("pH", ""),
}


def mixing_card(
    answer: DoseAnswer, display: Mapping[str, str], explained_at: str | None = None
) -> str:
    """
    Return the page of a dose.

    Parameters
    ----------
    answer : DoseAnswer
        The dose.
    display : mapping of str to str
        Texts in the caller's units by the name of the field; empty for metric.
    explained_at : str, optional
        Address of the working, where the request has one.

    Returns
    -------
    str
        HTML, complete.
    """
    heading = "Mixing card" if answer.id is None else f"Mixing card: {answer.id}"
    plants = answer.inputs.get("plants", {})
    profile = str(plants.get("profile", "")).replace("_", " ")
    volume = "" if answer.volume_l is None else f"{quantity(answer.volume_l)} L"
    volume += f" ({display['volume_l']})" if volume and "volume_l" in display else ""
    about = " · ".join(part for part in (volume, profile, answer.inputs.get("application")) if part)
    return page(
        heading,
        f'<h1>{escape(heading)}</h1><p class="soft">{escape(about)}</p>'
        f"{_due(answer)}{_conflicts(answer)}{_mixing(answer, display)}{_figures(answer)}"
        f"{_cautions(answer)}{_safety()}{_working(answer, explained_at)}",
    )


def _due(answer: DoseAnswer) -> str:
    """Return what today asks for, where the calendar was asked."""
    if answer.due is None:
        return ""
    first = "Flush the pot with plain water first. " if answer.due.flush_first else ""
    return f"<p>{escape(first + ' '.join(answer.due.reasons))}</p>"


def _conflicts(answer: DoseAnswer) -> str:
    if answer.status == "ok":
        return ""
    reasons = " ".join(each.message for each in answer.conflicts)
    return f'<p class="danger">{escape(f"{STOP} {reasons}")}</p>'


def _mixing(answer: DoseAnswer, display: Mapping[str, str]) -> str:
    """Return the steps; those of one can where several are mixed, with a box for each can."""
    if answer.status != "ok":
        return "".join(f"<p>{escape(_advice(step))}</p>" for step in answer.steps)
    split = answer.split
    if split is None:
        words: dict[tuple[float, str | None], str] = {
            (value, unit): text
            for name, unit in FIELDS_OF_STEPS
            if (value := getattr(answer, name)) is not None and (text := display.get(name))
        }
        return _steps(answer.steps, words)
    volume = quantity(split.volume_l)
    boxes = "".join(
        f'<label><input type="checkbox"> can {place}</label> '
        for place in range(1, min(split.count, MOST_BOXES) + 1)
    )
    text = display.get("split.volume_l")
    return (
        f"<h2>{split.count} cans of {volume} L{f' ({escape(text)})' if text else ''}, each:</h2>"
        f'{_steps(split.steps, {})}<p class="tally">{boxes}</p>'
    )


def _advice(step: Step) -> str:
    """Return what to do in place of mixing, a share of water rounded to the safe side."""
    if step.unit != "%" or step.quantity is None:
        return step.instruction
    return f"{step.instruction} That is {floor(step.quantity)} % at most."


def _steps(steps: Sequence[Step], words: Mapping[tuple[float, str | None], str]) -> str:
    """Return steps with boxes; amounts also in the caller's units where they are one field."""
    lines = []
    for step in steps:
        amount = ""
        if step.quantity is not None:
            other = words.get((step.quantity, step.unit))
            small = f"<small>{escape(other)}</small>" if other else ""
            amount = f"{quantity(step.quantity)} {escape(step.unit or '')}{small}"
        lines.append(
            f'<li><label><input type="checkbox"><span class="amount">{amount}</span>'
            f'<span class="what">{escape(step.instruction)}</span></label></li>'
        )
    return f'<ol class="steps">{"".join(lines)}</ol>'


def _figures(answer: DoseAnswer) -> str:
    """Return what a meter will show."""
    if answer.status != "ok":
        return ""
    shown: list[tuple[str, str, str]] = []
    if answer.predicted_ec_ms_per_cm is not None:
        scales = (
            f"{quantity(answer.meter_ppm_500 or 0)} ppm on the 500 scale,"
            f" {quantity(answer.meter_ppm_700 or 0)} on the 700 scale"
        )
        shown.append(("Conductivity", f"{answer.predicted_ec_ms_per_cm:.2f} mS/cm", scales))
    if answer.predicted_ph is not None:
        later = ""
        if answer.predicted_ph_open is not None:
            later = f"{answer.predicted_ph_open:.1f} after a day in the open"
        shown.append(("pH", f"{answer.predicted_ph:.1f}", later))
    if answer.nitrogen_mg_per_l is not None:
        plant = answer.nitrogen_mg_per_plant_per_month
        monthly = "" if plant is None else f"{quantity(plant)} mg a plant and month"
        shown.append(("Nitrogen", f"{answer.nitrogen_mg_per_l:.0f} mg/L", monthly))
    cells = "".join(
        f"<div><dt>{name}</dt><dd><b>{escape(value)}</b><small>{escape(more)}</small></dd></div>"
        for name, value, more in shown
    )
    return f'<h2>What it will be</h2><dl class="figures">{cells}</dl>' if cells else ""


def _cautions(answer: DoseAnswer) -> str:
    """Return what to know before pouring; nothing is poured of a can that is not mixed."""
    lines = [
        f'<li class="{each.severity}">{escape(each.message)}</li>'
        for each in answer.cautions
        if each.severity != "info" and (answer.status == "ok" or each.code not in HANDLING)
    ]
    heading = "Before you pour" if answer.status == "ok" else "Why"
    return f"<h2>{heading}</h2><ul>{''.join(lines)}</ul>" if lines else ""


def _safety() -> str:
    return f"<h2>Safety</h2><p>{escape(SAFETY_WORDS)}</p>"


def _working(answer: DoseAnswer, explained_at: str | None) -> str:
    """Return what the amounts rest on; opened on request, and printed only when it is open."""
    limit = BINDING_WORDS.get(answer.binding_limit or "none", "nothing")
    parts = [f"<p>What decided the amount: {escape(limit)}.</p>"]
    if answer.vapour_pressure_deficit_kpa is not None:
        deficit = answer.vapour_pressure_deficit_kpa
        parts.append(f"<p>Vapour pressure deficit of the air: {deficit:.2f} kPa.</p>")
    if answer.range is not None:
        parts.append(table(("What is open", "least", "most"), _bounds(answer.range.model_dump())))
        parts += [f"<p>{escape(reason)}</p>" for reason in answer.range.reasons]
    ranges = [
        (
            PUBLISHED_WORDS[each.quantity],
            "" if each.value is None else quantity(each.value),
            f"{quantity(each.low)} to {quantity(each.high)}",
        )
        for each in answer.published_ranges
    ]
    if ranges:
        parts.append(table(("Published for these plants", "this can", "range"), ranges))
    elements = [
        (name, f"{quantity(value)} mg/L") for name, value in answer.elements_mg_per_l.items()
    ]
    parts.append(table(("Element", "in the can"), elements))
    taken = "".join(f"<li>{escape(each.message)}</li>" for each in answer.assumptions)
    parts.append(f"<p>Taken to be so:</p><ul>{taken}</ul>")
    if explained_at is not None:
        address = escape(explained_at, quote=True)
        parts.append(f'<p><a href="{address}">Every number with its formula and source</a></p>')
    return f"<details><summary>How it was found</summary>{''.join(parts)}</details>"


def _bounds(bounds: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return the bounds of an answer in words."""
    listed = []
    for name, (words, unit) in RANGE_WORDS.items():
        low = next((bounds[key] for key in bounds if key.startswith(f"{name}_low")), None)
        high = next((bounds[key] for key in bounds if key.startswith(f"{name}_high")), None)
        if low is not None and high is not None:
            listed.append(
                (words, f"{quantity(low)} {unit}".strip(), f"{quantity(high)} {unit}".strip())
            )
    return listed
