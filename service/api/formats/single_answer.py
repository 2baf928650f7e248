"""
A single answer as its caller wants it: whole or in part, as JSON, a row, one number or XML.

A cell of a spreadsheet or a state of home automation shows what it gets, so that `.txt` is one
number or an error and never a zero that stands for nothing.
"""

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final
from xml.etree import ElementTree

from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from service.api.contract import SINGLE_FORMATS, UNITS
from service.api.formats.answer_writer import AnswerWriter
from service.api.formats.cells import safe_text
from service.api.formats.json import json_response
from service.api.negotiation import MEDIA_TYPES, chosen_format
from service.api.problems import FieldError, ProblemError, invalid_request
from service.units.display import in_words

NO_STORE: Final = {"Cache-Control": "no-store"}
ALWAYS: Final = "status"
"""Field that stands in every answer, whatever is chosen."""

LONGEST_NUMBER: Final = 32
LONGEST_REASON: Final = 240
"""Signs of a reason: a state of home automation holds 255, a small board reads a kilobyte."""

AROUND: Final = ("conflicts", "nearest", "inputs", "assumptions", "models", "sources", "version")
"""Fields about the answer, which a row of a table leaves out."""


@dataclass(frozen=True)
class Form:
    """
    The form of an answer that a request asks for.

    Attributes
    ----------
    name : str
        Key of `negotiation.MEDIA_TYPES`.
    field : str or None
        Dotted name of the one number of `txt`.
    fields : tuple of str or None
        Fields that are wanted; None for all.
    units : str
        One of `contract.UNITS`.
    """

    name: str
    field: str | None
    fields: tuple[str, ...] | None
    units: str


NO_PAGES: Final[Mapping[str, Any]] = MappingProxyType({})
PLAIN: Final = Form("json", None, None, UNITS[0])


def asked_form(
    request: Request, model: type[BaseModel], offered: tuple[str, ...] = SINGLE_FORMATS
) -> Form:
    """
    Return the form that a request asks for, before anything is computed.

    Parameters
    ----------
    request : Request
        Its suffix, `?format=`, `Accept`, `?field=`, `?fields=` and `?units=`.
    model : type of BaseModel
        The answer, whose fields can be chosen.
    offered : tuple of str
        Formats of the path.

    Raises
    ------
    ProblemError
        406 for another format, 422 for a field that the answer does not have.
    """
    name = chosen_format(request, offered)
    if name == "json" and not request.scope.get("query_string"):
        return PLAIN
    query = request.query_params
    field, chosen = query.get("field"), query.get("fields")
    units = query.get("units", UNITS[0])
    known = list(model.model_fields)
    if units not in UNITS:
        raise invalid_request(
            FieldError.unknown_word(
                "not_allowed", "system of units", units, UNITS, parameter="units"
            )
        )
    if name == "txt":
        if field is None:
            raise invalid_request(_missing_field(known))
        _check_known(field.partition(".")[0], known, "field")
    elif field is not None:
        detail = "`field` belongs to `.txt`, which is one number; use `fields` here."
        raise invalid_request(
            FieldError(parameter="field", code="not_allowed", detail=detail, received=field[:100])
        )
    fields = None
    if chosen is not None:
        fields = tuple(part.strip() for part in chosen.split(","))
        for part in fields:
            _check_known(part, known, "fields")
    return Form(name, field, fields, units)


def _missing_field(known: list[str]) -> FieldError:
    return FieldError(
        parameter="field",
        code="missing",
        detail="`.txt` is one number: say which with `field`, such as `field=volume_l`.",
        allowed=known,
    )


def _check_known(name: str, known: list[str], parameter: str) -> None:
    if name not in known:
        raise invalid_request(
            FieldError.unknown_word("unknown_field", "field", name, known, parameter=parameter)
        )


Pages = Mapping[str, Callable[[Any, Mapping[str, str]], str]]
"""How an answer, with its texts in other units, is written for people, by format."""


def written(answer: BaseModel, form: Form, pages: Pages = NO_PAGES) -> Response:
    """
    Return an answer in its form.

    Parameters
    ----------
    answer : BaseModel
        The answer.
    form : Form
        What `asked_form` found.
    pages : mapping of str to callable
        How a format for people is written.

    Raises
    ------
    ProblemError
        422 `no_value` for one number that this answer does not have.
    """
    if form == PLAIN:
        return json_response(answer)
    values: dict[str, Any] = answer.model_dump(mode="json")
    if form.units != UNITS[0] and "display" in values:
        values["display"] = dict(_displayed(values, form.units))
    if form.name in pages:
        body = pages[form.name](answer, values.get("display", {}))
        return Response(body, headers=NO_STORE, media_type=MEDIA_TYPES[form.name])
    if form.name == "txt":
        return Response(
            _one_number(values, str(form.field)), headers=NO_STORE, media_type="text/plain"
        )
    if form.fields is not None:
        kept = {ALWAYS, *form.fields}
        values = {name: value for name, value in values.items() if name in kept}
    if form.name == "csv":
        body = _one_row(values, everything=form.fields is not None)
        return Response(body, headers=NO_STORE, media_type=MEDIA_TYPES["csv"])
    if form.name == "xml":
        return Response(_xml(values), headers=NO_STORE, media_type=MEDIA_TYPES["xml"])
    body = json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(body, headers=NO_STORE, media_type=MEDIA_TYPES["json"])


