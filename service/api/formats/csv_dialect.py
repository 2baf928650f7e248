"""How a CSV table is written: delimiter, decimal sign, byte-order mark, charset."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from service.api.formats.headings import refusal
from service.api.problems import invalid_request
from service.api.validation import FieldError

Decimal = Literal["point", "comma"]

DELIMITERS: Final[Mapping[str, str]] = {"comma": ",", "semicolon": ";", "tab": "\t"}

CHARSETS: Final[Mapping[str, str]] = {
    "": "utf-8",
    "utf-8": "utf-8",
    "utf8": "utf-8",
    "us-ascii": "utf-8",
    "ascii": "utf-8",
    "utf-16": "utf-16",
    "iso-8859-1": "latin-1",
    "latin1": "latin-1",
    "latin-1": "latin-1",
    "windows-1252": "cp1252",
    "cp1252": "cp1252",
}
"""Charsets that a table may declare, as Python calls them; without one it is UTF-8."""

DIALECTS: Final[Mapping[str, Mapping[str, str]]] = {
    "rfc4180": {"delimiter": "comma", "decimal": "point", "bom": "false"},
    "excel": {"delimiter": "comma", "decimal": "point", "bom": "true"},
    "excel-eu": {"delimiter": "semicolon", "decimal": "comma", "bom": "true"},
}

CHOICES: Final[Mapping[str, tuple[str, ...]]] = {
    "delimiter": tuple(DELIMITERS),
    "decimal": ("point", "comma"),
    "bom": ("true", "false"),
    "dialect": tuple(DIALECTS),
}
"""Words of each parameter of a dialect."""

PARAMETERS: Final[tuple[dict[str, Any], ...]] = (
    {
        "name": "delimiter",
        "in": "query",
        "required": False,
        "description": "What separates the cells of a CSV table, in and out. Absent: the one under"
        " which most headings of the table are known, and out the same; `comma` where no CSV came"
        " in.",
        "schema": {"type": "string", "enum": list(CHOICES["delimiter"])},
        "example": "comma",
    },
    {
        "name": "decimal",
        "in": "query",
        "required": False,
        "description": "Decimal sign of the numbers of a CSV table, in and out; `point` if absent,"
        " in semicolon tables too. A comma in a number is never guessed at: undeclared, it rejects"
        " its row (`decimal_comma`). With `comma`, a point in a number rejects its row.",
        "schema": {"type": "string", "enum": list(CHOICES["decimal"]), "default": "point"},
        "example": "point",
    },
    {
        "name": "bom",
        "in": "query",
        "required": False,
        "description": "Whether an answered CSV table begins with a byte-order mark, by which some"
        " spreadsheets know UTF-8. Absent: as the table that came in.",
        "schema": {"type": "string", "enum": list(CHOICES["bom"])},
        "example": "false",
    },
    {
        "name": "dialect",
        "in": "query",
        "required": False,
        "description": "Delimiter, decimal sign and byte-order mark in one word, in and out:"
        " `rfc4180` (comma, point, none), `excel` (comma, point, mark), `excel-eu` (semicolon,"
        " comma, mark). The single parameters win over it.",
        "schema": {"type": "string", "enum": list(CHOICES["dialect"])},
        "example": "rfc4180",
    },
)


@dataclass(frozen=True)
class Dialect:
    """
    How a table is written.

    Attributes
    ----------
    delimiter : str or None
        The sign; None when the caller named none.
    decimal : str
        `point` or `comma`.
    bom : bool or None
        Whether a byte-order mark is written; None when the caller did not say.
    """

    delimiter: str | None = None
    decimal: Decimal = "point"
    bom: bool | None = None


def dialect_of(query: Mapping[str, str]) -> Dialect:
    """
    Return the dialect that query parameters declare.

    Raises
    ------
    ProblemError
        422 for a word that a parameter does not have.
    """
    for name, words in CHOICES.items():
        given = query.get(name)
        if given is not None and given not in words:
            fault = FieldError.unknown_word("not_allowed", name, given, words, parameter=name)
            raise invalid_request(fault)
    preset = DIALECTS.get(query.get("dialect", ""), {})
    said = {**preset, **{name: query[name] for name in CHOICES if name in query}}
    bom = said.get("bom")
    return Dialect(
        DELIMITERS[said["delimiter"]] if "delimiter" in said else None,
        "comma" if said.get("decimal") == "comma" else "point",
        None if bom is None else bom == "true",
    )


def delimiter_of(first_line: str, known: Iterable[str]) -> str:
    """
    Return the delimiter under which most headings of a line are known.

    Parameters
    ----------
    first_line : str
        The heading line.
    known : iterable of str
        Headings that mean something.

    Raises
    ------
    ProblemError
        422 when two delimiters do equally well.
    """
    meanings = set(known)
    scores = sorted(
        (
            (
                sum(part.strip(' "\r\n') in meanings for part in first_line.split(sign)),
                first_line.count(sign),
                sign,
            )
            for sign in DELIMITERS.values()
        ),
        reverse=True,
    )
    (best, count, sign), (second, other_count, _), _ = scores
    if count == 0:
        return DELIMITERS["comma"]
    if best == second and best > 0 and other_count > 0:
        detail = (
            "What separates the cells cannot be told from the heading line. Say it by"
            " `?delimiter=`."
        )
        raise refusal("separator_unclear", detail, parameter="delimiter", allowed=list(DELIMITERS))
    return sign
