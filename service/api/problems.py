"""Problem documents: every answer that is not a result, in the form of RFC 9457."""

import errno
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Match

from service.api.metrics import count_failed_check
from service.api.received import Received
from service.api.validation import FieldError, field_errors
from service.planning.forward_check import UnconfirmedError

logger = logging.getLogger("service.problems")

PROBLEM_MEDIA_TYPE: Final = "application/problem+json"
RETRY_AFTER_SECONDS: Final = 2


@dataclass(frozen=True)
class ProblemType:
    """One kind of problem: what `/problems/{code}` says about it."""

    status: int
    title: str
    explanation: str


PROBLEM_TYPES: Final[Mapping[str, ProblemType]] = {
    "unreadable_body": ProblemType(
        400,
        "The body cannot be read",
        "The body is not what its media type says: not UTF-8, not well-formed, a key twice in one"
        " object, nested too deeply, or not a workbook. `errors` says where.",
    ),
    "unreadable_request": ProblemType(
        400,
        "The request is no HTTP",
        "What arrived is not a request of HTTP/1.1, perhaps TLS where plain HTTP is spoken.",
    ),
    "unauthorized": ProblemType(
        401, "A key is needed", "Send a valid key as the installation's operator describes."
    ),
    "not_found": ProblemType(
        404,
        "There is nothing at this address",
        "The path, or the key at its end, does not exist. The OpenAPI document lists all paths.",
    ),
    "method_not_allowed": ProblemType(
        405,
        "This address does not take that method",
        "The `Allow` header lists the methods of this path.",
    ),
    "not_acceptable": ProblemType(
        406,
        "None of the accepted formats is available",
        "Choose a format by the suffix of the path, by `?format=` or by the `Accept` header;"
        " `errors` lists what this path offers.",
    ),
    "request_timeout": ProblemType(
        408,
        "The body did not arrive in time",
        "The connection stayed silent while the body was still expected. Send it again.",
    ),
    "too_large": ProblemType(
        413,
        "The request is too large",
        "The body has more bytes, or the batch more rows or cells, than this installation allows."
        " `/v1/limits` lists the limits; split the request.",
    ),
    "unsupported_media_type": ProblemType(
        415,
        "The body has a type that this address does not read",
        "Send the media type that `errors` lists in the `Content-Type` header, uncompressed.",
    ),
    "invalid_request": ProblemType(
        422,
        "The request was understood but something in it is wrong",
        "`errors` has one entry per fault: where it is, what was received, what is allowed.",
    ),
    "too_many_requests": ProblemType(
        429, "Too many requests", "Wait the number of seconds given by `Retry-After`."
    ),
    "internal_error": ProblemType(
        500,
        "The service failed",
        "The fault is ours. Report it with the `X-Request-ID` of the answer.",
    ),
    "failed_check": ProblemType(
        500,
        "The answer failed its own check",
        "The result was computed forward and did not give what it promised, so it is not given."
        " Report it with the `X-Request-ID` of the answer.",
    ),
    "unavailable": ProblemType(
        503,
        "The service is busy or not ready",
        "Try again after the number of seconds given by `Retry-After`.",
    ),
}
"""The types of problem by code; codes of single faults are in `service.api.validation`."""

CODE_BY_STATUS: Final[Mapping[int, str]] = {
    problem.status: code for code, problem in reversed(tuple(PROBLEM_TYPES.items()))
}


class Problem(BaseModel):
    """A problem document (RFC 9457)."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "type": "/problems/invalid_request",
                    "title": "The request was understood but something in it is wrong",
                    "status": 422,
                    "detail": "`volum_l` is not a field here. Did you mean `volume_l`?",
                    "instance": "/v1/dilutions",
                    "errors": [
                        {
                            "pointer": "#/volum_l",
                            "code": "unknown_field",
                            "detail": "`volum_l` is not a field here. Did you mean `volume_l`?",
                            "received": 10,
                            "allowed": ["volume_l"],
                        }
                    ],
                }
            ]
        },
    )

    type: str = Field(
        description="Address of the page that explains this kind of problem.",
        pattern=r"^/problems/[a-z_]+$",
        max_length=80,
    )
    title: str = Field(description="The kind of problem in a few words.", max_length=200)
    status: int = Field(description="The HTTP status.", ge=400, le=599)
    detail: str = Field(description="What is wrong and how to mend it.", max_length=2_000)
    instance: str = Field(description="The path that was called.", max_length=2_048)
    errors: list[FieldError] = Field(
        description="One entry per fault; empty when the fault has no place in the request.",
        max_length=1_000,
    )


class ProblemError(HTTPException):
    """
    Stop the request and answer with a problem document.

    Parameters
    ----------
    code : str
        A key of `PROBLEM_TYPES`; it decides the status and the title.
    detail : str
        One or two sentences for the caller: what is wrong and how to mend it.
    errors : sequence of FieldError
        The single faults.
    headers : mapping of str to str, optional
        Headers of the answer.
    """

    def __init__(
        self,
        code: str,
        detail: str,
        errors: Sequence[FieldError] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(PROBLEM_TYPES[code].status, detail, headers)
        self.code = code
        self.errors = tuple(errors)


def invalid_request(*errors: FieldError) -> ProblemError:
    """Return the 422 problem that reports these faults."""
    return ProblemError("invalid_request", _summary(errors), errors)


def _summary(errors: Sequence[FieldError]) -> str:
    """Return the text of the only fault, or of the first one and how many follow."""
    if not errors:
        return "The request is not valid."
    more = len(errors) - 1
    if more == 0:
        return errors[0].detail
    return f"{errors[0].detail} ({more} more {'fault' if more == 1 else 'faults'} in `errors`.)"


def problem_response(
    code: str,
    detail: str,
    instance: str,
    errors: Sequence[FieldError] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return the problem document as an answer that no cache keeps."""
    kind = PROBLEM_TYPES[code]
    document = Problem(
        type=f"/problems/{code}",
        title=kind.title,
        status=kind.status,
        detail=detail[:2_000],
        instance=instance[:2_048],
        errors=list(errors[:1_000]),
    )
    every = {"Cache-Control": "no-store", **(headers or {})}
    if kind.status in (429, 503):
        every.setdefault("Retry-After", str(RETRY_AFTER_SECONDS))
    return Response(
        document.model_dump_json(exclude_none=True),
        kind.status,
        every,
        media_type=PROBLEM_MEDIA_TYPE,
    )


