"""Doses: the whole mixing card for one group of plants."""

from functools import partial
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import Body, Request
from starlette.responses import Response

from service.api.assumptions import assumptions_of
from service.api.contract import SINGLE_FORMATS, answer_parameters, named_examples
from service.api.dosing import Planned, bounds, card, envelope, planned, split, steps
from service.api.due import decided
from service.api.explaining import Explained, add_explanation
from service.api.formats.answer_writer import AnswerWriter
from service.api.formats.mixing_card import mixing_card
from service.api.formats.single_answer import asked_form, written_fields
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.doses import DOSE_EXAMPLES, DoseAnswer, TodaysDoseRequest
from service.planning.can_split import can_split
from service.planning.card import achieved_strength
from service.planning.explain.doses import dose_working
from service.planning.explain.split_cans import split_lines
from service.planning.explain.working import Line
from service.planning.reasons import published_quantities, published_ranges

OFFERED: Final = (*SINGLE_FORMATS, "html")
PAGES: Final = {"html": mixing_card}
WRITER: Final = AnswerWriter(DoseAnswer)
OF_THE_FORM: Final = ("format", "field", "fields", "units")
"""Parameters that say how an answer is written, and mean nothing to its working."""

router = contract_router("mixing")
twin = QueryTwin(TodaysDoseRequest)


def dose_fields(asked_id: str | None, plan: Planned, due: dict[str, Any] | None) -> dict[str, Any]:
    """Return the results of a dose by the names of its answer."""
    fields = card(plan)
    return {
        **fields,
        "id": asked_id,
        "strength": achieved_strength(plan.row, plan.result, plan.catalogue),
        "range": bounds(plan),
        "published_ranges": published_ranges(
            plan.catalogue.profile_names[plan.row["profile"]],
            published_quantities(plan.result),
        ),
        "due": due,
        "split": split(plan),
        "steps": steps(plan),
    }


def planned_dose(request: Request, asked: TodaysDoseRequest) -> tuple[dict[str, Any], Planned]:
    """Return the fields of the mixing card of one request, and the plan behind it."""
    known = request.app.state.catalogue
    today, due = decided(asked, known)
    plan = planned(today, known, limited=True)
    return {**dose_fields(asked.id, plan, due), **envelope(plan, assumptions_of(today))}, plan


def answer(request: Request, asked: TodaysDoseRequest) -> dict[str, Any]:
    """Return the fields of the mixing card of one request."""
    return planned_dose(request, asked)[0]


def explained(request: Request, asked: TodaysDoseRequest) -> Explained[DoseAnswer]:
    """Return the mixing card of one request with its working."""
    fields, plan = planned_dose(request, asked)
    return Explained(DoseAnswer(**fields), lambda: _lines(plan))


def _lines(plan: Planned) -> list[Line]:
    """Return the working of a dose, that of one of equal cans after it."""
    working = dose_working(*plan.records, plan.catalogue)
    cans = can_split(plan.asked, plan.result, plan.catalogue)
    if cans is not None:
        split_lines(working, cans, float(plan.asked["largest_can_l"]), plan.catalogue)
    return working.lines


def dose_bytes(asked_id: str | None, plan: Planned) -> bytes:
    """Return the whole answer to a dose in whose texts nothing was assumed, as JSON."""
    return WRITER.bytes({**dose_fields(asked_id, plan, None), **envelope(plan, [])})


@router.post(
    "/doses",
    operation_id="post_doses",
    summary="What to mix now",
    response_model=DoseAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(DoseAnswer, OFFERED),
)
async def post_doses(
    request: Request,
    asked: Annotated[TodaysDoseRequest, Body(openapi_examples=named_examples(**DOSE_EXAMPLES))],
) -> Response:
    """
    Give the whole mixing card: amounts in g and mL, acid, what the can will be, the steps.

    The amount is the smallest that any ceiling of these plants in this air allows (conductivity,
    total nitrogen, ammonium and urea, each micronutrient; water included), or the strength asked
    for if that is lower. pH, mS/cm at 25 °C and saturation follow from the ions of the mix.
    """
    form = asked_form(request, DoseAnswer, OFFERED)
    return written_fields(answer(request, asked), WRITER, form, PAGES)


@router.get(
    "/doses",
    operation_id="get_doses",
    summary="What to mix now",
    response_model=DoseAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(DoseAnswer, OFFERED),
)
async def get_doses(request: Request) -> Response:
    """Give the same card as the POST, with its fields as flat query parameters."""
    form = asked_form(request, DoseAnswer, OFFERED)
    pages = {"html": partial(mixing_card, explained_at=_explained_at(request))}
    return written_fields(answer(request, twin.read(request)), WRITER, form, pages)


def _explained_at(request: Request) -> str:
    """Return the address of the working of a GET, beside that of its card."""
    asked = [pair for pair in request.query_params.multi_items() if pair[0] not in OF_THE_FORM]
    return f"/v1/doses/explain.html?{urlencode(asked)}"


add_explanation(router, "doses", TodaysDoseRequest, DOSE_EXAMPLES, explained, twin)
