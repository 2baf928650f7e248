"""The events of a programme as a table."""

from typing import Final

from service.api.formats.csv_table import write_csv
from service.api.schemas.programmes import ProgrammeAnswer, ProgrammeEvent

HEADINGS: Final = (
    "date",
    "kind",
    "season",
    "growth",
    "product",
    "product_name",
    "product_mass_g",
    "product_volume_ml",
    "pre_stock.g_per_l",
    "pre_stock.ml_per_l",
    "pre_stock.volume_ml",
    "volume_l",
    "strength.meter_ppm",
    "strength.meter_scale",
    "strength.ec_ms_per_cm",
    "strength.nitrogen_mg_per_l",
    "ec_ceiling_ms_per_cm",
    "predicted_ph",
    "binding_limit",
    "reason",
    "cautions",
)


def programme_csv(answer: ProgrammeAnswer) -> bytes:
    """Return one line for each event; headings are the dotted names of the JSON answer."""
    return write_csv(HEADINGS, (_cells(event) for event in answer.events))


def _cells(event: ProgrammeEvent) -> list[object]:
    """Return the cells of one event."""
    cells: list[object] = []
    for heading in HEADINGS:
        value: object = event
        for name in heading.split("."):
            value = None if value is None else getattr(value, name)
        cells.append(" ".join(value) if isinstance(value, list) else value)
    return cells
