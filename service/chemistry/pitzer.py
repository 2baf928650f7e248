"""
Activity coefficients and the activity of water in concentrates, by Pitzer's equations.

The coefficients of single salts and of pairs and triplets of ions come as arrays, so that they can
be fitted by the same equations that use them.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import debye_hueckel_a
from service.chemistry.concentrate_ions import (
    CATION_COUNT,
    CHARGES,
    ION_COUNT,
    SPECIES_COUNT,
)
from service.chemistry.kernel import kernel

FloatArray = npt.NDArray[np.float64]

CLOSEST_APPROACH: Final = 1.2
"""The constant b of the Debye-Hueckel term [kg^0.5/mol^0.5]."""

MOLES_OF_WATER: Final = 55.50843
"""In a kilogram [mol]."""

BETA_0: Final = 0
BETA_1: Final = 1
BETA_2: Final = 2
C: Final = 3
ALPHA_1: Final = 4
ALPHA_2: Final = 5
SALT_WIDTH: Final = 6

_LEAST_IONIC_STRENGTH: Final = 1e-12


@kernel
def debye_hueckel_osmotic_slope(temperature: float) -> float:
    r"""
    Return the Debye-Hueckel slope of the osmotic coefficient.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Slope; 0.3915 at 25 degrees Celsius [kg^0.5/mol^0.5].

    Notes
    -----
    .. math:: A_\phi = A \ln 10 / 3

    References
    ----------
    .. [1] D. J. Bradley and K. S. Pitzer, J. Phys. Chem. 83, 1599-1603, 1979.
       Source key: ``bradley-pitzer-1979``.
    """
    return debye_hueckel_a(temperature) * math.log(10.0) / 3.0


@kernel
def decaying_interaction(x: float) -> float:
    r"""
    Return how the second coefficient of a salt fades with ionic strength.

    Parameters
    ----------
    x : float
        Alpha times the square root of the ionic strength, not negative [dimensionless].

    Returns
    -------
    float
        1 at infinite dilution, towards 0 in concentrates [dimensionless].

    Notes
    -----
    .. math:: g(x) = 2 [1 - (1 + x) e^{-x}] / x^2

    References
    ----------
    .. [1] K. S. Pitzer and G. Mayorga, J. Phys. Chem. 77, 2300-2308, 1973.
       Source key: ``pitzer-mayorga-1973``.
    """
    if x < 1e-4:
        return 1.0 - 2.0 * x / 3.0
    return 2.0 * (1.0 - (1.0 + x) * math.exp(-x)) / (x * x)


@kernel
def decaying_interaction_slope(x: float) -> float:
    r"""
    Return the change of `decaying_interaction` with ionic strength, times the ionic strength.

    Parameters
    ----------
    x : float
        Alpha times the square root of the ionic strength, not negative [dimensionless].

    Returns
    -------
    float
        Slope times ionic strength [dimensionless].

    Notes
    -----
    .. math:: I g' = -2 [1 - (1 + x + x^2 / 2) e^{-x}] / x^2

    References
    ----------
    .. [1] K. S. Pitzer and G. Mayorga, J. Phys. Chem. 77, 2300-2308, 1973.
       Source key: ``pitzer-mayorga-1973``.
    """
    if x < 1e-4:
        return -x / 3.0
    return -2.0 * (1.0 - (1.0 + x + 0.5 * x * x) * math.exp(-x)) / (x * x)


@kernel
def unsymmetrical_integral(x: float) -> float:
    r"""
    Return the integral J of unsymmetrical mixing.

    Parameters
    ----------
    x : float
        6 z z' times the Debye-Hueckel slope and the root of the ionic strength [dimensionless].

    Returns
    -------
    float
        J [dimensionless].

    Notes
    -----
    .. math:: J = x [4 + 4.581 x^{-0.7237} \exp(-0.0120 x^{0.528})]^{-1}

    References
    ----------
    .. [1] K. S. Pitzer, J. Solution Chem. 4, 249-265, 1975, eq. 47.
       Source key: ``pitzer-1975``.
    """
    if x < 1e-9:
        return 0.0
    return x / (4.0 + 4.581 * math.pow(x, -0.7237) * math.exp(-0.0120 * math.pow(x, 0.528)))


@kernel
def unsymmetrical_integral_slope(x: float) -> float:
    r"""
    Return x times the derivative of `unsymmetrical_integral`.

    Parameters
    ----------
    x : float
        6 z z' times the Debye-Hueckel slope and the root of the ionic strength [dimensionless].

    Returns
    -------
    float
        Product x dJ/dx [dimensionless].

    Notes
    -----
    The derivative of the same expression.

    References
    ----------
    .. [1] K. S. Pitzer, J. Solution Chem. 4, 249-265, 1975, eq. 47.
       Source key: ``pitzer-1975``.
    """
    if x < 1e-9:
        return 0.0
    power = math.pow(x, 0.528)
    fading = 4.581 * math.pow(x, -0.7237) * math.exp(-0.0120 * power)
    denominator = 4.0 + fading
    return x / denominator + x * fading * (0.7237 + 0.0120 * 0.528 * power) / (
        denominator * denominator
    )


@kernel
def pitzer_activities(
    molality: FloatArray,
    slope: float,
    salts: FloatArray,
    pairs: FloatArray,
    triplets: FloatArray,
    ln_gamma: FloatArray,
) -> float:
    r"""
    Fill in the activity coefficients of a solution and return the activity of its water.

    Parameters
    ----------
    molality : ndarray, shape (SPECIES_COUNT,)
        Molalities in the order of `concentrate_ions.SPECIES` [mol/kg].
    slope : float
        Debye-Hueckel slope of the osmotic coefficient [kg^0.5/mol^0.5].
    salts : ndarray, shape (CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH)
        Coefficients of single salts [kg/mol and powers of it].
    pairs : ndarray, shape (ION_COUNT, ION_COUNT)
        Coefficients theta of two ions of like sign [kg/mol].
    triplets : ndarray, shape (ION_COUNT, ION_COUNT, ION_COUNT)
        Coefficients psi of two ions of like sign and a third, the third index
        [kg^2/mol^2].
    ln_gamma : ndarray, shape (SPECIES_COUNT,)
        Receives the natural logarithms; 0 for molecules [dimensionless].

    Returns
    -------
    float
        Natural logarithm of the activity of water [dimensionless].

    Notes
    -----
    The equations of Harvie, Moller and Weare with unsymmetrical mixing. Absent ions get a
    coefficient as well: that at infinite dilution in the solution.

    References
    ----------
    .. [1] C. E. Harvie, N. Moller and J. H. Weare, Geochim. Cosmochim. Acta 48, 723-751, 1984.
       Source key: ``harvie-moller-weare-1984``.
    .. [2] K. S. Pitzer, J. Solution Chem. 4, 249-265, 1975. Source key: ``pitzer-1975``.
    """
    strength, equivalents, total = 0.0, 0.0, 0.0
    for ion in range(ION_COUNT):
        strength += 0.5 * molality[ion] * CHARGES[ion] * CHARGES[ion]
        equivalents += molality[ion] * abs(CHARGES[ion])
        total += molality[ion]
    for species in range(ION_COUNT, SPECIES_COUNT):
        total += molality[species]
        ln_gamma[species] = 0.0
    if not strength > _LEAST_IONIC_STRENGTH:
        for ion in range(ION_COUNT):
            ln_gamma[ion] = 0.0
        return -total / MOLES_OF_WATER
    root = math.sqrt(strength)
    common = -slope * (
        root / (1.0 + CLOSEST_APPROACH * root)
        + 2.0 / CLOSEST_APPROACH * math.log(1.0 + CLOSEST_APPROACH * root)
    )
    osmotic = -slope * strength * root / (1.0 + CLOSEST_APPROACH * root)
    # Unsymmetrical mixing exists between a univalent and a divalent ion of like sign alone.
    x1, x2, x4 = 6.0 * slope * root, 12.0 * slope * root, 24.0 * slope * root
    unlike = (
        unsymmetrical_integral(x2)
        - 0.5 * unsymmetrical_integral(x1)
        - 0.5 * unsymmetrical_integral(x4)
    )
    unlike_slope = (
        unsymmetrical_integral_slope(x2)
        - 0.5 * unsymmetrical_integral_slope(x1)
        - 0.5 * unsymmetrical_integral_slope(x4)
    )
    mixing = 2.0 / (4.0 * strength) * unlike
    mixing_slope = -mixing / strength + 2.0 / (8.0 * strength * strength) * unlike_slope
    third = 0.0
    for ion in range(ION_COUNT):
        ln_gamma[ion] = 0.0
    for cation in range(CATION_COUNT):
        for place in range(ION_COUNT - CATION_COUNT):
            anion = CATION_COUNT + place
            m_c, m_a = molality[cation], molality[anion]
            if m_c <= 0.0 and m_a <= 0.0:
                continue
            x_1 = salts[cation, place, ALPHA_1] * root
            b = salts[cation, place, BETA_0] + salts[cation, place, BETA_1] * decaying_interaction(
                x_1
            )
            b_osmotic = salts[cation, place, BETA_0] + salts[cation, place, BETA_1] * math.exp(-x_1)
            b_slope = salts[cation, place, BETA_1] * decaying_interaction_slope(x_1)
            if salts[cation, place, BETA_2] != 0.0:
                x_2 = salts[cation, place, ALPHA_2] * root
                b += salts[cation, place, BETA_2] * decaying_interaction(x_2)
                b_osmotic += salts[cation, place, BETA_2] * math.exp(-x_2)
                b_slope += salts[cation, place, BETA_2] * decaying_interaction_slope(x_2)
            c = salts[cation, place, C]
            ln_gamma[cation] += m_a * (2.0 * b + equivalents * c)
            ln_gamma[anion] += m_c * (2.0 * b + equivalents * c)
            common += m_c * m_a * b_slope / strength
            third += m_c * m_a * c
            osmotic += m_c * m_a * (b_osmotic + equivalents * c)
    for first in range(ION_COUNT):
        m_first = molality[first]
        if m_first <= 0.0:
            continue
        for second in range(ION_COUNT):
            if second == first or CHARGES[first] * CHARGES[second] < 0.0:
                continue
            m_second = molality[second]
            phi = pairs[first, second]
            if CHARGES[first] != CHARGES[second]:
                phi += mixing
            ln_gamma[second] += 2.0 * m_first * phi
            if m_second > 0.0 and second > first:
                if CHARGES[first] != CHARGES[second]:
                    common += m_first * m_second * mixing_slope
                    phi += strength * mixing_slope
                osmotic += m_first * m_second * phi
            for other in range(ION_COUNT):
                psi = triplets[first, second, other]
                if psi != 0.0:
                    ln_gamma[second] += m_first * molality[other] * psi
                    if second > first:
                        ln_gamma[other] += m_first * m_second * psi
                        osmotic += m_first * m_second * molality[other] * psi
    for ion in range(ION_COUNT):
        charge = CHARGES[ion]
        ln_gamma[ion] += charge * charge * common + abs(charge) * third
    return -(total + 2.0 * osmotic) / MOLES_OF_WATER