def instance_of(scope: Mapping[str, Any]) -> str:
    """Return the path as it was called, its format suffix included."""
    return str(scope.get("velamen.path") or scope.get("path") or "/")


def allowed_methods(request: Request) -> list[str]:
    """Return every method that some route answers at the path of this request."""
    methods: set[str] = set()
    for method in ("GET", "POST", "PUT", "PATCH", "DELETE"):
        scope = {**request.scope, "method": method}
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.routes):
            methods.add(method)
    if "GET" in methods:
        methods.add("HEAD")
    return sorted(methods)


def refusal_response(problem: ProblemError, scope: Mapping[str, Any]) -> Response:
    """Return the document of a problem that was raised while a request was answered."""
    if problem.code == "failed_check":
        count_failed_check("answer")
    headers = dict(problem.headers or {})
    return problem_response(
        problem.code, str(problem.detail), instance_of(scope), problem.errors, headers
    )


def _answer_http_exception(request: Request, exception: Exception) -> Response:
    """Turn an exception of the framework, or our own, into a problem document."""
    if not isinstance(exception, HTTPException):
        raise exception
    instance = instance_of(request.scope)
    headers = dict(exception.headers or {})
    if isinstance(exception, ProblemError):
        return refusal_response(exception, request.scope)
    code = CODE_BY_STATUS.get(exception.status_code, "internal_error")
    detail = PROBLEM_TYPES[code].explanation
    if code == "method_not_allowed":
        methods = allowed_methods(request)
        headers = {"Allow": ", ".join(methods)}
        detail = f"{request.method} is not possible here; this address takes {', '.join(methods)}."
    elif code == "not_found":
        detail = f"There is nothing at {instance[:200]}. /openapi.json lists every path."
    return problem_response(code, detail, instance, (), headers)


def _answer_validation_error(request: Request, exception: Exception) -> Response:
    """Turn the faults that pydantic found into a problem document."""
    if not isinstance(exception, RequestValidationError):
        raise exception
    body_field = getattr(request.scope.get("route"), "body_field", None)
    model = None if body_field is None else body_field.field_info.annotation
    errors = field_errors(exception.errors(), model)
    return problem_response("invalid_request", _summary(errors), instance_of(request.scope), errors)


def _answer_unconfirmed(request: Request, exception: Exception) -> Response:
    """Hold back an answer that computing it forward did not confirm."""
    count_failed_check("answer")
    fields = {"request_id": request.scope.get("velamen.request_id", "")}
    logger.error("answer held back", exc_info=exception, extra={"fields": fields})
    detail = PROBLEM_TYPES["failed_check"].explanation
    return problem_response("failed_check", detail, instance_of(request.scope))


def _tells_of_no_room(error: OSError) -> bool:
    """Tell whether a disk is full, or no folder for temporary files was found."""
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    return full or (error.errno == errno.ENOENT and error.filename is None)


def server_error_response(scope: Mapping[str, Any], exception: Exception) -> Response:
    """
    Log an unforeseen exception and return a problem document that tells nothing of it.

    A disk that is full, or a folder for bodies that is not there, is the installation's state and
    not a fault: it may be mended while the service runs.
    """
    request_id = scope.get("velamen.request_id", "")
    fields = {"request_id": request_id}
    logger.error("request failed", exc_info=exception, extra={"fields": fields})
    if isinstance(exception, OSError) and _tells_of_no_room(exception):
        detail = "There is no room for the data of this request now. Send less, or send it later."
        return problem_response("unavailable", detail, instance_of(scope))
    detail = f"The service failed. Report this with the request id {request_id}."
    return problem_response("internal_error", detail, instance_of(scope))


def install_problem_handlers(app: FastAPI) -> None:
    """Let the application answer all its own faults with problem documents."""
    app.add_exception_handler(HTTPException, _answer_http_exception)
    app.add_exception_handler(RequestValidationError, _answer_validation_error)
    app.add_exception_handler(UnconfirmedError, _answer_unconfirmed)


def problem_responses(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """
    Return the entry for `responses=` of a router: these problem statuses, documented.

    The media type is moved to `application/problem+json` when the document is written.
    """
    return {
        status: {"model": Problem, "description": HTTPStatus(status).phrase} for status in statuses
    }


def unknown_key(
    pointer: str, received: str, allowed: Sequence[str], noun: str = "key"
) -> FieldError:
    """Return the fault of a key that is not in the catalogue, with the nearest ones."""
    return FieldError.unknown_word(f"unknown_{noun}", noun, received, allowed, pointer=pointer)


__all__ = [
    "PROBLEM_MEDIA_TYPE",
    "PROBLEM_TYPES",
    "FieldError",
    "Problem",
    "ProblemError",
    "Received",
    "install_problem_handlers",
    "invalid_request",
    "problem_response",
    "problem_responses",
    "refusal_response",
    "server_error_response",
    "unknown_key",
]
