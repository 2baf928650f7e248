"""
Headings of a table: which columns are fields of a row, and which are the caller's own.

Headings are the dotted names of a request. Other headings are given a meaning by `?columns=`; what
looks like a misspelt field is refused, and everything else comes back untouched.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from service.api.limits import TableLimits
from service.api.problems import ProblemError, invalid_request
from service.api.received import repeatable
from service.api.suggestions import nearest
from service.api.validation import FieldError

Kind = Literal["number", "text", "any", "own"]

OWN_WORDS: Final = frozenset(("name", "days", "label", "form", "total"))
"""Words that growers head columns of their own with, though a field's name holds them."""

OWN_CEILINGS: Final = "plants.profile."
"""Columns that nobody means who writes less than their whole name."""

OWN: Final = "-"
"""In `?columns=`: the column is the caller's own, however its heading reads."""

MOST_MAPPED: Final = 400
PARAMETER: Final = "columns"


@dataclass(frozen=True)
class Column:
    """
    One column of a table.

    Attributes
    ----------
    heading : str
        Its title, as it was sent.
    field : str
        Dotted name of the field that its cells are; empty for the caller's own.
    kind : str
        `number`, `text` or `any` for what the field takes, `own`.
    unit : str
        Unit of the bare numbers in it; empty for that of the field.
    """

    heading: str
    field: str = ""
    kind: Kind = "own"
    unit: str = ""


@dataclass(frozen=True)
class Meaning:
    """What `?columns=` says of one heading."""

    field: str
    unit: str = ""


def refusal(code: str, detail: str, **more: Any) -> ProblemError:
    """Return the 422 of a table that is not read."""
    return invalid_request(FieldError(code=code, detail=detail, **more))


def kinds_of(schemas: Mapping[str, Mapping[str, Any]]) -> dict[str, Kind]:
    """
    Return what each field takes.

    Parameters
    ----------
    schemas : mapping of str to mapping
        Dotted name of a field to its JSON schema.
    """
    kinds: dict[str, Kind] = {}
    for name, schema in schemas.items():
        kind = schema.get("type")
        if kind == "string":
            kinds[name] = "text"
        else:
            numeric = isinstance(kind, list) and {"number", "integer"} & set(kind)
            kinds[name] = "number" if numeric else "any"
    return kinds


def read_meanings(text: str | None, fields: Mapping[str, Kind]) -> dict[str, Meaning]:
    """
    Return what `?columns=` says.

    Parameters
    ----------
    text : str or None
        `heading:field` or `heading:field unit`, joined by commas; `heading:-` for a column of the
        caller's own. A heading with a comma stands in double quotes.
    fields : mapping of str to str
        Dotted names of fields, and what each takes.

    Returns
    -------
    dict of str to Meaning
        By heading.

    Raises
    ------
    ProblemError
        422 naming every part at fault.
    """
    if text is None:
        return {}
    if text.count('"') % 2:
        detail = "`columns` has a quote that is not closed."
        raise refusal("malformed", detail, parameter=PARAMETER)
    parts = _PART.findall(text)
    if len(parts) > MOST_MAPPED:
        detail = f"`columns` names {len(parts)} headings; {MOST_MAPPED} are read at most."
        allowed = f"at most {MOST_MAPPED}"
        raise refusal("too_many", detail, parameter=PARAMETER, allowed=allowed)
    meanings: dict[str, Meaning] = {}
    faults: list[FieldError] = []
    for part in parts:
        heading, colon, meaning = part.rpartition(":")
        heading, (field, _, unit) = _unquoted(heading), meaning.strip().partition(" ")
        fault = _fault_of_meaning(part, heading, colon, field, unit.strip(), fields, meanings)
        if fault is None:
            meanings[heading] = Meaning("" if field == OWN else field, unit.strip())
        else:
            faults.append(fault)
    if faults:
        raise invalid_request(*faults)
    return meanings


