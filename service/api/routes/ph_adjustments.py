"""pH adjustments: acid or base for a pH or for a residual alkalinity."""

from dataclasses import replace
from typing import Annotated, Any, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.assumptions import assumptions_of
from service.api.contract import SINGLE_FORMATS, answer_parameters, named_examples
from service.api.dosing import refusal
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import Form, asked_form, written
from service.api.formats.svg_curve import Curve, curve_chart
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.provenance import versions
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.ph_adjustments import (
    PH_ADJUSTMENT_EXAMPLES,
    PhAdjustmentAnswer,
    PhAdjustmentRequest,
)
from service.planning.catalogue import Catalogue
from service.planning.explain.ph_adjustments import ph_adjustment_working
from service.planning.ph_adjustment import adjust
from service.planning.ph_adjustment_card import (
    ph_assumptions,
    ph_cautions,
    ph_fields,
    ph_models,
    ph_sources,
)
from service.planning.ph_adjustment_request import fill_ph_row, ph_inputs
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.ph_adjustment_steps import ph_steps
from service.planning.reagents import IS_BASE, KINDS
from service.planning.titration import titration
from service.planning.words import problem_of

OFFERED: Final = (*SINGLE_FORMATS, "svg")

router = contract_router("water")
twin = QueryTwin(PhAdjustmentRequest)

FIELDS_HERE: Final = {
    "density_needed": "additions",
    "volume_of_a_solid": "additions",
    "solution_not_solvable": "additions",
}
"""Where the fault of a problem stands in this request."""


def adjusted(request: Request, asked: PhAdjustmentRequest) -> tuple[Any, Any, Catalogue]:
    """Return the row of one request, its result and the catalogue that both refer to."""
    rows, results = empty_ph_requests(1), empty_ph_results(1)
    names = OpenCatalogue(request.app.state.catalogue)
    try:
        fill_ph_row(rows[0], results[0], asked, names)
    except NamingError as error:
        raise invalid_request(error.placed(asked)) from None
    catalogue = names.closed()
    adjust(rows, results, catalogue)
    problem = problem_of(results[0])
    if problem is not None:
        raise refusal(replace(problem, field=FIELDS_HERE.get(problem.code, problem.field)))
    return rows[0], results[0], catalogue


def answer(
    asked: PhAdjustmentRequest, row: Any, result: Any, catalogue: Catalogue
) -> PhAdjustmentAnswer:
    """Return the adjustment of one request."""
    read = [
        {"code": note.code, "field": note.field, "message": note.message}
        for note in assumptions_of(asked)
    ]
    fields = ph_fields(row, result, catalogue)
    return PhAdjustmentAnswer(
        **fields,
        steps=ph_steps(row, result, catalogue),
        **_collision(row, result, fields),
        display={},
        inputs=ph_inputs(row, catalogue),
        assumptions=read + ph_assumptions(row, result, catalogue),
        cautions=ph_cautions(row, result, catalogue),
        models=ph_models(),
        sources=ph_sources(row, catalogue),
        version=versions(),
    )


def picture(row: Any, result: Any) -> str:
    """Return the pH over the amount of acid or base, with the dose."""
    amounts, values = titration(row, result)
    dose, reached = float(result["acid_mmol_per_l"]), float(result["predicted_ph"])
    kind = KINDS[row["acid_kind"]].replace("_", " ")
    name = kind if IS_BASE[row["acid_kind"]] else f"{kind} acid"
    stands = float(result["predicted_ph_open"])
    return curve_chart(
        Curve(
            across=amounts.tolist(),
            up=values.tolist(),
            point=(dose, reached),
            levels=[(stands, f"after a day in the open: pH {stands:.1f}")],
            title=f"pH over the amount of {name}",
            description=f"{dose:.3g} mmol/L bring the can to pH {reached:.1f}.",
            across_words=f"{name[:1].upper()}{name[1:]} in the can, mmol/L",
            up_words="pH as mixed",
            point_words=f"The dose: {dose:.3g} mmol/L, pH {reached:.1f}. The steeper the line here,"
            " the smaller the portions.",
            up_start=3.0,
        )
    )


def response(request: Request, asked: PhAdjustmentRequest, form: Form) -> Response:
    """Return the adjustment in its form."""
    row, result, catalogue = adjusted(request, asked)
    whole = answer(asked, row, result, catalogue)
    return written(whole, form, {"svg": lambda *_: picture(row, result)})


def _collision(row: Any, result: Any, fields: dict[str, Any]) -> dict[str, Any]:
    """Return the limit that an infeasible adjustment breaks, and the request that keeps it."""
    if fields["status"] == "ok":
        return {"conflicts": [], "nearest": None}
    conflict = {
        "limit": "acid_phosphorus_mg_per_l",
        "needed": float(f"{result['acid_phosphorus_brought_mg_per_l']:.4g}"),
        "allowed": float(row["acid_phosphorus_mg_per_l"]),
        "message": "The acid that the target takes brings more phosphorus than is allowed.",
    }
    other = fields["alternative"]
    return {"conflicts": [conflict], "nearest": None if other is None else {"acid": other["acid"]}}


@router.post(
    "/ph-adjustments",
    operation_id="post_ph_adjustments",
    summary="Acid or base for a pH or an alkalinity",
    response_model=PhAdjustmentAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(PhAdjustmentAnswer, OFFERED),
)
async def post_ph_adjustments(
    request: Request,
    asked: Annotated[
        PhAdjustmentRequest, Body(openapi_examples=named_examples(**PH_ADJUSTMENT_EXAMPLES))
    ],
) -> Response:
    """
    Give the acid or base that brings a can to a pH, or leaves it an alkalinity, and the safe steps.

    It is dosed against alkalinity, never against pH alone: with the alkalinity unknown, below pH
    5.0, or beyond 90 % of the alkalinity it is refused. The pH as mixed climbs as carbon dioxide
    leaves; `predicted_ph_open` says how far. That nothing is needed is an answer.
    """
    form = asked_form(request, PhAdjustmentAnswer, OFFERED)
    return response(request, asked, form)


@router.get(
    "/ph-adjustments",
    operation_id="get_ph_adjustments",
    summary="Acid or base for a pH or an alkalinity",
    response_model=PhAdjustmentAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(PhAdjustmentAnswer, OFFERED),
)
async def get_ph_adjustments(request: Request) -> Response:
    """Give the same answer as the POST, its fields as flat query parameters (no `additions`)."""
    form = asked_form(request, PhAdjustmentAnswer, OFFERED)
    return response(request, twin.read(request), form)


def explained(request: Request, asked: PhAdjustmentRequest) -> Explained[PhAdjustmentAnswer]:
    """Return the adjustment of one request with its working."""
    row, result, catalogue = adjusted(request, asked)
    return Explained(
        answer(asked, row, result, catalogue),
        lambda: ph_adjustment_working(row, result, catalogue),
    )


add_explanation(
    router, "ph-adjustments", PhAdjustmentRequest, PH_ADJUSTMENT_EXAMPLES, explained, twin
)
