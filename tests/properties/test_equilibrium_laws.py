"""Laws that every speciation obeys, whatever the solution."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.chemistry.acidification import reagent_for_alkalinity, reagent_for_ph
from service.chemistry.alkalinity import (
    alkalinity,
    carbonate_alkalinity,
)
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NOT_CONVERGED,
    OK,
    OUT_OF_RANGE,
)
from service.chemistry.equilibrium_constants import FORMATIONS, constants_array, fill_constants
from service.chemistry.ph import (
    ATMOSPHERIC_CARBON_DIOXIDE,
    ph_after_opening,
    ph_rows,
    speciate_closed,
    speciate_open,
)
from service.chemistry.saturation import (
    CALCITE,
    GYPSUM,
    SOLID_COUNT,
    fill_saturation_constants,
    saturation_indices,
)
from service.chemistry.species import SPECIES_CHARGES, SPECIES_COMPOSITION, SPECIES_NAMES
from service.chemistry.water_analysis import composition_from_alkalinity, composition_from_carbonate
from service.chemistry.workspace import (
    ACTIVITY_COEFFICIENT,
    CHARGE_IMBALANCE,
    IONIC_STRENGTH,
    PH,
    TOTAL_CARBONATE,
    WATER_ACTIVITY,
    workspace,
)
from service.reference.components import (
    CALCIUM,
    CARBONATE,
    CHLORIDE,
    CITRATE,
    COMPONENT_COUNT,
    NITRATE,
    PHOSPHATE,
    POTASSIUM,
    SODIUM,
    SULFATE,
    UNMEASURED,
)
from tests.properties.solutions import amounts, balanced, kelvins, molalities, solved


@settings(max_examples=150, deadline=None)
@given(amounts, kelvins)
def test_mass_and_charge_balances_close(values, kelvin):
    row = balanced(values)
    status, ws = solved(row, kelvin)
    assert status in (OK, OUT_OF_RANGE)
    totals = molalities(ws) @ SPECIES_COMPOSITION
    assert totals == pytest.approx(row, rel=1e-8, abs=1e-16)
    charge = molalities(ws) @ np.array(SPECIES_CHARGES)
    assert abs(charge) < 1e-9 * row.sum() + 1e-15
    assert abs(ws[CHARGE_IMBALANCE]) < 1e-9 * row.sum() + 1e-15


@settings(max_examples=150, deadline=None)
@given(amounts, kelvins)
def test_every_species_obeys_mass_action_and_ionic_strength_its_definition(values, kelvin):
    status, ws = solved(balanced(values), kelvin)
    assert status in (OK, OUT_OF_RANGE)
    constants = constants_array()
    fill_constants(kelvin, constants)
    coefficient = ws[ACTIVITY_COEFFICIENT : ACTIVITY_COEFFICIENT + len(SPECIES_NAMES)]
    activity = dict(zip(SPECIES_NAMES, molalities(ws) * coefficient, strict=True))
    activity["H2O"] = ws[WATER_ACTIVITY]
    assert activity["H+"] == pytest.approx(10.0 ** -ws[PH], rel=1e-9)
    for name, formation in FORMATIONS.items():
        if any(activity[master] == 0.0 for master in formation.powers):
            assert activity[name] == 0.0
            continue
        product = constants[SPECIES_NAMES.index(name)]
        for master, power in formation.powers.items():
            product *= activity[master] ** power
        assert activity[name] == pytest.approx(product, rel=1e-9)
    squares = np.array(SPECIES_CHARGES, dtype=float) ** 2
    assert ws[IONIC_STRENGTH] == pytest.approx(0.5 * molalities(ws) @ squares, rel=1e-6, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(amounts, kelvins)
def test_a_solution_open_to_air_holds_the_carbon_dioxide_of_the_air(values, kelvin):
    status, ws = solved(balanced(values), kelvin, ATMOSPHERIC_CARBON_DIOXIDE)
    assert status in (OK, OUT_OF_RANGE)
    closed_row = balanced(values)
    closed_row[CARBONATE] = ws[TOTAL_CARBONATE]
    # The same solution closed, with the carbonate that the air gave it and the same strong ions.
    again, closed = solved(closed_row, kelvin)
    assert again in (OK, OUT_OF_RANGE)
    assert closed[PH] == pytest.approx(ws[PH], abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(amounts, kelvins)
def test_dilution_leads_to_the_ph_of_the_diluent(values, kelvin):
    row = balanced(values)
    _, pure = solved(np.zeros(COMPONENT_COUNT), kelvin)
    status, ws = solved(1e-9 * row, kelvin)
    assert status == OK
    assert ws[PH] == pytest.approx(pure[PH], abs=1e-3)
    coefficient = ws[ACTIVITY_COEFFICIENT : ACTIVITY_COEFFICIENT + len(SPECIES_NAMES)]
    assert coefficient == pytest.approx(1.0, abs=5e-3)


@settings(max_examples=60, deadline=None)
@given(amounts, kelvins, st.floats(0.01, 0.5))
def test_ph_falls_with_acid_and_rises_with_base(values, kelvin, step):
    row = balanced(values)
    before = solved(row, kelvin)[1][PH]
    acid = row.copy()
    acid[NITRATE] += step * 1e-3
    base = row.copy()
    base[POTASSIUM] += step * 1e-3
    assert solved(acid, kelvin)[1][PH] < before < solved(base, kelvin)[1][PH]


@settings(max_examples=40, deadline=None)
@given(st.lists(amounts, min_size=2, max_size=6), kelvins)
def test_rows_do_not_see_each_other(many, kelvin):
    rows = np.array([balanced(values) for values in many])
    count = len(rows)

    def run(order: np.ndarray) -> np.ndarray:
        ph, status = np.zeros(count), np.zeros(count, np.int64)
        ph_rows(rows[order], np.full(count, kelvin), np.full(count, CLOSED), ph, status)
        return ph[np.argsort(order)]

    forward, backward = run(np.arange(count)), run(np.arange(count)[::-1])
    assert (forward == backward).all()
    assert (forward == [solved(row, kelvin)[1][PH] for row in rows]).all()


def test_a_row_of_nan_has_a_status_and_leaves_its_neighbours_alone():
    row = balanced([1e-3] * COMPONENT_COUNT)
    rows = np.array([row, row, row])
    rows[1, CALCIUM] = np.nan
    ph, status = np.zeros(3), np.zeros(3, np.int64)
    ph_rows(rows, np.full(3, 298.15), np.full(3, CLOSED), ph, status)
    assert status.tolist() == [OK, INVALID_INPUT, OK]
    assert np.isnan(ph[1])
    assert ph[0] == ph[2]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1e-6])
@pytest.mark.parametrize("component", range(COMPONENT_COUNT))
def test_impossible_amounts_are_a_status_and_no_exception(component, bad):
    if component == UNMEASURED and bad == -1e-6:
        return
    row = balanced([1e-4] * COMPONENT_COUNT)
    row[component] = bad
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    assert speciate_closed(row, constants, ws) == INVALID_INPUT
    assert np.isnan(ws[PH])
    assert np.isnan(molalities(ws)).all()
    mixture, reagent = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    reagent[NITRATE] = 1.0
    status, amount = reagent_for_ph(row, reagent, 5.5, constants, CLOSED, ws, mixture)
    assert status == INVALID_INPUT
    assert np.isnan(amount)


@pytest.mark.parametrize("kelvin", [np.nan, 0.0, -5.0, 250.0, 400.0])
def test_temperatures_without_water_are_a_status(kelvin):
    status, ws = solved(balanced([1e-4] * COMPONENT_COUNT), kelvin)
    assert status == INVALID_INPUT
    assert np.isnan(ws[PH])


def test_what_lies_outside_the_published_range_says_so():
    warm, _ = solved(balanced([1e-4] * COMPONENT_COUNT), 318.15)
    assert warm == OUT_OF_RANGE
    strong = np.zeros(COMPONENT_COUNT)
    strong[[POTASSIUM, NITRATE]] = 0.7
    assert solved(strong, 298.15)[0] == OUT_OF_RANGE
    acid = np.zeros(COMPONENT_COUNT)
    acid[NITRATE] = 0.05
    status, ws = solved(acid, 298.15)
    assert status == OUT_OF_RANGE
    assert 1.2 < ws[PH] < 1.5
    strong[[POTASSIUM, NITRATE]] = 20.0
    status, ws = solved(strong, 298.15)
    assert status == NOT_CONVERGED
    assert np.isnan(ws[PH])


def test_a_component_at_zero_changes_nothing():
    row = np.zeros(COMPONENT_COUNT)
    row[[CALCIUM, NITRATE, CARBONATE, SODIUM]] = 1e-3, 1.2e-3, 1e-3, 2e-4
    _, without = solved(row, 293.15)
    tiny = row.copy()
    tiny[[PHOSPHATE, CITRATE, SULFATE]] = 1e-30
    _, ws = solved(tiny, 293.15)
    # The ionic strength is found to 1e-8 of itself.
    assert ws[PH] == pytest.approx(without[PH], abs=1e-8)
    assert molalities(ws) == pytest.approx(molalities(without), rel=1e-7, abs=1e-25)


def test_opening_drives_out_what_is_above_the_air_and_takes_up_what_is_below():
    rich, poor = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    rich[[SODIUM, CARBONATE]] = 2e-3, 3e-3
    poor[SODIUM] = 1e-4
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    status, closed, opened = ph_after_opening(rich, constants, ATMOSPHERIC_CARBON_DIOXIDE, ws)
    assert status == OK
    assert opened > closed
    status, closed, opened = ph_after_opening(poor, constants, ATMOSPHERIC_CARBON_DIOXIDE, ws)
    assert status == OK
    assert opened < closed
    assert speciate_open(poor, constants, 0.0, ws) == OK
    assert ws[TOTAL_CARBONATE] == 0.0
    assert speciate_open(poor, constants, -1.0, ws) == INVALID_INPUT


def test_saturation_rises_with_either_ion():
    constants, ws = constants_array(), workspace()
    saturation_constants, indices = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    fill_constants(298.15, constants)
    fill_saturation_constants(298.15, saturation_constants)

    def index(calcium: float, sulfate: float) -> float:
        row = np.zeros(COMPONENT_COUNT)
        row[[CALCIUM, SULFATE]] = calcium, sulfate
        row[CHLORIDE], row[SODIUM] = 2.0 * calcium, 2.0 * sulfate
        speciate_closed(row, constants, ws)
        saturation_indices(ws, saturation_constants, indices)
        return float(indices[GYPSUM])

    assert index(5e-3, 5e-3) < index(6e-3, 5e-3)
    assert index(5e-3, 5e-3) < index(5e-3, 6e-3)
    assert np.isnan(index(5e-3, 0.0))
    assert np.isnan(indices[CALCITE])


INTERPRETED = """
import json, sys
import numpy as np
from tests.properties.test_equilibrium_laws import engines_answer
json.dump(engines_answer().tolist(), sys.stdout)
"""


def engines_answer() -> np.ndarray:
    """Return what every entry point gives for a few solutions."""
    random = np.random.default_rng(5)
    answers = []
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    composition = np.zeros(COMPONENT_COUNT)
    saturation_constants, indices = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    reagent = np.zeros(COMPONENT_COUNT)
    reagent[PHOSPHATE] = 1.0
    for _ in range(4):
        row = balanced(list(10.0 ** random.uniform(-6.0, -2.5, COMPONENT_COUNT)))
        kelvin = random.uniform(278.0, 308.0)
        fill_constants(kelvin, constants)
        fill_saturation_constants(kelvin, saturation_constants)
        answers += ph_after_opening(row, constants, ATMOSPHERIC_CARBON_DIOXIDE, ws)
        speciate_closed(row, constants, ws)
        saturation_indices(ws, saturation_constants, indices)
        answers += [alkalinity(ws), carbonate_alkalinity(ws), *indices, *molalities(ws)]
        answers += reagent_for_ph(row, reagent, 5.5, constants, CLOSED, ws, mixture)
        answers += reagent_for_alkalinity(row, reagent, 0.1, mixture)
        answers += composition_from_alkalinity(row, 7.4, 2.0, constants, ws, composition)
        answers += composition_from_carbonate(row, 7.0, constants, ws, composition)
    answers += solved(np.full(COMPONENT_COUNT, np.nan), 298.15)[1][:5].tolist()
    return np.array(answers, dtype=float)


def test_interpreted_and_compiled_kernels_agree():
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1"}
    finished = subprocess.run(
        [sys.executable, "-c", INTERPRETED],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    interpreted = np.array(json.loads(finished.stdout), dtype=float)
    assert interpreted == pytest.approx(engines_answer(), rel=1e-7, abs=1e-14, nan_ok=True)
