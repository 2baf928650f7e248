"""From the shelf of a request to that of the planner, and back to the request as understood."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import Request

from service.api.naming import NamingError, OpenCatalogue
from service.api.problems import invalid_request
from service.api.schemas.product import LabelledProduct
from service.api.schemas.recipes import RecipeRequest, ShelfEntry
from service.api.validation import FieldError
from service.planning.known_water import KnownWater
from service.planning.mix_parts import LabelText
from service.planning.notes import Notes
from service.planning.products import ProductRow
from service.planning.recipe_problem import (
    RecipeProblem,
    ShelfItem,
    acid_item,
    product_item,
    with_largest,
)
from service.reference.catalogue import products

UNITS_IN_A_PRICE: Final = 1000.0
"""Grams in the kilogram, millilitres in the litre, that a price is for."""


def label_of(product: str | LabelledProduct, request: Request) -> LabelText | None:
    """Return the label that a product is known by, if any."""
    if isinstance(product, LabelledProduct):
        label = product.label.model_dump(exclude_none=True)
        return LabelText(label, product.form, product.density_kg_per_l, None, own=True)
    entry = request.app.state.products[product]
    if entry.label is None:
        return None
    own = product not in products()
    return LabelText(entry.label, entry.form, entry.density_kg_per_l, entry.closure_rule, own)


def shelf_of(request: Request, asked: RecipeRequest, notes: Notes) -> tuple[ShelfItem, ...]:
    """Return the shelf of a request; what stands there twice in the same words counts once."""
    names = OpenCatalogue(request.app.state.catalogue)
    entries: dict[int, ShelfEntry] = {}
    rows: dict[int, int] = {}
    for place, given in enumerate(asked.shelf):
        entry = given if isinstance(given, ShelfEntry) else ShelfEntry(product=given)
        if entry in entries.values():
            notes.assume("shelf_item_repeated", f"shelf.{place}")
            continue
        entries[place] = entry
        if entry.product is not None:
            try:
                rows[place] = names.product_position(entry.product)
            except NamingError as error:
                raise invalid_request(_placed(error.fault, place, given)) from None
    known = names.closed().product_rows
    return tuple(
        with_largest(
            _item(request, entry, known[rows[place]] if place in rows else None, place, notes),
            entry.largest_g_per_l,
            entry.largest_ml_per_l,
        )
        for place, entry in entries.items()
    )


def _placed(fault: FieldError, place: int, given: object) -> FieldError:
    """Return the fault of a product with its pointer into the shelf."""
    inside = (fault.pointer or "#").removeprefix("#")
    if not isinstance(given, ShelfEntry):
        inside = inside.removeprefix("/product")
    return fault.model_copy(update={"pointer": f"#/shelf/{place}{inside}"})


def _item(
    request: Request, entry: ShelfEntry, row: ProductRow | None, place: int, notes: Notes
) -> ShelfItem:
    """Return one item of the shelf."""
    price = None if entry.price is None else entry.price / UNITS_IN_A_PRICE
    where = f"shelf.{place}"
    if row is None or entry.product is None:
        return acid_item(entry.acid, notes, price_per_unit=price, place=where)
    label = label_of(entry.product, request)
    return product_item(row, label=label, price_per_unit=price, place=where)


def problem_of(
    asked: RecipeRequest, shelf: tuple[ShelfItem, ...], water: KnownWater
) -> RecipeProblem:
    """Return the problem of a request."""
    limits = {} if asked.limits is None else asked.limits.model_dump(exclude_none=True)
    given: dict[str, Any] = {}
    if asked.objective is not None:
        given["objective"] = asked.objective
    if asked.pre_stocks is not None:
        given["pre_stocks"] = asked.pre_stocks
    tools = asked.instruments
    if tools is not None:
        for name in ("balance_resolution_g", "balance_minimum_g", "syringe_resolution_ml"):
            value = getattr(tools, name)
            if value is not None:
                given[name] = value
    return RecipeProblem(
        targets_mg_per_l=_numbers(asked.target_mg_per_l),
        shelf=shelf,
        water=water,
        limits=_numbers(limits),
        tolerance_percent=asked.tolerance_percent,
        weights=_numbers(asked.weights or {}),
        volume_l=asked.volume_l,
        **given,
    )


def _numbers(given: Mapping[Any, float]) -> dict[str, float]:
    return {str(name): float(value) for name, value in given.items()}


def note_tools(asked: RecipeRequest, notes: Notes) -> None:
    """Note what is taken to be so where the request is silent."""
    if asked.objective is None:
        notes.assume("objective_assumed")
    if asked.volume_l is None:
        return
    tools = asked.instruments
    if tools is None or tools.balance_resolution_g is None:
        notes.assume("balance_assumed")
    if tools is None or tools.syringe_resolution_ml is None:
        notes.assume("syringe_assumed")


def understood(problem: RecipeProblem) -> dict[str, Any]:
    """Return the request as it was understood."""
    inputs: dict[str, Any] = {
        "target_mg_per_l": dict(problem.targets_mg_per_l),
        "shelf": [_understood_item(item) for item in problem.shelf],
        "water": dict(problem.water.analysis),
        "limits": dict(problem.limits),
        "objective": problem.objective,
        "weights": dict(problem.weights),
        "volume_l": 1.0 if problem.volume_l is None else problem.volume_l,
    }
    if problem.band_percent is not None:
        inputs["tolerance_percent"] = problem.band_percent
    if problem.volume_l is not None:
        inputs["pre_stocks"] = problem.pre_stocks
        inputs["instruments"] = {
            "balance_resolution_g": problem.balance_resolution_g,
            "balance_minimum_g": problem.least_weighed_g,
            "syringe_resolution_ml": problem.syringe_resolution_ml,
        }
    return inputs


def _understood_item(item: ShelfItem) -> dict[str, Any]:
    """Return one item of the shelf as it was understood."""
    if item.kind is not None:
        found: dict[str, Any] = {"acid": {"kind": item.kind, "percent": item.percent}}
    else:
        found = {"product": item.name}
    if item.price_per_unit is not None:
        found["price"] = UNITS_IN_A_PRICE * item.price_per_unit
    if item.largest_per_l < float("inf"):
        found["largest_ml_per_l" if item.liquid else "largest_g_per_l"] = item.largest_per_l
    return found
