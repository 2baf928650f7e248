import math

import numpy as np
import pytest

from service.chemistry.conductivity import (
    COEFFICIENTS,
    conductivity,
    label_conductivity,
    limiting_conductivity,
    solution_conductivity,
    water_viscosity,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.species import SPECIES_NAMES
from service.chemistry.workspace import workspace
from service.reference.components import COMPONENT_NAMES
from service.reference.solution_properties import CONDUCTING_SPECIES

CONSTANTS = constants_array()
fill_constants(298.15, CONSTANTS)


def composition(**amounts):
    vector = np.zeros(len(COMPONENT_NAMES))
    for name, amount in amounts.items():
        vector[COMPONENT_NAMES.index(name)] = amount
    return vector


def ions(**amounts):
    vector = np.zeros(len(SPECIES_NAMES))
    for name, amount in amounts.items():
        vector[SPECIES_NAMES.index(name.replace("_plus", "+").replace("_minus", "-"))] = amount
    return vector


def test_every_row_of_the_table_belongs_to_a_species():
    assert set(CONDUCTING_SPECIES) <= set(SPECIES_NAMES)


def test_viscosity_of_water_is_the_tabulated_one():
    assert water_viscosity(293.15) == pytest.approx(1.0016, rel=1e-3)
    assert water_viscosity(298.15) == pytest.approx(0.8900, rel=1e-3)
    assert math.isnan(water_viscosity(200.0))


def test_water_without_ions_does_not_conduct():
    assert conductivity(ions(), 0.0, 298.15, 0.997, COEFFICIENTS) == 0.0


def test_dilute_potassium_chloride_obeys_the_limiting_law():
    amount = 1e-6
    potassium, chloride = (SPECIES_NAMES.index(name) for name in ("K+", "Cl-"))
    limit = limiting_conductivity(potassium, 298.15, COEFFICIENTS)
    limit += limiting_conductivity(chloride, 298.15, COEFFICIENTS)
    ours = conductivity(ions(K_plus=amount, Cl_minus=amount), amount, 298.15, 1.0, COEFFICIENTS)
    slope = 60.65 + 0.2300 * limit
    expected = limit - slope * math.sqrt(amount)
    assert ours / amount == pytest.approx(expected, rel=1e-5)


def test_ions_of_one_sign_alone_are_no_solution():
    assert math.isnan(conductivity(ions(K_plus=0.01), 0.005, 298.15, 1.0, COEFFICIENTS))


@pytest.mark.parametrize(
    ("strength", "temperature", "water"),
    [
        (math.nan, 298.15, 1.0),
        (-0.1, 298.15, 1.0),
        (0.01, 260.0, 1.0),
        (0.01, 330.0, 1.0),
        (0.01, 298.15, 0.0),
        (0.01, 298.15, math.nan),
    ],
)
def test_what_cannot_be_computed_is_no_number(strength, temperature, water):
    molality = ions(K_plus=0.01, Cl_minus=0.01)
    assert math.isnan(conductivity(molality, strength, temperature, water, COEFFICIENTS))


def test_a_negative_molality_is_no_number():
    molality = ions(K_plus=0.01, Cl_minus=-0.01)
    assert math.isnan(conductivity(molality, 0.01, 298.15, 1.0, COEFFICIENTS))


def test_urea_brings_nitrogen_and_no_conductivity():
    space = workspace()
    water = solution_conductivity(composition(), CONSTANTS, -1.0, space)
    urea = solution_conductivity(composition(urea=0.01), CONSTANTS, -1.0, space)
    assert water == pytest.approx(5.5e-5, rel=0.02)
    assert urea == pytest.approx(water, rel=0.01)


def test_label_conductivity_counts_the_nitrogen_of_urea():
    scratch, space = composition(), workspace()
    nitrate = composition(potassium=9.891, nitrate=9.891)
    half_urea = composition(potassium=9.891, nitrate=9.891, urea=4.9455)
    plain = label_conductivity(nitrate, 100.0, CONSTANTS, scratch, space)
    mixed = label_conductivity(half_urea, 100.0, CONSTANTS, scratch, space)
    assert plain == pytest.approx(0.974, rel=0.01)
    assert mixed == pytest.approx(0.5 * plain, rel=0.02)


def test_a_label_without_nitrogen_has_no_such_conductivity():
    scratch, space = composition(), workspace()
    product = composition(potassium=7.35, phosphate=7.35)
    assert math.isnan(label_conductivity(product, 100.0, CONSTANTS, scratch, space))
    nitrate = composition(potassium=9.891, nitrate=9.891)
    assert math.isnan(label_conductivity(nitrate, -1.0, CONSTANTS, scratch, space))


def test_a_composition_that_cannot_be_speciated_is_no_number():
    bad = composition(potassium=-1.0)
    assert math.isnan(solution_conductivity(bad, CONSTANTS, -1.0, workspace()))
