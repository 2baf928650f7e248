"""
Printed meter scales and temperature factors.

Left out: 660 mg/L for 1 mS/cm (the same source prints 0.65 elsewhere) and 640 to 700 (a range).
The row at 2764 uS/cm of the scale table is inconsistent between scales as printed (NaCl above
KCl); meters that follow the table show it, so it is kept.
"""

import csv
from pathlib import Path

import pytest

from service.chemistry.compensation import natural_water_factor
from service.chemistry.meter import SCALE_NAMES, conductivity_from_reading, meter_reading
from tests.comparisons import compared


def _rows(quantity):
    with (Path(__file__).parent / "meter.csv").open(encoding="utf-8", newline="") as lines:
        return [
            pytest.param(row, id=row["id"])
            for row in csv.DictReader(lines)
            if row["quantity"] == quantity
        ]


@pytest.mark.parametrize("row", _rows("scale"))
def test_reading_on_a_scale_is_the_printed_one(row):
    scale = SCALE_NAMES.index(row["scale"])
    conductivity, printed = float(row["value"]), float(row["printed"])
    compared("meter", row, printed, meter_reading(scale, conductivity), 1e-12 * printed)
    assert conductivity_from_reading(scale, printed) == pytest.approx(conductivity, rel=1e-12)


@pytest.mark.parametrize("row", _rows("factor"))
def test_factor_of_a_natural_water_is_the_printed_one(row):
    ours = natural_water_factor(273.15 + float(row["value"]))
    compared("meter", row, float(row["printed"]), ours, 1e-9)
