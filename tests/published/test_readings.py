"""
Printed meter scales and temperature factors, through the reading of a meter.

The rows are those of `meter.csv`; `test_meter.py` says which are left out, and why.
"""

import csv
from pathlib import Path
from types import SimpleNamespace

import pytest

from service.planning.catalogue import catalogue
from service.planning.notes import Notes
from service.planning.reading import judge_of, reading_fields


def _rows(quantity):
    with (Path(__file__).parent / "meter.csv").open(encoding="utf-8", newline="") as lines:
        return [
            pytest.param(row, id=row["id"])
            for row in csv.DictReader(lines)
            if row["quantity"] == quantity
        ]


def read(**given):
    names = ("ec_ms_per_cm", "ppm", "scale", "temperature_celsius", "compensated", "kind")
    asked = SimpleNamespace(**{**dict.fromkeys((*names, "feed_ec_ms_per_cm")), **given})
    notes = Notes()
    judge = judge_of(catalogue().default_profile, None, catalogue(), notes)
    return reading_fields(asked, judge, notes)


@pytest.mark.parametrize("row", _rows("scale"))
def test_reading_goes_both_ways_on_every_printed_scale(row):
    conductivity, printed = float(row["value"]), float(row["printed"])
    answer = read(ec_ms_per_cm=conductivity)
    assert answer[f"meter_ppm_{row['scale']}"] == pytest.approx(printed, rel=1e-12)
    back = read(ppm=printed, scale=row["scale"])
    assert back["ec_ms_per_cm"] == pytest.approx(conductivity, rel=1e-12)


@pytest.mark.parametrize("row", _rows("factor"))
def test_uncompensated_reading_is_referred_by_the_printed_factor(row):
    celsius, printed = float(row["value"]), float(row["printed"])
    answer = read(ec_ms_per_cm=0.8, temperature_celsius=celsius, compensated=False)
    assert answer["ec_ms_per_cm"] == pytest.approx(0.8 * printed, rel=1e-9)
