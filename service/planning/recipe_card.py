"""A recipe in the words and numbers of an answer."""

from typing import Any, Final

from service.planning.instruments import TRUSTED_STEPS
from service.planning.notes import Notes
from service.planning.recipe import Recipe, RecipeAmount
from service.planning.recipe_limits import alkalinity_of
from service.planning.recipe_nutrients import NITROGEN_FORMS, nutrient_row
from service.planning.recipe_problem import CLOSEST_PROFILE, DEFAULT_TOLERANCE, RecipeProblem
from service.planning.solution import solution_fields

MISSED: Final = 5.0
"""Deviation above which a target is called missed [percent]; our choice."""

LEAST_LISTED: Final = 0.001
"""Concentration from which a nutrient that nobody asked for is named [mg/L]."""

MIX_FIELDS: Final = (
    "ph",
    "ec_ms_per_cm",
    "ec_low_ms_per_cm",
    "ec_high_ms_per_cm",
    "meter_ppm_500",
    "meter_ppm_640",
    "meter_ppm_700",
    "alkalinity_mg_per_l_caco3",
    "saturation",
)


def recipe_fields(problem: RecipeProblem, recipe: Recipe, notes: Notes) -> dict[str, Any]:
    """
    Return the flat results of a recipe, and note what is to be known about it.

    Parameters
    ----------
    problem : RecipeProblem
        What was asked for.
    recipe : Recipe
        The recipe.
    notes : Notes
        Receives cautions and assumptions.

    Returns
    -------
    dict
        Fields of the answer.
    """
    volume = 1.0 if problem.volume_l is None else problem.volume_l
    _note_assumptions(problem, recipe, notes)
    _note_targets(problem, recipe, notes)
    _note_amounts(problem, recipe, notes)
    mix = solution_fields(recipe.mix, problem.water, notes)
    cost = recipe.cost
    weight = sum(problem.weights.get(name, 1.0) for name in problem.targets_mg_per_l)
    return {
        "volume_l": volume,
        "amounts": [
            amount_fields(amount, order, volume)
            for order, amount in enumerate(recipe.amounts, start=1)
        ],
        "achieved_mg_per_l": recipe.achieved_mg_per_l,
        "deviation_percent": recipe.deviation_percent,
        "mean_deviation_percent": (recipe.badness / weight) ** 0.5,
        "water_mg_per_l": recipe.water_mg_per_l,
        "cost": cost,
        "cost_of_a_litre": None if cost is None else cost / volume,
        "product_count": len(recipe.amounts),
        **{name: mix[name] for name in MIX_FIELDS},
    }


def amount_fields(amount: RecipeAmount, order: int, volume: float) -> dict[str, Any]:
    """
    Return one amount as the contract writes it.

    Parameters
    ----------
    amount : RecipeAmount
        The amount.
    order : int
        Its place in the sequence.
    volume : float
        Volume that is made [L].

    Returns
    -------
    dict
        By the litre and for the volume, and the pre-stock to dose instead.
    """
    item = amount.item
    made, exact = amount.per_l * volume, amount.exact_per_l * volume
    return {
        "order": order,
        "product": item.name,
        "percent": item.percent,
        "shelf_place": _number(item.place),
        "g_per_l": None if item.liquid else amount.per_l,
        "ml_per_l": amount.per_l if item.liquid else None,
        "mass_g": None if item.liquid else made,
        "volume_ml": made if item.liquid else None,
        "exact_mass_g": None if item.liquid else exact,
        "exact_volume_ml": exact if item.liquid else None,
        "pre_stock": _pre_stock(amount, volume),
        "cost": None if item.price_per_unit is None else item.price_per_unit * made,
    }


def _number(place: str) -> int:
    """Return the number that a dotted name ends in, -1 without one."""
    last = place.rpartition(".")[2]
    return int(last) if last.isdigit() else -1


def _pre_stock(amount: RecipeAmount, volume: float) -> dict[str, Any] | None:
    """Return the pre-stocks of an amount, None where it is measured itself."""
    stages = amount.way.stages
    if not stages:
        return None
    liquid = amount.item.liquid
    return {
        "volume_ml": 1000.0 * amount.per_l * volume / stages[-1].per_l,
        "stages": [
            {
                "order": order,
                "product_mass_g": None if liquid else stage.amount,
                "product_volume_ml": stage.amount if liquid else None,
                "stage_before_ml": stage.taken_ml,
                "made_up_to_l": 1.0,
                "g_per_l": None if liquid else stage.per_l,
                "ml_per_l": stage.per_l if liquid else None,
            }
            for order, stage in enumerate(stages, start=1)
        ],
    }


