"""The working of a calendar: each can that differs once, then what every event takes of it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from service.planning.card import METER_SCALES
from service.planning.catalogue import Catalogue
from service.planning.explain.can import product_names
from service.planning.explain.doses import dose_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.programme import RULES
from service.planning.programme_cans import Can
from service.planning.targets import DOSING_SCALE

EXACT: Final = 12


@dataclass(frozen=True, eq=False)
class PlannedEvent:
    """
    An event with the can that it takes.

    Attributes
    ----------
    fields : mapping
        The event as the answer gives it.
    can : Can or None
        Its can, None for a look at the bark.
    row : record of `rows.DOSE_REQUEST` or None
        The planned row of the can.
    result : record of `rows.DOSE_RESULT` or None
        Its finished row.
    """

    fields: Mapping[str, Any]
    can: Can | None
    row: Any
    result: Any


def programme_working(
    events: Sequence[PlannedEvent],
    months: Sequence[Mapping[str, Any]],
    products: Sequence[Mapping[str, Any]],
    rules: Sequence[Mapping[str, Any]],
    catalogue: Catalogue,
) -> list[Line]:
    """
    Return the working of a calendar.

    Parameters
    ----------
    events : sequence of PlannedEvent
        The events, sorted by date.
    months, products, rules : sequence of mapping
        Those fields of the answer.
    catalogue : Catalogue
        Knows the products.

    Returns
    -------
    list of Line
        The lines, the fields of the answer among them.
    """
    working = Working()
    names = _can_lines(working, events, catalogue)
    for place, event in enumerate(events):
        if event.can is not None:
            working.part(f"{event.fields['date']}: {event.fields['kind']}")
            _event_answers(working, event, f"events.{place}", names[event.can], catalogue)
    for place, month in enumerate(months):
        listed = [each for each in events if each.fields["date"].startswith(month["month"])]
        working.part(month["month"])
        at = f"months.{place}"
        _total_answers(working, listed, month["products"], f"{at}.products", names, catalogue)
        if month["nitrogen_mg_per_plant_per_month"] is not None:
            _nitrogen_answer(working, listed, month, at, names)
    working.part("whole programme")
    _total_answers(working, events, products, "products", names, catalogue)
    working.part("rhythm")
    for place, rule in enumerate(rules):
        name = f"rule_{rule['rule']}"
        working.known(name, rule["value"], rule["meaning"], None, rule["unit"])
        working.answer(f"rules.{place}.value", name, EXACT, rule["unit"])
    return working.lines


def _can_lines(
    working: Working, events: Sequence[PlannedEvent], catalogue: Catalogue
) -> dict[Can, str]:
    """Add the working of every can that differs; return the prefix of its names."""
    names: dict[Can, str] = {}
    for event in events:
        if event.can is None or event.can in names:
            continue
        number = len(names) + 1
        names[event.can] = f"can_{number}_"
        part = Working(brief=True)
        dose_lines(part, event.row, event.result, catalogue)
        working.take(part, names[event.can], f"can {number}")
    return names


def _event_answers(
    working: Working, event: PlannedEvent, at: str, prefix: str, catalogue: Catalogue
) -> None:
    """Add the fields of one event."""
    fields = event.fields
    cans = RULES.flush_can_count if fields["kind"] == "flush" else 1.0
    working.answer(f"{at}.volume_l", f"{cans:g} * {prefix}volume_l", 4)
    if fields["ec_ceiling_ms_per_cm"] is not None:
        working.answer(f"{at}.ec_ceiling_ms_per_cm", f"{prefix}ec_ceiling_of_the_can_ms_per_cm", 3)
    if fields["predicted_ph"] is not None:
        working.answer(f"{at}.predicted_ph", f"{prefix}ph", 3, NUMBER)
    if fields["strength"] is not None:
        conductivity = f"{prefix}can_ec_ms_per_cm"
        working.answer(f"{at}.strength.ec_ms_per_cm", conductivity, 3)
        working.answer(f"{at}.strength.meter_ppm", f"{conductivity} * {DOSING_SCALE:g}", 3)
        for scale in METER_SCALES:
            working.answer(f"{at}.strength.meter_ppm_{scale}", f"{conductivity} * {scale}", 3)
        working.answer(
            f"{at}.strength.nitrogen_mg_per_l", f"{prefix}nitrogen_in_the_can_mg_per_l", 4
        )
    name = _measured(event, prefix, catalogue)
    if fields["pre_stock"] is not None and name is not None:
        stock = f"{name.removesuffix('_measured')}_pre_stock"
        kind = "g_per_l" if fields["pre_stock"]["ml_per_l"] is None else "ml_per_l"
        working.answer(f"{at}.pre_stock.{kind}", stock, 4)
        working.answer(f"{at}.pre_stock.volume_ml", f"{stock}_ml", 4)
    for kind in ("mass_g", "volume_ml"):
        if fields[f"product_{kind}"] is not None and name is not None:
            working.answer(f"{at}.product_{kind}", name, 4)


def _measured(event: PlannedEvent, prefix: str, catalogue: Catalogue) -> str | None:
    """Return the name of what is weighed for an event, None without a product."""
    if event.fields["product"] is None:
        return None
    return f"{prefix}{product_names(event.row, catalogue)[0]}_measured"


def _total_answers(
    working: Working,
    events: Sequence[PlannedEvent],
    totals: Sequence[Mapping[str, Any]],
    at: str,
    names: Mapping[Can, str],
    catalogue: Catalogue,
) -> None:
    """Add how much of each product some events take."""
    for place, total in enumerate(totals):
        cans = Counter(
            _measured(event, names[event.can], catalogue)
            for event in events
            if event.can is not None
            and event.fields["product"] == total["product"]
            and (
                event.fields["product_mass_g"] is not None
                or event.fields["product_volume_ml"] is not None
            )
        )
        formula = " + ".join(f"{count} * {name}" for name, count in cans.items())
        kind = "volume_ml" if total["mass_g"] is None else "mass_g"
        name = working.computed(f"{at.replace('.', '_')}_{place}_{kind}", formula, total[kind])
        working.answer(f"{at}.{place}.{kind}", name, 4)


def _nitrogen_answer(
    working: Working,
    events: Sequence[PlannedEvent],
    month: Mapping[str, Any],
    at: str,
    names: Mapping[Can, str],
) -> None:
    """Add the nitrogen that a plant gets in a month."""
    cans = Counter(
        names[event.can]
        for event in events
        if event.can is not None and event.fields["strength"] is not None
    )
    formula = " + ".join(
        f"{count} * {prefix}nitrogen_in_the_can_mg_per_l * {prefix}volume_per_plant_ml / 1000"
        for prefix, count in cans.items()
    )
    name = working.computed(
        f"{at.replace('.', '_')}_nitrogen",
        formula or "0",
        month["nitrogen_mg_per_plant_per_month"],
        "mg",
    )
    working.answer(f"{at}.nitrogen_mg_per_plant_per_month", name, 4, "mg")
