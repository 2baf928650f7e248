"""Reservoir corrections: from a reading to a portion that cannot overshoot."""

from typing import Annotated, Any

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import format_parameter, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.json import json_response
from service.api.naming import NamingError, OpenCatalogue
from service.api.negotiation import chosen_format
from service.api.problems import invalid_request
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.reservoir_answers import RESERVOIR_EXAMPLES, ReservoirCorrectionAnswer
from service.api.schemas.reservoir_corrections import ReservoirCorrectionRequest
from service.planning.catalogue import Catalogue
from service.planning.explain.reservoirs import reservoir_working
from service.planning.known_water import known_water
from service.planning.mix_parts import MixPart, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.reservoir import Asked, plan_reservoir
from service.planning.reservoir_card import (
    MODELS,
    SOURCES,
    reservoir_conflicts,
    reservoir_fields,
    reservoir_inputs,
    reservoir_nearest,
    reservoir_steps,
)
from service.planning.reservoir_stocks import MILLILITRES_IN_A_LITRE, stocks_of
from service.reference.acids import acids

router = contract_router("upkeep")


def _parts(
    asked: ReservoirCorrectionRequest, base: Catalogue, notes: Notes
) -> tuple[list[list[MixPart]], Catalogue]:
    """Return what a millilitre of each stock in a litre brings."""
    names = OpenCatalogue(base)
    positions: list[list[int]] = []
    for place, stock in enumerate(asked.stocks or []):
        found = []
        for slot, each in enumerate(stock.products or []):
            try:
                found.append(names.product_position(each.product))
            except NamingError as error:
                inside = (error.fault.pointer or "#").removeprefix("#")
                pointer = f"#/stocks/{place}/products/{slot}{inside}"
                raise invalid_request(error.fault.model_copy(update={"pointer": pointer})) from None
        positions.append(found)
    known = names.closed()
    parts = []
    for place, stock in enumerate(asked.stocks or []):
        listed = zip(positions[place], stock.products or [], strict=True)
        parts.append(
            [
                mix_part(
                    known.product_rows[position],
                    None if each.g_per_l is None else each.g_per_l / MILLILITRES_IN_A_LITRE,
                    None if each.ml_per_l is None else each.ml_per_l / MILLILITRES_IN_A_LITRE,
                    None,
                    f"stocks.{place}.products.{slot}",
                    notes,
                )
                for slot, (position, each) in enumerate(listed)
            ]
        )
    return parts, known


def explained(
    request: Request, asked: ReservoirCorrectionRequest
) -> Explained[ReservoirCorrectionAnswer]:
    """Return the portion of one request with its working."""
    notes = Notes()
    try:
        water = known_water(asked.water, request.app.state.catalogue, notes)
        parts, catalogue = _parts(asked, request.app.state.catalogue, notes)
        rises = [each.ec_rise_ms_per_cm for each in asked.stocks or []]
        stocks = stocks_of(parts, rises, water)
        known = Asked(asked, water, asked.water is not None, stocks, catalogue)
        plan = plan_reservoir(known, notes)
        fields = reservoir_fields(known, plan)
    except RefusalError as error:
        raise refused(error) from None
    sources: list[str] = [*SOURCES]
    sources += [key for each in parts for part in each for key in part.product.sources]
    if asked.acid is not None:
        sources += acids()[asked.acid.kind].sources
    around: dict[str, Any] = envelope_of(
        asked,
        notes,
        reservoir_inputs(known, plan, asked.model_dump(exclude_none=True)),
        MODELS,
        sources,
        conflicts=reservoir_conflicts(known, plan),
        nearest=reservoir_nearest(plan),
    )
    made = ReservoirCorrectionAnswer(
        **fields,
        steps=reservoir_steps(known, plan),
        reasons=plan.reasons or [],
        **around,
    )
    return Explained(made, lambda: reservoir_working(known, plan, fields))


@router.post(
    "/reservoir-corrections",
    operation_id="post_reservoir_corrections",
    summary="What does a reservoir need now?",
    response_model=ReservoirCorrectionAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def post_reservoir_corrections(
    request: Request,
    asked: Annotated[
        ReservoirCorrectionRequest, Body(openapi_examples=named_examples(**RESERVOIR_EXAMPLES))
    ],
) -> Response:
    """
    Give one portion of water, stocks or acid that brings a reservoir nearer to its target.

    The conductivity comes first: half of the missing stock, or of the diluting water; at the right
    conductivity a quarter of the least acid that the target can take. Carry an answer out once,
    wait, measure, and ask again with what was given in `last_dose`: nothing is kept here, the same
    request gets the same answer, and one sent too early gets zeros and `not_before_minutes`. A
    reading that cannot be true, or that contradicts the last dose, is refused (422).
    """
    chosen_format(request)
    return json_response(explained(request, asked).answer)


add_explanation(
    router, "reservoir-corrections", ReservoirCorrectionRequest, RESERVOIR_EXAMPLES, explained
)