_PART: Final = re.compile(r'(?:"[^"]*"|[^,"])+')


def _unquoted(heading: str) -> str:
    return heading.strip().removeprefix('"').removesuffix('"').strip()


def _fault_of_meaning(
    part: str,
    heading: str,
    colon: str,
    field: str,
    unit: str,
    fields: Mapping[str, Kind],
    before: Mapping[str, Meaning],
) -> FieldError | None:
    shown = repeatable(part)
    if not colon or not heading or not field:
        detail = (
            f"`{shown}` in `columns` has not the form `heading:field`, such as `Litres:volume_l`."
        )
        return FieldError(parameter=PARAMETER, code="malformed", detail=detail, received=shown)
    if heading in before:
        detail = f"`columns` names the heading `{repeatable(heading)}` twice."
        return FieldError(
            parameter=PARAMETER, code="repeated_column", detail=detail, received=shown
        )
    if field == OWN:
        return None
    if field not in fields:
        return FieldError.unknown_word(
            "unknown_column", "field", field, plain_first(fields), parameter=PARAMETER
        )
    if unit and fields[field] != "number":
        detail = f"`{field}` is no number and takes no unit."
        return FieldError(parameter=PARAMETER, code="not_allowed", detail=detail, received=shown)
    return None


def checked_headings(
    cells: Sequence[str], limits: TableLimits, cell_name: Callable[[int], str] | None = None
) -> tuple[str, ...]:
    """
    Return the headings of a table.

    Parameters
    ----------
    cells : sequence of str
        The first row that is not blank.
    limits : TableLimits
        How many and how long they may be.
    cell_name : callable, optional
        Name of the cell at a position, for a workbook.

    Raises
    ------
    ProblemError
        422 for too many, one that is too long, an empty one, or one that stands twice.
    """
    headings = [cell.strip() for cell in cells]
    while headings and not headings[-1]:
        headings.pop()
    if len(headings) > limits.columns:
        detail = f"The table has {len(headings)} columns; {limits.columns} are read at most."
        raise refusal("too_many", detail, allowed=f"at most {limits.columns} columns")
    seen: dict[str, int] = {}
    for position, heading in enumerate(headings):
        place = {} if cell_name is None else {"cell": cell_name(position)}
        where = f"Column {position + 1}" + (f" ({place['cell']})" if place else "")
        if not heading:
            detail = f"{where} has no heading. Give every column between others one."
            raise refusal("missing", detail, **place)
        if len(heading) > limits.heading_letters:
            detail = f"{where} has a heading longer than {limits.heading_letters} letters."
            allowed = f"at most {limits.heading_letters} letters"
            raise refusal("too_many", detail, allowed=allowed, **place)
        if heading in seen:
            detail = (
                f"The heading `{repeatable(heading)}` stands twice, in columns"
                f" {seen[heading] + 1} and {position + 1}; which one counts is unclear."
            )
            raise refusal("repeated_column", detail, received=repeatable(heading), **place)
        seen[heading] = position
    return tuple(headings)


