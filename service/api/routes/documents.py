"""The contract itself, as an OpenAPI document and as a page, and how far to trust the service."""

import json

from fastapi import Request
from starlette.responses import Response

from service.api.caching import kept_response
from service.api.contract import format_parameter
from service.api.documentation import documentation_page
from service.api.negotiation import MEDIA_TYPES, chosen_format
from service.api.route import READ_PROBLEMS, contract_router
from service.api.schemas.trust import TrustReport
from service.api.trust_report import report_bytes

router = contract_router("operation", "")

KEPT_FOR_A_MINUTE = "public, max-age=60"


@router.get("/openapi.json", include_in_schema=False)
async def get_openapi_document(request: Request) -> Response:
    """Return the OpenAPI document."""
    content = json.dumps(request.app.openapi(), ensure_ascii=False).encode()
    return kept_response(request, content, "application/json", KEPT_FOR_A_MINUTE)


@router.get("/docs", include_in_schema=False)
async def get_documentation(request: Request) -> Response:
    """Return the page for people; it needs no asset and no other host."""
    page = documentation_page(request.app.openapi()).encode()
    return kept_response(request, page, "text/html", KEPT_FOR_A_MINUTE)


@router.get(
    "/trust",
    operation_id="get_trust",
    summary="Show how far to trust the numbers",
    response_model=TrustReport,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("html", "md", "json"),
)
async def get_trust(request: Request) -> Response:
    """
    Compare every quantity with print and with other programs, error by error.

    The report was made from the tests of this release; `/trust.md` is the same as text,
    `/trust.json` its figures.
    """
    form = chosen_format(request, ("html", "md", "json"))
    return kept_response(request, report_bytes(form), MEDIA_TYPES[form], KEPT_FOR_A_MINUTE)
