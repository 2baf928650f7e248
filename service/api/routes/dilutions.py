"""Dilutions: how much of a product for a strength."""

from typing import Annotated, Any, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.assumptions import assumptions_of
from service.api.contract import answer_parameters, named_examples
from service.api.dosing import Planned, bounds, card, envelope, planned
from service.api.explaining import Explained, add_explanation
from service.api.formats.answer_writer import AnswerWriter
from service.api.formats.single_answer import asked_form, written_fields
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.dilutions import DILUTION_EXAMPLES, DilutionAnswer, DilutionRequest
from service.planning.explain.doses import dilution_working

router = contract_router("mixing")
twin = QueryTwin(DilutionRequest)
WRITER: Final = AnswerWriter(DilutionAnswer)

FIELDS = (
    "status",
    "product_mass_g",
    "product_volume_ml",
    "additions",
    "elements_mg_per_l",
    "nitrogen_mg_per_l",
    "predicted_ph",
    "predicted_ph_open",
    "saturation",
    "meter_ppm_500",
    "meter_ppm_640",
    "meter_ppm_700",
)


def fields_of(asked: DilutionRequest, plan: Planned) -> dict[str, Any]:
    """Return the fields of the answer that a plan is."""
    fields = card(plan)
    return {
        **{name: fields[name] for name in FIELDS},
        "ec_ms_per_cm": fields["predicted_ec_ms_per_cm"],
        "range": bounds(plan),
        **envelope(plan, assumptions_of(asked)),
    }


def answer(request: Request, asked: DilutionRequest) -> dict[str, Any]:
    """Return the fields of the dilution of one request."""
    return fields_of(asked, planned(asked, request.app.state.catalogue, limited=False))


def explained(request: Request, asked: DilutionRequest) -> Explained[DilutionAnswer]:
    """Return the dilution of one request with its working."""
    plan = planned(asked, request.app.state.catalogue, limited=False)
    return Explained(
        DilutionAnswer(**fields_of(asked, plan)),
        lambda: dilution_working(*plan.records, plan.catalogue),
    )


@router.post(
    "/dilutions",
    operation_id="post_dilutions",
    summary="How much of a product for a strength?",
    response_model=DilutionAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(DilutionAnswer),
)
async def post_dilutions(
    request: Request,
    asked: Annotated[DilutionRequest, Body(openapi_examples=named_examples(**DILUTION_EXAMPLES))],
) -> Response:
    """
    Give the grams or millilitres of one product, or of several that share a can.

    By element: (wanted − brought by the water) / content, in mg/L over mg/g, times the litres. By
    conductivity or meter ppm: the amount at which the ions of the whole can conduct as asked. What
    the elements come to is given after rounding to the balance or the syringe.
    """
    form = asked_form(request, DilutionAnswer)
    return written_fields(answer(request, asked), WRITER, form)


@router.get(
    "/dilutions",
    operation_id="get_dilutions",
    summary="How much of a product for a strength?",
    response_model=DilutionAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(DilutionAnswer),
)
async def get_dilutions(request: Request) -> Response:
    """Give the same answer as the POST, with its fields as flat query parameters."""
    form = asked_form(request, DilutionAnswer)
    return written_fields(answer(request, twin.read(request)), WRITER, form)


add_explanation(router, "dilutions", DilutionRequest, DILUTION_EXAMPLES, explained, twin)