def _note_assumptions(problem: RecipeProblem, recipe: Recipe, notes: Notes) -> None:
    """Note what was taken to be so."""
    if problem.volume_l is None:
        notes.assume("recipe_for_a_litre")
    if problem.tolerance_percent is None and problem.objective != CLOSEST_PROFILE:
        notes.assume("tolerance_assumed", tolerance=DEFAULT_TOLERANCE)
    asked = set(problem.targets_mg_per_l)
    if asked & set(NITROGEN_FORMS):
        asked.add("nitrogen")
    free = {
        name: value
        for name, value in recipe.achieved_mg_per_l.items()
        if name not in asked and value >= LEAST_LISTED and name not in NITROGEN_FORMS
    }
    if free:
        listed = ", ".join(f"{name} {value:.3g} mg/L" for name, value in free.items())
        notes.assume("nutrients_left_free", listed=listed)


def _note_targets(problem: RecipeProblem, recipe: Recipe, notes: Notes) -> None:
    """Note targets that the water passes, that nothing brings, that are missed."""
    for name, target in problem.targets_mg_per_l.items():
        field = f"target_mg_per_l.{name}"
        water = recipe.water_mg_per_l[name]
        if water > max(target, LEAST_LISTED):
            notes.caution(
                "water_above_target", field, nutrient=_spoken(name), water=water, target=target
            )
        elif target > 0.0 and not recipe.achieved_mg_per_l[name] > water and target > water:
            row = nutrient_row(name)
            if not any(row @ item.composition_mmol_per_unit > 0.0 for item in problem.shelf):
                notes.caution("target_without_source", field, nutrient=_spoken(name))
    missed = [
        f"{_spoken(name)} {deviation:+.3g} %"
        for name, deviation in recipe.deviation_percent.items()
        if deviation is not None and abs(deviation) > MISSED
    ]
    if missed and problem.tolerance_percent is None:
        notes.caution("profile_missed", missed=", ".join(missed))


def _note_amounts(problem: RecipeProblem, recipe: Recipe, notes: Notes) -> None:
    """Note what is hard to measure, and acid."""
    if not recipe.proven:
        notes.caution("best_not_proven")
    if recipe.left_out:
        notes.caution("too_little_to_weigh", products=_listed(recipe.left_out))
    if any(amount.way.stages for amount in recipe.amounts):
        notes.caution("pre_stock", "amounts")
    coarse = [
        amount.item
        for amount in recipe.amounts
        if not amount.way.stages and amount.per_l < TRUSTED_STEPS * amount.way.step_per_l * 0.999
    ]
    if coarse:
        notes.caution("few_steps", products=_listed(coarse))
    acids = [amount for amount in recipe.amounts if amount.item.is_acid]
    if acids:
        taken = -sum(a.per_l * alkalinity_of(a.item.composition_mmol_per_unit) for a in acids)
        share = 100.0 * taken / alkalinity_of(problem.water.composition_mmol_per_l)
        notes.caution("acid_in_recipe", share_percent=share)
        notes.caution("acid_handling", "amounts")
    if any(amount.item.is_base for amount in recipe.amounts):
        notes.caution("base_handling", "amounts")


def _listed(items: Any) -> str:
    return ", ".join(dict.fromkeys(item.name for item in items))


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def recipe_steps(problem: RecipeProblem, recipe: Recipe) -> list[dict[str, Any]]:
    """
    Return what to do, in order.

    Parameters
    ----------
    problem : RecipeProblem
        What was asked for.
    recipe : Recipe
        The recipe.

    Returns
    -------
    list of dict
        `order`, `instruction`, `quantity`, `unit`.
    """
    volume = 1.0 if problem.volume_l is None else problem.volume_l
    steps: list[tuple[str, float | None, str | None]] = []
    for amount in recipe.amounts:
        name = _spoken(amount.item.name)
        stages = amount.way.stages
        for order, stage in enumerate(stages, start=1):
            called = f"pre-stock of {name}" if len(stages) == 1 else f"pre-stock {order} of {name}"
            if stage.amount is not None:
                unit = "mL" if amount.item.liquid else "g"
                said = f"Make the {called}: fill it up to one litre with pure water."
                steps.append((said, stage.amount, unit))
            else:
                said = f"Make the {called}: fill pre-stock {order - 1} up to one litre."
                steps.append((said, stage.taken_ml, "mL"))
    steps.append(("Fill about four fifths of the water into the can.", 0.8 * volume, "L"))
    for amount in recipe.amounts:
        name = _spoken(amount.item.name)
        if amount.way.stages:
            dosed = 1000.0 * amount.per_l * volume / amount.way.stages[-1].per_l
            last = len(amount.way.stages)
            which = "pre-stock" if last == 1 else f"pre-stock {last}"
            steps.append((f"Add {which} of {name} and stir.", dosed, "mL"))
        else:
            unit = "mL" if amount.item.liquid else "g"
            steps.append((f"Add {name} and stir until it is gone.", amount.per_l * volume, unit))
    steps.append(("Fill up with water to the volume.", volume, "L"))
    return [
        {
            "order": order,
            "instruction": instruction,
            "quantity": None if quantity is None else float(f"{quantity:.6g}"),
            "unit": unit,
        }
        for order, (instruction, quantity, unit) in enumerate(steps, start=1)
    ]
