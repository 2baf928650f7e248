"""Targets: how strong a solution these plants bear in this air."""

from typing import Annotated

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.dosing import envelope, planned_target
from service.api.formats.single_answer import asked_form, written
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.targets import TARGET_EXAMPLES, TargetAnswer, TargetRequest
from service.planning.card import target_fields
from service.planning.reasons import (
    binding_of_target,
    dry_air_alternative,
    flush_advice,
    published_ranges,
    target_reasons,
)

router = contract_router("strength")
twin = QueryTwin(TargetRequest)


def answer(request: Request, asked: TargetRequest) -> TargetAnswer:
    """Return the target of one request."""
    plan = planned_target(asked, request.app.state.catalogue)
    fields = target_fields(plan.result)
    profile = plan.catalogue.profile_names[plan.row["profile"]]
    result = TargetAnswer(
        status="ok",
        **fields,
        dry_air_alternative=dry_air_alternative(plan.row, plan.result),
        published_ranges=published_ranges(profile, fields),
        binding_limit=binding_of_target(plan.result),
        flush=flush_advice(plan.row),
        reasons=target_reasons(plan.row, plan.result, plan.catalogue),
        **envelope(asked, plan, solution=False),
    )
    return result


@router.post(
    "/targets",
    operation_id="post_targets",
    summary="How strong may the solution be today?",
    response_model=TargetAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(TargetAnswer),
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
    form = asked_form(request, TargetAnswer)
    return written(answer(request, asked), form)


@router.get(
    "/targets",
    operation_id="get_targets",
    summary="How strong may the solution be today?",
    response_model=TargetAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(TargetAnswer),
)
async def get_targets(request: Request) -> Response:
    """Give the same answer as the POST, with its fields as flat query parameters."""
    form = asked_form(request, TargetAnswer)
    return written(answer(request, twin.read(request)), form)
