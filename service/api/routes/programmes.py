"""Programmes: a dated calendar of feeding, as data, table, calendar file or page."""

from typing import Annotated, Final

import anyio.to_thread
from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import format_parameter, named_examples
from service.api.explaining import Explained, add_explanation
from service.api.feeding_programme import Programme, programme
from service.api.formats.json import json_response
from service.api.formats.programme_csv import programme_csv
from service.api.formats.programme_html import programme_html
from service.api.formats.programme_ics import programme_ics
from service.api.negotiation import chosen_format
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.programmes import PROGRAMME_EXAMPLES, ProgrammeAnswer, ProgrammeRequest
from service.planning.explain.programmes import programme_working

router = contract_router("upkeep")

OFFERED: Final = ("json", "csv", "ics", "html")
MEDIA: Final = {
    "csv": "text/csv; charset=utf-8; header=present",
    "ics": "text/calendar; charset=utf-8",
    "html": "text/html; charset=utf-8",
}


def written(made: Programme, chosen: str) -> Response:
    """Return an answer in one of the formats."""
    answer = made.answer
    if chosen == "json":
        return json_response(answer)
    content: bytes | str
    if chosen == "csv":
        content = programme_csv(answer)
    elif chosen == "ics":
        content = programme_ics(made)
    else:
        content = programme_html(made)
    headers = {"Cache-Control": "no-store"}
    if chosen != "html":
        headers["Content-Disposition"] = f'inline; filename="programme.{chosen}"'
    return Response(content, media_type=MEDIA[chosen], headers=headers)


@router.post(
    "/programmes",
    operation_id="post_programmes",
    summary="What to give when",
    response_model=ProgrammeAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=format_parameter(*OFFERED),
)
async def post_programmes(
    request: Request,
    asked: Annotated[ProgrammeRequest, Body(openapi_examples=named_examples(**PROGRAMME_EXAMPLES))],
) -> Response:
    """
    Give a dated calendar: feed, supplement, seaweed, plain water, flushes, looks at the bark.

    Growth follows the seasons of the hemisphere and their nights, or dated phases; every can is
    planned as a dose for that day's growth and air, in g, mL and mS/cm at 25 °C. The rhythm is
    common practice, no published source; `rules` lists its numbers. Also as a table, a calendar
    file and a page to print.
    """
    chosen = chosen_format(request, OFFERED)

    def answered() -> Response:
        return written(programme(asked, request.app.state.catalogue), chosen)

    return await anyio.to_thread.run_sync(answered)


def explained(request: Request, asked: ProgrammeRequest) -> Explained[ProgrammeAnswer]:
    """Return the calendar of one request with its working."""
    made = programme(asked, request.app.state.catalogue)
    return Explained(
        made.answer,
        lambda: programme_working(made.planned, **made.fields, catalogue=made.catalogue),
    )


add_explanation(router, "programmes", ProgrammeRequest, PROGRAMME_EXAMPLES, explained)
