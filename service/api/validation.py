"""From the errors of pydantic to the faults that a problem document lists."""

import types
from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Any, Final, Union, get_args, get_origin
from urllib.parse import quote

from pydantic import BaseModel, ConfigDict, Field

from service.api.received import Received, repeatable
from service.api.suggestions import KEY_PATTERN, as_key, nearest

LABEL_CODES: Final[Mapping[str, str]] = {
    "both_element_and_oxide": "A label states one nutrient as an element and as an oxide.",
    "conductivity_disagrees": "The conductivity on a label is far from that of its ions.",
    "conductivity_without_nitrogen": "A label states a conductivity per nitrogen, but no nitrogen.",
    "density_required": "A liquid whose label is by mass needs its density.",
    "empty_label": "A label states no nutrient.",
    "nitrogen_form_impossible": "A label states more nitrogen in one form than any substance has.",
    "nitrogen_forms_disagree": "The forms of nitrogen on a label exceed its total nitrogen.",
    "sum_above_100_percent": "What a label states weighs more than the product.",
    "unknown_nutrient": "A label states something that is no nutrient.",
    "volume_basis_of_solid": "A label by volume belongs to a liquid.",
}
"""Faults of a product's label that only its chemistry can tell."""

FAULT_CODES: Final[Mapping[str, str]] = {
    **LABEL_CODES,
    "boolean": "A number is needed, not true or false.",
    "date_cell": "A cell holds a date where something else is needed.",
    "decimal_comma": "Numbers have a decimal point; a comma is never guessed at.",
    "digit_grouping": "Write the digits of a number without separators.",
    "duplicate_key": "An object names the same key twice; which value counts is unclear.",
    "encoding": "The body is not UTF-8, or not in the charset that it says.",
    "encrypted": "The workbook is protected by a password; save it without one.",
    "error_cell": "A cell of a workbook holds an error, such as a division by zero.",
    "expression": "A number and a unit are read, never a calculation.",
    "formula_without_value": "A formula was saved without its result; formulas are never computed.",
    "macros": "The workbook holds macros; save it as a plain workbook (.xlsx).",
    "malformed": "The text does not have the form that is asked for.",
    "malformed_json": "The body is not well-formed JSON.",
    "merged_cells": "Merged cells hold one value for many places; every place needs its own.",
    "missing": "A field that is needed is not there.",
    "no_value": "The answer has no such number, or nothing is to be mixed as it was asked.",
    "not_a_boolean": "True or false is needed.",
    "not_a_list": "A list is needed.",
    "not_a_number": "A number is needed, or a text of a number and a unit.",
    "not_a_text": "A text is needed.",
    "not_a_whole_number": "A whole number is needed.",
    "not_a_workbook": "The body is not a workbook of the kind `.xlsx` that can be read.",
    "not_allowed": "The value is not one of the allowed words.",
    "not_an_object": "An object is needed.",
    "not_finite": "NaN and infinities are not numbers here.",
    "out_of_range": "The number is outside the plausible range of the field.",
    "contradiction": "Two fields of the request cannot stand together.",
    "dates_out_of_order": "A period ends before it begins.",
    "period_too_long": "A calendar covers at most two years.",
    "phases_overlap": "Two phases of growth share a day; which one counts is unclear.",
    "role_unclear": "What a product holds does not tell what it is for; say its `role`.",
    "repeated_column": "Two columns of a table have one heading, or one meaning.",
    "repeated_parameter": "A query parameter stands twice; which value counts is unclear.",
    "separator_unclear": "What separates the cells of a table cannot be told from its headings.",
    "text_too_long": "The text is longer than any number with a unit.",
    "too_deep": "The body is nested too deeply.",
    "too_few": "The list or text is too short.",
    "too_many": "The list or text is too long.",
    "unknown_basis": "The object does not say, in a word that is known, which kind it is.",
    "unknown_column": "A heading of a table is no field of a row, or not in the table.",
    "unknown_field": "The object has a field that does not exist here; nothing is ignored.",
    "unknown_key": "The key is not in the catalogue.",
    "unknown_sheet": "The workbook has no sheet of that name.",
    "unknown_parameter": "The address has a query parameter that does not exist here.",
    "unknown_unit": "The unit is not known for this quantity.",
    "wrong_dimension": "The unit is known but measures something else.",
    "value_unavailable": "The value is the word of a sensor that has no reading.",
}
"""Codes of single faults and what each means, as `/problems/{code}` says it."""

