"""An answer as JSON."""

from pydantic import BaseModel
from starlette.responses import Response

JSON: str = "application/json"


def json_bytes(answer: BaseModel) -> bytes:
    """Return an answer model as UTF-8 JSON, written by pydantic's own serialiser."""
    return answer.__pydantic_serializer__.to_json(answer)


def json_response(answer: BaseModel) -> Response:
    """
    Return a computed answer that no cache keeps.

    Handing FastAPI a finished response skips its second validation of the same model.
    """
    return Response(json_bytes(answer), headers={"Cache-Control": "no-store"}, media_type=JSON)
