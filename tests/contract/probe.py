"""The application with a few routes that only read a request and hand it back."""

from typing import Annotated

from fastapi import Body, FastAPI, Request
from starlette.responses import JSONResponse

from service.api.assumptions import assumptions_of
from service.api.contract import named_examples
from service.api.negotiation import chosen_format
from service.api.query import QueryTwin
from service.api.route import POST_PROBLEMS, READ_PROBLEMS, contract_router
from service.api.schemas.dilutions import DILUTION_EXAMPLES, DilutionRequest
from service.api.schemas.doses import DOSE_EXAMPLES, DoseRequest
from service.api.schemas.targets import TARGET_EXAMPLES, TargetRequest
from service.main import create_app
from service.settings import Settings

DILUTION_TWIN = QueryTwin(DilutionRequest)
TARGET_TWIN = QueryTwin(TargetRequest)

router = contract_router("mixing", "/probe")


class BrokenError(RuntimeError):
    pass


def echo(request: Request, body: DilutionRequest | DoseRequest | TargetRequest) -> JSONResponse:
    chosen_format(request)
    return JSONResponse(
        {
            "inputs": body.model_dump(exclude_none=True),
            "assumptions": [vars(note) for note in assumptions_of(body)],
        }
    )


@router.post(
    "/dilutions", responses=POST_PROBLEMS, operation_id="probe_dilution", summary="Read a dilution"
)
async def probe_dilution(
    request: Request,
    body: Annotated[DilutionRequest, Body(openapi_examples=named_examples(**DILUTION_EXAMPLES))],
) -> JSONResponse:
    """Read a dilution."""
    return echo(request, body)


@router.get(
    "/dilutions",
    responses=READ_PROBLEMS,
    operation_id="probe_dilution_get",
    summary="Read a dilution",
    openapi_extra=DILUTION_TWIN.openapi_extra("json"),
)
async def probe_dilution_get(request: Request) -> JSONResponse:
    """Read a dilution."""
    return echo(request, DILUTION_TWIN.read(request))


@router.post("/doses", responses=POST_PROBLEMS, operation_id="probe_dose", summary="Read a dose")
async def probe_dose(
    request: Request,
    body: Annotated[DoseRequest, Body(openapi_examples=named_examples(**DOSE_EXAMPLES))],
) -> JSONResponse:
    """Read a dose."""
    return echo(request, body)


@router.post(
    "/targets", responses=POST_PROBLEMS, operation_id="probe_target", summary="Read a target"
)
async def probe_target(
    request: Request,
    body: Annotated[TargetRequest, Body(openapi_examples=named_examples(**TARGET_EXAMPLES))],
) -> JSONResponse:
    """Read a target."""
    return echo(request, body)


@router.get(
    "/targets",
    responses=READ_PROBLEMS,
    operation_id="probe_target_get",
    summary="Read a target",
    openapi_extra=TARGET_TWIN.openapi_extra("json"),
)
async def probe_target_get(request: Request) -> JSONResponse:
    """Read a target."""
    return echo(request, TARGET_TWIN.read(request))


@router.get("/broken", include_in_schema=False)
async def broken() -> None:
    """Fail as a fault of the program does."""
    raise BrokenError("secret text of an exception")


def probe_app(settings: Settings | None = None) -> FastAPI:
    app = create_app(settings or Settings())
    app.include_router(router)
    return app