PLACES: Final = ("body", "query", "path", "header", "cookie")
"""First parts of a place, as FastAPI writes them; no field of ours has such a name."""

_CODE_BY_PYDANTIC_TYPE: Final[Mapping[str, str]] = {
    "missing": "missing",
    "extra_forbidden": "unknown_field",
    "literal_error": "not_allowed",
    "enum": "not_allowed",
    "string_type": "not_a_text",
    "string_pattern_mismatch": "malformed",
    "string_too_long": "too_many",
    "string_too_short": "too_few",
    "too_long": "too_many",
    "too_short": "too_few",
    "list_type": "not_a_list",
    "model_type": "not_an_object",
    "model_attributes_type": "not_an_object",
    "dict_type": "not_an_object",
    "bool_type": "not_a_boolean",
    "bool_parsing": "not_a_boolean",
    "float_type": "not_a_number",
    "float_parsing": "not_a_number",
    "finite_number": "not_finite",
    "int_type": "not_a_whole_number",
    "int_parsing": "not_a_whole_number",
    "int_from_float": "not_a_whole_number",
    "greater_than": "out_of_range",
    "greater_than_equal": "out_of_range",
    "less_than": "out_of_range",
    "less_than_equal": "out_of_range",
    "date_from_datetime_parsing": "malformed",
    "date_parsing": "malformed",
    "date_type": "malformed",
    "json_invalid": "malformed_json",
}


class FieldError(BaseModel):
    """One fault of a request: where it is, what it is, what was received, what is allowed."""

    model_config = ConfigDict(extra="forbid")

    pointer: str | None = Field(
        default=None,
        description="JSON pointer into the body, as a URI fragment (RFC 6901): `#/water/ph`.",
        max_length=500,
    )
    parameter: str | None = Field(
        default=None,
        description="Name of the query parameter, path parameter or header.",
        max_length=200,
    )
    row: int | None = Field(
        default=None,
        description="Row of the sheet, or line of the file, counted from 1, headings included.",
        ge=1,
    )
    column: str | None = Field(
        default=None, description="Heading of the column, as it was sent.", max_length=200
    )
    cell: str | None = Field(
        default=None, description="Cell of a workbook, such as `C7`.", max_length=20
    )
    code: str = Field(
        description="Stable code of the fault; `/problems/{code}` explains it.", max_length=80
    )
    detail: str = Field(description="What is wrong and how to mend it.", max_length=1_000)
    received: Received = Field(
        default=None, description="What was received; long texts are cut, containers described."
    )
    allowed: list[str] | str | None = Field(
        default=None, description="What is allowed: a list of words, or a range or form as text."
    )

    @classmethod
    def unknown_word(
        cls,
        code: str,
        noun: str,
        received: object,
        allowed: Sequence[str],
        *,
        pointer: str | None = None,
        parameter: str | None = None,
    ) -> "FieldError":
        """Return the fault of a word that is not one of a list, with the nearest of them."""
        shown = repeatable(received)
        suggestion = nearest(received, allowed) if isinstance(received, str) else None
        if suggestion is not None:
            hint = f" Did you mean `{suggestion}`?"
        elif len(allowed) <= 12:
            hint = f" Allowed: {', '.join(allowed)}." if allowed else ""
        else:
            hint = ""
        return cls(
            pointer=pointer,
            parameter=parameter,
            code=code,
            detail=f"`{shown}` is not a {noun} here.{hint}",
            received=shown,
            allowed=[suggestion] if suggestion and len(allowed) > 60 else list(allowed)[:60],
        )


