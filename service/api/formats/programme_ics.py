"""A feeding programme as a calendar file."""

import json
from collections.abc import Mapping
from datetime import date
from typing import Final

from service.api.feeding_programme import Programme
from service.api.formats.ics import Entry, calendar_bytes
from service.api.formats.programme_texts import SAFETY, day_words, strength_words, title
from service.api.schemas.programmes import ProgrammeEvent

NAME: Final = "Feeding calendar"
NOTHING: Final = "No watering day falls into this programme."


def programme_ics(made: Programme) -> bytes:
    """Return the events of a programme as whole days of a calendar."""
    answer = made.answer
    first = date.fromisoformat(answer.first_date)
    # What was understood names the programme: the same bench keeps its entries when a number of
    # the reference data changes.
    identity = json.dumps([answer.id, answer.inputs], sort_keys=True, ensure_ascii=True)
    entries = [
        _entry(event, identity, warnings)
        for event, warnings in zip(answer.events, made.warnings, strict=True)
    ]
    if not entries:
        entries = [Entry(first, f"{identity} none", NOTHING, NOTHING, "NOTE")]
    name = NAME if answer.id is None else f"{NAME}: {answer.id}"
    return calendar_bytes(name, first, entries)


def _entry(event: ProgrammeEvent, identity: str, warnings: Mapping[str, str]) -> Entry:
    """Return one event as an entry."""
    about = day_words(event)
    lines = [event.reason] if about is None else [f"{about}.", event.reason]
    strength = strength_words(event)
    if strength:
        lines.insert(0, f"{strength}.")
    lines.insert(0, f"{title(event)}.")
    lines += [f"Caution: {text}" for text in warnings.values()]
    lines.append(SAFETY)
    return Entry(
        day=date.fromisoformat(event.date),
        identity=f"{identity} {event.date} {event.kind}",
        summary=title(event),
        description="\n".join(lines),
        category=event.kind.upper().replace("_", "-"),
    )
