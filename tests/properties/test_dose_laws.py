"""Laws of doses, alkalinity and completed water analyses."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.chemistry.acidification import reagent_for_alkalinity, reagent_for_ph
from service.chemistry.alkalinity import (
    alkalinity,
    alkalinity_of_composition,
    carbonate_alkalinity,
)
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NO_SOLUTION,
    OK,
    OUT_OF_RANGE,
    speciate,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import (
    ATMOSPHERIC_CARBON_DIOXIDE,
    speciate_at_ph,
)
from service.chemistry.water_analysis import composition_from_alkalinity, composition_from_carbonate
from service.chemistry.workspace import (
    CHARGE_IMBALANCE,
    PH,
    TOTAL_CARBONATE,
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
from tests.properties.solutions import amounts, balanced, kelvins, solved


@settings(max_examples=60, deadline=None)
@given(
    amounts,
    kelvins,
    st.floats(3.5, 9.0),
    st.sampled_from([NITRATE, PHOSPHATE, SULFATE, CITRATE, POTASSIUM]),
    st.booleans(),
)
def test_the_dose_for_a_ph_gives_the_ph(values, kelvin, target, component, is_open):
    row = balanced(values)
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    fill_constants(kelvin, constants)
    pressure = ATMOSPHERIC_CARBON_DIOXIDE if is_open else CLOSED
    speciate(row, constants, pressure, np.nan, False, ws)
    start = ws[PH]
    reagent = np.zeros(COMPONENT_COUNT)
    reagent[component] = 1.0
    status, amount = reagent_for_ph(row, reagent, target, constants, pressure, ws, mixture)
    if (target > start) != (component == POTASSIUM):
        assert status == NO_SOLUTION
        assert np.isnan(amount)
        return
    if status == NO_SOLUTION:
        # Phosphoric and citric acid cannot reach the lowest pH within a mole per kilogram.
        assert component in (PHOSPHATE, CITRATE)
        assert target < 4.5
        return
    assert status in (OK, OUT_OF_RANGE)
    assert mixture == pytest.approx(row + amount * reagent, rel=1e-12)
    assert speciate(mixture, constants, pressure, np.nan, False, ws) in (OK, OUT_OF_RANGE)
    assert ws[PH] == pytest.approx(target, abs=1e-5)
    status, back = reagent_for_ph(row, reagent, ws[PH], constants, pressure, ws, mixture)
    assert status in (OK, OUT_OF_RANGE)
    assert back == pytest.approx(amount, rel=1e-3, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(amounts, kelvins)
def test_alkalinity_by_species_is_alkalinity_by_composition(values, kelvin):
    row = balanced(values)
    for pressure in (CLOSED, ATMOSPHERIC_CARBON_DIOXIDE):
        status, ws = solved(row, kelvin, pressure)
        assert status in (OK, OUT_OF_RANGE)
        expected = 1000.0 * alkalinity_of_composition(row)
        assert alkalinity(ws) == pytest.approx(expected, abs=1e-6 * row.sum() * 1e3 + 1e-12)
        assert carbonate_alkalinity(ws) <= 2000.0 * ws[TOTAL_CARBONATE] * (1.0 + 1e-9)


@settings(max_examples=80, deadline=None)
@given(amounts, kelvins, st.floats(5.5, 8.8), st.floats(0.05, 6.0))
def test_an_analysis_is_completed_so_that_its_ph_and_alkalinity_are_true(
    values, kelvin, ph, equivalents
):
    analysis = 0.3 * np.array(values)
    analysis[[PHOSPHATE, CITRATE]] = 0.0
    constants, ws = constants_array(), workspace()
    composition = np.zeros(COMPONENT_COUNT)
    fill_constants(kelvin, constants)
    status, error = composition_from_alkalinity(
        analysis, ph, equivalents, constants, ws, composition
    )
    if status == NO_SOLUTION:
        # Ammonia, borate and silicate hold more than the alkalinity.
        assert ph > 7.0
        return
    assert status in (OK, OUT_OF_RANGE)
    again, check = solved(composition, kelvin)
    assert again in (OK, OUT_OF_RANGE)
    assert check[PH] == pytest.approx(ph, abs=1e-5)
    assert alkalinity(check) == pytest.approx(equivalents, rel=1e-9)
    measured = np.delete(composition - analysis, [CARBONATE, UNMEASURED])
    assert (measured == 0.0).all()
    assert -100.0 <= error <= 100.0
    # And back from the total carbonate.
    second = np.zeros(COMPONENT_COUNT)
    status, same_error = composition_from_carbonate(composition, ph, constants, ws, second)
    assert status in (OK, OUT_OF_RANGE)
    assert second == pytest.approx(composition, rel=1e-7, abs=1e-10)
    assert same_error == pytest.approx(error, abs=1e-4)


def test_the_charge_balance_error_has_the_sign_of_the_surplus():
    analysis, composition = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    analysis[[CALCIUM, CHLORIDE]] = 1e-3, 0.5e-3
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    status, error = composition_from_alkalinity(analysis, 7.5, 1.0, constants, ws, composition)
    assert status == OK
    assert error == pytest.approx(100.0 * 0.5 / 3.5)
    assert composition[UNMEASURED] == pytest.approx(-0.5e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 6.0), st.floats(0.1, 5.0))
def test_the_dose_for_an_alkalinity_leaves_it(before, after):
    row = np.zeros(COMPONENT_COUNT)
    row[SODIUM], row[CARBONATE] = before * 1e-3, before * 1.05e-3
    reagent, mixture = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    reagent[SULFATE] = 1.0
    status, amount = reagent_for_alkalinity(row, reagent, after, mixture)
    if after > before:
        assert status == NO_SOLUTION
        assert np.isnan(amount)
        return
    assert status == OK
    assert alkalinity(solved(mixture, 298.15)[1]) == pytest.approx(after, rel=1e-9)


def test_the_imbalance_at_a_held_ph_is_what_an_acid_would_supply():
    row = np.zeros(COMPONENT_COUNT)
    row[[SODIUM, CARBONATE]] = 2e-3, 2.1e-3
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    fill_constants(298.15, constants)
    assert speciate_at_ph(row, constants, CLOSED, 5.8, ws) == OK
    imbalance = ws[CHARGE_IMBALANCE]
    reagent = np.zeros(COMPONENT_COUNT)
    reagent[NITRATE] = 1.0
    _, amount = reagent_for_ph(row, reagent, 5.8, constants, CLOSED, ws, mixture)
    assert imbalance == pytest.approx(amount, rel=0.01)
    assert speciate_at_ph(row, constants, CLOSED, np.nan, ws) == INVALID_INPUT
