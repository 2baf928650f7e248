"""Salt outlooks: the salt of a pot over the coming weeks, as numbers, a table or a picture."""

from typing import Annotated, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import format_parameter, named_examples
from service.api.explaining import Explained, add_explanation
from service.api.formats.csv_table import write_csv
from service.api.formats.json import json_response
from service.api.formats.svg_chart import Band, Legend, band_chart
from service.api.negotiation import chosen_format
from service.api.root_zone import around, planned_pot
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.salt_outlooks import (
    SALT_OUTLOOK_EXAMPLES,
    SaltOutlookAnswer,
    SaltOutlookRequest,
    Week,
)
from service.planning.explain.salt_outlooks import salt_outlook_working
from service.planning.salt_outlook import plan_outlook
from service.planning.salt_outlook_card import (
    WEEK_COLUMNS,
    outlook_fields,
    outlook_inputs,
    outlook_models,
    outlook_sources,
)

router = contract_router("upkeep")

OFFERED: Final = ("json", "csv", "svg")
NOT_KEPT: Final = {"Cache-Control": "no-store"}


def explained(request: Request, asked: SaltOutlookRequest) -> Explained[SaltOutlookAnswer]:
    """Return the outlook of one request with its working."""
    plan, catalogue, notes = planned_pot(asked, request.app.state.catalogue, plan_outlook)
    fields = around(
        asked,
        notes,
        outlook_inputs(plan, asked, catalogue),
        outlook_models(plan),
        outlook_sources(plan, catalogue),
    )
    return Explained(
        SaltOutlookAnswer(**outlook_fields(plan), **fields),
        lambda: salt_outlook_working(plan, asked),
    )


def answered(request: Request, asked: SaltOutlookRequest) -> SaltOutlookAnswer:
    """Return the outlook of one request."""
    return explained(request, asked).answer


def table(answer: SaltOutlookAnswer) -> Response:
    """Return the weeks as CSV, the limit beside each."""
    rows = (
        [*(getattr(week, name) for name in WEEK_COLUMNS), answer.limit_ec_ms_per_cm]
        for week in answer.weeks
    )
    return Response(
        write_csv([*WEEK_COLUMNS, "limit_ec_ms_per_cm"], rows),
        headers=NOT_KEPT,
        media_type="text/csv; charset=utf-8",
    )


def picture(answer: SaltOutlookAnswer) -> Response:
    """Return the weeks as a chart."""
    low, middle, high, dry = (
        [getattr(week, name) for week in answer.weeks]
        for name in (
            "ec_low_ms_per_cm",
            "ec_ms_per_cm",
            "ec_high_ms_per_cm",
            "driest_ec_ms_per_cm",
        )
    )
    marked, mark = marked_week(answer)
    limit = answer.limit_ec_ms_per_cm
    last: Week = answer.weeks[-1]
    legend = Legend(
        title="Salt in the pot",
        description=(
            f"Conductivity of the water in the pot over {len(answer.weeks)} weeks, from"
            f" {answer.weeks[0].ec_ms_per_cm:g} to {last.ec_ms_per_cm:g} mS/cm (in the last week"
            f" between {last.ec_low_ms_per_cm:g} and {last.ec_high_ms_per_cm:g}). The limit is"
            f" {limit:g} mS/cm; {mark or 'it is not passed'}."
        ),
        steps="Week",
        values="Conductivity at 25 °C (mS/cm)",
        middle="after watering",
        band="low to high use",
        dotted="driest moment",
        limit=f"limit {limit:g} mS/cm",
        mark=mark,
    )
    chart = band_chart(Band(low=low, middle=middle, high=high, dotted=dry), limit, marked, legend)
    return Response(
        chart.encode("utf-8"), headers=NOT_KEPT, media_type="image/svg+xml; charset=utf-8"
    )


def marked_week(answer: SaltOutlookAnswer) -> tuple[int | None, str]:
    """Return the week to mark in a chart, and the words beside it."""
    if answer.first_week_over_limit is not None:
        week = answer.first_week_over_limit
        return week, f"over the limit from week {week}"
    week_low = answer.first_week_over_limit_low
    if week_low is None:
        return None, ""
    week_high = answer.first_week_over_limit_high
    if week_high is None:
        return week_low, f"over the limit from week {week_low} at the earliest"
    if week_high == week_low:
        return week_low, f"over the limit from week {week_low}"
    return week_low, f"over the limit between week {week_low} and week {week_high}"


@router.post(
    "/salt-outlooks",
    operation_id="post_salt_outlooks",
    summary="How does salt gather in the pot?",
    response_model=SaltOutlookAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=format_parameter(*OFFERED),
)
async def post_salt_outlooks(
    request: Request,
    asked: Annotated[
        SaltOutlookRequest, Body(openapi_examples=named_examples(**SALT_OUTLOOK_EXAMPLES))
    ],
) -> Response:
    """
    Follow the salt of one pot week by week under a schedule of feeds, water and flushes.

    A daily balance of water (mL) and salt (mS/cm times volume): a watering fills the pot and its
    surplus rinses it; plant and air take water and leave the salt. Without a measured water use
    the answer is a band. `.csv` gives the weeks as a table, `.svg` as a chart.
    """
    chosen = chosen_format(request, OFFERED)
    answer = answered(request, asked)
    if chosen == "csv":
        return table(answer)
    if chosen == "svg":
        return picture(answer)
    return json_response(answer)


add_explanation(router, "salt-outlooks", SaltOutlookRequest, SALT_OUTLOOK_EXAMPLES, explained)
