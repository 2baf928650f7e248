"""Solubilities: how much more dissolves."""

from typing import Annotated, Any, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import asked_form, written
from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.solubilities import (
    SOLUBILITY_EXAMPLES,
    SolubilityAnswer,
    SolubilityRequest,
)
from service.planning.explain.solubilities import solubility_working
from service.planning.notes import Notes, RefusalError
from service.planning.products import ProductRow
from service.planning.solubility import Solubility, solubility

router = contract_router("water")
twin = QueryTwin(SolubilityRequest)

MODELS: Final = ("harvie-moller-weare-1984", "pitzer-1991", "salt-mixtures-fit")
SOURCES: Final = ("crc-handbook-98", "salt-mixtures-fit")


def _products(request: Request, asked: SolubilityRequest) -> list[ProductRow]:
    """Return the product and those of the background."""
    names = OpenCatalogue(request.app.state.catalogue)
    positions = []
    places = [
        "#/product",
        *(f"#/background/{k}/product" for k in range(len(asked.background or []))),
    ]
    for place, product in zip(
        places, [asked.product, *(each.product for each in asked.background or [])], strict=True
    ):
        try:
            positions.append(names.product_position(product))
        except NamingError as error:
            inside = (error.fault.pointer or "#/product").removeprefix("#/product")
            raise invalid_request(
                error.fault.model_copy(update={"pointer": place + inside})
            ) from None
    known = names.closed()
    return [known.product_rows[position] for position in positions]


def _fields(found: Solubility) -> dict[str, Any]:
    return {
        "solubility_g_per_kg_water": found.g_per_kg_water,
        "safe_g_per_kg_water": found.safe_g_per_kg_water,
        "solubility_g_per_l": found.g_per_l,
        "density_kg_per_l": found.density_kg_per_l,
        "limiting_solid": found.limiting_solid,
        "margin_percent": found.margin_percent,
        "evidence": found.evidence,
        "saturation": [
            {
                "solid": state.solid,
                "index": state.saturation_index,
                "margin": state.margin,
                "margin_percent": state.margin_percent,
                "evidence": state.evidence,
            }
            for state in found.states
        ],
    }


def explained(request: Request, asked: SolubilityRequest) -> Explained[SolubilityAnswer]:
    """Return the solubility of one request with its working."""
    product, *others = _products(request, asked)
    contents = asked.background or []
    background = [
        (each, content.g_per_kg_water) for each, content in zip(others, contents, strict=True)
    ]
    notes = Notes()
    try:
        found = solubility(product, asked.temperature_celsius, background, notes)
    except RefusalError as error:
        raise refused(error) from None
    inputs = {
        "product": product.key,
        "temperature_celsius": asked.temperature_celsius,
        "background": [
            {"product": each.key, "g_per_kg_water": grams} for each, grams in background
        ],
    }
    around = envelope_of(asked, notes, inputs, MODELS, SOURCES)
    return Explained(
        SolubilityAnswer(status="ok", **_fields(found), **around),
        lambda: solubility_working(product, asked.temperature_celsius, background, found),
    )


def answer(request: Request, asked: SolubilityRequest) -> SolubilityAnswer:
    """Return the solubility of one request."""
    return explained(request, asked).answer


@router.post(
    "/solubilities",
    operation_id="post_solubilities",
    summary="How much of a product dissolves?",
    response_model=SolubilityAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(SolubilityAnswer),
)
async def post_solubilities(
    request: Request,
    asked: Annotated[
        SolubilityRequest, Body(openapi_examples=named_examples(**SOLUBILITY_EXAMPLES))
    ],
) -> Response:
    """
    Give the grams of a product that dissolve beside what is in the tank, from 0 to 40 °C.

    Saturation of every solid that the ions could form, those made by exchange included, with
    activities by the ion-interaction equations; constants of single salts follow from their adopted
    solubilities. `margin_percent` says how far the model may be off: plan with the safe figure.
    """
    form = asked_form(request, SolubilityAnswer)
    return written(answer(request, asked), form)


@router.get(
    "/solubilities",
    operation_id="get_solubilities",
    summary="How much of a product dissolves in water?",
    response_model=SolubilityAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(SolubilityAnswer),
)
async def get_solubilities(request: Request) -> Response:
    """Give the same answer for plain water; `background` is a list and needs the POST."""
    form = asked_form(request, SolubilityAnswer)
    return written(answer(request, twin.read(request)), form)


add_explanation(router, "solubilities", SolubilityRequest, SOLUBILITY_EXAMPLES, explained, twin)
