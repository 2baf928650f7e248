"""Readings: what a conductivity meter says."""

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
from service.api.schemas.readings import READING_EXAMPLES, ReadingAnswer, ReadingRequest
from service.planning.explain.readings import reading_working
from service.planning.notes import Notes, RefusalError
from service.planning.reading import Judge, judge_of, reading_fields

router = contract_router("strength")
twin = QueryTwin(ReadingRequest)

MODELS: Final = ("iso-7888-1985", "tds-conversion-table")
SOURCES: Final = ("iso-7888-1985", "tds-conversion-table", "meter-factor-manual", "common-practice")


def _judge(request: Request, asked: ReadingRequest, notes: Notes) -> Judge:
    """Return what the reading is held against."""
    names = OpenCatalogue(request.app.state.catalogue)
    plants = asked.plants
    position: int | None = names.default_profile
    if plants is None or plants.profile is None:
        notes.assume("profile_assumed")
    else:
        try:
            position = names.profile_position(plants.profile)
        except NamingError as error:
            raise invalid_request(error.fault) from None
    if position is None:
        position = names.weakest_profile
        notes.caution("unknown_plant")
    return judge_of(position, None if plants is None else plants.size, names.closed(), notes)


def _inputs(asked: ReadingRequest, judge: Judge, fields: dict[str, Any]) -> dict[str, Any]:
    """Return the request as it was understood, and take from the fields what is no result."""
    inputs = asked.model_dump(exclude_none=True)
    inputs["plants"] = {**inputs.get("plants", {}), "profile": judge.name}
    inputs["kind"] = fields.pop("kind")
    inputs["compensated"] = asked.compensated is not False
    if asked.ppm is not None:
        inputs["scale"] = asked.scale or "500"
    feed = fields.pop("feed_ec_ms_per_cm")
    if feed is not None:
        inputs["feed_ec_ms_per_cm"] = feed
    return inputs


def explained(request: Request, asked: ReadingRequest) -> Explained[ReadingAnswer]:
    """Return what the reading of one request means, with its working."""
    notes = Notes()
    judge = _judge(request, asked, notes)
    try:
        fields = reading_fields(asked, judge, notes)
    except RefusalError as error:
        raise refused(error) from None
    found = dict(fields)
    inputs = _inputs(asked, judge, fields)
    around = envelope_of(asked, notes, inputs, MODELS, (*SOURCES, *judge.sources))
    made = ReadingAnswer(status="ok", **fields, **around)
    return Explained(made, lambda: reading_working(asked, judge, found))


def answer(request: Request, asked: ReadingRequest) -> ReadingAnswer:
    """Return what the reading of one request means."""
    return explained(request, asked).answer


@router.post(
    "/readings",
    operation_id="post_readings",
    summary="What does the meter say?",
    response_model=ReadingAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(ReadingAnswer),
)
async def post_readings(
    request: Request,
    asked: Annotated[ReadingRequest, Body(openapi_examples=named_examples(**READING_EXAMPLES))],
) -> Response:
    """
    Refer a reading to 25 °C, give it on every meter scale, and say what it means for these plants.

    A reading of a meter without compensation is multiplied by the factor of natural waters for its
    temperature (ISO 7888). Feeds and waters are held against the published range and the ceiling
    of the plants, a drainage against its feed (to 1.2 times steady, to twice rising, above that
    flush: common practice).
    """
    form = asked_form(request, ReadingAnswer)
    return written(answer(request, asked), form)


@router.get(
    "/readings",
    operation_id="get_readings",
    summary="What does the meter say?",
    response_model=ReadingAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=twin.answer_extra(ReadingAnswer),
)
async def get_readings(request: Request) -> Response:
    """Give the same answer as the POST, with its fields as flat query parameters."""
    form = asked_form(request, ReadingAnswer)
    return written(answer(request, twin.read(request)), form)


add_explanation(router, "readings", ReadingRequest, READING_EXAMPLES, explained, twin)
