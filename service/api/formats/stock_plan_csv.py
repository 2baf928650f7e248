"""What goes into the tanks of a stock plan, as a table to take to the scale."""

from typing import Final

from service.api.formats.csv_table import write_csv
from service.api.schemas.stock_plans import StockPlanAnswer

ADDITION: Final = ("order", "product", "mass_g", "volume_ml", "g_per_l", "ml_per_l", "reason")
HEADINGS: Final = ("status", "tank", *ADDITION)


def stock_plan_csv(answer: StockPlanAnswer) -> bytes:
    """Return one line for each product of each tank."""
    return write_csv(
        HEADINGS,
        (
            [answer.status, tank.name, *(getattr(addition, name) for name in ADDITION)]
            for tank in answer.tanks
            for addition in tank.additions
        ),
    )