def columns_of(
    headings: Sequence[str],
    fields: Mapping[str, Kind],
    meanings: Mapping[str, Meaning],
    results: Sequence[str],
) -> tuple[Column, ...]:
    """
    Return the columns of a table, each with its meaning.

    Parameters
    ----------
    headings : sequence of str
        Titles in the caller's order, each once.
    fields : mapping of str to str
        Dotted names of the request's fields, and what each takes.
    meanings : mapping of str to Meaning
        What the caller says of other headings.
    results : sequence of str
        Names of the result columns, which no column of a table may have.

    Raises
    ------
    ProblemError
        422 naming every heading at fault: one that is mapped and not there, that looks like a
        misspelt field, that a result has, or that means the same as another.
    """
    faults = _absent(headings, meanings)
    columns: list[Column] = []
    taken: dict[str, str] = {}
    for heading in headings:
        meaning = meanings.get(heading)
        if heading in results:
            detail = f"`{heading}` is the name of a result column; rename or remove this one."
            faults.append(FieldError(code="unknown_column", detail=detail, received=heading))
            continue
        field = heading if meaning is None and heading in fields else ""
        unit = ""
        if meaning is not None:
            field, unit = meaning.field, meaning.unit
        elif not field and (fault := _misspelt(heading, sorted(fields))) is not None:
            faults.append(fault)
            continue
        if field and field in taken:
            detail = f"`{taken[field]}` and `{heading}` are both `{field}`; keep one of them."
            faults.append(FieldError(code="repeated_column", detail=detail, received=heading))
            continue
        if field:
            taken[field] = heading
        columns.append(Column(heading, field, fields[field] if field else "own", unit))
    if faults:
        raise invalid_request(*faults)
    if not taken:
        detail = (
            "No heading of the table is a field of a dose. Headings are dotted names such as"
            " `plants.size`, `air.humidity_percent`, `product`, `water`, `volume_l`;"
            " `?columns=` gives others a meaning."
        )
        received = repeatable(headings[0]) if headings else None
        raise refusal("unknown_column", detail, received=received)
    return tuple(columns)


def plain_first(fields: Iterable[str]) -> list[str]:
    """Sort names so that `volume_l` and `water` come before the many parts of others."""
    return sorted(fields, key=lambda name: (name.count("."), name))


def _absent(headings: Sequence[str], meanings: Mapping[str, Meaning]) -> list[FieldError]:
    return [
        FieldError.unknown_word("unknown_column", "heading", heading, headings, parameter=PARAMETER)
        for heading in meanings
        if heading not in headings
    ]


def _misspelt(heading: str, fields: Sequence[str]) -> FieldError | None:
    """Return the fault of a heading that was probably meant to count."""
    meant = _meant_by(heading, fields)
    if meant:
        detail = (
            f"`{heading}` is not a column here. Did you mean `{'` or `'.join(meant[:3])}`?"
            " A column of your own is declared by `?columns=heading:-`."
        )
        return FieldError(code="unknown_column", detail=detail, received=heading, allowed=meant)
    groups = {name.split(".", 1)[0] for name in fields if "." in name}
    close = nearest(heading, fields)
    dotted = heading.split(".", 1)[0] in groups and "." in heading
    part = any(name.endswith("." + heading.strip().lower()) for name in fields)
    if dotted or part or (close is not None and _is_near(heading, close)):
        fault = FieldError.unknown_word("unknown_column", "column", heading, fields)
        if close is None:
            return fault
        name = repeatable(heading)
        hint = (
            f" `?columns={name}:{close}` gives it that meaning, `?columns={name}:-` makes it a"
            " column of your own."
        )
        return fault.model_copy(update={"detail": fault.detail + hint})
    return None


def _meant_by(heading: str, fields: Sequence[str]) -> list[str]:
    """
    Return the columns that a heading may mean which names only a part of them.

    Its group alone (`strength`), its last name alone (`size`), or that without the unit
    (`humidity`): a column so named was meant to count, and would be passed over in silence.
    """
    folded = heading.lower().replace("-", "_").replace(" ", "_")
    if folded in OWN_WORDS:
        return []
    by_name = [name for name in fields if name.rsplit(".", 1)[-1] == folded]
    by_group = [name for name in fields if name.startswith(f"{folded}.")]
    by_stem = [
        name
        for name in fields
        if name.rsplit(".", 1)[-1].startswith(f"{folded}_") and not name.startswith(OWN_CEILINGS)
    ]
    return sorted(by_name or by_group or by_stem, key=len)[:20]


def _is_near(heading: str, field: str) -> bool:
    """Tell a misspelt field from a word of the grower's own."""
    folded = heading.lower().replace("-", "_").replace(" ", "_")
    return folded == field or (len(folded) > 5 and abs(len(folded) - len(field)) <= 2)
