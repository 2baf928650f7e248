"""Every calculation with its route's own explanation, asked without HTTP."""

from types import SimpleNamespace
from typing import Any

from service.api.explaining import explanation_of
from service.api.routes import (
    dilutions,
    doses,
    flushes,
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
from service.planning.catalogue import catalogue
from service.reference.loader import products

CALCULATIONS: dict[str, tuple[Any, Any]] = {
    "doses": (doses.explained, doses.TodaysDoseRequest),
    "dilutions": (dilutions.explained, dilutions.DilutionRequest),
    "ph-adjustments": (ph_adjustments.explained, ph_adjustments.PhAdjustmentRequest),
    "targets": (targets.explained, targets.TargetRequest),
    "solutions": (solutions.explained, solutions.SolutionRequest),
    "water-blends": (water_blends.explained, water_blends.WaterBlendRequest),
    "readings": (readings.explained, readings.ReadingRequest),
    "flushes": (flushes.explained, flushes.FlushRequest),
    "salt-outlooks": (salt_outlooks.explained, salt_outlooks.SaltOutlookRequest),
    "programmes": (programmes.explained, programmes.ProgrammeRequest),
    "recipes": (recipes.explained, recipes.RecipeRequest),
    "stock-plans": (stock_plans.explained, stock_plans.StockPlanRequest),
    "solubilities": (solubilities.explained, solubilities.SolubilityRequest),
    "reservoir-corrections": (
        reservoir_corrections.explained,
        reservoir_corrections.ReservoirCorrectionRequest,
    ),
}
"""Path of each calculation: what explains it, and its request."""

REQUEST: Any = SimpleNamespace(
    app=SimpleNamespace(state=SimpleNamespace(catalogue=catalogue(), products=products()))
)


def explained(name: str, body: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the plain answer to a request, and its working."""
    explain, model = CALCULATIONS[name]
    found = explain(REQUEST, model.model_validate(body))
    working = explanation_of(found)
    return found.answer.model_dump(mode="json"), working.model_dump(mode="json")
