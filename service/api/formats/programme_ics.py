"""A feeding programme as a calendar file."""

import json
from datetime import date
from typing import Final

from service.api.formats.ics import Entry, calendar_bytes
from service.api.formats.programme_texts import SAFETY, day_words, strength_words, title
from service.api.schemas.programmes import ProgrammeAnswer, ProgrammeEvent

NAME: Final = "Feeding calendar"
NOTHING: Final = "No watering day falls into this programme."


def programme_ics(answer: ProgrammeAnswer) -> bytes:
    """Return the events of a programme as whole days of a calendar."""
    first = date.fromisoformat(answer.first_date)
    texts = {each.code: each.message for each in answer.cautions}
    # What was understood names the programme: the same bench keeps its entries when a number of
    # the reference data changes.
    identity = json.dumps([answer.id, answer.inputs], sort_keys=True, ensure_ascii=True)
    entries = [_entry(event, identity, texts) for event in answer.events]
    if not entries:
        entries = [Entry(first, f"{identity} none", NOTHING, NOTHING, "NOTE")]
    name = NAME if answer.id is None else f"{NAME}: {answer.id}"
    return calendar_bytes(name, first, entries)


def _entry(event: ProgrammeEvent, identity: str, texts: dict[str, str]) -> Entry:
    """Return one event as an entry."""
    lines = [f"{day_words(event)}.", event.reason]
    strength = strength_words(event)
    if strength:
        lines.insert(0, f"{strength}.")
    lines.insert(0, f"{title(event)}.")
    lines += [f"Caution: {texts[code]}" for code in event.cautions if code in texts]
    lines.append(SAFETY)
    return Entry(
        day=date.fromisoformat(event.date),
        identity=f"{identity} {event.date} {event.kind}",
        summary=title(event),
        description="\n".join(lines),
        category=event.kind.upper().replace("_", "-"),
    )
