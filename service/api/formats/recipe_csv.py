"""The amounts of a recipe as a table."""

from typing import Final

from service.api.formats.csv_table import write_csv
from service.api.schemas.recipe_answers import RecipeAnswer

HEADINGS: Final = (
    "order",
    "product",
    "percent",
    "g_per_l",
    "ml_per_l",
    "mass_g",
    "volume_ml",
    "exact_mass_g",
    "exact_volume_ml",
    "pre_stock.volume_ml",
    "pre_stock.g_per_l",
    "pre_stock.ml_per_l",
    "cost",
)


def recipe_csv(answer: RecipeAnswer) -> bytes:
    """Return one line for each amount; the strength of a pre-stock is that of its last stage."""
    lines = []
    for amount in answer.amounts:
        series = amount.pre_stock
        last = None if series is None else series.stages[-1]
        lines.append(
            [
                *(getattr(amount, name) for name in HEADINGS[:9]),
                None if series is None else series.volume_ml,
                None if last is None else last.g_per_l,
                None if last is None else last.ml_per_l,
                amount.cost,
            ]
        )
    return write_csv(HEADINGS, lines)
