"""Doses for many rows: JSON or a table in, JSON, a table or a sheet to read out."""

from collections.abc import Mapping
from typing import Any, Final

import anyio.to_thread
from fastapi import Request
from pydantic import ValidationError
from starlette.responses import Response

from service.api.batch import MIX_FIELDS, ROW_FIELDS, Batch, planned_batch
from service.api.batch_mixes import mixes_of, with_mixes
from service.api.contract import format_parameter, named_examples
from service.api.formats.csv_table import (
    DELIMITERS,
    Table,
    check_headings,
    nested,
    read_csv,
    with_decimal_points,
    write_csv,
)
from service.api.formats.json import json_response_with_rows
from service.api.formats.text_sheet import mixing_sheet
from service.api.json_body import parse_json
from service.api.negotiation import chosen_format, content_type_of
from service.api.problems import FieldError, ProblemError, invalid_request
from service.api.provenance import versions
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, BatchRoute, contract_router
from service.api.schemas.batch_mixes import MixWishes
from service.api.schemas.doses import DoseRequest
from service.api.schemas.doses_batch import (
    DOSE_BATCH_EXAMPLES,
    DoseBatchAnswer,
    DoseBatchRequest,
)
from service.api.validation import field_errors
from service.planning.catalogue import Catalogue
from service.planning.evidence import SOLUTION_MODELS, SOLUTION_SOURCES, STRENGTH_MODELS

router = contract_router("mixing", route_class=BatchRoute)

COLUMNS: Final = frozenset(QueryTwin(DoseRequest).schemas)
"""Headings of a table that are fields of a row: the dotted names of a dose."""

TEXT_COLUMNS: Final = frozenset(("id", "product.name", "plants.profile.name"))
"""Columns of free text, in which a comma is a comma."""

RESULT_COLUMNS: Final = ("status", "solution_volume_l", *ROW_FIELDS[1:], "cautions", "problems")
"""
Columns that an answered table gets after the caller's own; `solution_volume_l` is the volume in
litres, whatever unit the caller's `volume_l` was in.
"""

OFFERED: Final = ("json", "csv", "txt")
TABLE: Final = "text/csv"

TABLE_PARAMETERS: Final = (
    {
        "name": "delimiter",
        "in": "query",
        "required": False,
        "description": "What separates the cells of a table, in and out; found from its heading"
        " line when absent.",
        "schema": {"type": "string", "enum": list(DELIMITERS)},
        "example": "comma",
    },
    {
        "name": "decimal",
        "in": "query",
        "required": False,
        "description": "Decimal sign of the numbers of a table, in and out; `point` if absent.",
        "schema": {"type": "string", "enum": ["point", "comma"], "default": "point"},
        "example": "point",
    },
)


def batch_body(examples: Mapping[str, tuple[str, Any]]) -> dict[str, Any]:
    """Return the OpenAPI request body of a batch: JSON, or a table."""
    return {
        "required": True,
        "content": {
            "application/json": {
                "schema": {"$ref": "#/components/schemas/DoseBatchRequest"},
                "examples": named_examples(**examples),
            },
            TABLE: {
                "schema": {"type": "string", "maxLength": 134_217_728},
                "examples": named_examples(**TABLE_EXAMPLES),
            },
        },
    }


TABLE_ANSWERS: Final[dict[str, Any]] = {
    "content": {
        TABLE: {
            "schema": {"type": "string", "description": "The table with the result columns added."}
        },
        "text/plain": {
            "schema": {"type": "string", "description": "The mixing sheet, to read or to print."}
        },
    }
}

_HEADINGS: Final = (
    "id,bench,plants.size,air.humidity_percent,air.temperature_celsius,product,water,volume_l\n"
)
TABLE_EXAMPLES: Final[dict[str, tuple[str, str]]] = {
    "metric": (
        "Two groups; `bench` is a column of the grower's own",
        _HEADINGS
        + "a,north,large,60,22,feed_13_3_15_ca_mg,rain,10\n"
        + "b,north,mini,60,22,feed_13_3_15_ca_mg,rain,4\n",
    ),
    "us": (
        "Gallons and degrees Fahrenheit",
        _HEADINGS + "a,sill,medium,55,72 F,feed_13_3_15_ca_mg,rain,2 gal\n",
    ),
    "caution": (
        "A miniature on hard tap water: the water alone is too strong",
        _HEADINGS + "a,sill,mini,50,22,feed_20_20_20,hard_tap,3\n",
    ),
}


