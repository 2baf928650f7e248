"""The working of a recipe: amounts in steps, what they bring, how far the targets are missed."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from service.planning.explain.can import conductivity_answers, source_of
from service.planning.explain.solutions import (
    alkalinity_answer,
    litre_lines,
    part_names,
    range_answers,
    state_lines,
    water_in_the_litre,
)
from service.planning.explain.water import ATOMIC_WEIGHTS, known_water_lines, water_component
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.recipe import Recipe, RecipeAmount
from service.planning.recipe_nutrients import NUTRIENTS, SMALLEST_TARGET, nutrient_row, target_scale
from service.planning.recipe_problem import RecipeProblem
from service.reference.components import COMPONENT_COUNT

LEAST_SQUARES: Final = (
    "of all amounts that keep every limit those asked for by `objective`: by default those with the"
    " least weighted sum of the squared deviations in percent, which stand below"
)
EXACT: Final = 12
"""Digits of amounts, which are answered as they are measured."""


def recipe_working(problem: RecipeProblem, recipe: Recipe) -> list[Line]:
    """
    Return the working of a recipe.

    Parameters
    ----------
    problem : RecipeProblem
        What was asked for.
    recipe : Recipe
        The recipe.

    Returns
    -------
    list of Line
        The lines; the fields of the answer among them.
    """
    working = Working()
    working.part("targets")
    for name, target in problem.targets_mg_per_l.items():
        working.given(f"target_{name}_mg_per_l", target)
    volume = 1.0 if problem.volume_l is None else problem.volume_l
    working.given("volume_l", volume)
    working.answer("volume_l", "volume_l", EXACT)
    known_water_lines(working, problem.water)
    names = _amount_names(recipe)
    for place, (name, amount) in enumerate(zip(names, recipe.amounts, strict=True)):
        _amount_lines(working, name, amount, place)
    _pure_water_line(working, names, recipe.amounts)
    working.part("what a litre is made of")
    brought = {
        component: f"own_share * {term}"
        for component, term in water_in_the_litre(working, problem.water).items()
    }
    litre_lines(working, recipe.mix, problem.water, recipe.parts, recipe.acid_mmol_per_l, brought)
    _nutrient_lines(working, problem, recipe, names)
    _deviation_lines(working, problem, recipe)
    _cost_lines(working, recipe, names)
    working.computed("items_used", f"{len(recipe.amounts)}", unit=NUMBER)
    working.answer("product_count", "items_used", EXACT, NUMBER)
    _mix_lines(working, problem, recipe)
    return working.lines


def _amount_names(recipe: Recipe) -> list[str]:
    """Return a name for each amount; those of products are the names of the parts of the mix."""
    of_parts = iter(part_names(recipe.parts))
    return [
        next(of_parts) if amount.item.product is not None else f"{amount.item.kind}_{place + 1}"
        for place, amount in enumerate(recipe.amounts)
    ]


def _amount_lines(working: Working, name: str, amount: RecipeAmount, place: int) -> None:
    """Add one amount: exact, in steps, for the volume, through pre-stocks, its price."""
    item, way = amount.item, amount.way
    unit = "mL" if item.liquid else "g"
    working.part(f"amount of {item.name}")
    exact = working.solved(
        f"{name}_exact_per_l", amount.exact_per_l, LEAST_SQUARES, None, f"{unit}/L"
    )
    if way.step_per_l > 0.0:
        steps = float(round(amount.per_l / way.step_per_l))
        working.computed(
            f"{name}_per_l",
            "steps * step_in_a_litre",
            amount.per_l,
            f"{unit}/L",
            where={"steps": steps, "step_in_a_litre": way.step_per_l},
        )
    else:
        working.computed(f"{name}_per_l", exact, amount.per_l, f"{unit}/L")
    at = f"amounts.{place}"
    if item.percent is not None:
        strength = working.given(f"{name}_percent", item.percent)
        working.answer(f"{at}.percent", strength, 4)
    kind, measured = ("volume_ml", "ml_per_l") if item.liquid else ("mass_g", "g_per_l")
    working.computed(f"{name}_made", f"{name}_per_l * volume_l", unit=unit)
    working.answer(f"{at}.exact_{kind}", f"{exact} * volume_l", EXACT)
    working.answer(f"{at}.{measured}", f"{name}_per_l", EXACT, f"{unit}/L")
    working.answer(f"{at}.{kind}", f"{name}_made", EXACT)
    if way.stages:
        _stage_lines(working, name, amount, at, unit)
    if item.price_per_unit is not None:
        price = working.given(f"{name}_price", item.price_per_unit, f"money/{unit}")
        working.computed(f"{name}_cost", f"{price} * {name}_made", unit="money")
        working.answer(f"{at}.cost", f"{name}_cost", 4, "money")


def _stage_lines(working: Working, name: str, amount: RecipeAmount, at: str, unit: str) -> None:
    """Add the pre-stocks of an amount."""
    liquid = amount.item.liquid
    before = ""
    for number, stage in enumerate(amount.way.stages):
        strength = f"{name}_pre_stock_{number + 1}"
        listed = f"{at}.pre_stock.stages.{number}"
        if stage.taken_ml is None:
            words = "weakest pre-stock whose product can be weighed or measured"
            working.known(strength, stage.per_l, words, None, f"{unit}/L")
            kind = "product_volume_ml" if liquid else "product_mass_g"
            working.answer(f"{listed}.{kind}", strength, 4, unit)
        else:
            taken = working.known(
                f"{strength}_taken_ml",
                stage.taken_ml,
                "of the stage before, in a litre: as much as brings it to its strength",
                None,
            )
            working.computed(strength, f"{before} * {taken} / 1000", stage.per_l, f"{unit}/L")
            working.answer(f"{listed}.stage_before_ml", taken, 4)
        working.answer(f"{listed}.made_up_to_l", "1", 4)
        working.answer(f"{listed}.{'ml' if liquid else 'g'}_per_l", strength, 4, f"{unit}/L")
        before = strength
    working.answer(f"{at}.pre_stock.volume_ml", f"1000 * {name}_per_l * volume_l / {before}", 4)


def _pure_water_line(
    working: Working, names: Sequence[str], amounts: Sequence[RecipeAmount]
) -> None:
    """Add the share of the can's own water beside the pure water of pre-stocks."""
    working.part("water of the can")
    dosed = [
        f"{name}_per_l / {name}_pre_stock_{len(amount.way.stages)}"
        for name, amount in zip(names, amounts, strict=True)
        if amount.way.stages
    ]
    working.computed("own_share", " - ".join(["1", *dosed]), unit=NUMBER)


