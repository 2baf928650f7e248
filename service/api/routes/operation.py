"""Operation of the service: is it alive, is it ready, which release is it, what is here."""

import asyncio
import re
from typing import Annotated, Final

from fastapi import Path, Request
from starlette.responses import Response

from service.api.caching import kept_response
from service.api.contract import format_parameter
from service.api.formats.json import json_bytes, json_response
from service.api.formats.start_page import start_page
from service.api.metrics import METRICS_MEDIA_TYPE, metrics_text
from service.api.negotiation import chosen_format
from service.api.problems import PROBLEM_TYPES, FieldError, ProblemError
from service.api.provenance import versions
from service.api.readiness import WARM_UP_RETRY_SECONDS, Readiness
from service.api.route import READ_PROBLEMS, contract_router
from service.api.schemas.answer import Version
from service.api.schemas.catalogue import Alive, ProblemPage, Ready, Root
from service.api.suggestions import nearest
from service.api.validation import FAULT_CODES
from service.planning.notes import NOTED_ASSUMPTIONS, NOTED_CAUTIONS, NOTED_PROBLEMS
from service.reference.plants import plants
from service.reference.waters import waters

router = contract_router("operation", "")

PROBLEM_CODES: Final = frozenset(notice.code for notice in NOTED_PROBLEMS)
NOTICES: Final = {
    notice.code: notice
    for notice in (*NOTED_CAUTIONS, *NOTED_ASSUMPTIONS, *NOTED_PROBLEMS)
    if notice.message
}
"""What the planners say of a row; their cautions and assumptions come with status 200."""

SHELVED: Final = ("feed", "supplement", "stimulant")
"""Kinds of products that the form of the start page offers."""

PLACE_FOR_A_NUMBER: Final = re.compile(r"\{[^{}]*\}")


@router.get(
    "/livez",
    operation_id="get_livez",
    summary="Is the process alive?",
    response_model=Alive,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_livez(request: Request) -> Response:
    """Answers as long as the process serves requests at all."""
    chosen_format(request)
    return json_response(Alive(status="alive"))


@router.get(
    "/metrics",
    operation_id="get_metrics",
    summary="What the process has counted",
    response_class=Response,
    responses={
        **READ_PROBLEMS,
        200: {"content": {"text/plain": {"schema": {"type": "string"}}}},
    },
)
async def get_metrics() -> Response:
    """Show requests, rows, refusals, kernel time and batches in work, as Prometheus reads them."""
    return Response(
        metrics_text(), headers={"Cache-Control": "no-store", "Content-Type": METRICS_MEDIA_TYPE}
    )


@router.get(
    "/readyz",
    operation_id="get_readyz",
    summary="Is the service ready?",
    response_model=Ready,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_readyz(request: Request) -> Response:
    """Compute a dose whose result is known; 503 while that fails or kernels are being prepared."""
    chosen_format(request)
    readiness: Readiness = request.app.state.readiness
    if not readiness.begun:
        # Served without the start of the application: nobody else prepares anything.
        await asyncio.wait([asyncio.wrap_future(readiness.begin())])
    if not readiness.begin().done():
        again = {"Retry-After": str(WARM_UP_RETRY_SECONDS)}
        raise ProblemError("unavailable", "The service is still preparing itself.", (), again)
    if not readiness.confirmed():
        raise ProblemError("unavailable", "The service fails its own check; ask another one.")
    return json_response(Ready(status="ready", version=versions()))


@router.get(
    "/version",
    operation_id="get_version",
    summary="Show the releases",
    response_model=Version,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_version(request: Request) -> Response:
    """Show the release of the service and that of its reference data."""
    chosen_format(request)
    return kept_response(request, json_bytes(versions()), cache_control="public, max-age=60")


@router.get(
    "/",
    operation_id="get_root",
    summary="Show where everything is",
    response_model=Root,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json", "html"),
)
async def get_root(request: Request) -> Response:
    """
    Show the addresses of the documentation, of the OpenAPI document and of every capability.

    A browser gets a page with a form for one can.
    """
    if chosen_format(request, ("json", "html")) == "html":
        shelf = {
            key: product.name
            for key, product in request.app.state.products.items()
            if product.kind in SHELVED
        }
        profiles = {key: profile.name for key, profile in plants().items()}
        body = start_page(shelf, profiles, list(waters())).encode()
        return kept_response(request, body, "text/html", "public, max-age=60")
    paths = sorted(path for path in request.app.openapi()["paths"] if path.startswith("/v1/"))
    root = Root(
        name="Velamen",
        version=versions(),
        docs="/docs",
        openapi="/openapi.json",
        capabilities=paths,
    )
    return kept_response(request, json_bytes(root), cache_control="public, max-age=60")


@router.get(
    "/problems/{code}",
    operation_id="get_problem",
    summary="Explain a code",
    response_model=ProblemPage,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_problem(
    request: Request,
    code: Annotated[
        str,
        Path(
            description="The end of a problem's `type`, or the `code` of a single fault.",
            min_length=1,
            max_length=80,
            pattern=r"^[a-z0-9_]+$",
        ),
    ],
) -> Response:
    """Explain what a kind of problem, or a single fault of a request, means and how to mend it."""
    chosen_format(request)
    if code in PROBLEM_TYPES:
        kind = PROBLEM_TYPES[code]
        page = ProblemPage(
            code=code, status=kind.status, title=kind.title, explanation=kind.explanation
        )
    elif code in FAULT_CODES:
        parent = PROBLEM_TYPES["invalid_request"]
        page = ProblemPage(
            code=code, status=parent.status, title=FAULT_CODES[code], explanation=parent.explanation
        )
    elif code in NOTICES:
        kind = PROBLEM_TYPES["invalid_request"]
        page = ProblemPage(
            code=code,
            status=kind.status if code in PROBLEM_CODES else 200,
            title=code.replace("_", " ").capitalize(),
            explanation=PLACE_FOR_A_NUMBER.sub("…", NOTICES[code].message),
        )
    else:
        meant = nearest(code, [*PROBLEM_TYPES, *FAULT_CODES, *NOTICES])
        hint = f" Did you mean `{meant}`?" if meant else ""
        error = FieldError(
            parameter="code",
            code="unknown_key",
            detail=f"There is no code `{code}`.{hint}",
            received=code,
            allowed=[meant] if meant else None,
        )
        raise ProblemError("not_found", error.detail, [error])
    return kept_response(request, json_bytes(page))