def read_json(body: bytes, most_rows: int) -> tuple[list[object], dict[str, Any], MixWishes | None]:
    """Return rows, defaults and wishes for mixes of a JSON body."""
    document = parse_json(body)
    if not isinstance(document, Mapping):
        detail = "The body is an object with `rows`."
        raise invalid_request(FieldError(pointer="#", code="not_an_object", detail=detail))
    rows_given = document.get("rows")
    if isinstance(rows_given, list) and len(rows_given) > most_rows:
        raise _too_many(most_rows)
    # The envelope is checked without its rows; each row is checked on its own.
    envelope = {**document, "rows": []} if isinstance(rows_given, list) else document
    try:
        read = DoseBatchRequest.model_validate(envelope)
    except ValidationError as error:
        errors = [{**each, "loc": ("body", *each["loc"])} for each in error.errors()]
        raise invalid_request(*field_errors(errors, DoseBatchRequest)) from None
    return list(document["rows"]), dict(document.get("defaults") or {}), read.mixes


def _too_many(most_rows: int) -> ProblemError:
    detail = f"The batch has more than {most_rows} rows; split it. See /v1/limits."
    fault = FieldError(pointer="#/rows", code="too_many", detail=detail, allowed=str(most_rows))
    return ProblemError("too_large", detail, [fault])


def table_rows(table: Table, decimal: str) -> list[object]:
    """Return the rows of a table as JSON would hold them."""
    fields = set(COLUMNS)
    if decimal != "comma":
        return [nested(table.headings, record, fields) for record in table.records]
    numbers = [place for place, name in enumerate(table.headings) if name not in TEXT_COLUMNS]
    return [
        nested(table.headings, _decimals_read(record, numbers), fields) for record in table.records
    ]


def _decimals_read(record: list[str], places: list[int]) -> list[str]:
    """Return a record whose decimal commas in these places have become points."""
    cells = with_decimal_points([record[place] for place in places])
    read = list(record)
    for place, cell in zip(places, cells, strict=True):
        read[place] = cell
    return read


def explain_whole_and_part(batch: Batch) -> None:
    """Say of a preset that stands beside its parts what it is: two answers to one question."""
    for outcome in batch.outcomes:
        outcome.problems[:] = [
            _whole_and_part(each) if (each.pointer or "").endswith("/") else each
            for each in outcome.problems
        ]


def _whole_and_part(fault: FieldError) -> FieldError:
    column = _column(fault).rstrip(".")
    detail = f"`{column}` is given as a whole and in part (`{column}.…`); give one of them."
    return fault.model_copy(
        update={
            "pointer": f"#/{column.replace('.', '/')}",
            "code": "contradiction",
            "detail": detail,
            "allowed": None,
        }
    )


def answered_table(batch: Batch, table: Table, decimal: str) -> bytes:
    """Return the caller's table with the result columns added."""
    answers = batch.answers
    filled = (
        [*record, *_result_cells(answer)]
        for record, answer in zip(table.records, answers, strict=True)
    )
    chosen = "comma" if decimal == "comma" else "point"
    headings = [*table.headings, *RESULT_COLUMNS]
    return write_csv(headings, filled, table.delimiter, chosen)  # type: ignore[arg-type]


def plain_table(batch: Batch) -> bytes:
    """Return the results of a JSON batch as a table."""
    mixed = () if batch.mixes is None else MIX_FIELDS
    filled = (
        [answer["id"], *_result_cells(answer), *(answer[name] for name in mixed)]
        for answer in batch.answers
    )
    return write_csv(["id", "status", *ROW_FIELDS, "cautions", "problems", *mixed], filled)


def _result_cells(answer: dict[str, Any]) -> list[object]:
    return [
        answer["status"],
        *(answer[name] for name in ROW_FIELDS),
        *_notes(answer),
    ]


def _notes(answer: dict[str, Any]) -> list[object]:
    problems = [f"{_column(fault)}: {fault.detail}" for fault in answer["problems"]]
    return [" ".join(answer["cautions"]), " | ".join(problems)]


