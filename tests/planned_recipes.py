"""Recipes for tests: a shelf of keys, a water, and what is asked of them."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from service.planning.catalogue import catalogue
from service.planning.known_water import KnownWater, known_water
from service.planning.notes import Notes
from service.planning.products import labelled_row
from service.planning.recipe import Recipe, plan_recipe
from service.planning.recipe_problem import RecipeProblem, ShelfItem, acid_item, product_item

WATERS: dict[str | None, KnownWater] = {}


def water_of(name: str | None) -> KnownWater:
    if name not in WATERS:
        WATERS[name] = known_water(name, catalogue(), Notes())
    return WATERS[name]


def on_the_shelf(key: str, place: int = 0, **more: Any) -> ShelfItem:
    known = catalogue()
    row = known.product_rows[known.product_positions[key]]
    return product_item(row, place=f"shelf.{place}", **more)


def labelled(name: str, place: int = 0, form: str = "solid", density=None, **label) -> ShelfItem:
    return product_item(labelled_row(name, form, density, label), place=f"shelf.{place}")


def bottle(kind: str, percent: float, place: int = 0) -> ShelfItem:
    acid = SimpleNamespace(kind=kind, percent=percent)
    return acid_item(acid, Notes(), place=f"shelf.{place}")


def asked(targets: dict[str, float], *shelf: str | ShelfItem, **more: Any) -> RecipeProblem:
    water = more.pop("water", None)
    items = tuple(
        replace(each, place=f"shelf.{place}")
        if isinstance(each, ShelfItem)
        else on_the_shelf(each, place)
        for place, each in enumerate(shelf)
    )
    return RecipeProblem(targets, items, water_of(water), **more)


def recipe(targets: dict[str, float], *shelf: str | ShelfItem, **more: Any) -> Recipe:
    return plan_recipe(asked(targets, *shelf, **more), Notes())


def taken(planned: Recipe) -> dict[str, float]:
    return {amount.item.name: amount.per_l for amount in planned.amounts}


def amounts_of(problem: RecipeProblem, planned: Recipe) -> np.ndarray:
    found = {amount.item.place: amount.per_l for amount in planned.amounts}
    return np.array([found.get(item.place, 0.0) for item in problem.shelf])
