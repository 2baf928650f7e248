"""
A calendar as iCalendar (RFC 5545): whole days, in bytes that depend on their content alone.

Lines end in CRLF and are folded at 75 octets, never inside a character; texts are escaped; the
identity of an entry is a hash of what the caller gives for it, so that the same request gives the
same bytes and a second import replaces the first.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

LINE_OCTETS: Final = 75
PRODUCT_ID: Final = "-//Velamen//Feeding calendar//EN"
ESCAPES: Final = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})


@dataclass(frozen=True)
class Entry:
    """
    One whole day.

    Attributes
    ----------
    day : date
        The day.
    identity : str
        What makes it this entry and no other; hashed.
    summary : str
        Its title.
    description : str
        Its text; lines end in a newline character.
    category : str
        Its kind.
    """

    day: date
    identity: str
    summary: str
    description: str
    category: str


def escaped(text: str) -> str:
    """Return a text as a value of type TEXT, without control characters other than newlines."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(each for each in plain if each in "\n\t" or not _is_control(each))
    return kept.translate(ESCAPES)


def _is_control(character: str) -> bool:
    """Tell whether a character is none that a text may hold."""
    return ord(character) < 0x20 or 0x7F <= ord(character) < 0xA0 or character in "\u2028\u2029"


def folded(line: str) -> str:
    """Return a content line in pieces of at most 75 octets, each after the first led by a space."""
    pieces: list[str] = []
    piece, octets = "", 0
    for character in line:
        size = len(character.encode("utf-8", "replace"))
        if octets + size > LINE_OCTETS:
            pieces.append(piece)
            piece, octets = " ", 1
        piece += character
        octets += size
    pieces.append(piece)
    return "\r\n".join(pieces)


def identifier(identity: str) -> str:
    """Return the UID of an entry."""
    digest = hashlib.sha256(identity.encode("utf-8", "replace")).hexdigest()
    return f"{digest[:40]}@velamen"


def _lines(name: str, stamped: date, entries: Sequence[Entry]) -> Iterator[str]:
    """Yield the content lines of a calendar."""
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield f"PRODID:{PRODUCT_ID}"
    yield "CALSCALE:GREGORIAN"
    yield f"NAME:{escaped(name)}"
    for entry in entries:
        yield "BEGIN:VEVENT"
        yield f"UID:{identifier(entry.identity)}"
        yield f"DTSTAMP:{stamped:%Y%m%d}T000000Z"
        yield f"DTSTART;VALUE=DATE:{entry.day:%Y%m%d}"
        yield f"SUMMARY:{escaped(entry.summary)}"
        yield f"DESCRIPTION:{escaped(entry.description)}"
        yield f"CATEGORIES:{escaped(entry.category)}"
        yield "TRANSP:TRANSPARENT"
        yield "END:VEVENT"
    yield "END:VCALENDAR"


def calendar_bytes(name: str, stamped: date, entries: Sequence[Entry]) -> bytes:
    """
    Return a calendar.

    Parameters
    ----------
    name : str
        Name of the calendar.
    stamped : date
        Day that stands for the making of the calendar, at midnight UTC.
    entries : sequence of Entry
        At least one: a calendar without components is not valid.

    Returns
    -------
    bytes
        UTF-8.
    """
    lines = (folded(line) for line in _lines(name, stamped, entries))
    return "".join(f"{line}\r\n" for line in lines).encode("utf-8", "replace")