def tag(name: str) -> str:
    """
    Return the label of a member of a union, in a form that no field name has.

    pydantic puts the labels into the place of an error; the brackets tell them from fields.
    """
    return f"⟨{name}⟩"


def is_tag(part: object) -> bool:
    """Tell whether a part of the place of an error is no field: a union's member, a map's key."""
    if part == "[key]":
        return True
    return isinstance(part, str) and part.startswith("⟨") and part.endswith("⟩")


def json_pointer(path: Iterable[str | int]) -> str:
    """Return the JSON pointer of a path, as a URI fragment."""
    parts = (str(part)[:80].replace("~", "~0").replace("/", "~1") for part in path)
    escaped = (quote(part.encode("utf-8", "replace"), safe="~!$&'()*+,;=:@_.-") for part in parts)
    return ("#" + "".join("/" + part for part in escaped))[:500]


def field_errors(
    errors: Sequence[Any],
    model: type[BaseModel] | None = None,
) -> list[FieldError]:
    """
    Return the faults that a list of pydantic errors stands for.

    Parameters
    ----------
    errors : sequence
        What `.errors()` of a validation error gives, as FastAPI hands it on: the first part of
        each place is `body`, `query`, `path` or `header`. Places without one count as body.
    model : type of BaseModel, optional
        The model of the body; its field names are the candidates for "did you mean".

    Returns
    -------
    list of FieldError
        In the order of the request. A misspelt name that pydantic reports twice, once as unknown
        and once as missing, appears once.
    """
    missing: dict[tuple[str | int, ...], list[str]] = {}
    for error in errors:
        loc = tuple(error["loc"])
        if error["type"] == "missing" and loc:
            missing.setdefault(loc[:-1], []).append(str(loc[-1]))
    explained: set[tuple[str | int, ...]] = set()
    found: list[FieldError] = []
    for error in errors:
        if error["type"] != "extra_forbidden":
            continue
        loc = tuple(error["loc"])
        inside = loc[1:-1] if loc[0] in PLACES else loc[:-1]
        names = _field_names(model, inside) or missing.get(loc[:-1], [])
        absent = missing.get(loc[:-1], [])
        meant = nearest(str(loc[-1]), absent) or nearest(str(loc[-1]), names)
        if meant in absent:
            explained.add((*loc[:-1], meant))
        found.append(_unknown_field(loc, error.get("input"), meant, names))
    for error in errors:
        loc = tuple(error["loc"])
        if error["type"] != "extra_forbidden" and loc not in explained:
            found.append(_fault(error, loc))
    return found


def _place(loc: tuple[str | int, ...]) -> dict[str, str]:
    """Return the pointer of a place in the body, or the name of a parameter."""
    path = [part for part in loc if not is_tag(part)]
    if path and path[0] in PLACES:
        where, *path = path
        if where != "body":
            return {"parameter": ".".join(str(part) for part in path)[:200]}
    return {"pointer": json_pointer(path)}


def _unknown_field(
    loc: tuple[str | int, ...], received: object, meant: str | None, names: Sequence[str]
) -> FieldError:
    parameter = loc[0] == "query"
    noun = "parameter" if parameter else "field"
    name = repeatable(str(loc[-1]))
    hint = f" Did you mean `{meant}`?" if meant else ""
    if not meant and names and len(names) <= 12:
        hint = f" Fields here: {', '.join(sorted(names))}."
    return FieldError(
        **_place(loc),
        code=f"unknown_{noun}",
        detail=f"`{name}` is not a {noun} here.{hint}",
        received=repeatable(received),
        allowed=[meant] if meant else sorted(names)[:60] or None,
    )


