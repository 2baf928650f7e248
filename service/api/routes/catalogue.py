"""The catalogues: products, acids, waters, sources, units, limits."""

from collections.abc import Iterable
from typing import Annotated

from fastapi import Path, Request
from pydantic import BaseModel
from starlette.responses import Response

from service.api.caching import kept_response
from service.api.contract import format_parameter
from service.api.formats.json import json_bytes
from service.api.formats.source_page import source_html
from service.api.json_body import DEEPEST, MOST_KEYS
from service.api.limits import SLOWEST_BYTES_PER_SECOND
from service.api.negotiation import chosen_format
from service.api.problems import FieldError, ProblemError
from service.api.provenance import versions
from service.api.route import READ_PROBLEMS, contract_router
from service.api.schemas.catalogue import (
    AcidEntry,
    AcidListing,
    KnownLimit,
    LimitsAnswer,
    PlantEntry,
    PlantListing,
    ProductEntry,
    ProductListing,
    SourceEntry,
    SourceListing,
    UnitEntry,
    UnitListing,
    WaterEntry,
    WaterListing,
)
from service.api.schemas.trust import SourcePage
from service.api.suggestions import nearest
from service.api.trust_report import source_page
from service.reference.loader import (
    COMPONENT_NAMES,
    Product,
    acids,
    sources,
    waters,
)
from service.reference.plants import Limit, PlantProfile, plants
from service.units.catalogue import unit_catalogue

router = contract_router("catalogue")

CatalogueKey = Annotated[
    str,
    Path(
        description="A key of the listing.",
        min_length=1,
        max_length=80,
        pattern=r"^[a-z0-9][a-z0-9_-]*$",
    ),
]


def _kept(request: Request, answer: BaseModel) -> Response:
    chosen_format(request)
    return kept_response(request, json_bytes(answer))


def _unknown_key(noun: str, key: str, known: Iterable[str]) -> ProblemError:
    meant = nearest(key, known)
    hint = f" Did you mean `{meant}`?" if meant else ""
    error = FieldError(
        parameter="key",
        code="unknown_key",
        detail=f"There is no {noun} `{key}`.{hint}",
        received=key,
        allowed=[meant] if meant else None,
    )
    return ProblemError("not_found", error.detail, [error])


def product_entry(product: Product) -> ProductEntry:
    """Return a product as the catalogue shows it."""
    amounts = product.composition_mmol_per_g
    composition = None
    if amounts is not None:
        named = zip(COMPONENT_NAMES, amounts.tolist(), strict=True)
        composition = {name: amount for name, amount in named if amount}
    return ProductEntry(
        key=product.key,
        name=product.name,
        kind=product.kind,
        form="liquid" if product.form == "liquid" else "solid",
        formula=product.formula,
        molar_mass_g_per_mol=product.molar_mass_g_per_mol,
        density_kg_per_l=product.density_kg_per_l,
        composition_mmol_per_g=composition,
        label=None if product.label is None else dict(product.label),
        oxidiser=product.oxidiser,
        basis=product.basis,
        sources=list(product.sources),
        note=product.note,
    )


