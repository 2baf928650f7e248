"""Flushes: the water that leaches a pot or a mount."""

from typing import Annotated

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import asked_form, written
from service.api.query import QueryTwin
from service.api.root_zone import around, planned_pot
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.flushes import FLUSH_EXAMPLES, FlushAnswer, FlushRequest
from service.planning.explain.flushes import flush_working
from service.planning.flush import plan_flush
from service.planning.flush_card import (
    POT_MODELS,
    WATER_MODELS,
    conflicts,
    flush_fields,
    flush_inputs,
    flush_reasons,
    flush_steps,
    nearest,
    pot_sources,
)

router = contract_router("upkeep")
twin = QueryTwin(FlushRequest)


def explained(request: Request, asked: FlushRequest) -> Explained[FlushAnswer]:
    """Return the flush of one request with its working."""
    plan, catalogue, notes = planned_pot(asked, request.app.state.catalogue, plan_flush)
    models = [*POT_MODELS, *WATER_MODELS]
    if asked.reading is not None and asked.reading.compensated is False:
        models.append("iso-7888-1985")
    fields = around(
        asked, notes, flush_inputs(plan, catalogue), models, pot_sources(plan, catalogue)
    )
    fields["conflicts"] = conflicts(plan)
    fields["nearest"] = nearest(plan, catalogue)
    made = FlushAnswer(
        **flush_fields(plan), steps=flush_steps(plan), reasons=flush_reasons(plan), **fields
    )
    return Explained(made, lambda: flush_working(plan, asked))


def answer(request: Request, asked: FlushRequest) -> FlushAnswer:
    """Return the flush of one request."""
    return explained(request, asked).answer


@router.post(
    "/flushes",
    operation_id="post_flushes",
    summary="How much water leaches a pot?",
    response_model=FlushAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(FlushAnswer),
)
async def post_flushes(
    request: Request,
    asked: Annotated[FlushRequest, Body(openapi_examples=named_examples(**FLUSH_EXAMPLES))],
) -> Response:
    """
    Give the water that brings a drainage down to a target, and the share that is to drain.

    V = (held water / efficiency) ln((EC - water EC) / (target EC - water EC)) in litres and mS/cm
    at 25 °C; the leaching fraction is feed EC over the drainage EC allowed, the salt balance of a
    pot and not that of field soils. A water as salty as the target makes the answer `infeasible`.
    """
    form = asked_form(request, FlushAnswer)
    return written(answer(request, asked), form)


@router.get(
    "/flushes",
    operation_id="get_flushes",
    summary="How much water leaches a pot?",
    response_model=FlushAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(FlushAnswer),
)
async def get_flushes(request: Request) -> Response:
    """Give the same answer as the POST, with its fields as flat query parameters."""
    form = asked_form(request, FlushAnswer)
    return written(answer(request, twin.read(request)), form)


add_explanation(router, "flushes", FlushRequest, FLUSH_EXAMPLES, explained, twin)
