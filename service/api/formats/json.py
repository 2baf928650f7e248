"""An answer as JSON."""

import json
from collections.abc import Sequence
from typing import Any, Final

from pydantic import BaseModel
from starlette.responses import Response

JSON: Final = "application/json"
ROWS_AT_ONCE: Final = 1_000
"""So many rows are written before other requests get their turn."""


def json_bytes(answer: BaseModel) -> bytes:
    """Return an answer model as UTF-8 JSON, written by pydantic's own serialiser."""
    return answer.__pydantic_serializer__.to_json(answer)


def json_response(answer: BaseModel) -> Response:
    """
    Return a computed answer that no cache keeps.

    Handing FastAPI a finished response skips its second validation of the same model.
    """
    return Response(json_bytes(answer), headers={"Cache-Control": "no-store"}, media_type=JSON)


def json_response_with_rows(answer: BaseModel, rows: Sequence[dict[str, Any]]) -> Response:
    """
    Return an answer whose `rows`, plain dictionaries with finite numbers, are written as they are.

    Building a model of every row only to write it again would take most of the time of a batch.
    """
    head, _, tail = json_bytes(answer).partition(b'"rows":[]')
    write = json.JSONEncoder(
        ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=plain
    ).encode
    chunks = (rows[start : start + ROWS_AT_ONCE] for start in range(0, len(rows), ROWS_AT_ONCE))
    written = ",".join(write(chunk)[1:-1] for chunk in chunks)
    body = b"".join((head, b'"rows":[', written.encode(), b"]", tail))
    return Response(body, headers={"Cache-Control": "no-store"}, media_type=JSON)


def plain(model: BaseModel) -> dict[str, Any]:
    """Return a model inside a row as JSON holds it; what it does not say is left out."""
    return model.model_dump(mode="json", exclude_none=True)
