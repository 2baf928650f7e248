"""Doses for many rows: JSON or a table in, JSON, a table or a sheet to read out."""

from collections.abc import Mapping
from typing import Any, Final

import anyio.to_thread
from fastapi import Request
from starlette.responses import Response

from service.api.batch import planned_batch
from service.api.batch_answers import answer_of, answer_of_planned
from service.api.batch_contract import (
    BATCH_ANSWERS,
    MIX_PARAMETERS,
    TABLE_PARAMETERS,
    batch_body,
)
from service.api.batch_json import json_in_chunks, read_envelope
from service.api.batch_mixes import with_mixes
from service.api.contract import format_parameter
from service.api.formats.csv_dialect import Dialect, dialect_of
from service.api.formats.csv_table import too_many_rows
from service.api.json_body import parse_json
from service.api.limits import Limits
from service.api.negotiation import chosen_format, content_type_of
from service.api.problems import FieldError, invalid_request
from service.api.route import KINDS, POST_PROBLEMS, BatchRoute, contract_router
from service.api.schemas.batch_mixes import MixWishes
from service.api.schemas.doses_batch import (
    DOSE_BATCH_EXAMPLES,
    DoseBatchAnswer,
)
from service.api.spool import spooled
from service.api.table_sources import (
    CsvSource,
    NdjsonSource,
    Source,
    Wishes,
    WorkbookSource,
    asked_mixes,
)
from service.planning.catalogue import Catalogue

router = contract_router("mixing", route_class=BatchRoute)

OFFERED: Final = ("json", "ndjson", "csv", "xlsx", "txt", "html")
ONLY_OF: Final = {
    **dict.fromkeys(("columns", *MIX_PARAMETERS), ("csv", "xlsx")),
    "sheet": ("xlsx",),
}
"""Parameters that say something of a body, and the bodies of which they do."""


def read_json(body: bytes, most_rows: int) -> tuple[list[object], dict[str, Any], MixWishes | None]:
    """Return rows, defaults and wishes for mixes of a JSON body."""
    document = parse_json(body)
    if not isinstance(document, Mapping):
        detail = "The body is an object with `rows`."
        raise invalid_request(FieldError(pointer="#", code="not_an_object", detail=detail))
    rows_given = document.get("rows")
    if isinstance(rows_given, list) and len(rows_given) > most_rows:
        raise too_many_rows(most_rows, "#/rows")
    # The envelope is checked without its rows; each row is checked on its own.
    envelope = {**document, "rows": []} if isinstance(rows_given, list) else document
    defaults, mixes = read_envelope(envelope)
    return list(document["rows"]), defaults, mixes


def structured(
    body: bytes, wanted: str, dialect: Dialect, catalogue: Catalogue, most_rows: int
) -> Response:
    """Return the answer to a JSON batch."""
    answer = json_in_chunks(body, catalogue, most_rows) if wanted == "json" else None
    if answer is not None:
        return answer
    given, defaults, mixes = read_json(body, most_rows)
    batch = with_mixes(planned_batch(given, defaults, catalogue), mixes)
    return answer_of_planned(batch, wanted, dialect)


def tabular(
    kind: str, file: Any, wanted: str, wishes: Wishes, catalogue: Catalogue, limits: Limits
) -> Response:
    """Return the answer to a body in a file: CSV, a workbook, newline-delimited JSON."""
    try:
        if kind == "xlsx":
            source: Source = WorkbookSource(file.name, wishes, limits)
            file.close()
        elif kind == "csv":
            source = CsvSource(file, wishes, limits)
        else:
            source = NdjsonSource(file, wishes, limits)
    except BaseException:
        file.close()
        raise
    return answer_of(source, wanted, catalogue)


@router.post(
    "/doses/batch",
    operation_id="post_doses_batch",
    summary="What to mix for a whole house",
    response_model=DoseBatchAnswer,
    responses={**POST_PROBLEMS, 200: BATCH_ANSWERS},
    openapi_extra={
        "parameters": [*TABLE_PARAMETERS, *format_parameter(*OFFERED)["parameters"]],
        "requestBody": batch_body(DOSE_BATCH_EXAMPLES),
    },
)
async def post_doses_batch(request: Request) -> Response:
    """
    Give a dose for every row, in the order of the rows.

    **JSON**: `defaults` are merged into each of `rows`.

    **NDJSON**: one row on each line, of any number in little memory; the first line may be
    `{"defaults": {…}}`. The answer has one line for each row, in order, and a last line with
    `summary` and what else stands once. A line that cannot be read rejects its own row; blank
    lines are passed over.

    **CSV and workbooks** (`.xlsx`): headings are the dotted names of a dose (`plants.size`,
    `air.humidity_percent`, `water` or `water.ph`). `columns` gives other headings a meaning; what
    looks like a misspelt name is refused; every other column is the caller's own and comes back
    untouched, in its place, before the result columns. Blank rows stay where they are and are not
    counted. Of a workbook one sheet is read, hidden rows included, its first row that is not blank
    being the headings; formulas count with the results that were saved, a cell shown as a
    percentage counts as shown (60 %), and a date is no number. An answered workbook has the sheets
    `doses`, `cautions`, `assumptions` and `summary`, and with mixes `mixes` and `fillings`; its
    numbers are those of JSON.

    **Sheets** for the bench: `.txt` is plain text, `.html` a page that prints on A4 with boxes to
    tick, rows under the can that they take from.

    **Mixes** are asked for by `mixes` beside `rows`, on the first line of NDJSON, or by the query
    parameters `mixes.…` of a table. Rows that share a can are then planned together, not in parts.

    Without a format asked for, the answer has that of the body. A row that is wrong is `rejected`
    with its problems, each with `row` and, of a table, `column` and `cell`; it disturbs no other.
    Texts that a spreadsheet would run as a formula get an apostrophe in front in CSV; in a
    workbook they are texts.
    """
    media_type, charset = content_type_of(request.headers)
    kind = KINDS.get(media_type, "json")
    wanted = chosen_format(request, (kind, *(each for each in OFFERED if each != kind)))
    query = request.query_params
    dialect = dialect_of(query)
    for name, kinds in ONLY_OF.items():
        if name in query and kind not in kinds:
            detail = f"`{name}` says something of {' or '.join(kinds)}, not of {kind}."
            raise invalid_request(FieldError(parameter=name, code="not_allowed", detail=detail))
    state = request.app.state
    if kind == "json":
        body = await request.body()
        return await anyio.to_thread.run_sync(
            structured, body, wanted, dialect, state.catalogue, state.limits.batch_rows
        )
    mixes = asked_mixes(query)
    wishes = Wishes(dialect, charset, query.get("columns"), query.get("sheet"), mixes)
    file = await spooled(request)
    return await anyio.to_thread.run_sync(
        tabular, kind, file, wanted, wishes, state.catalogue, state.limits
    )