def _fault(error: Mapping[str, Any], loc: tuple[str | int, ...]) -> FieldError:
    kind = str(error["type"])
    context: Mapping[str, Any] = error.get("ctx") or {}
    name = _name_of(loc)
    shown = repeatable(error.get("input"))
    place = _place(loc)
    if kind in FAULT_CODES and (kind != "missing" or "detail" in context):
        # One of ours: the context carries what the fault needs to say.
        received = error.get("input")
        if kind == "unknown_basis" and isinstance(received, dict):
            place = _place((*loc, "basis"))
            shown = repeatable(received.get("basis"))
        if "field" in context:
            place = _place((*loc, str(context["field"])))
        allowed = context.get("allowed")
        given = repeatable(context["received"]) if "received" in context else shown
        return FieldError(
            **place,
            code=kind,
            detail=str(context.get("detail") or error["msg"])[:1_000],
            received=given,
            allowed=allowed if isinstance(allowed, list) or allowed is None else str(allowed),
        )
    code = _CODE_BY_PYDANTIC_TYPE.get(kind, "malformed")
    if code == "missing":
        whole = loc in (("body",), ())
        what = "The request needs a JSON body." if whole else f"`{name}` is missing."
        return FieldError(**place, code=code, detail=what)
    if code == "not_allowed":
        words = _expected_words(context.get("expected", ""))
        meant = nearest(shown, words) if isinstance(shown, str) else None
        hint = f" Did you mean `{meant}`?" if meant else ""
        detail = f"`{name}` must be one of {', '.join(words)}, not {_quoted(shown)}.{hint}"
        return FieldError(**place, code=code, detail=detail, received=shown, allowed=words)
    allowed_text = _bounds_text(context)
    detail = f"`{name}`: {FAULT_CODES[code]}"
    if context.get("pattern") == KEY_PATTERN:
        key = as_key(shown) if isinstance(shown, str) else None
        detail = (
            f"`{name}`: Keys are of small letters, digits and `_`{f', so `{key}`' if key else ''};"
            " the lists of products, plants, waters and acids have them all."
        )
    elif allowed_text:
        detail += f" Allowed: {allowed_text}."
    return FieldError(**place, code=code, detail=detail, received=shown, allowed=allowed_text)


def _name_of(loc: tuple[str | int, ...]) -> str:
    """Return the last name of a place; of an entry of a list that of the list, and its number."""
    number = ""
    for part in reversed(loc):
        if isinstance(part, int):
            number = f"[{part}]{number}"
        elif not is_tag(part):
            return f"{part}{number}"
    return f"body{number}"


def _quoted(shown: Received) -> str:
    return f"`{shown}`" if isinstance(shown, str) else str(shown).lower()


def _expected_words(text: str) -> list[str]:
    """Return the words of pydantic's "'a', 'b' or 'c'"."""
    return [part for part in text.replace(" or ", ", ").replace("'", "").split(", ") if part]


def _bounds_text(context: Mapping[str, Any]) -> str | None:
    words = {
        "gt": "more than",
        "ge": "at least",
        "lt": "less than",
        "le": "at most",
        "min_length": "at least",
        "max_length": "at most",
        "pattern": "the form",
    }
    parts = [f"{word} {context[key]}" for key, word in words.items() if key in context]
    return " and ".join(parts) or None


def _field_names(model: type[BaseModel] | None, path: Sequence[str | int]) -> list[str]:
    """Return the names of the fields that exist at a path of a model."""
    here = [model] if isinstance(model, type) and issubclass(model, BaseModel) else []
    for part in path:
        if isinstance(part, int):
            continue
        if is_tag(part):
            here = [each for each in here if getattr(each, "union_tag", part) == part]
            continue
        here = [
            inner
            for each in here
            if part in each.model_fields
            for inner in _models_in(each.model_fields[part].annotation)
        ]
    return sorted({name for each in here for name in each.model_fields})


def _models_in(annotation: object) -> list[type[BaseModel]]:
    """Return every model that a type mentions: inside unions, lists and mappings."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    if get_origin(annotation) is Annotated:
        return _models_in(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType, list, dict, tuple):
        return [model for part in get_args(annotation) for model in _models_in(part)]
    return []
