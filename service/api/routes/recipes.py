"""Recipes: amounts of what is on the shelf for a profile of elements."""

from typing import Annotated, Final

import anyio.to_thread
from fastapi import Body, Request
from starlette.responses import Response

from service.api.contract import answer_parameters, named_examples
from service.api.envelope import envelope_of, refused
from service.api.explaining import Explained, add_explanation
from service.api.formats.recipe_csv import recipe_csv
from service.api.formats.single_answer import NO_STORE, asked_form, written
from service.api.recipe_inputs import note_tools, problem_of, shelf_of, understood
from service.api.route import POST_PROBLEMS, contract_router
from service.api.schemas.recipe_answers import RecipeAnswer
from service.api.schemas.recipes import RECIPE_EXAMPLES, RecipeRequest
from service.planning.evidence import ACID_MODELS, SOLUTION_MODELS, SOLUTION_SOURCES
from service.planning.explain.recipes import recipe_working
from service.planning.known_water import known_water
from service.planning.notes import Notes, RefusalError
from service.planning.recipe import plan_recipe
from service.planning.recipe_card import recipe_fields, recipe_steps
from service.reference.acids import acids

router = contract_router("mixing")

CSV: Final = "text/csv; charset=utf-8; header=present"


def explained(request: Request, asked: RecipeRequest) -> Explained[RecipeAnswer]:
    """Return the recipe of one request with its working."""
    notes = Notes()
    try:
        water = known_water(asked.water, request.app.state.catalogue, notes)
        problem = problem_of(asked, shelf_of(request, asked, notes), water)
        note_tools(asked, notes)
        recipe = plan_recipe(problem, notes)
        fields = recipe_fields(problem, recipe, notes)
    except RefusalError as error:
        raise refused(error) from None
    models, sources = list(SOLUTION_MODELS), list(SOLUTION_SOURCES)
    for amount in recipe.amounts:
        if amount.item.product is not None:
            sources += amount.item.product.sources
        elif amount.item.kind is not None:
            models += ACID_MODELS
            sources += acids()[amount.item.kind].sources
    around = envelope_of(
        asked,
        notes,
        understood(problem),
        models,
        sources,
        conflicts=recipe.conflicts,
        nearest=recipe.nearest,
    )
    status = "ok" if recipe.feasible else "infeasible"
    made = RecipeAnswer(status=status, **fields, steps=recipe_steps(problem, recipe), **around)
    return Explained(made, lambda: recipe_working(problem, recipe))


def answer(request: Request, asked: RecipeRequest) -> RecipeAnswer:
    """Return the recipe of one request."""
    return explained(request, asked).answer


@router.post(
    "/recipes",
    operation_id="post_recipes",
    summary="What of the shelf gives this profile?",
    response_model=RecipeAnswer,
    responses=POST_PROBLEMS,
    openapi_extra=answer_parameters(RecipeAnswer),
)
async def post_recipes(
    request: Request,
    asked: Annotated[RecipeRequest, Body(openapi_examples=named_examples(**RECIPE_EXAMPLES))],
) -> Response:
    """
    Give the amounts of what is on the shelf for a profile in mg/L, the water counted.

    They come closest, cost least or are fewest, and keep every limit. Deviations are in percent of
    the targets. Amounts come in steps of the instruments, or through pre-stocks. Where no recipe
    keeps the limits, `conflicts` names a set of them that collide, none of which could be left
    out, and the amounts are those of the nearest recipe. Also as a table of the amounts.
    """
    form = asked_form(request, RecipeAnswer)

    def answered() -> Response:
        made = answer(request, asked)
        if form.name != "csv" or form.fields is not None:
            return written(made, form)
        headers = {**NO_STORE, "Content-Disposition": 'inline; filename="recipe.csv"'}
        return Response(recipe_csv(made), media_type=CSV, headers=headers)

    return await anyio.to_thread.run_sync(answered)


add_explanation(router, "recipes", RecipeRequest, RECIPE_EXAMPLES, explained)
