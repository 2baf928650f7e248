"""The working of a stock plan: factor, what is weighed, the litre of each tank, its solids."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from service.chemistry.density import water_density
from service.chemistry.equilibrium import CLOSED
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.chemistry.solution_density import dissolved_mass
from service.planning.explain.can import conductivity_answers
from service.planning.explain.concentrates import PITZER, explain_solid
from service.planning.explain.solutions import (
    DENSITY,
    alkalinity_answer,
    element_answers,
    litre_lines,
    range_answers,
    state_lines,
)
from service.planning.explain.speciation import MOLAL
from service.planning.explain.water import known_water_lines
from service.planning.explain.working import NUMBER, Line, Working
from service.planning.injector import PARTS_IN
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater
from service.planning.solution import mixture
from service.planning.stock_plan_card import FIRST_WATER_SHARE, NamedTank
from service.planning.stock_plan_request import StockAnswer, StockTerms
from service.planning.stock_recipe import StockRecipe
from service.planning.tank_chemistry import MODEL, ROOM, SOLID, TankLimit
from service.planning.tank_order import dissolving_order
from service.planning.tank_products import TankProduct
from service.reference.catalogue import products as products_by_key
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES

WORKING_SOLUTION: Final = "working_solution."


def stock_plan_working(
    answer: StockAnswer, recipe: StockRecipe, water: KnownWater, terms: StockTerms
) -> list[Line]:
    """
    Return the working of a stock plan.

    Parameters
    ----------
    answer : StockAnswer
        The plan.
    recipe : StockRecipe
        What is in a litre of the working solution.
    water : KnownWater
        Its water.
    terms : StockTerms
        How it is concentrated.

    Returns
    -------
    list of Line
        The lines; the fields of the answer among them.
    """
    working = Working()
    fields = answer.fields
    names = _recipe_lines(working, answer)
    factor = answer.plan.factor
    _factor_lines(working, answer, terms)
    if factor is not None:
        for place, tank in enumerate(answer.tanks):
            _tank_lines(working, answer, terms, names, place, tank)
    working.part("limits")
    if answer.plan.best is not None:
        _limit_answer(working, "all_tanks", answer.plan.best, "highest_factor")
    _limit_answer(working, "one_tank", answer.plan.one_tank, "one_tank.highest_factor")
    if factor is not None:
        working.part("how the tanks are used")
        _use_lines(working, fields, terms, len(answer.tanks))
    if fields["deviation_percent"]:
        working.part("deviation from the targets")
        for name, value in fields["deviation_percent"].items():
            working.known(
                f"deviation_of_{name}_percent",
                value,
                "100 * (what the recipe brings - target) / target, as `/v1/recipes/explain` shows",
                None,
            )
            working.answer(f"deviation_percent.{name}", f"deviation_of_{name}_percent", 3, "%")
    _working_solution(working, answer, recipe, water)
    return working.lines


def _recipe_lines(working: Working, answer: StockAnswer) -> dict[str, str]:
    """Add what a litre of the working solution holds of each product; return their names."""
    working.part("recipe")
    names: dict[str, str] = {}
    for place, line in enumerate(answer.fields["recipe"]):
        key = line["product"]
        name = f"recipe_{key if key in products_by_key() else f'product_{place + 1}'}"
        liquid = line["g_per_l"] is None
        kind = "ml_per_l" if liquid else "g_per_l"
        names[key] = working.given(name, line[kind], "mL/L" if liquid else "g/L")
        working.answer(f"recipe.{place}.{kind}", name, 4, "mL/L" if liquid else "g/L")
    return names


def _factor_lines(working: Working, answer: StockAnswer, terms: StockTerms) -> None:
    """Add the concentration factor, and the volume of a tank."""
    working.part("concentration factor")
    working.given("tank_volume_l", terms.tank_volume_l)
    factor = answer.plan.factor
    if terms.injector_ratio is not None:
        ratio = working.given("asked_injector_ratio", terms.injector_ratio, NUMBER)
        formula = ratio if terms.counts == PARTS_IN else f"{ratio} + 1"
        working.computed("asked_factor", formula, terms.factor, NUMBER)
    else:
        working.given("asked_factor", terms.factor, NUMBER)
    if factor is None:
        return
    if factor == terms.factor:
        working.computed("factor", "asked_factor", factor, NUMBER)
    else:
        working.solved(
            "factor",
            factor,
            "nearest factor that the tanks carry, rounded down to three digits",
            PITZER,
            NUMBER,
        )
    working.answer("concentration_factor", "factor", 4)


def _tank_lines(
    working: Working,
    answer: StockAnswer,
    terms: StockTerms,
    names: Mapping[str, str],
    place: int,
    tank: NamedTank,
) -> None:
    """Add what goes into one tank, and what it is."""
    working.part(f"tank {tank.name}: what is weighed")
    fields = answer.fields["tanks"][place]
    prefix = f"tank_{tank.name.lower()}_"
    at = f"tanks.{place}"
    weighed = []
    amounts: dict[str, str] = {}
    for order, (product, _) in enumerate(dissolving_order(tank.products)):
        addition = fields["additions"][order]
        unit = "mL" if product.liquid else "g"
        kind = "ml_per_l" if product.liquid else "g_per_l"
        own = f"{prefix}{names[product.key].removeprefix('recipe_')}"
        amounts[product.key] = _amount(working, product, names[product.key], own)
        in_a_litre = working.computed(
            f"{own}_in_a_litre", f"factor * {amounts[product.key]}", addition[kind], f"{unit}/L"
        )
        working.answer(f"{at}.additions.{order}.{kind}", in_a_litre, 4, f"{unit}/L")
        _weighed_lines(working, terms, product, addition, own, f"{at}.additions.{order}")
        weighed.append(_mass_in_a_litre(working, product, own, in_a_litre))
    _litre_of_tank(working, answer, amounts, tank, prefix)
    density = working.computed(
        f"{prefix}density_kg_per_l",
        f"{prefix}water_kg_per_l * (1 + {prefix}dissolved_kg_per_kg_water)",
        tank.litre.density_kg_per_l,
    )
    working.answer(f"{at}.density_kg_per_l", density, 4)
    working.answer(f"{at}.volume_l", "tank_volume_l", 4)
    working.answer(f"{at}.mass_kg", f"{density} * tank_volume_l", 4)
    poured = working.computed(
        f"{prefix}poured_water_kg",
        f"({density} - ({' + '.join(weighed)}) / 1000) * tank_volume_l",
        fields["water_kg"],
    )
    working.answer(f"{at}.water_kg", poured, 4)
    if not working.knows("density_of_water_kg_per_l"):
        working.known(
            "density_of_water_kg_per_l",
            float(water_density(REFERENCE_TEMPERATURE)),
            "density of water at 25 °C",
            "kell-1975",
        )
    working.answer(
        f"{at}.water_to_start_l",
        f"{FIRST_WATER_SHARE:g} * {poured} / density_of_water_kg_per_l",
        4,
    )
    if tank.ph is not None:
        working.solved(
            f"{prefix}ph",
            tank.ph,
            "pH at which all charges balance, for the tank thinned to where the model of pH holds",
            "parkhurst-appelo-2013",
            NUMBER,
        )
        working.answer(f"{at}.ph", f"{prefix}ph", 3, NUMBER)
    working.part(f"tank {tank.name}: what could come out")
    _solid_lines(working, tank, fields["saturation"], prefix, at)
    _limit_answer(working, prefix.rstrip("_"), tank.limit, f"{at}.highest_factor")


def _amount(working: Working, product: TankProduct, name: str, own: str) -> str:
    """Add what of a product goes into one tank, where it is divided; return its name."""
    if product.amount == working.value(name):
        return name
    unit = "mL/L" if product.liquid else "g/L"
    share = product.amount / working.value(name)
    return working.computed(
        f"{own}_of_the_recipe", f"{name} * share", product.amount, unit, where={"share": share}
    )


def _weighed_lines(
    working: Working,
    terms: StockTerms,
    product: TankProduct,
    addition: Mapping[str, Any],
    own: str,
    at: str,
) -> None:
    """Add what is weighed or measured for a whole tank."""
    whole = f"{own}_in_a_litre * tank_volume_l"
    if product.liquid:
        working.computed(f"{own}_measured_ml", whole, addition["volume_ml"])
        working.answer(f"{at}.volume_ml", f"{own}_measured_ml", 4)
        if product.density_kg_per_l is not None:
            working.computed(
                f"{own}_weighed_g",
                f"{own}_measured_ml * density",
                addition["mass_g"],
                where={"density": product.density_kg_per_l},
            )
            working.answer(f"{at}.mass_g", f"{own}_weighed_g", 4)
        return
    step = terms.balance_resolution_g
    if step is not None and not working.knows("balance_resolution_g"):
        working.given("balance_resolution_g", step)
    formula = (
        whole
        if step is None
        else f"max(nearest({whole} / balance_resolution_g), 1) * balance_resolution_g"
    )
    working.computed(f"{own}_weighed_g", formula, addition["mass_g"])
    working.answer(f"{at}.mass_g", f"{own}_weighed_g", 4)


def _mass_in_a_litre(working: Working, product: TankProduct, own: str, in_a_litre: str) -> str:
    """Return the mass of a product in a litre of tank."""
    if not product.liquid:
        return in_a_litre
    density = product.mass_g_per_l / product.amount
    return f"{in_a_litre} * {density!r}"


def _litre_of_tank(
    working: Working,
    answer: StockAnswer,
    amounts: Mapping[str, str],
    tank: NamedTank,
    prefix: str,
) -> None:
    """Add what a kilogram of water of a tank holds."""
    working.part(f"tank {tank.name}: a litre of it")
    content = working.solved(
        f"{prefix}water_kg_per_l",
        tank.litre.water_kg_per_l,
        "water in a litre at 25 °C, that of crystals included, beside the volumes of the salts:"
        " density / (1 + mass dissolved in a kilogram of water), found by repetition",
        DENSITY,
    )
    filling = answer.tank_water.composition_mol_per_kg
    for component in range(COMPONENT_COUNT):
        terms = []
        where: dict[str, float] = {}
        if filling[component] != 0.0:
            where["from_the_water"] = float(filling[component])
            terms.append("from_the_water")
        for product in tank.products:
            brought = float(product.added_mmol_per_l[component])
            if brought != 0.0:
                content_of = f"{amounts[product.key]}_mmol_per_{'ml' if product.liquid else 'g'}"
                where[content_of] = brought / product.amount
                terms.append(f"0.001 * factor * {amounts[product.key]} * {content_of} / {content}")
        if terms:
            working.computed(
                f"{prefix}{COMPONENT_NAMES[component]}",
                " + ".join(terms),
                float(tank.litre.composition_mol_per_kg[component]),
                MOLAL,
                where=where,
            )
    working.known(
        f"{prefix}dissolved_kg_per_kg_water",
        float(dissolved_mass(np.ascontiguousarray(tank.litre.composition_mol_per_kg))),
        "mass of these components, charges closed with hydrogen or hydroxide ions",
        "prohaska-2022",
        "kg/kg",
    )


def _solid_lines(
    working: Working,
    tank: NamedTank,
    listed: Sequence[Mapping[str, Any]],
    prefix: str,
    at: str,
) -> None:
    """Add the saturation indices of a tank with their margins."""
    for number, each in enumerate(listed):
        name = f"{prefix}{each['solid']}_index"
        found = explain_solid(
            working,
            tank.litre.composition_mol_per_kg,
            each["at_celsius"],
            each["solid"],
            name,
            prefix,
            each["index"],
        )
        if found is None:
            working.solved(name, each["index"], "by the ion-interaction equations", PITZER, NUMBER)
        working.answer(f"{at}.saturation.{number}.index", name, 3, NUMBER)
        working.known(
            f"{prefix}{each['solid']}_margin",
            each["margin"],
            "how far the model may be off; the tank is clear where index + margin is below 0",
            "salt-mixtures-fit",
            NUMBER,
        )
        working.answer(
            f"{at}.saturation.{number}.margin", f"{prefix}{each['solid']}_margin", 3, NUMBER
        )
        working.given(
            f"{prefix}{each['solid']}_celsius",
            each["at_celsius"],
            "°C",
            "temperature between the coldest and the warmest at which the solid is nearest",
        )
        working.answer(
            f"{at}.saturation.{number}.at_celsius", f"{prefix}{each['solid']}_celsius", 12, "°C"
        )


def _limit_answer(working: Working, name: str, limit: TankLimit, field: str) -> None:
    """Add a highest factor, and what stops it."""
    words = {
        SOLID: f"factor at which index + margin of {limit.solid} comes to 0 at"
        f" {limit.at_celsius or 0.0:g} °C, no other solid and no other temperature sooner",
        ROOM: "factor at which the products leave no room for water",
        MODEL: "factor at which the chemistry of the model holds no further",
    }
    working.solved(
        f"{name}_highest_factor",
        limit.highest_factor,
        words.get(limit.limited_by, "nothing comes out up to here, and no more is looked at")
        + "; found by halving",
        PITZER,
        NUMBER,
    )
    working.answer(field, f"{name}_highest_factor", 4, NUMBER)


def _use_lines(
    working: Working, fields: Mapping[str, Any], terms: StockTerms, tank_count: int
) -> None:
    """Add what an injector is set to, and how long a filling lasts."""
    injector = fields["injector"]
    if injector is not None:
        inside = terms.counts == PARTS_IN
        ratio = "factor" if inside else "(factor - 1)"
        other = "(factor + 1)" if inside else "(factor - 1)"
        working.answer("injector.injector_ratio", ratio, 4)
        working.answer("injector.concentrate_ml_per_l", "1000 / factor", 4)
        working.answer("injector.water_ml_per_l", f"1000 - {tank_count} * (1000 / factor)", 4)
        working.answer("injector.other_reading_factor", other, 4)
        working.answer("injector.other_reading_strength_percent", f"100 * factor / {other}", 4)
    if fields["working_volume_l"] is not None:
        working.answer("working_volume_l", "factor * tank_volume_l", 4)
    if fields["lasts_days"] is not None:
        daily = working.given("daily_use_l", float(terms.daily_use_l or 0.0))
        working.answer("lasts_days", f"factor * tank_volume_l / {daily}", 3)


def _working_solution(
    working: Working, answer: StockAnswer, recipe: StockRecipe, water: KnownWater
) -> None:
    """Add what the plants get."""
    mixed = answer.mixed_in
    mix = mixture(mixed, recipe.parts, recipe.acid_mmol_per_l, REFERENCE_CELSIUS, CLOSED)
    working.part("water")
    brought = None
    if mixed is water:
        known_water_lines(working, water)
    else:
        brought = _blended_water(working, answer, water)
    litre_lines(working, mix, mixed, recipe.parts, recipe.acid_mmol_per_l, brought)
    fields = answer.fields["working_solution"]
    indices = {
        each["solid"]: (f"{WORKING_SOLUTION}saturation.{place}.index", float(each["index"]))
        for place, each in enumerate(fields["saturation"])
    }
    state_lines(working, mix, indices)
    working.part("working solution")
    if fields["ph"] is not None:
        working.answer(f"{WORKING_SOLUTION}ph", "ph", 3)
        alkalinity_answer(working, mix, f"{WORKING_SOLUTION}alkalinity_mg_per_l_caco3")
    element_answers(working, mix, f"{WORKING_SOLUTION}elements_mg_per_l.")
    conductivity_answers(working, "mix_ec_ms_per_cm", "ec_ms_per_cm", WORKING_SOLUTION, digits=4)
    range_answers(working, mix, WORKING_SOLUTION)


def _blended_water(working: Working, answer: StockAnswer, water: KnownWater) -> dict[int, str]:
    """Add the water of the working solution where the tanks are made with another one."""
    held = [f"tank_{tank.name.lower()}_water_kg_per_l" for tank in answer.tanks]
    share = working.computed(
        "share_of_tank_water", f"min(({' + '.join(held)}) / factor, 1)", unit=NUMBER
    )
    names = {}
    for component in range(COMPONENT_COUNT):
        first = float(water.composition_mol_per_kg[component])
        second = float(answer.tank_water.composition_mol_per_kg[component])
        if first != 0.0 or second != 0.0:
            names[component] = working.computed(
                f"{COMPONENT_NAMES[component]}_of_the_water",
                f"(1 - {share}) * of_the_given_water + {share} * of_the_tank_water",
                float(answer.mixed_in.composition_mol_per_kg[component]),
                MOLAL,
                where={"of_the_given_water": first, "of_the_tank_water": second},
            )
    return names
