"""The contract itself: as an OpenAPI document and as a page for people."""

import json

from fastapi import Request
from starlette.responses import Response

from service.api.caching import kept_response
from service.api.documentation import documentation_page
from service.api.route import contract_router

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
