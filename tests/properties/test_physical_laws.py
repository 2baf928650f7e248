"""Laws of vapour pressure, density, conductivity and meter scales that hold for any input."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.chemistry.compensation import (
    LINEAR,
    NATURAL_WATER,
    conductivity_at_25,
    reading_at_temperature,
)
from service.chemistry.conductivity import COEFFICIENTS, conductivity, solution_conductivity
from service.chemistry.density import REAGENT_HIGHEST_MASS_FRACTION, reagent_density
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.meter import SCALE_NAMES, conductivity_from_reading, meter_reading
from service.chemistry.solution_density import solution_density
from service.chemistry.species import SPECIES_CHARGES, SPECIES_COUNT
from service.chemistry.vapour_pressure import moisture_deficit, vapour_pressure_deficit
from service.chemistry.workspace import workspace
from service.reference.components import COMPONENT_NAMES

CATIONS = ("calcium", "magnesium", "potassium", "sodium", "ammonium")
ANIONS = ("nitrate", "chloride", "sulfate", "phosphate")
EQUIVALENTS = {"calcium": 2, "magnesium": 2, "sulfate": 2}
CONSTANTS = constants_array()
fill_constants(298.15, CONSTANTS)

temperatures = st.floats(273.15, 313.15)
amounts = st.floats(1e-5, 5e-3)


@st.composite
def feeds(draw):
    """Draw an electroneutral feed of a few salts, as a composition in mol/kg."""
    vector = np.zeros(len(COMPONENT_NAMES))
    for _ in range(draw(st.integers(1, 5))):
        cation, anion = draw(st.sampled_from(CATIONS)), draw(st.sampled_from(ANIONS))
        equivalents = draw(amounts)
        vector[COMPONENT_NAMES.index(cation)] += equivalents / EQUIVALENTS.get(cation, 1)
        vector[COMPONENT_NAMES.index(anion)] += equivalents / EQUIVALENTS.get(anion, 1)
    return vector


def ec(composition):
    return solution_conductivity(composition, CONSTANTS, -1.0, workspace())


@settings(max_examples=50, deadline=None)
@given(feeds())
def test_conductivity_vanishes_on_dilution(feed):
    previous = ec(feed)
    for share in (0.1, 0.01, 0.001, 0.0):
        diluted = ec(share * feed)
        assert diluted < previous
        previous = diluted
    assert previous < 1e-4


@settings(max_examples=50, deadline=None)
@given(feeds(), st.floats(1.01, 3.0))
def test_conductivity_rises_with_concentration_less_than_in_proportion(feed, factor):
    weak, strong = ec(feed), ec(factor * feed)
    assert weak < strong < 1.001 * factor * weak


@settings(max_examples=50, deadline=None)
@given(feeds(), temperatures, st.floats(0.1, 5.0))
def test_conductivity_rises_with_temperature(feed, temperature, step):
    space = workspace()
    ec_with = solution_conductivity(feed, CONSTANTS, -1.0, space)
    assume(ec_with > 0.0)
    molality = space[8 : 8 + SPECIES_COUNT].copy()
    strength = float(0.5 * np.sum(molality * np.array(SPECIES_CHARGES) ** 2))
    cold = conductivity(molality, strength, temperature, 0.99, COEFFICIENTS)
    warm = conductivity(molality, strength, temperature + step, 0.99, COEFFICIENTS)
    assert cold < warm


@settings(max_examples=50, deadline=None)
@given(feeds(), temperatures)
def test_salts_make_water_denser(feed, temperature):
    assert solution_density(feed, temperature) > solution_density(0.5 * feed, temperature)


@given(
    st.integers(0, len(REAGENT_HIGHEST_MASS_FRACTION) - 1),
    st.floats(0.0, 0.95),
    st.floats(0.002, 0.04),
    temperatures,
)
def test_a_stronger_reagent_is_denser(reagent, share, step, temperature):
    # Sulfuric acid has its greatest density near 97 %.
    highest = min(REAGENT_HIGHEST_MASS_FRACTION[reagent], 0.96)
    weak = reagent_density(reagent, share * highest, temperature)
    strong = reagent_density(reagent, min(share + step, 1.0) * highest, temperature)
    assert weak < strong


@given(temperatures, st.floats(0.0, 99.0), st.floats(0.5, 1.0))
def test_moister_air_lacks_less(temperature, humidity, step):
    assert vapour_pressure_deficit(temperature, humidity + step) < vapour_pressure_deficit(
        temperature, humidity
    )
    assert moisture_deficit(temperature, humidity + step) < moisture_deficit(temperature, humidity)


@given(st.integers(0, len(SCALE_NAMES) - 1), st.floats(0.0, 80.0))
def test_a_reading_on_any_scale_goes_back_to_its_conductivity(scale, value):
    back = conductivity_from_reading(scale, meter_reading(scale, value))
    assert abs(back - value) <= 1e-9 * max(value, 1e-3)


@given(
    st.floats(0.0, 20.0),
    st.sampled_from([NATURAL_WATER, LINEAR]),
    st.floats(273.15, 308.15),
    st.floats(0.015, 0.025),
)
def test_a_reading_at_any_temperature_goes_to_25_degrees_and_back(
    value, method, temperature, coefficient
):
    at_25 = conductivity_at_25(value, method, temperature, coefficient)
    back = reading_at_temperature(at_25, method, temperature, coefficient)
    assert abs(back - value) <= 1e-9 * max(value, 1.0)


INTERPRETED = """
import json

import numpy as np

from service.chemistry.compensation import conductivity_at_25
from service.chemistry.conductivity import COEFFICIENTS, conductivity
from service.chemistry.density import reagent_density
from service.chemistry.meter import meter_reading
from service.chemistry.solution_density import solution_density
from service.chemistry.species import SPECIES_NAMES
from service.chemistry.vapour_pressure import moisture_deficit
from service.reference.components import COMPONENT_NAMES

results = []
for seed in range(20):
    draw = np.random.default_rng(seed)
    t = float(draw.uniform(270.0, 318.0))
    results.append(moisture_deficit(t, float(draw.uniform(-5.0, 105.0))))
    results.append(reagent_density(int(draw.integers(-1, 8)), float(draw.uniform(0.0, 1.0)), t))
    results.append(solution_density(draw.uniform(0.0, 0.3, len(COMPONENT_NAMES)), t))
    ions = draw.uniform(0.0, 1e-3, len(SPECIES_NAMES))
    results.append(conductivity(ions, 0.02, t, 0.99, COEFFICIENTS))
    results.append(meter_reading(int(draw.integers(-1, 7)), float(draw.uniform(0.0, 90.0))))
    results.append(conductivity_at_25(1.0, int(draw.integers(0, 3)), t, 0.02))
print(json.dumps([None if np.isnan(value) else float(value) for value in results]))
"""


def results(**environment):
    done = subprocess.run(
        [sys.executable, "-c", INTERPRETED],
        cwd=Path(__file__).resolve().parents[2],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


def test_compiled_and_interpreted_kernels_agree():
    compiled, interpreted = results(), results(NUMBA_DISABLE_JIT="1")
    assert len(compiled) == len(interpreted) == 120
    assert None in compiled
    for ours, theirs in zip(compiled, interpreted, strict=True):
        assert (ours is None) == (theirs is None)
        if ours is not None:
            assert abs(ours - theirs) <= 1e-12 * abs(theirs)
