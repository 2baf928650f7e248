"""
`POST …/explain` of every calculation, and its GET twin where the calculation has one.

A route hands over what it answers and the working behind it; everything else is the same for all.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

import anyio.to_thread
from fastapi import APIRouter, Body, Request
from pydantic import BaseModel
from starlette.responses import Response

from service.api.contract import format_parameter, named_examples
from service.api.formats.json import json_response
from service.api.formats.single_answer import ALWAYS, NO_STORE
from service.api.formats.working import working_csv, working_html, working_text
from service.api.negotiation import MEDIA_TYPES, chosen_format
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS
from service.api.schemas.answer import Envelope, Explanation
from service.planning.explain.working import Line

Asked = TypeVar("Asked", bound=BaseModel)
Answered = TypeVar("Answered", bound=Envelope, covariant=True)

OFFERED: Final = ("json", "csv", "txt", "html")
WRITERS: Final = {"csv": working_csv, "txt": working_text, "html": working_html}


@dataclass(frozen=True)
class Explained(Generic[Answered]):
    """
    What a calculation answers, and why.

    Attributes
    ----------
    answer : BaseModel
        The plain answer.
    lines : callable
        Makes its working, which nobody may ask for.
    """

    answer: Answered
    lines: Callable[[], Sequence[Line]]


def explanation_of(explained: Explained[Envelope]) -> Explanation:
    """Return the working with what stands around the plain answer."""
    around = {name: getattr(explained.answer, name) for name in Envelope.model_fields}
    steps = [
        {
            "order": order,
            "part": line.part,
            "quantity": line.quantity,
            "value": line.value,
            "unit": line.unit,
            "how": line.how,
            "formula": line.formula,
            "inputs": dict(line.inputs),
            "source": line.source,
            "field": line.field,
        }
        for order, line in enumerate(explained.lines(), start=1)
    ]
    status: Any = getattr(explained.answer, ALWAYS)
    return Explanation(status=status, steps=steps, **around)


def add_explanation(
    router: APIRouter,
    name: str,
    model: type[Asked],
    examples: dict[str, tuple[str, Any]],
    explained: Callable[[Request, Asked], Explained[Envelope]],
    twin: QueryTwin[Asked] | None = None,
) -> None:
    """
    Add the working of a calculation to its router.

    Parameters
    ----------
    router : APIRouter
        The router of the calculation.
    name : str
        Its path, such as ``doses``.
    model : type of BaseModel
        The body that the calculation takes.
    examples : dict
        Examples of bodies, as `named_examples` takes them.
    explained : callable
        Answers a request and explains the answer.
    twin : QueryTwin, optional
        Query parameters of the GET, where the calculation has one.
    """
    said = name.replace("-", "_")
    summary = f"How was it found? The working of `/v1/{name}`"
    words = (
        "Every quantity in its order, with value, unit, formula and source, to be followed with a"
        " pocket calculator. The last lines are the numbers of the plain answer, equal to the last"
        " digit. Formulas name earlier lines and constants; what is found by iteration is checked"
        " by balances."
    )

    async def respond(request: Request, asked: Asked) -> Response:
        form = chosen_format(request, OFFERED)

        def answered() -> Response:
            working = explanation_of(explained(request, asked))
            if form == "json":
                return json_response(working)
            body = WRITERS[form](working, name)
            return Response(body, headers=NO_STORE, media_type=MEDIA_TYPES[form])

        return await anyio.to_thread.run_sync(answered)

    body = Body(openapi_examples=named_examples(**examples))

    async def post_working(request: Request, asked: Any = body) -> Response:
        return await respond(request, asked)

    # FastAPI reads the model of the body off the annotation.
    post_working.__annotations__["asked"] = model
    router.add_api_route(
        f"/{name}/explain",
        post_working,
        methods=["POST"],
        operation_id=f"post_{said}_explain",
        summary=summary,
        description=words,
        response_model=Explanation,
        responses=POST_PROBLEMS,
        openapi_extra=format_parameter(*OFFERED),
    )
    if twin is None:
        return

    async def get_working(request: Request) -> Response:
        return await respond(request, twin.read(request))

    router.add_api_route(
        f"/{name}/explain",
        get_working,
        methods=["GET"],
        operation_id=f"get_{said}_explain",
        summary=summary,
        description="The same working as that of the POST, its fields as flat query parameters.",
        response_model=Explanation,
        responses=READ_PROBLEMS,
        openapi_extra=twin.openapi_extra(*OFFERED),
    )
