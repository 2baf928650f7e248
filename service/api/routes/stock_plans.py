"""Stock plans: concentrates in tanks with nothing coming out."""

from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import SINGLE_FORMATS, answer_parameters, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.single_answer import NO_STORE, asked_form, written
from service.api.formats.stock_labels_html import stock_labels_html
from service.api.formats.stock_plan_csv import stock_plan_csv
from service.api.formats.tank_saturation_svg import tank_saturation_svg
from service.api.problems import FieldError, invalid_request
from service.api.recipe_inputs import problem_of, shelf_of, understood
from service.api.recipe_parts import recipe_parts
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.recipes import RecipeRequest
from service.api.schemas.stock_plans import (
    STOCK_PLAN_EXAMPLES,
    StockPlanAnswer,
    StockPlanRequest,
)
from service.planning.catalogue import Catalogue
from service.planning.evidence import SOLUTION_SOURCES
from service.planning.explain.stock_plans import stock_plan_working
from service.planning.known_water import KnownWater, known_water
from service.planning.mix_parts import acid_part
from service.planning.notes import Notes, RefusalError
from service.planning.recipe import plan_recipe
from service.planning.stock_plan_request import StockAnswer, StockTerms, plan_stock
from service.planning.stock_recipe import StockRecipe, found_recipe, stated_recipe
from service.reference.acids import acids

router = contract_router("mixing")

MODELS: Final = (
    "parkhurst-appelo-2013",
    "onsager-1927",
    "laliberte-2009",
    "kell-1975",
    "rottenberg-compatibility",
    "chelate-stability-2022",
    "feeddha-solubility",
)


OFFERED: Final = (*SINGLE_FORMATS, "html", "svg")
CSV: Final = "text/csv; charset=utf-8; header=present"
HTML: Final = "text/html; charset=utf-8"
SVG: Final = "image/svg+xml; charset=utf-8"


PLAIN: Final = {
    "concentration_factor",
    "injector_ratio",
    "tank_volume_l",
    "tank_count",
    "daily_use_l",
    "balance_resolution_g",
}
"""Fields that are understood as they stand."""


def _stated(
    asked: StockPlanRequest, request: Request, notes: Notes
) -> tuple[StockRecipe, dict[str, Any]]:
    """Return the recipe of a request that states it, and what was understood of it."""
    parts = recipe_parts(request, asked.recipe or [], "recipe", notes)
    acid = None if asked.acid is None else acid_part(asked.acid, notes)
    understood_recipe: dict[str, Any] = {
        "recipe": [
            {
                "product": part.product.key,
                ("ml_per_l" if part.product.liquid else "g_per_l"): part.amount,
            }
            for part in parts
        ]
    }
    if asked.acid is not None:
        percent = asked.acid.percent
        if percent is None:
            percent = acids()[asked.acid.kind].default_strength_percent
        stated = asked.acid.model_dump(exclude_none=True)
        understood_recipe["acid"] = {**stated, "percent": percent}
    return stated_recipe(parts, asked.acid, acid), understood_recipe


def _found(
    asked: StockPlanRequest, request: Request, water: KnownWater, notes: Notes
) -> tuple[StockRecipe, dict[str, Any]]:
    """Return the recipe for the targets of a request, and what was understood of them."""
    wanted = RecipeRequest(
        target_mg_per_l=asked.target_mg_per_l or {},
        shelf=asked.shelf or [],
        water=asked.water,
        limits=asked.limits,
    )
    problem = problem_of(wanted, shelf_of(request, wanted, notes), water)
    read = understood(problem)
    kept = {name: read[name] for name in ("target_mg_per_l", "shelf", "limits")}
    return found_recipe(plan_recipe(problem, notes)), kept


