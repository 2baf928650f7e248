"""The route class of the contract: what is checked before a request reaches its endpoint."""

from collections.abc import Callable, Coroutine, Mapping, Sequence
from typing import Any, ClassVar, Final
from urllib.parse import unquote

from fastapi import APIRouter
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from starlette.requests import Request
from starlette.responses import Response

from service.api.assumptions import collected_assumptions
from service.api.formats.csv_dialect import CHARSETS
from service.api.json_body import parse_json
from service.api.negotiation import MEDIA_TYPES, content_type_of
from service.api.problems import (
    FieldError,
    ProblemError,
    invalid_request,
    problem_responses,
)

JSON_MEDIA_TYPES: Final = ("application/json",)
UTF_8: Final = ("", "utf-8", "utf8", "us-ascii", "ascii")

KINDS: Final[Mapping[str, str]] = {
    "application/json": "json",
    "application/x-ndjson": "ndjson",
    "application/ndjson": "ndjson",
    "application/jsonl": "ndjson",
    "text/csv": "csv",
    MEDIA_TYPES["xlsx"]: "xlsx",
}
"""Bodies that a batch reads: media type to format."""

EVERY_STATUS: Final = (400, 401, 404, 405, 406, 408, 413, 415, 422, 429, 500, 503)
READ_STATUSES: Final = (401, 404, 405, 406, 422, 429, 500, 503)


class JsonRequest(Request):
    """A request whose JSON is read strictly."""

    async def json(self) -> object:
        """Return the value of the body; refuse what is ambiguous."""
        return parse_json(await self.body())


class ContractRoute(APIRoute):
    """
    A route that ignores nothing.

    It refuses query parameters that the endpoint does not declare and those that stand twice,
    bodies of another media type, and ambiguous JSON; and it collects what is assumed while the
    request is read, for `service.api.assumptions.assumptions_of`.
    """

    accepted_media_types: ClassVar[tuple[str, ...]] = JSON_MEDIA_TYPES

    def query_parameters(self) -> frozenset[str]:
        """Return the names of the query parameters that the endpoint and its needs declare."""
        extra = (self.openapi_extra or {}).get("parameters", ())
        return frozenset(_query_names(self.dependant)) | {
            str(parameter["name"]) for parameter in extra if parameter.get("in") == "query"
        }

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler of FastAPI inside our checks."""
        inner = super().get_route_handler()
        known = self.query_parameters()
        takes_body = "POST" in (self.methods or ())
        media_types = self.accepted_media_types

        async def handler(request: Request) -> Response:
            if request.scope["query_string"]:
                check_query(request, known)
            if takes_body:
                check_media_type(request, media_types)
            with collected_assumptions():
                try:
                    return await inner(JsonRequest(request.scope, request.receive, request._send))
                except ProblemError as problem:
                    if not takes_body:
                        problem.errors = tuple(map(of_the_query, problem.errors))
                    raise

        return handler


class BatchRoute(ContractRoute):
    """A route that also reads tables; its endpoint reads the body itself."""

    accepted_media_types: ClassVar[tuple[str, ...]] = tuple(KINDS)


def of_the_query(fault: FieldError) -> FieldError:
    """Return a fault that was found in the nested request, placed at its query parameter."""
    if fault.pointer is None:
        return fault
    name = unquote(fault.pointer.removeprefix("#").removeprefix("/").replace("/", "."))
    return fault.model_copy(update={"pointer": None, "parameter": name or None})


def _query_names(dependant: Dependant) -> list[str]:
    names = [str(parameter.alias) for parameter in dependant.query_params]
    for needed in dependant.dependencies:
        names.extend(_query_names(needed))
    return names


def check_query(request: Request, known: frozenset[str]) -> None:
    """Refuse parameters that are unknown or stand twice, all of them in one problem."""
    faults: list[FieldError] = []
    seen: set[str] = set()
    repeated: set[str] = set()
    for name, value in request.query_params.multi_items():
        if name not in known:
            faults.append(
                FieldError.unknown_word(
                    "unknown_parameter",
                    "parameter",
                    name,
                    sorted(known),
                    parameter=name.encode("utf-8", "replace").decode()[:200],
                ).model_copy(update={"received": value[:100]})
            )
        elif name in seen and name not in repeated:
            repeated.add(name)
            detail = f"The parameter `{name}` stands more than once; send it once."
            faults.append(
                FieldError(
                    parameter=name,
                    code="repeated_parameter",
                    detail=detail,
                    received=value[:100],
                    allowed="once",
                )
            )
        seen.add(name)
    if faults:
        raise invalid_request(*faults)


def check_media_type(request: Request, accepted: Sequence[str]) -> None:
    """Refuse a body of another media type, another charset than UTF-8, or a compressed one."""
    headers = request.headers
    encoding = headers.get("content-encoding", "identity").strip().lower()
    if encoding not in ("", "identity"):
        fault = FieldError(
            parameter="Content-Encoding",
            code="not_allowed",
            detail="Compressed bodies are not read; send the body as it is.",
            received=encoding[:100],
            allowed=["identity"],
        )
        raise ProblemError(
            "unsupported_media_type", fault.detail, [fault], {"Accept-Encoding": "identity"}
        )
    media_type, charset = content_type_of(headers)
    # A table may declare another charset; a workbook has none.
    charsets: Mapping[str, Sequence[str]] = {
        "text/csv": tuple(CHARSETS),
        MEDIA_TYPES["xlsx"]: ("",),
    }
    if media_type in accepted and charset in charsets.get(media_type, UTF_8):
        return
    if not media_type and _has_no_body(request):
        return
    detail = (
        f"Send the body as {' or '.join(accepted)}, in UTF-8,"
        f" not as {headers.get('content-type', 'nothing')[:100] or 'nothing'}."
    )
    fault = FieldError(
        parameter="Content-Type",
        code="not_allowed",
        detail=detail,
        received=headers.get("content-type", "")[:100],
        allowed=list(accepted),
    )
    raise ProblemError(
        "unsupported_media_type", detail, [fault], {"Accept-Post": ", ".join(accepted)}
    )


def _has_no_body(request: Request) -> bool:
    headers = request.headers
    return headers.get("content-length", "0") == "0" and "transfer-encoding" not in headers


def contract_router(
    tag: str, prefix: str = "/v1", *, route_class: type[ContractRoute] = ContractRoute
) -> APIRouter:
    """
    Return a router whose routes keep the contract.

    Parameters
    ----------
    tag : str
        A tag of `service.api.contract.TAGS`.
    prefix : str
        The first part of the paths.
    route_class : type of ContractRoute
        `BatchRoute` for endpoints that read tables.
    """
    return APIRouter(prefix=prefix, tags=[tag], route_class=route_class, redirect_slashes=False)


READ_PROBLEMS: Final = problem_responses(*READ_STATUSES)
"""`responses=` of a GET."""

POST_PROBLEMS: Final = problem_responses(*EVERY_STATUS)
"""`responses=` of a POST."""
