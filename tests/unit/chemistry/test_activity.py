"""Debye-Hueckel parameters, classes of species and the activity of water."""

import math

import numpy as np
import pytest

from service.chemistry.activity import (
    CLASS_COUNT,
    SPECIES_CLASS,
    debye_hueckel_a,
    debye_hueckel_b,
    fill_activity_parameters,
    log10_activity_coefficient_davies_1962,
    log10_activity_coefficient_truesdell_jones_1974,
    log10_extended_debye_hueckel,
    relative_permittivity_bradley_pitzer_1979,
    water_activity,
)
from service.chemistry.species import SPECIES_CHARGES, SPECIES_NAMES
from service.reference.equilibrium_tables import load_activity_parameters

# What PHREEQC 3.7.3 reports as EPS_R, DH_A and DH_B at 1 atm.
PHREEQC_PARAMETERS = [
    (273.15, 87.85641891, 0.49083370, 0.32462071),
    (283.15, 83.94990708, 0.49786395, 0.32614793),
    (298.15, 78.38441784, 0.51002479, 0.32849063),
    (313.15, 73.16750316, 0.52411573, 0.33095200),
]


@pytest.mark.parametrize(("kelvin", "permittivity", "a", "b"), PHREEQC_PARAMETERS)
def test_parameters_are_those_of_phreeqc(kelvin, permittivity, a, b):
    assert relative_permittivity_bradley_pitzer_1979(kelvin) == pytest.approx(permittivity, 1e-8)
    assert debye_hueckel_a(kelvin) == pytest.approx(a, rel=1e-4)
    assert debye_hueckel_b(kelvin) == pytest.approx(b, rel=1e-4)


def test_every_species_has_the_coefficient_of_its_row():
    slope, size, linear = np.zeros(CLASS_COUNT), np.zeros(CLASS_COUNT), np.zeros(CLASS_COUNT)
    kelvin, strength = 285.0, 0.07
    fill_activity_parameters(kelvin, slope, size, linear)
    charges = dict(zip(SPECIES_NAMES, SPECIES_CHARGES, strict=True))
    rows = load_activity_parameters()
    assert [row.species for row in rows] == list(SPECIES_NAMES)
    for row in rows:
        place = SPECIES_CLASS[SPECIES_NAMES.index(row.species)]
        shared = log10_extended_debye_hueckel(slope[place], size[place], linear[place], strength)
        charge = float(charges[row.species])
        if row.model == "davies":
            own = log10_activity_coefficient_davies_1962(charge, strength, kelvin)
        elif row.model == "truesdell-jones":
            own = log10_activity_coefficient_truesdell_jones_1974(
                charge, row.ion_size_angstrom, row.b_kg_per_mol, strength, kelvin
            )
        else:
            assert row.model == "salting-out"
            assert charge == 0.0
            own = 0.1 * strength
        assert shared == pytest.approx(own, rel=1e-12), row.species


def test_a_negative_ionic_strength_does_not_raise():
    assert log10_extended_debye_hueckel(-0.5, 1.0, 0.0, -1e-9) == 0.0


def test_water_activity_falls_with_solutes_and_stays_positive():
    assert water_activity(0.0) == 1.0
    assert water_activity(1.0) == pytest.approx(0.983)
    assert water_activity(1e6) == 0.5


def test_parameters_outside_the_range_of_water_are_nan():
    assert math.isnan(debye_hueckel_a(250.0))
    assert math.isnan(debye_hueckel_b(math.nan))
