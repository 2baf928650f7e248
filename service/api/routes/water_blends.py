"""Water blends: two waters mixed to a limit."""

from typing import Annotated, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import asked_form, written
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.water_blends import (
    WATER_BLEND_EXAMPLES,
    BlendedWater,
    BlendLimits,
    WaterBlendAnswer,
    WaterBlendRequest,
)
from service.planning.evidence import SOLUTION_MODELS, SOLUTION_SOURCES
from service.planning.explain.water_blends import water_blend_working
from service.planning.known_water import known_water
from service.planning.notes import Notes, RefusalError
from service.planning.water_blend import bounds_of, eased_limits, largest_share
from service.planning.water_pair import WaterPair

router = contract_router("water")

MODELS: Final = (*SOLUTION_MODELS, "stumm-morgan-1996")


def _given(limits: BlendLimits | None) -> dict[str, float]:
    """Return the limits that were given, by the names of a water analysis."""
    return {} if limits is None else limits.model_dump(exclude_none=True)


def explained(request: Request, asked: WaterBlendRequest) -> Explained[WaterBlendAnswer]:
    """Return the blend of one request with its working."""
    notes = Notes()
    bounds = bounds_of(_given(asked.limits), _given(asked.minima))
    try:
        waters = [
            known_water(water, request.app.state.catalogue, notes, f"waters.{place}")
            for place, water in enumerate(asked.waters)
        ]
        pair = WaterPair(*waters)
        blend = largest_share(pair, bounds)
    except RefusalError as error:
        raise refused(error) from None
    analysis = pair.analysis(blend.share)
    inputs = {
        "waters": [dict(water.analysis) for water in waters],
        "limits": _given(asked.limits),
        "minima": _given(asked.minima),
    }
    around = envelope_of(
        asked,
        notes,
        inputs,
        MODELS,
        SOLUTION_SOURCES,
        conflicts=blend.conflicts,
        nearest=None if blend.feasible else eased_limits(pair, bounds, blend.share),
    )
    result = WaterBlendAnswer(
        status="ok" if blend.feasible else "infeasible",
        share_of_first_percent=100.0 * blend.share,
        binding_limit=blend.binding,
        ph=analysis["ph"],
        ec_ms_per_cm=pair.conductivity(blend.share),
        blend=BlendedWater(**analysis),
        **around,
    )
    return Explained(result, lambda: water_blend_working(pair, bounds, blend))


def answer(request: Request, asked: WaterBlendRequest) -> WaterBlendAnswer:
    """Return the blend of one request."""
    return explained(request, asked).answer


@router.post(
    "/water-blends",
    operation_id="post_water_blends",
    summary="How much tap water may the blend have?",
    response_model=WaterBlendAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(WaterBlendAnswer),
)
async def post_water_blends(
    request: Request,
    asked: Annotated[
        WaterBlendRequest, Body(openapi_examples=named_examples(**WATER_BLEND_EXAMPLES))
    ],
) -> Response:
    """
    Give the largest share of the first water that keeps every limit, and the analysis of the blend.

    Ions and alkalinity mix by volume: share = (limit − second) / (first − second). Conductivity in
    mS/cm at 25 °C and pH do not; both are computed from the ions of the blend, without contact to
    air.
    """
    form = asked_form(request, WaterBlendAnswer)
    return written(answer(request, asked), form)


add_explanation(router, "water-blends", WaterBlendRequest, WATER_BLEND_EXAMPLES, explained)