def planned(
    request: Request, asked: StockPlanRequest
) -> tuple[Explained[StockPlanAnswer], StockAnswer]:
    """Return the stock plan of one request with its working, and the tanks it was written from."""
    notes = Notes()
    catalogue: Catalogue = request.app.state.catalogue
    try:
        water = known_water(asked.water, catalogue, notes)
        tank_water = None
        if asked.tank_water is not None:
            tank_water = known_water(asked.tank_water, catalogue, notes, "tank_water")
        if asked.recipe is not None:
            recipe, inputs = _stated(asked, request, notes)
        else:
            recipe, inputs = _found(asked, request, water, notes)
        terms = StockTerms.of(asked, notes)
        answer = plan_stock(recipe, water, tank_water, terms, catalogue, notes)
    except RefusalError as error:
        raise refused(error) from None
    inputs |= {
        "water": dict(water.analysis),
        "tank_water": dict(answer.tank_water.analysis),
        "coldest_celsius": terms.coldest_celsius,
        "warmest_celsius": terms.warmest_celsius,
        "injector_counts": terms.counts,
        **asked.model_dump(exclude_none=True, include=PLAIN),
    }
    sources = [*SOLUTION_SOURCES, *(key for part in recipe.parts for key in part.product.sources)]
    sources += [key for kind in recipe.reagent_kinds for key in acids()[kind].sources]
    around = envelope_of(
        asked,
        notes,
        inputs,
        MODELS,
        sources,
        conflicts=answer.conflicts,
        nearest=answer.plan.nearest,
    )
    made = Explained(
        StockPlanAnswer(**answer.fields, **around),
        lambda: stock_plan_working(answer, recipe, water, terms),
    )
    return made, answer


def explained(request: Request, asked: StockPlanRequest) -> Explained[StockPlanAnswer]:
    """Return the stock plan of one request with its working."""
    return planned(request, asked)[0]


def _picture(tanks: StockAnswer, made: StockPlanAnswer) -> str:
    """Return the tanks as a picture; refuse where there are none to show."""
    picture = tank_saturation_svg(tanks)
    if picture is None:
        reasons = " ".join(each.message for each in made.conflicts)
        detail = f"There are no tanks to draw. {reasons}".strip()
        fault = FieldError(parameter="format", code="no_value", detail=detail, received="svg")
        raise invalid_request(fault)
    return picture


@router.post(
    "/stock-plans",
    operation_id="post_stock_plans",
    summary="Which concentrates, in which tanks?",
    response_model=StockPlanAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(StockPlanAnswer, OFFERED),
)
async def post_stock_plans(
    request: Request,
    asked: Annotated[
        StockPlanRequest, Body(openapi_examples=named_examples(**STOCK_PLAN_EXAMPLES))
    ],
) -> Response:
    """
    Put the products of a recipe into one to four tanks of concentrate in which nothing comes out.

    Calcium never meets phosphate, sulfate, carbonate or silicate, chelates no acid or base; then
    every solid that the ions could form is computed for each tank, from the coldest temperature to
    the warmest, with the uncertainty of the model taken off. Masses are for the whole tank at
    25 °C. `.csv` is a table of what to weigh, `.html` a page of labels to print, `.svg` a picture
    of how near each tank is to clouding, warm or cold: 100 times the factor over the factor at
    which a solid comes out.
    """
    form = asked_form(request, StockPlanAnswer, OFFERED)

    def answered() -> Response:
        plan, tanks = planned(request, asked)
        made = plan.answer
        if form.name == "html":
            content = stock_labels_html(made, tank_saturation_svg(tanks))
            return Response(content, media_type=HTML, headers=NO_STORE)
        if form.name == "svg":
            return Response(_picture(tanks, made), media_type=SVG, headers=NO_STORE)
        if form.name != "csv" or form.fields is not None:
            return written(made, form)
        headers = {**NO_STORE, "Content-Disposition": 'inline; filename="stock-plan.csv"'}
        return Response(stock_plan_csv(made), media_type=CSV, headers=headers)

    return await anyio.to_thread.run_sync(answered)


add_explanation(router, "stock-plans", StockPlanRequest, STOCK_PLAN_EXAMPLES, explained)