def _nutrient_lines(
    working: Working, problem: RecipeProblem, recipe: Recipe, names: Sequence[str]
) -> None:
    """Add what water and amounts bring of each nutrient."""
    working.part("what it gives")
    share = working.computed(
        "share_of_the_water",
        "own_share * water_in_the_litre_kg / water_in_a_litre_of_the_water_kg",
        unit=NUMBER,
    )
    contents: dict[str, Mapping[str, float]] = {}
    for nutrient in NUTRIENTS:
        row = nutrient_row(nutrient)
        water = [
            f"{float(row[component])!r} * {water_component(component)}"
            for component in range(COMPONENT_COUNT)
            if row[component] != 0.0 and working.knows(water_component(component))
        ]
        working.computed(
            f"{nutrient}_of_the_water_mg_per_l",
            f"{share} * ({' + '.join(water)})" if water else "0",
            recipe.water_mg_per_l[nutrient],
            source=ATOMIC_WEIGHTS,
        )
        working.answer(f"water_mg_per_l.{nutrient}", f"{nutrient}_of_the_water_mg_per_l", 4, "mg/L")
        where = {
            content_name(name, amount): float(row @ amount.item.composition_mmol_per_unit)
            for name, amount in zip(names, recipe.amounts, strict=True)
        }
        contents[nutrient] = {name: each for name, each in where.items() if each != 0.0}
        terms = [f"{nutrient}_of_the_water_mg_per_l"]
        terms += [
            f"{name}_per_l * {content_name(name, amount)}"
            for name, amount in zip(names, recipe.amounts, strict=True)
            if content_name(name, amount) in contents[nutrient]
        ]
        working.computed(
            f"{nutrient}_achieved_mg_per_l",
            " + ".join(terms),
            recipe.achieved_mg_per_l[nutrient],
            source=_source(recipe, names, contents[nutrient]),
            where=contents[nutrient],
        )
        working.answer(f"achieved_mg_per_l.{nutrient}", f"{nutrient}_achieved_mg_per_l", 4, "mg/L")


