"""Saturation pressure against psychrolib, which takes Hyland and Wexler 1983 from ASHRAE."""

import numpy as np
import psychrolib
import pytest

from service.chemistry.vapour_pressure import saturation_vapour_pressure, vapour_pressure_deficit
from tests.comparisons import compared, computed_by

pytestmark = pytest.mark.engine
REACH = 0.001
ENGINE = computed_by("psychrolib, Hyland and Wexler 1983", "", "0 to 50 degC")


@pytest.fixture(autouse=True)
def _metric_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


def test_saturation_pressure_agrees_from_0_to_50_degrees():
    # psychrolib turns to ice at the triple point, so the row starts just above it.
    for celsius in np.linspace(0.02, 50.0, 251):
        theirs = 0.001 * psychrolib.GetSatVapPres(float(celsius))
        ours = saturation_vapour_pressure(273.15 + float(celsius))
        compared(
            "vapour_pressure", {**ENGINE, "id": f"{celsius:.1f}"}, theirs, ours, REACH * theirs
        )


def test_vapour_pressure_deficit_agrees_at_any_humidity():
    for celsius in (1.0, 10.0, 18.5, 25.0, 33.0, 50.0):
        for humidity in (0.0, 35.0, 60.0, 85.0, 99.0):
            saturation = psychrolib.GetSatVapPres(celsius)
            present = psychrolib.GetVapPresFromRelHum(celsius, humidity / 100.0)
            theirs = 0.001 * (saturation - present)
            ours = vapour_pressure_deficit(273.15 + celsius, humidity)
            row = {**ENGINE, "id": f"{celsius:g}-{humidity:g}"}
            compared("vapour_pressure_deficit", row, theirs, ours, REACH * theirs)
