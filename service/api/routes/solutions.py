"""Solutions: what a mix will be."""

from typing import Annotated, Any, Final

from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import asked_form, written
from service.api.query import QueryTwin
from service.api.recipe_parts import recipe_parts
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.solutions import SOLUTION_EXAMPLES, SolutionAnswer, SolutionRequest
from service.planning.evidence import SOLUTION_SOURCES
from service.planning.explain.solutions import solution_working
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater, known_water
from service.planning.mix_parts import MixPart, acid_part
from service.planning.notes import Notes, RefusalError
from service.planning.solution import mixture, pressure_of, solution_fields
from service.reference.acids import acids

router = contract_router("water")
twin = QueryTwin(SolutionRequest)

MODELS: Final = ("parkhurst-appelo-2013", "onsager-1927", "laliberte-2009", "kell-1975")


def _inputs(
    asked: SolutionRequest, water: KnownWater, parts: list[MixPart], celsius: float
) -> dict[str, Any]:
    """Return the request as it was understood."""
    inputs: dict[str, Any] = {
        "water": dict(water.analysis),
        "additions": [
            {
                "product": part.product.key,
                ("ml_per_l" if part.product.liquid else "g_per_l"): part.amount,
            }
            for part in parts
        ],
        "temperature_celsius": celsius,
    }
    if asked.acid is not None:
        percent = asked.acid.percent
        if percent is None:
            percent = acids()[asked.acid.kind].default_strength_percent
        inputs["acid"] = {**asked.acid.model_dump(exclude_none=True), "percent": percent}
    opened = asked.carbon_dioxide == "open" or (
        asked.carbon_dioxide is None and asked.carbon_dioxide_ppm is not None
    )
    inputs["carbon_dioxide"] = "open" if opened else "closed"
    if asked.carbon_dioxide_ppm is not None:
        inputs["carbon_dioxide_ppm"] = asked.carbon_dioxide_ppm
    return inputs


def explained(request: Request, asked: SolutionRequest) -> Explained[SolutionAnswer]:
    """Return what the mix of one request is, with its working."""
    notes = Notes()
    try:
        water = known_water(asked.water, request.app.state.catalogue, notes)
        parts = recipe_parts(request, asked.additions or [], "additions", notes)
        acid = None if asked.acid is None else acid_part(asked.acid, notes)
        celsius = asked.temperature_celsius
        if celsius is None:
            celsius = REFERENCE_CELSIUS
            notes.assume("mix_temperature_assumed")
        pressure = pressure_of(asked.carbon_dioxide, asked.carbon_dioxide_ppm, notes)
        mix = mixture(water, parts, acid, celsius, pressure)
        fields = solution_fields(mix, water, notes)
    except RefusalError as error:
        raise refused(error) from None
    sources = [*SOLUTION_SOURCES, *(key for part in parts for key in part.product.sources)]
    if asked.acid is not None:
        sources += acids()[asked.acid.kind].sources
    around = envelope_of(asked, notes, _inputs(asked, water, parts, celsius), MODELS, sources)
    answered = SolutionAnswer(status="ok", **fields, **around)
    return Explained(answered, lambda: solution_working(mix, water, parts, acid))


def answer(request: Request, asked: SolutionRequest) -> SolutionAnswer:
    """Return what the mix of one request is."""
    return explained(request, asked).answer


@router.post(
    "/solutions",
    operation_id="post_solutions",
    summary="What will a mix be?",
    response_model=SolutionAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(SolutionAnswer),
)
async def post_solutions(
    request: Request,
    asked: Annotated[SolutionRequest, Body(openapi_examples=named_examples(**SOLUTION_EXAMPLES))],
) -> Response:
    """
    Give pH, conductivity, species and saturation of water, products and acid in known amounts.

    Amounts are for a litre at 25 °C that is filled up with the water; what dissolves takes up room,
    so that concentrates hold too, to an ionic strength of 0.5 mol/kg and from pH 2 to 12. pH and
    solids are those at the temperature of the mix; `ec_ms_per_cm` is at 25 °C.
    """
    form = asked_form(request, SolutionAnswer)
    return written(answer(request, asked), form)


@router.get(
    "/solutions",
    operation_id="get_solutions",
    summary="What will a water be, with or without acid?",
    response_model=SolutionAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(SolutionAnswer),
)
async def get_solutions(request: Request) -> Response:
    """
    Give the same answer as the POST, with its fields as flat query parameters.

    `additions` is a list and needs the POST: water and acid can be asked for here.
    """
    form = asked_form(request, SolutionAnswer)
    return written(answer(request, twin.read(request)), form)


add_explanation(router, "solutions", SolutionRequest, SOLUTION_EXAMPLES, explained, twin)