def content_name(name: str, amount: RecipeAmount) -> str:
    """
    Return the name of what a product brings of a nutrient.

    Parameters
    ----------
    name : str
        Name of the product.
    amount : RecipeAmount
        Its amount.

    Returns
    -------
    str
        Milligrams in a gram or millilitre.
    """
    return f"{name}_mg_per_{'ml' if amount.item.liquid else 'g'}"


def _source(recipe: Recipe, names: Sequence[str], contents: Mapping[str, float]) -> str | None:
    """Return the source of the first product that brings a nutrient."""
    for name, amount in zip(names, recipe.amounts, strict=True):
        if content_name(name, amount) in contents and amount.item.product is not None:
            return source_of(amount.item.product)
    return None


def _deviation_lines(working: Working, problem: RecipeProblem, recipe: Recipe) -> None:
    """Add by how much each target is missed, and the mean."""
    working.part("deviations")
    squares = []
    weights = []
    for name, target in problem.targets_mg_per_l.items():
        scale = f"target_{name}_mg_per_l"
        if not target > SMALLEST_TARGET:
            scale = f"{target_scale(name, target):g}"
        value = recipe.deviation_percent[name]
        deviation = working.computed(
            f"{name}_missed_by_percent",
            f"100 * ({name}_achieved_mg_per_l - target_{name}_mg_per_l) / {scale}",
            value,
        )
        if value is not None:
            working.answer(f"deviation_percent.{name}", deviation, EXACT, "%")
        weight = f"{problem.weights.get(name, 1.0):g}"
        squares.append(f"{weight} * {deviation} ** 2")
        weights.append(weight)
    whole = sum(problem.weights.get(name, 1.0) for name in problem.targets_mg_per_l)
    working.computed(
        "mean_missed_by_percent",
        f"(({' + '.join(squares)}) / ({' + '.join(weights)})) ** 0.5",
        float((recipe.badness / whole) ** 0.5) if np.isfinite(recipe.badness) else None,
    )
    working.answer("mean_deviation_percent", "mean_missed_by_percent", EXACT)


def _cost_lines(working: Working, recipe: Recipe, names: Sequence[str]) -> None:
    """Add the price of everything, where it is known."""
    if recipe.cost is None:
        return
    working.part("cost")
    terms = [f"{name}_cost" for name in names]
    working.computed("whole_cost", " + ".join(terms) or "0", recipe.cost, "money")
    working.answer("cost", "whole_cost", 4, "money")
    working.answer("cost_of_a_litre", "whole_cost / volume_l", 4, "money/L")


def _mix_lines(working: Working, problem: RecipeProblem, recipe: Recipe) -> None:
    """Add pH, conductivity and solids of the solution."""
    indices = {
        solid: (f"saturation.{place}.index", index)
        for place, (solid, index) in enumerate(recipe.mix.saturation.items())
    }
    state_lines(working, recipe.mix, indices)
    working.part("answer")
    if problem.water.alkalinity_known:
        working.answer("ph", "ph", 3)
        alkalinity_answer(working, recipe.mix, "alkalinity_mg_per_l_caco3")
    conductivity_answers(working, "mix_ec_ms_per_cm", "ec_ms_per_cm", digits=4)
    range_answers(working, recipe.mix, "")