@router.get(
    "/products",
    operation_id="list_products",
    summary="List all products",
    response_model=ProductListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_products(request: Request) -> Response:
    """Pure salts, chelates and generic feeds, each with the key that requests name it by."""
    entries = [product_entry(product) for product in request.app.state.products.values()]
    return _kept(request, ProductListing(products=entries, count=len(entries), version=versions()))


@router.get(
    "/products/{key}",
    operation_id="get_product",
    summary="Show one product",
    response_model=ProductEntry,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_product(request: Request, key: CatalogueKey) -> Response:
    """One product of the catalogue with its composition and the sources of its numbers."""
    known = request.app.state.products
    if key not in known:
        raise _unknown_key("product", key, known)
    return _kept(request, product_entry(known[key]))


@router.get(
    "/acids",
    operation_id="list_acids",
    summary="List acids and bases",
    response_model=AcidListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_acids(request: Request) -> Response:
    """Everything that sets a pH, with the strengths it is sold in."""
    entries = [
        AcidEntry(
            key=acid.key,
            name=acid.name,
            role="base" if acid.role == "base" else "acid",
            form="liquid" if acid.form == "liquid" else "solid",
            formula=acid.formula,
            molar_mass_g_per_mol=acid.molar_mass_g_per_mol,
            usual_strengths_percent=list(acid.usual_strengths_percent),
            default_strength_percent=acid.default_strength_percent,
            restricted_above_percent=acid.restricted_above_percent,
            sources=list(acid.sources),
            note=acid.note,
        )
        for acid in acids().values()
    ]
    return _kept(request, AcidListing(acids=entries, count=len(entries), version=versions()))


@router.get(
    "/waters",
    operation_id="list_waters",
    summary="List water presets",
    response_model=WaterListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_waters(request: Request) -> Response:
    """Show the presets that `water` takes as a text, each as an analysis to copy and change."""
    entries = [
        WaterEntry(
            key=water.key,
            name=water.name,
            analysis=water.analysis(),
            sources=list(water.sources),
            note=water.note,
        )
        for water in waters().values()
    ]
    return _kept(request, WaterListing(waters=entries, count=len(entries), version=versions()))


def _known(limit: Limit) -> KnownLimit:
    known = limit.provenance
    return KnownLimit(value=limit.value, basis=known.basis, source=known.source, note=known.note)


def _plant_entry(profile: PlantProfile) -> PlantEntry:
    ceilings = {
        "ec_ceiling_ms_per_cm": profile.ec_ceiling_ms_per_cm,
        "nitrogen_ceiling_mg_per_l": profile.nitrogen_ceiling_mg_per_l,
        "ammonium_and_urea_share_max": profile.ammonium_and_urea_share_max,
        "ammonium_and_urea_share_max_cool": profile.ammonium_and_urea_share_max_cool,
        "cool_below_celsius": profile.cool_below_celsius,
        "sodium_caution_mg_per_l": profile.sodium_caution_mg_per_l,
        "chloride_caution_mg_per_l": profile.chloride_caution_mg_per_l,
    }
    for name, limit in profile.micronutrient_maxima_mg_per_l.items():
        ceilings[f"{name}_ceiling_mg_per_l"] = limit
    for name, limit in profile.supplement_ceilings_ppm.items():
        ceilings[f"{name}_ceiling_ppm"] = limit
    return PlantEntry(
        key=profile.key,
        name=profile.name,
        genera=list(profile.genera),
        note=profile.note,
        meter_ceilings_ppm={
            size: _known(limit) for size, limit in profile.meter_ceilings_ppm.items()
        },
        ceilings={name: _known(limit) for name, limit in ceilings.items()},
    )


@router.get(
    "/plants",
    operation_id="list_plants",
    summary="List plant profiles",
    response_model=PlantListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_plants(request: Request) -> Response:
    """Show what each kind of plant bears, every limit with how it is known."""
    entries = [_plant_entry(profile) for profile in plants().values()]
    return _kept(request, PlantListing(plants=entries, count=len(entries), version=versions()))


@router.get(
    "/sources",
    operation_id="list_sources",
    summary="List all sources",
    response_model=SourceListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_sources(request: Request) -> Response:
    """Every source that a number of this service rests on."""
    entries = [
        SourceEntry(key=each.key, citation=each.citation, kind=each.kind, url=each.url)
        for _, each in sorted(sources().items())
    ]
    return _kept(request, SourceListing(sources=entries, count=len(entries), version=versions()))


@router.get(
    "/sources/{key}",
    operation_id="get_source",
    summary="Show one source",
    response_model=SourcePage,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json", "html"),
)
async def get_source(request: Request, key: CatalogueKey) -> Response:
    """
    Show the citation behind a key that an answer lists under `models` or `sources`.

    With it come the rows of the reference tables that rest on it, and the checks that cover them.
    """
    known = sources()
    if key not in known:
        raise _unknown_key("source", key, known)
    page = source_page(key)
    if chosen_format(request, ("json", "html")) == "html":
        return kept_response(request, source_html(page).encode(), "text/html")
    return kept_response(request, json_bytes(page))


@router.get(
    "/units",
    operation_id="list_units",
    summary="List units",
    response_model=UnitListing,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def list_units(request: Request) -> Response:
    """Show the unit of each ending of field names, and what a text may carry instead."""
    entries = [UnitEntry.model_validate(entry) for entry in unit_catalogue()]
    return _kept(request, UnitListing(units=entries, count=len(entries), version=versions()))


@router.get(
    "/limits",
    operation_id="get_limits",
    summary="Show the limits",
    response_model=LimitsAnswer,
    responses=READ_PROBLEMS,
    openapi_extra=format_parameter("json"),
)
async def get_limits(request: Request) -> Response:
    """How large a request may be on this installation."""
    limits = request.app.state.limits
    answer = LimitsAnswer(
        batch_rows=limits.batch_rows,
        batch_bytes=limits.batch_bytes,
        single_bytes=limits.bytes_for(""),
        json_depth=DEEPEST,
        json_keys=MOST_KEYS,
        table_columns=limits.table.columns,
        table_heading_letters=limits.table.heading_letters,
        table_cell_letters=limits.table.cell_letters,
        table_line_bytes=limits.table.line_bytes,
        workbook_rows=min(limits.batch_rows, limits.table.workbook_rows),
        workbook_cells=limits.table.workbook_cells,
        workbook_parts=limits.table.workbook_parts,
        workbook_bytes=limits.table.workbook_bytes,
        workbook_ratio=limits.table.workbook_ratio,
        workbook_seconds=limits.table.workbook_seconds,
        body_seconds=limits.body_seconds,
        slowest_bytes_per_second=SLOWEST_BYTES_PER_SECOND,
        header_seconds=limits.header_seconds,
        header_bytes=limits.header_bytes,
        request_seconds=limits.request_seconds,
        batch_seconds=limits.batch_seconds,
        batches=limits.batches,
        batches_waiting=limits.batches_waiting,
        batch_wait_seconds=limits.batch_wait_seconds,
        bodies=limits.bodies,
        connections=limits.connections,
        open_connections=limits.open_connections,
        requests_per_minute=limits.requests_per_minute or None,
        version=versions(),
    )
    return _kept(request, answer)