def written_fields(
    fields: Mapping[str, Any], writer: AnswerWriter, form: Form, pages: Pages = NO_PAGES
) -> Response:
    """
    Return an answer in its form, from its fields.

    Parameters
    ----------
    fields : mapping
        Fields of the writer's model, not yet rounded.
    writer : AnswerWriter
        Writes the usual form, which needs no model.
    form : Form
        What `asked_form` found.
    pages : mapping of str to callable
        How a format for people is written.

    Raises
    ------
    ProblemError
        422 `no_value` for one number that this answer does not have.
    """
    if form == PLAIN:
        return Response(writer.bytes(fields), headers=NO_STORE, media_type=MEDIA_TYPES["json"])
    return written(writer.model(**fields), form, pages)


def _one_number(values: dict[str, Any], field: str) -> str:
    """Return one number of an answer as a bare text; refuse where it has none."""
    if values.get(ALWAYS) != "ok":
        raise _no_value(field, _nothing_to_mix(values), None)
    found: Any = values
    for part in field.split("."):
        found = found.get(part) if isinstance(found, dict) else None
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise _no_value(field, f"`{field}` is not a number of this answer.", list(_numbers(values)))
    text = repr(found)
    return text if len(text) <= LONGEST_NUMBER else f"{found:.12g}"


def _nothing_to_mix(values: dict[str, Any]) -> str:
    """Return why there is no number: what is in the way, in the words of the answer."""
    reasons = [str(each["message"]) for each in values.get("conflicts") or ()]
    said = " ".join(["Nothing may be mixed as it was asked.", *reasons])
    return said if len(said) <= LONGEST_REASON else f"{said[: LONGEST_REASON - 1]}…"


def _no_value(field: str, detail: str, allowed: list[str] | None) -> ProblemError:
    return invalid_request(
        FieldError(
            parameter="field", code="no_value", detail=detail, received=field[:100], allowed=allowed
        )
    )


def _numbers(values: dict[str, Any], prefix: str = "") -> Iterator[str]:
    """Yield the dotted names of the numbers of an answer that are there."""
    for name, value in values.items():
        if name in AROUND or name == "display":
            continue
        if isinstance(value, dict):
            yield from _numbers(value, f"{prefix}{name}.")
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield prefix + name


def _displayed(values: dict[str, Any], units: str, prefix: str = "") -> Iterator[tuple[str, str]]:
    """Yield name and text of every number of an answer that people word in other units."""
    for name, value in values.items():
        path = prefix + name
        if name in AROUND or name == "display":
            continue
        if isinstance(value, dict):
            yield from _displayed(value, units, f"{path}.")
        elif isinstance(value, list):
            for place, each in enumerate(value):
                if isinstance(each, dict):
                    yield from _displayed(each, units, f"{path}.{place}.")
        elif isinstance(value, int | float) and not isinstance(value, bool):
            text = in_words(float(value), name, units)
            if text is not None:
                yield path, text


def _flat(values: dict[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Yield name and value of every field that is one thing."""
    for name, value in values.items():
        path = prefix + name
        if isinstance(value, dict):
            yield from _flat(value, f"{path}.")
        elif name == "cautions" and isinstance(value, list):
            yield path, " ".join(each["code"] for each in value)
        elif not isinstance(value, list):
            yield path, value


def _one_row(values: dict[str, Any], *, everything: bool) -> str:
    """Return headings and one row; lists other than the codes of cautions stay in the JSON."""
    left_out = AROUND if everything else ()
    cells = dict(_flat({name: value for name, value in values.items() if name not in left_out}))
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow(cells)
    table.writerow(
        "" if value is None else safe_text(value) if isinstance(value, str) else value
        for value in cells.values()
    )
    return text.getvalue()


def _xml(values: dict[str, Any]) -> bytes:
    """Return an answer as XML: one element for each field, empty where it is null."""
    root = ElementTree.Element("answer")
    for name, value in values.items():
        if name not in AROUND:
            _element(root, name, value)
    text: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return text


def _element(parent: ElementTree.Element, name: str, value: Any) -> None:
    """Add a field; the entries of a list are elements `entry`."""
    element = ElementTree.SubElement(parent, name if name.isidentifier() else "entry")
    if element.tag != name:
        element.set("name", name)
    if isinstance(value, dict):
        for inner, each in value.items():
            _element(element, inner, each)
    elif isinstance(value, list):
        for each in value:
            _element(element, "entry", each)
    elif isinstance(value, bool):
        element.text = "true" if value else "false"
    elif value is not None:
        element.text = "".join(sign for sign in str(value) if sign >= " " or sign in "\t\n")
