"""Calendar files by the letter of RFC 5545, and the words of a programme in them."""

import re
from datetime import date

import pytest

from service.api.feeding_programme import Programme, programme
from service.api.formats.ics import Entry, calendar_bytes, escaped, folded, identifier
from service.api.formats.programme_html import programme_html
from service.api.formats.programme_ics import programme_ics
from service.api.formats.programme_texts import SAFETY
from service.api.schemas.programmes import PROGRAMME_EXAMPLES, ProgrammeRequest
from service.planning.catalogue import catalogue


def made(name: str = "metric", **changes: object) -> Programme:
    body = {**PROGRAMME_EXAMPLES[name][1], **changes}
    return programme(ProgrammeRequest.model_validate(body), catalogue())


def unfolded(content: bytes) -> list[str]:
    return content.decode().replace("\r\n ", "").split("\r\n")[:-1]


def values(content: bytes, name: str) -> list[str]:
    starts = (f"{name}:", f"{name};")
    lines = [line for line in unfolded(content) if line.startswith(starts)]
    return [line.partition(":")[2] for line in lines]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a, b; c", r"a\, b\; c"),
        ("back\\slash", r"back\\slash"),
        ("two\nlines", r"two\nlines"),
        ("two\r\nlines", r"two\nlines"),
        ("bell\x07 and next\x85 line", "bell and next line"),
        ("tab\tstays: so does a colon", "tab\tstays: so does a colon"),
    ],
)
def test_text_is_escaped_and_control_characters_are_left_out(text: str, value: str) -> None:
    assert escaped(text) == value


@pytest.mark.parametrize(
    "line", ["a" * 75, "a" * 76, "ü" * 200, "a" + "ü" * 200, "日本語" * 60, "🌱" * 50, "ab🌱" * 40]
)
def test_lines_are_folded_at_75_octets_and_never_inside_a_character(line: str) -> None:
    pieces = folded(line).encode().split(b"\r\n")
    assert all(len(piece) <= 75 for piece in pieces)
    assert all(piece.startswith(b" ") for piece in pieces[1:])
    assert b"".join([pieces[0], *(piece[1:] for piece in pieces[1:])]).decode() == line
    for piece in pieces:
        piece.decode()


def test_line_of_75_octets_is_not_folded() -> None:
    assert "\r\n" not in folded("a" * 75)
    assert folded("a" * 76) == "a" * 75 + "\r\n a"


def test_entry_is_a_whole_day_with_everything_a_calendar_needs() -> None:
    entry = Entry(date(2028, 2, 29), "x", "Feed, weak", "One\nTwo", "FEED")
    lines = unfolded(calendar_bytes("Bench; 1", date(2028, 2, 1), [entry]))
    assert lines == [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Velamen//Feeding calendar//EN",
        "CALSCALE:GREGORIAN",
        r"NAME:Bench\; 1",
        "BEGIN:VEVENT",
        f"UID:{identifier('x')}",
        "DTSTAMP:20280201T000000Z",
        "DTSTART;VALUE=DATE:20280229",
        r"SUMMARY:Feed\, weak",
        r"DESCRIPTION:One\nTwo",
        "CATEGORIES:FEED",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
        "END:VCALENDAR",
    ]


def test_identity_alone_decides_the_uid() -> None:
    assert identifier("a") == identifier("a")
    assert identifier("a") != identifier("b")
    assert re.fullmatch(r"[0-9a-f]{40}@velamen", identifier("a"))


def test_equal_requests_give_equal_bytes_and_other_benches_other_uids() -> None:
    first, again, other = programme_ics(made()), programme_ics(made()), programme_ics(made(id="b"))
    assert first == again
    assert set(values(first, "UID")).isdisjoint(values(other, "UID"))


def test_programme_has_an_entry_with_its_own_uid_for_every_event() -> None:
    found = made()
    content = programme_ics(found)
    assert len(values(content, "UID")) == len(set(values(content, "UID")))
    starts = [each.replace("-", "") for each in (event.date for event in found.answer.events)]
    assert values(content, "DTSTART") == starts
    assert set(values(content, "DTSTAMP")) == {"20270301T000000Z"}
    assert {"FEED", "SUPPLEMENT", "STIMULANT", "FLUSH", "REPOT-CHECK"} == set(
        values(content, "CATEGORIES")
    )


def test_description_has_the_amount_and_the_safety_line() -> None:
    content = programme_ics(made())
    for summary, description in zip(
        values(content, "SUMMARY"), values(content, "DESCRIPTION"), strict=True
    ):
        assert description.startswith(summary)
        assert description.endswith(escaped(SAFETY))
    feeds = [each for each in values(content, "SUMMARY") if each.startswith("Feed")]
    assert all(re.match(r"Feed: [\d.]+ g .* in 5 L$", each) for each in feeds)


def test_calendar_without_events_still_has_a_component() -> None:
    content = programme_ics(made(last_applied={"feed": "2027-12-01"}, repotted_on="2027-01-01"))
    assert len(values(content, "UID")) == 1
    assert values(content, "DTSTART") == ["20270301"]


def test_every_line_of_a_programme_ends_in_crlf_and_fits() -> None:
    content = programme_ics(made(id="Süd-Bank; «Vitrine», größte"))
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert max(len(line) for line in content.split(b"\r\n")) == 75


def test_page_escapes_names_and_needs_nothing_from_elsewhere() -> None:
    product = {
        "name": "<script>alert(1)</script>",
        "form": "solid",
        "label": {"total_n_percent": 10, "nitrate_n_percent": 10, "k2o_percent": 10},
    }
    page = programme_html(made(id="<b>&", shelf=[product]))
    assert "<script" not in page
    assert "<b>&" not in page
    assert "Feeding calendar: &lt;b&gt;&amp;" in page
    assert not re.search(r"(src|href|url\(|@import|http)", page)


def test_page_has_a_box_for_every_event_and_a_section_for_every_month() -> None:
    found = made()
    page = programme_html(found)
    assert page.count('type="checkbox"') == len(found.answer.events)
    assert page.count('<section class="month">') == len(found.answer.months)
