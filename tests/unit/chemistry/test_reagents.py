"""Amounts of acid and base for an alkalinity, by equivalents, and what they cannot do."""

import math

import numpy as np
import pytest

from service.chemistry.acidification import HIGHEST_AMOUNT, reagent_for_alkalinity, reagent_for_ph
from service.chemistry.equilibrium import (
    CLOSED,
    INVALID_INPUT,
    NO_SOLUTION,
    OK,
    speciate,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.workspace import PH, workspace
from service.reference import components


def mmol(**amounts: float) -> np.ndarray:
    composition = np.zeros(components.COMPONENT_COUNT)
    for name, amount in amounts.items():
        composition[components.COMPONENT_NAMES.index(name)] = 1e-3 * amount
    return composition


# Four equivalents of bicarbonate.
TAP = mmol(calcium=2.0, carbonate=4.1)
NITRIC, SULFURIC = mmol(nitrate=1000.0), mmol(sulfate=1000.0)
PHOSPHORIC, CITRIC = mmol(phosphate=1000.0), mmol(citrate=1000.0)
HYDROXIDE, CARBONATE = mmol(potassium=1000.0), mmol(potassium=2000.0, carbonate=1000.0)
SALT = mmol(sodium=1000.0, chloride=1000.0)


@pytest.mark.parametrize(
    ("reagent", "left", "expected"),
    [
        (NITRIC, 1.0, 3.0),
        (SULFURIC, 1.0, 1.5),
        (PHOSPHORIC, 1.0, 3.0),
        (CITRIC, 1.0, 3.0),
        (NITRIC, 0.0, 4.0),
        (NITRIC, -1.0, 5.0),
        (HYDROXIDE, 6.0, 2.0),
        (CARBONATE, 6.0, 1.0),
        (NITRIC, 4.0, 0.0),
    ],
)
def test_equivalents_of_a_reagent_are_counted(
    reagent: np.ndarray, left: float, expected: float
) -> None:
    mixture = np.zeros(components.COMPONENT_COUNT)
    status, amount = reagent_for_alkalinity(TAP, reagent, left, mixture)
    assert status == OK
    assert 1e3 * amount == pytest.approx(expected, abs=1e-12)
    np.testing.assert_allclose(mixture, TAP + amount * reagent, rtol=1e-12)


@pytest.mark.parametrize(
    ("reagent", "left"),
    [(NITRIC, 5.0), (HYDROXIDE, 3.0), (SALT, 3.0), (NITRIC, -1000.0 * HIGHEST_AMOUNT)],
)
def test_what_a_reagent_cannot_do_has_no_solution(reagent: np.ndarray, left: float) -> None:
    mixture = np.zeros(components.COMPONENT_COUNT)
    status, amount = reagent_for_alkalinity(TAP, reagent, left, mixture)
    assert status == NO_SOLUTION
    assert math.isnan(amount)
    assert np.isnan(mixture).all()


def test_up_to_a_mole_is_an_answer() -> None:
    mixture = np.zeros(components.COMPONENT_COUNT)
    left = 4.0 - 999.0 * HIGHEST_AMOUNT
    assert reagent_for_alkalinity(TAP, NITRIC, left, mixture) == (OK, pytest.approx(0.999))


def test_no_numbers_are_invalid() -> None:
    mixture = np.zeros(components.COMPONENT_COUNT)
    assert reagent_for_alkalinity(TAP, NITRIC, math.nan, mixture)[0] == INVALID_INPUT
    assert reagent_for_alkalinity(-TAP, NITRIC, 1.0, mixture)[0] == INVALID_INPUT
    assert reagent_for_alkalinity(TAP, np.nan * NITRIC, 1.0, mixture)[0] == INVALID_INPUT


@pytest.mark.parametrize(
    ("reagent", "ph"), [(NITRIC, 9.0), (HYDROXIDE, 6.0), (SALT, 6.0), (PHOSPHORIC, 1.0)]
)
def test_a_ph_on_the_other_side_has_no_solution(reagent: np.ndarray, ph: float) -> None:
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    mixture = np.zeros(components.COMPONENT_COUNT)
    status, amount = reagent_for_ph(TAP, reagent, ph, constants, CLOSED, ws, mixture)
    assert status != OK
    assert math.isnan(amount)
    assert np.isnan(mixture).all()


def test_the_ph_that_is_there_needs_nothing() -> None:
    constants, ws = constants_array(), workspace()
    fill_constants(298.15, constants)
    mixture = np.zeros(components.COMPONENT_COUNT)
    assert speciate(TAP, constants, CLOSED, math.nan, False, ws) == OK
    status, amount = reagent_for_ph(TAP, NITRIC, ws[PH], constants, CLOSED, ws, mixture)
    assert status == OK
    assert amount == pytest.approx(0.0, abs=1e-12)
