"""Ionic strength and reagent as unknowns give what the plain speciation gives."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.chemistry.acidification import reagent_for_ph
from service.chemistry.activity import (
    log10_extended_debye_hueckel,
    slope_of_extended_debye_hueckel,
)
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NOT_CONVERGED,
    OK,
    speciate,
    speciate_for_a_reading,
    speciate_with_reagent,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.species import SPECIES_COUNT
from service.chemistry.workspace import (
    AMOUNT,
    AMOUNT_SLOPE,
    CHARGE_IMBALANCE,
    IONIC_STRENGTH,
    MOLALITY,
    PH,
    workspace,
)
from service.reference.components import (
    BORATE,
    CALCIUM,
    CARBONATE,
    CHLORIDE,
    COMPONENT_COUNT,
    NITRATE,
    PHOSPHATE,
    POTASSIUM,
)


def constants():
    filled = constants_array()
    fill_constants(298.15, filled)
    return filled


def feed(scale=1.0):
    row = np.zeros(COMPONENT_COUNT)
    row[CALCIUM], row[POTASSIUM], row[NITRATE] = 1.5e-3, 2.0e-3, 3.5e-3
    row[PHOSPHATE], row[CARBONATE], row[CHLORIDE] = 4e-4, 1.2e-3, 1e-4
    return scale * row


NITRIC = np.eye(COMPONENT_COUNT)[NITRATE]
POTASH = np.eye(COMPONENT_COUNT)[POTASSIUM]


@given(st.floats(1e-4, 0.5), st.floats(-6.0, -0.3), st.floats(0.8, 2.0), st.floats(-0.2, 0.3))
def test_slope_of_an_activity_coefficient_is_its_derivative(strength, slope, size, linear):
    step = 1e-6 * strength
    above, below = (
        log10_extended_debye_hueckel(slope, size, linear, strength + sign * step)
        for sign in (1.0, -1.0)
    )
    expected = (above - below) / (2.0 * step)
    found = slope_of_extended_debye_hueckel(slope, size, linear, strength)
    assert found == pytest.approx(expected, rel=1e-5, abs=1e-6)


@given(st.floats(0.02, 8.0), st.floats(0.02, 8.0), st.booleans())
def test_a_reading_is_that_of_the_fine_solution_wherever_it_starts(scale, before, beside_air):
    pressure = ATMOSPHERIC_CARBON_DIOXIDE if beside_air else CLOSED
    fine, rough = workspace(), workspace()
    assert speciate(feed(scale), constants(), pressure, math.nan, False, fine) == OK
    assert speciate(feed(before), constants(), CLOSED, math.nan, False, rough) == OK
    assert speciate_for_a_reading(feed(scale), constants(), pressure, True, rough) == OK
    assert rough[PH] == pytest.approx(fine[PH], abs=1e-6)
    assert rough[IONIC_STRENGTH] == pytest.approx(fine[IONIC_STRENGTH], rel=1e-6)
    held = slice(MOLALITY, MOLALITY + SPECIES_COUNT)
    assert rough[held] == pytest.approx(fine[held], rel=2e-6, abs=1e-14)


@given(st.floats(4.6, 6.4), st.floats(0.2, 4.0), st.floats(1e-6, 1e-2))
def test_acid_found_with_the_species_holds_the_ph(ph, scale, first):
    ws = workspace()
    status = speciate_with_reagent(feed(scale), NITRIC, first, constants(), CLOSED, ph, False, ws)
    assert status == OK
    amount = ws[AMOUNT]
    assert ws[AMOUNT_SLOPE] < 0.0
    assert abs(ws[CHARGE_IMBALANCE]) < 1e-9 * feed(scale).sum()
    mixed = feed(scale) + amount * NITRIC
    assert speciate(mixed, constants(), CLOSED, math.nan, False, ws) == OK
    assert ws[PH] == pytest.approx(ph, abs=1e-7)


def test_a_base_brings_charge_where_an_acid_takes_it():
    acidic = feed() + 2e-3 * NITRIC
    ws = workspace()
    status = speciate_with_reagent(acidic, POTASH, 1e-4, constants(), CLOSED, 6.5, False, ws)
    assert status == OK
    assert ws[AMOUNT_SLOPE] > 0.0
    assert ws[AMOUNT] > 0.0


def test_no_amount_is_found_where_none_is_positive():
    ws = workspace()
    status = speciate_with_reagent(feed(), NITRIC, 1e-4, constants(), CLOSED, 9.0, False, ws)
    assert status == NOT_CONVERGED
    assert math.isnan(ws[PH])


@pytest.mark.parametrize(("ph", "first"), [(math.nan, 1e-4), (6.0, 0.0), (6.0, math.nan)])
def test_a_start_that_is_none_is_invalid(ph, first):
    ws = workspace()
    status = speciate_with_reagent(feed(), NITRIC, first, constants(), CLOSED, ph, False, ws)
    assert status == INVALID_INPUT


def test_the_search_that_tells_why_agrees_with_the_one_step():
    ws, mixture = workspace(), np.zeros(COMPONENT_COUNT)
    status, amount = reagent_for_ph(feed(), NITRIC, 5.8, constants(), CLOSED, ws, mixture)
    assert status == OK
    base = speciate(mixture, constants(), CLOSED, math.nan, False, ws)
    assert base == OK
    assert ws[PH] == pytest.approx(5.8, abs=1e-8)
    status, none = reagent_for_ph(feed(), NITRIC, 9.0, constants(), CLOSED, ws, mixture)
    assert status > NOT_CONVERGED
    assert math.isnan(none)
    assert amount > 0.0


def test_a_trace_below_all_normal_numbers_does_no_harm():
    row, ws = feed(), workspace()
    row[BORATE] = 5e-321
    assert speciate(row, constants(), CLOSED, math.nan, False, ws) == OK
    without = workspace()
    assert speciate(feed(), constants(), CLOSED, math.nan, False, without) == OK
    assert ws[PH] == pytest.approx(without[PH], abs=1e-9)
