"""Targets: how strong a solution these plants bear in this air."""

from typing import Annotated, Any, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.assumptions import assumptions_of
from service.api.contract import SINGLE_FORMATS, answer_parameters, named_examples
from service.api.dosing import Planned, envelope, planned_target
from service.api.explaining import Explained, add_explanation
from service.api.formats.answer_writer import AnswerWriter
from service.api.formats.single_answer import Form, asked_form, written_fields
from service.api.formats.svg_curve import Curve, curve_chart
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.targets import TARGET_EXAMPLES, TargetAnswer, TargetRequest
from service.planning.card import target_fields
from service.planning.explain.strength import target_working
from service.planning.reasons import (
    binding_of_target,
    dry_air_alternative,
    flush_advice,
    published_ranges,
    target_reasons,
)
from service.planning.strength_curve import strength_curve

OFFERED: Final = (*SINGLE_FORMATS, "svg")

router = contract_router("strength")
twin = QueryTwin(TargetRequest)
WRITER: Final = AnswerWriter(TargetAnswer)


def answer(plan: Planned, asked: TargetRequest) -> dict[str, Any]:
    """Return the fields of the target of one request."""
    fields = target_fields(plan.result)
    profile = plan.catalogue.profile_names[plan.row["profile"]]
    return {
        "status": "ok",
        **fields,
        "dry_air_alternative": dry_air_alternative(plan.row, plan.result),
        "published_ranges": published_ranges(profile, fields),
        "binding_limit": binding_of_target(plan.row, plan.result),
        "flush": flush_advice(plan.row),
        "reasons": target_reasons(*plan.records, plan.catalogue),
        **envelope(plan, assumptions_of(asked), solution=False),
    }


def picture(plan: Planned) -> str:
    """Return the strength over the humidity, with today's point."""
    humidity, conductivity = strength_curve(plan.records[0], plan.catalogue)
    today, strength = (
        float(plan.row["humidity_percent"]),
        float(plan.result["ec_ceiling_ms_per_cm"]),
    )
    temperature = float(plan.row["temperature_celsius"])
    return curve_chart(
        Curve(
            across=humidity.tolist(),
            up=conductivity.tolist(),
            point=(today, strength),
            levels=(),
            title=f"How strong at which humidity, {temperature:.0f} °C",
            description=f"Today at {today:.0f} % relative humidity: {strength:.2f} mS/cm.",
            across_words="Relative humidity, %",
            up_words="Highest conductivity of the can, mS/cm",
            point_words=f"Today: {today:.0f} %, {strength:.2f} mS/cm. Below or above the line where"
            " the usual air differs from today's.",
            across_start=20.0,
        )
    )


def response(request: Request, asked: TargetRequest, form: Form) -> Response:
    """Return the target in its form."""
    plan = planned_target(asked, request.app.state.catalogue)
    return written_fields(answer(plan, asked), WRITER, form, {"svg": lambda *_: picture(plan)})


@router.post(
    "/targets",
    operation_id="post_targets",
    summary="How strong may the solution be today?",
    response_model=TargetAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(TargetAnswer, OFFERED),
)
async def post_targets(
    request: Request,
    asked: Annotated[TargetRequest, Body(openapi_examples=named_examples(**TARGET_EXAMPLES))],
) -> Response:
    """
    Give the ceiling of a solution for these plants in this air.

    In a pot that dries, min(size ceiling, 678 / (VPD + 0.264)) meter ppm with the vapour pressure
    deficit VPD in kPa, times the share of the growth phase; over a reservoir the size ceiling. The
    conductivity in mS/cm is that on the 700 scale, the careful one.
    """
    form = asked_form(request, TargetAnswer, OFFERED)
    return response(request, asked, form)


@router.get(
    "/targets",
    operation_id="get_targets",
    summary="How strong may the solution be today?",
    response_model=TargetAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(TargetAnswer, OFFERED),
)
async def get_targets(request: Request) -> Response:
    """Give the same answer as the POST, with its fields as flat query parameters."""
    form = asked_form(request, TargetAnswer, OFFERED)
    return response(request, twin.read(request), form)


def explained(request: Request, asked: TargetRequest) -> Explained[TargetAnswer]:
    """Return the target of one request with its working."""
    plan = planned_target(asked, request.app.state.catalogue)
    return Explained(
        TargetAnswer(**answer(plan, asked)),
        lambda: target_working(*plan.records, plan.catalogue),
    )


add_explanation(router, "targets", TargetRequest, TARGET_EXAMPLES, explained, twin)
