"""The composed application."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.middleware import Middleware
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.gzip import GZipMiddleware

from service.api import contract
from service.api.admission import Admission, BatchQueue
from service.api.body_limit import BodyLimit
from service.api.encodings import AcceptedEncoding
from service.api.keys import KeyFile, KeyNeeded, Keys
from service.api.limits import Limits
from service.api.metrics import count_rows
from service.api.middleware import Envelope, FormatSuffix, HeadAsGet
from service.api.observation import NotedRoute, Observation
from service.api.pace import Pace, PacedCallers
from service.api.plain_doses import PlainDoses
from service.api.problems import install_problem_handlers
from service.api.provenance import versions
from service.api.readiness import Readiness
from service.api.routes import (
    catalogue,
    dilutions,
    documents,
    doses,
    doses_batch,
    flushes,
    operation,
    ph_adjustments,
    programmes,
    readings,
    recipes,
    reservoir_corrections,
    salt_outlooks,
    solubilities,
    solutions,
    stock_plans,
    targets,
    water_blends,
)
from service.api.schemas.doses_batch import DoseBatchRequest
from service.api.telemetry import telemetry_of
from service.planning.catalogue import catalogue as planning_catalogue
from service.planning.watching import watch
from service.reference.house_catalogue import house_products
from service.reference.loader import products
from service.settings import Settings, load_settings

COMPRESSED_FROM_BYTES = 8_192
COMPRESSION = 1
"""Level of zlib: a batch shrinks to 8 % in place of 6 %, in little more than half the time."""


@asynccontextmanager
async def lifespan(app: FastAPI) -> AsyncIterator[None]:
    """Prepare the kernels beside the first requests; the service is ready when they are."""
    app.state.readiness.begin()
    yield


def create_app(settings: Settings | None = None) -> FastAPI:
    """
    Return the application for one installation.

    Parameters
    ----------
    settings : Settings, optional
        By default what the environment says.
    """
    settings = load_settings() if settings is None else settings
    limits = Limits(
        batch_rows=settings.limit_rows,
        batch_bytes=settings.limit_bytes,
        body_seconds=settings.limit_body_seconds,
        connections=settings.limit_concurrency,
        header_seconds=settings.limit_header_seconds,
        request_seconds=settings.limit_request_seconds,
        batch_seconds=settings.limit_batch_seconds,
        batches=settings.limit_batches,
        batches_waiting=settings.limit_batches_waiting,
        bodies=settings.limit_bodies,
        requests_per_minute=settings.limit_requests_per_minute,
    )
    release = versions()
    watch(count_rows)
    middleware = [
        Middleware(Observation),
        Middleware(Envelope, service_version=release.service, data_version=release.data),
        Middleware(HeadAsGet),
        Middleware(AcceptedEncoding),
        Middleware(
            GZipMiddleware,
            minimum_size=COMPRESSED_FROM_BYTES,
            compresslevel=COMPRESSION,
            exclude_content_types=(
                "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            ),
        ),
        Middleware(FormatSuffix),
        Middleware(BodyLimit, limits=limits),
        Middleware(Admission, limits=limits, batches=BatchQueue(limits)),
        Middleware(NotedRoute),
        Middleware(PlainDoses),
    ]
    if limits.requests_per_minute:
        middleware.insert(2, Middleware(PacedCallers, pace=Pace(limits.requests_per_minute)))
    if settings.keys_file is not None or settings.keys:
        listed = Keys(dict(settings.keys))
        keys = listed if settings.keys_file is None else KeyFile(settings.keys_file)
        middleware.insert(2, Middleware(KeyNeeded, keys=keys))
    if settings.cors_origins:
        cross_origin = Middleware(
            CORSMiddleware,
            allow_origins=list(settings.cors_origins),
            allow_methods=["GET", "HEAD", "POST"],
            allow_headers=["*"],
            expose_headers=["ETag", "RateLimit", "RateLimit-Policy", "Retry-After", "X-Request-ID"],
        )
        middleware.insert(2, cross_origin)
    app = contract.ContractApp(
        title="Velamen",
        summary="Nutrient solutions for epiphytes: what to mix now, and what it will be.",
        description=contract.DESCRIPTION,
        version=release.service,
        openapi_tags=list(contract.TAGS),
        servers=[
            {
                "url": settings.public_url,
                "description": "This installation, in production.",
                "x-internal": False,
            }
        ],
        contact=contract.CONTACT,
        license_info=contract.LICENCE,
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        middleware=middleware,
        lifespan=lifespan,
        telemetry=telemetry_of(),
    )
    app.openapi_version = contract.OPENAPI_VERSION
    app.state.settings = settings
    app.state.bodies = (DoseBatchRequest,)
    app.state.limits = limits
    app.state.readiness = Readiness()
    house = {} if settings.catalogue is None else house_products(settings.catalogue)
    app.state.products = {**products(), **house}
    app.state.catalogue = planning_catalogue(settings.catalogue)
    install_problem_handlers(app)
    # The routes are taken over one by one: an included router costs every request a search of its
    # own. What is asked most is found first.
    for routes in (
        doses,
        targets,
        dilutions,
        doses_batch,
        flushes,
        salt_outlooks,
        ph_adjustments,
        programmes,
        readings,
        recipes,
        solubilities,
        reservoir_corrections,
        solutions,
        stock_plans,
        water_blends,
        catalogue,
        operation,
        documents,
    ):
        app.router.routes.extend(routes.router.routes)
    return app


def __getattr__(name: str) -> FastAPI:
    """Make `app` when it is first asked for, so that importing the module reads no environment."""
    if name == "app":
        app = create_app()
        globals()["app"] = app
        return app
    message = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(message)
