import math

import numpy as np
import pytest

from service.chemistry.density import (
    REAGENT_HIGHEST_MASS_FRACTION,
    REAGENT_NAMES,
    SULFURIC_ACID,
    reagent_concentration,
    reagent_density,
    reagent_status,
    water_density,
)
from service.chemistry.solution_density import (
    concentration_from_molality,
    dissolved_mass,
    molality_from_concentration,
    solution_density,
)
from service.chemistry.validity import ABOVE_RANGE, BELOW_RANGE, IN_RANGE
from service.reference.components import COMPONENT_NAMES, NOMINAL_CHARGE
from service.reference.solution_properties import COMPONENT_FORM


def composition(**amounts):
    vector = np.zeros(len(COMPONENT_NAMES))
    for name, amount in amounts.items():
        vector[COMPONENT_NAMES.index(name)] = amount
    return vector


@pytest.mark.parametrize("reagent", range(len(REAGENT_NAMES)))
def test_a_reagent_of_no_strength_is_water(reagent):
    assert reagent_density(reagent, 0.0, 293.15) == pytest.approx(water_density(293.15), rel=1e-12)


@pytest.mark.parametrize("reagent", range(len(REAGENT_NAMES)))
def test_strength_and_temperature_outside_the_range_are_a_status_and_no_number(reagent):
    highest = REAGENT_HIGHEST_MASS_FRACTION[reagent]
    assert reagent_status(reagent, highest, 293.15) == IN_RANGE
    assert reagent_status(reagent, highest + 0.001, 293.15) == ABOVE_RANGE
    assert reagent_status(reagent, -0.001, 293.15) == BELOW_RANGE
    assert reagent_status(reagent, 0.1, 260.0) == BELOW_RANGE
    assert math.isnan(reagent_density(reagent, highest + 0.001, 293.15))
    assert math.isnan(reagent_density(reagent, 0.1, 330.0))


def test_stronger_than_concentrated_sulfuric_acid_is_no_number():
    # Its density turns at 98 %: beyond, one density has two strengths.
    assert math.isfinite(reagent_density(SULFURIC_ACID, 0.98, 293.15))
    assert math.isnan(reagent_density(SULFURIC_ACID, 0.985, 293.15))
    assert math.isnan(reagent_density(SULFURIC_ACID, 1.0, 293.15))


def test_an_unknown_reagent_is_no_number():
    assert math.isnan(reagent_density(len(REAGENT_NAMES), 0.1, 293.15))
    assert math.isnan(reagent_density(-1, 0.1, 293.15))
    assert math.isnan(reagent_concentration(0, 0.1, 0.0, 293.15))


def test_sulfuric_acid_passes_between_its_two_sources_without_a_step():
    strengths = np.linspace(0.70, 0.98, 281)
    densities = [reagent_density(SULFURIC_ACID, w, 293.15) for w in strengths]
    steps = np.diff(densities)
    assert np.all(np.abs(np.diff(steps)) < 4e-4)


def test_nitric_acid_and_potassium_hydroxide_are_nitrate_and_potassium_alone():
    for component, reagent, molar_mass in (("nitrate", 0, 63.013), ("potassium", 4, 56.106)):
        amount = 2.0
        strength = amount * molar_mass / (1000.0 + amount * molar_mass)
        ours = solution_density(composition(**{component: amount}), 293.15)
        assert ours == pytest.approx(reagent_density(reagent, strength, 293.15), rel=2e-4)


def test_dissolved_mass_closes_charges_with_hydrogen_or_hydroxide():
    assert dissolved_mass(composition(nitrate=1.0)) == pytest.approx(0.063013, rel=1e-5)
    assert dissolved_mass(composition(potassium=1.0)) == pytest.approx(0.056105, rel=1e-4)
    potassium_carbonate = composition(potassium=2.0, carbonate=1.0)
    assert dissolved_mass(potassium_carbonate) == pytest.approx(0.138205, rel=1e-4)


def test_water_content_is_the_density_less_what_is_dissolved():
    vector = composition(calcium=1.0, nitrate=2.0, potassium=0.5, chloride=0.5)
    density = solution_density(vector, 293.15)
    solutes = dissolved_mass(vector)
    concentration = concentration_from_molality(1.0, solutes, density)
    mass_concentration = 1000.0 * solutes * density / (1.0 + solutes)
    back = molality_from_concentration(concentration, mass_concentration, density)
    assert back == pytest.approx(1.0, rel=1e-12)


def test_conversions_without_water_are_no_number():
    assert math.isnan(molality_from_concentration(1.0, 1000.0, 1.0))
    assert math.isnan(concentration_from_molality(1.0, -1.0, 1.0))


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_an_amount_that_cannot_be_gives_no_density(bad):
    assert math.isnan(solution_density(composition(potassium=bad), 293.15))


def test_urea_adds_mass_and_volume_but_no_charge():
    density = solution_density(composition(urea=2.0), 293.15)
    assert 1.0 < density / water_density(293.15) < 1.04


def test_components_weigh_as_the_ions_that_balance_them():
    for place, charge in enumerate(NOMINAL_CHARGE):
        equivalents = COMPONENT_FORM[place, 1]
        if charge and COMPONENT_NAMES[place] not in ("iron_chelate", "unmeasured"):
            assert abs(charge) == equivalents