def _column(fault: FieldError) -> str:
    return (fault.pointer or "#").removeprefix("#/").replace("/", ".") or "row"


def json_answer(batch: Batch) -> Response:
    """Return a planned batch as JSON."""
    answer = DoseBatchAnswer(
        status="ok",
        summary=batch.summary(),
        rows=[],
        **mixes_of(batch),
        assumptions=batch.assumptions(),
        cautions=batch.cautions(),
        models=[*STRENGTH_MODELS, *SOLUTION_MODELS],
        sources=list(SOLUTION_SOURCES),
        version=versions(),
    )
    return json_response_with_rows(answer, batch.answers)


def tabular(body: bytes, request: Request, catalogue: Catalogue, most_rows: int) -> Response:
    """Return the answer to a table: the same table with results, or another format."""
    query = request.query_params
    decimal = query.get("decimal", "point")
    table = read_csv(body, query.get("delimiter"), most_rows)  # type: ignore[arg-type]
    own = check_headings(table.headings, sorted(COLUMNS), RESULT_COLUMNS)
    batch = planned_batch(table_rows(table, decimal), {}, catalogue)
    explain_whole_and_part(batch)
    places = [table.headings.index(heading) for heading in own]
    for outcome, record in zip(batch.outcomes, table.records, strict=True):
        outcome.remark = "; ".join(record[place] for place in places if record[place].strip())
    chosen = chosen_format(request, ("csv", "json", "txt"))
    if chosen == "csv":
        return _table_response(answered_table(batch, table, decimal))
    return _sheet_response(batch) if chosen == "txt" else json_answer(batch)


def _table_response(content: bytes) -> Response:
    return Response(
        content,
        media_type=f"{TABLE}; charset=utf-8; header=present",
        headers={
            "Cache-Control": "no-store",
            "Content-Disposition": 'inline; filename="doses.csv"',
        },
    )


def _sheet_response(batch: Batch) -> Response:
    return Response(
        mixing_sheet(batch),
        media_type="text/plain; charset=utf-8",
        headers={"Cache-Control": "no-store"},
    )


def structured(body: bytes, request: Request, catalogue: Catalogue, most_rows: int) -> Response:
    """Return the answer to a JSON batch."""
    given, defaults, wishes = read_json(body, most_rows)
    batch = with_mixes(planned_batch(given, defaults, catalogue), wishes)
    chosen = chosen_format(request, OFFERED)
    if chosen == "csv":
        return _table_response(plain_table(batch))
    return _sheet_response(batch) if chosen == "txt" else json_answer(batch)


@router.post(
    "/doses/batch",
    operation_id="post_doses_batch",
    summary="What to mix for a whole house",
    response_model=DoseBatchAnswer,
    responses={**POST_PROBLEMS, 200: TABLE_ANSWERS},
    openapi_extra={
        "parameters": [*TABLE_PARAMETERS, *format_parameter(*OFFERED)["parameters"]],
        "requestBody": batch_body(DOSE_BATCH_EXAMPLES),
    },
)
async def post_doses_batch(request: Request) -> Response:
    """
    Give a dose for every row, in the order of the rows.

    Rows come as JSON (`defaults` merged into each of `rows`) or as a CSV table whose headings are
    the dotted names of a dose (`plants.size`, `air.humidity_percent`, `water` or `water.ph`); other
    columns are the caller's own and come back untouched. A row that is wrong is `rejected` with
    its problems and disturbs no other.
    """
    chosen_format(request, OFFERED)
    check_choice(request, "delimiter", tuple(DELIMITERS))
    check_choice(request, "decimal", ("point", "comma"))
    body = await request.body()
    media_type, _ = content_type_of(request.headers)
    read = tabular if media_type == TABLE else structured
    state = request.app.state
    return await anyio.to_thread.run_sync(
        read, body, request, state.catalogue, state.limits.batch_rows
    )


def check_choice(request: Request, name: str, allowed: tuple[str, ...]) -> None:
    """Refuse a query parameter that is not one of its words."""
    given = request.query_params.get(name)
    if given is not None and given not in allowed:
        raise invalid_request(
            FieldError.unknown_word("not_allowed", name, given, allowed, parameter=name)
        )
