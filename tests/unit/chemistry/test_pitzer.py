"""Activities of concentrates are the derivatives of one excess Gibbs energy, written here once."""

import cmath

import numpy as np
import pytest

from service.chemistry.concentrate_ions import CATION_COUNT, CHARGES, ION_COUNT, SPECIES_COUNT, UREA
from service.chemistry.pitzer import (
    ALPHA_1,
    ALPHA_2,
    BETA_0,
    BETA_1,
    BETA_2,
    SALT_WIDTH,
    C,
    debye_hueckel_osmotic_slope,
    decaying_interaction,
    decaying_interaction_slope,
    pitzer_activities,
    unsymmetrical_integral,
    unsymmetrical_integral_slope,
)

MOLES_OF_WATER = 1000.0 / 18.01528
"""In a kilogram: molar mass of water 18.01528 g/mol."""
SLOPE = 0.3915
TINY = 1e-30


def like_sign(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return made-up coefficients of pairs and triplets, symmetric in the two of like sign."""
    draw = np.random.default_rng(seed)
    pairs, triplets = np.zeros((ION_COUNT,) * 2), np.zeros((ION_COUNT,) * 3)
    for first in range(ION_COUNT):
        for second in range(first):
            if CHARGES[first] * CHARGES[second] < 0.0:
                continue
            pairs[first, second] = pairs[second, first] = draw.uniform(-0.2, 0.2)
            for third in range(ION_COUNT):
                if CHARGES[first] * CHARGES[third] < 0.0:
                    psi = draw.uniform(-0.05, 0.05)
                    triplets[first, second, third] = triplets[second, first, third] = psi
    return pairs, triplets


def salts(seed: int) -> np.ndarray:
    """Return made-up coefficients of single salts; every other has no third one."""
    draw = np.random.default_rng(seed)
    found = np.zeros((CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH))
    found[..., BETA_0] = draw.uniform(-0.1, 0.4, found.shape[:2])
    found[..., BETA_1] = draw.uniform(0.0, 2.0, found.shape[:2])
    found[..., BETA_2] = draw.uniform(-30.0, -1.0, found.shape[:2])
    found[::2, ::2, BETA_2] = 0.0
    found[..., C] = draw.uniform(-0.01, 0.01, found.shape[:2])
    found[..., ALPHA_1] = draw.choice([1.4, 2.0], found.shape[:2])
    found[..., ALPHA_2] = 12.0
    return found


def fading(x):
    return 2.0 * (1.0 - (1.0 + x) * cmath.exp(-x)) / x**2


def integral(x):
    # Pitzer (1975), eq. 47.
    return x / (4.0 + 4.581 * x**-0.7237 * cmath.exp(-0.0120 * x**0.528))


def excess_energy(molality, salt, pairs, triplets):
    """Return the excess Gibbs energy over R T and a kilogram of water (Pitzer, as HMW use it)."""
    strength = 0.5 * sum(molality * CHARGES[:ION_COUNT] ** 2)
    equivalents = sum(molality * np.abs(CHARGES[:ION_COUNT]))
    root = strength**0.5
    total = -4.0 * SLOPE * strength / 1.2 * cmath.log(1.0 + 1.2 * root)
    for cation in range(CATION_COUNT):
        for place in range(ION_COUNT - CATION_COUNT):
            of = salt[cation, place]
            second = of[BETA_0] + of[BETA_1] * fading(of[ALPHA_1] * root)
            second += of[BETA_2] * fading(of[ALPHA_2] * root)
            both = molality[cation] * molality[CATION_COUNT + place]
            total += both * (2.0 * second + equivalents * of[C])
    for first in range(ION_COUNT):
        for second in range(first):
            one, other = CHARGES[first], CHARGES[second]
            if one * other < 0.0:
                continue
            phi = pairs[first, second]
            if one != other:
                x = 6.0 * SLOPE * root
                theta = integral(x * one * other)
                theta -= 0.5 * integral(x * one * one) + 0.5 * integral(x * other * other)
                phi = phi + one * other / (4.0 * strength) * theta
            third = sum(molality * triplets[first, second])
            total += molality[first] * molality[second] * (2.0 * phi + third)
    return total


@pytest.mark.parametrize("seed", [1, 2])
def test_activities_are_the_derivatives_of_one_excess_energy(seed: int) -> None:
    draw = np.random.default_rng(seed)
    molality = np.zeros(SPECIES_COUNT)
    molality[:ION_COUNT] = draw.uniform(0.001, 0.6, ION_COUNT)
    molality[ION_COUNT:] = draw.uniform(0.0, 0.3, SPECIES_COUNT - ION_COUNT)
    # Some ions are absent: theirs is the coefficient at infinite dilution.
    molality[[2, CATION_COUNT + 3]] = 0.0
    salt, (pairs, triplets) = salts(seed), like_sign(seed)
    found = np.full(SPECIES_COUNT, np.nan)
    water = pitzer_activities(molality, SLOPE, salt, pairs, triplets, found)
    present = molality[:ION_COUNT]
    expected = []
    for ion in range(ION_COUNT):
        moved = present.astype(complex)
        moved[ion] += 1j * TINY
        expected.append(excess_energy(moved, salt, pairs, triplets).imag / TINY)
    assert found[:ION_COUNT] == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert found[ION_COUNT:].tolist() == [0.0] * (SPECIES_COUNT - ION_COUNT)
    energy = excess_energy(present.astype(complex), salt, pairs, triplets).real
    osmotic = molality.sum() + float(present @ np.array(expected)) - energy
    assert water == pytest.approx(-osmotic / MOLES_OF_WATER, rel=1e-6)


def test_molecules_alone_lower_the_activity_of_water_by_their_number() -> None:
    molality, found = np.zeros(SPECIES_COUNT), np.full(SPECIES_COUNT, np.nan)
    molality[UREA] = 1.0
    nothing = np.zeros((ION_COUNT,) * 2), np.zeros((ION_COUNT,) * 3)
    water = pitzer_activities(molality, SLOPE, salts(1), *nothing, found)
    assert water == pytest.approx(-1.0 / MOLES_OF_WATER, rel=1e-6)
    assert found.tolist() == [0.0] * SPECIES_COUNT


@pytest.mark.parametrize("x", [0.0, 1e-6, 9e-5, 2e-4, 1e-3])
def test_interactions_begin_as_their_series(x: float) -> None:
    assert decaying_interaction(x) == pytest.approx(1.0 - 2.0 * x / 3.0 + x * x / 4.0, abs=1e-7)
    assert decaying_interaction_slope(x) == pytest.approx(-x / 3.0 + x * x / 4.0, rel=1e-3)


@pytest.mark.parametrize("x", [1e-3, 0.5, 2.0, 12.0])
def test_slope_of_an_interaction_is_its_derivative(x: float) -> None:
    # I dg/dI is x/2 dg/dx, for x goes with the root of the ionic strength.
    assert decaying_interaction(x) == pytest.approx(fading(x).real, rel=1e-9)
    derivative = fading(x + 1e-6) - fading(x - 1e-6)
    assert decaying_interaction_slope(x) == pytest.approx(
        0.5 * x * derivative.real / 2e-6, rel=1e-3, abs=1e-9
    )


@pytest.mark.parametrize("x", [1e-8, 1e-3, 0.5, 2.0, 12.0])
def test_unsymmetrical_mixing_is_the_printed_expression(x: float) -> None:
    assert unsymmetrical_integral(x) == pytest.approx(integral(x).real, rel=1e-12)
    derivative = integral(complex(x, TINY)).imag / TINY
    assert unsymmetrical_integral_slope(x) == pytest.approx(x * derivative, rel=1e-9)


def test_without_ions_nothing_mixes() -> None:
    assert unsymmetrical_integral(0.0) == unsymmetrical_integral_slope(0.0) == 0.0


def test_osmotic_slope_at_25_degrees_is_that_of_the_tables() -> None:
    assert debye_hueckel_osmotic_slope(298.15) == pytest.approx(0.3915, abs=0.0005)
