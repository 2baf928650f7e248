"""The curves behind the pictures: strength over humidity, pH over acid."""

import numpy as np
import pytest

from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan_targets
from service.planning.ph_adjustment import adjust
from service.planning.strength_curve import strength_curve
from service.planning.titration import titration


def target(humidity, *, usual=np.nan):
    known = catalogue()
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    row = requests[0]
    row["limited"] = 1
    row["profile"] = known.default_profile
    row["size"] = rows.SIZES.index("large")
    row["humidity_percent"], row["temperature_celsius"] = humidity, 22.0
    row["average_humidity_percent"] = usual
    plan_targets(requests, results, known)
    return row, results[0], known


def test_strength_rises_with_humidity_and_passes_through_today():
    row, result, known = target(60.0)
    humidity, conductivity = strength_curve(row, known)
    assert np.all(np.diff(conductivity) >= 0.0)
    here = np.interp(60.0, humidity, conductivity)
    assert here == pytest.approx(result["ec_ceiling_ms_per_cm"], rel=2e-3)


def test_the_curve_does_not_depend_on_the_usual_air():
    assert np.array_equal(
        strength_curve(target(60.0)[0], catalogue())[1],
        strength_curve(target(60.0, usual=40.0)[0], catalogue())[1],
    )


@pytest.mark.parametrize("kind", ["nitric", "citric", "potassium_hydroxide"])
def test_ph_passes_through_the_dose_and_runs_one_way(kind):
    known = catalogue()
    requests, results = ph_rows.empty_ph_requests(1), ph_rows.empty_ph_results(1)
    row = requests[0]
    row["profile"] = known.default_profile
    base = bool(reagents.IS_BASE[reagents.KINDS.index(kind)])
    row["water"] = known.water_rows["rain" if base else "moderate_tap"]
    row["volume_l"] = 10.0
    row["target_ph"] = 6.5 if base else 6.2
    row["acid_kind"] = reagents.KINDS.index(kind)
    adjust(requests, results, known)
    result = results[0]
    assert result["problem"] == 0
    amounts, values = titration(row, result)
    steps = np.diff(values)
    assert np.all(steps > 0.0) if base else np.all(steps < 0.0)
    reached = np.interp(result["acid_mmol_per_l"], amounts, values)
    assert reached == pytest.approx(float(result["predicted_ph"]), abs=0.05)
