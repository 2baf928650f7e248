"""
Printed vapour pressures.

Left out, because nothing here computes them: humidity ratios, dew points, relative humidity from a
wet bulb and pressure by altitude (ASHRAE rows 8 to 18), mean and actual vapour pressures from
given saturation pressures, slope, psychrometric constant and evapotranspiration (FAO rows 3 to
15). The CRC table is an informal copy; it is checked as hard as the others.
"""

import csv
import math
from pathlib import Path

import pytest

from service.chemistry.validity import BELOW_RANGE
from service.chemistry.vapour_pressure import (
    moisture_deficit,
    saturation_status,
    saturation_vapour_pressure,
)
from tests.comparisons import compared

KPA_PER_UNIT = {"kPa": 1.0, "Pa": 0.001, "psi": 6.894757, "mmHg": 0.1333224}
REACH = 0.001


def _rows():
    path = Path(__file__).parent / "vapour_pressure.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def _of(quantity, *, erroneous=False):
    return [
        pytest.param(row, id=row["id"])
        for row in _rows()
        if row["quantity"] == quantity and (row["basis"] == "erroneous") == erroneous
    ]


def _rounding(printed):
    decimals = len(printed.partition(".")[2])
    return 0.5 * 10.0**-decimals


@pytest.mark.parametrize("row", _of("saturation_vapour_pressure"))
def test_saturation_pressure_is_the_printed_one_within_a_tenth_of_a_percent(row):
    temperature = 273.15 + float(row["temperature_celsius"])
    printed = float(row["printed"]) * KPA_PER_UNIT[row["unit"]]
    ours = saturation_vapour_pressure(temperature)
    if temperature < 273.15:
        assert math.isnan(ours)
        assert saturation_status(temperature) == BELOW_RANGE
        return
    slack = _rounding(row["printed"]) * KPA_PER_UNIT[row["unit"]]
    compared("vapour_pressure", row, printed, ours, REACH * printed + slack)


@pytest.mark.parametrize("row", _of("saturation_vapour_pressure", erroneous=True))
def test_a_value_printed_in_the_wrong_line_is_not_repeated(row):
    at_printed_line = saturation_vapour_pressure(273.15 + 15.0) / KPA_PER_UNIT["mmHg"]
    at_its_own_line = saturation_vapour_pressure(273.15 + 10.0) / KPA_PER_UNIT["mmHg"]
    assert at_printed_line == pytest.approx(12.8, abs=0.05)
    assert at_its_own_line == pytest.approx(float(row["printed"]), abs=0.05)


@pytest.mark.parametrize("row", _of("moisture_deficit"))
def test_moisture_deficit_is_about_the_one_of_the_growers(row):
    ours = moisture_deficit(
        273.15 + float(row["temperature_celsius"]), float(row["humidity_percent"])
    )
    compared("moisture_deficit", row, float(row["printed"]), ours, 0.5)
