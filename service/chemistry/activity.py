"""
Activity coefficients of dissolved species and the activity of water.

The model is that of the common geochemical databases: Truesdell-Jones for ions with fitted
parameters, Davies for the other ions, a salting-out term for uncharged species. Both ionic
equations are one extended Debye-Hueckel form, log10 gamma = slope sqrt(I) / (1 + size sqrt(I)) +
linear I, so that species that share the three numbers share one evaluation.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.constant_arrays import constant_array
from service.chemistry.density import water_density
from service.chemistry.kernel import kernel
from service.chemistry.species import SPECIES_CHARGES, SPECIES_NAMES
from service.reference.equilibrium_tables import ActivityRow, load_activity_parameters

FloatArray = npt.NDArray[np.float64]

LOWEST_TEMPERATURE: Final = 273.15
HIGHEST_TEMPERATURE: Final = 313.15
HIGHEST_IONIC_STRENGTH: Final = 0.5
"""Published range of the model: 0 to 40 degrees Celsius, ionic strength up to 0.5 mol/kg."""

BJERRUM_FACTOR: Final = 1.671008e-3
"""Squared elementary charge over Boltzmann's constant, in the electrostatic units [cm K]."""

AVOGADRO: Final = 6.02214076e23
DAVIES_LINEAR: Final = 0.3
WATER_ACTIVITY_SLOPE: Final = 0.017


@kernel
def relative_permittivity_bradley_pitzer_1979(temperature: float) -> float:
    r"""
    Return the relative permittivity of water at 1 atm.

    Parameters
    ----------
    temperature : float
        Temperature, 273 to 623 [K].

    Returns
    -------
    float
        Relative permittivity; NaN for a NaN temperature [dimensionless].

    Notes
    -----
    .. math:: \varepsilon = U_1 e^{U_2 T + U_3 T^2} + C \ln\frac{B + p}{B + 1000}

    with :math:`C = U_4 + U_5 / (U_6 + T)`, :math:`B = U_7 + U_8 / T + U_9 T` and p = 1.01325 bar.

    References
    ----------
    .. [1] D. J. Bradley and K. S. Pitzer, J. Phys. Chem. 83, 1599-1603, 1979, table I.
       Source key: ``bradley-pitzer-1979``.
    """
    at_1000_bar = 3.4279e2 * math.exp(temperature * (-5.0866e-3 + temperature * 9.469e-7))
    c = -2.0525 + 3.1159e3 / (-1.8289e2 + temperature)
    b = -8.0325e3 + 4.2142e6 / temperature + 2.1417 * temperature
    return at_1000_bar + c * math.log((b + 1.01325) / (b + 1000.0))


@kernel
def debye_hueckel_b(temperature: float) -> float:
    r"""
    Return the Debye-Hueckel parameter B of water.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Inverse Debye length per square root of ionic strength [kg^0.5/mol^0.5/angstrom].

    Notes
    -----
    .. math:: B = \sqrt{8 \pi N_A \rho\, l / 1000}, \qquad l = e^2 / (\varepsilon k T)

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    length = BJERRUM_FACTOR / (relative_permittivity_bradley_pitzer_1979(temperature) * temperature)
    density = water_density(temperature)
    return 1e-8 * math.sqrt(8.0 * math.pi * AVOGADRO * max(length, 0.0) * density / 1000.0)


@kernel
def debye_hueckel_a(temperature: float) -> float:
    r"""
    Return the Debye-Hueckel parameter A of water for decadic logarithms.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Limiting slope; 0.5100 at 25 degrees Celsius [kg^0.5/mol^0.5].

    Notes
    -----
    .. math:: A = B\, l / (2 \ln 10), \qquad l = e^2 / (\varepsilon k T)

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    length = BJERRUM_FACTOR / (relative_permittivity_bradley_pitzer_1979(temperature) * temperature)
    return debye_hueckel_b(temperature) * 1e8 * length / (2.0 * math.log(10.0))


@kernel
def log10_extended_debye_hueckel(
    slope: float, size: float, linear: float, ionic_strength: float
) -> float:
    r"""
    Return the common form of the activity coefficient equations.

    Parameters
    ----------
    slope : float
        Negative product of A and squared charge number [kg^0.5/mol^0.5].
    size : float
        Product of B and ion size, or 1 for Davies [kg^0.5/mol^0.5].
    linear : float
        Coefficient of the linear term [kg/mol].
    ionic_strength : float
        Ionic strength, 0 to 0.5 [mol/kg].

    Returns
    -------
    float
        Decadic logarithm of the molal activity coefficient [dimensionless].

    Notes
    -----
    .. math:: \lg \gamma = \frac{s \sqrt{I}}{1 + d \sqrt{I}} + c I

    References
    ----------
    .. [1] A. H. Truesdell and B. F. Jones, *WATEQ*, U.S. Geological Survey Journal of Research
       2, 233-248, 1974. Source key: ``truesdell-jones-1974``.
    """
    root = math.sqrt(max(ionic_strength, 0.0))
    return slope * root / (1.0 + size * root) + linear * ionic_strength


@kernel
def slope_of_extended_debye_hueckel(
    slope: float, size: float, linear: float, ionic_strength: float
) -> float:
    r"""
    Return how `log10_extended_debye_hueckel` changes with the ionic strength.

    Parameters
    ----------
    slope : float
        Negative product of A and squared charge number [kg^0.5/mol^0.5].
    size : float
        Product of B and ion size, or 1 for Davies [kg^0.5/mol^0.5].
    linear : float
        Coefficient of the linear term [kg/mol].
    ionic_strength : float
        Ionic strength, 0 to 0.5; taken as 1e-12 at least, because the slope has no end [mol/kg].

    Returns
    -------
    float
        Derivative of the decadic logarithm of the coefficient [kg/mol].

    Notes
    -----
    .. math:: \frac{\mathrm{d} \lg \gamma}{\mathrm{d} I} =
       \frac{s}{2 \sqrt{I} (1 + d \sqrt{I})^2} + c

    References
    ----------
    .. [1] A. H. Truesdell and B. F. Jones, *WATEQ*, U.S. Geological Survey Journal of Research
       2, 233-248, 1974. Source key: ``truesdell-jones-1974``.
    """
    root = math.sqrt(max(ionic_strength, 1e-12))
    shield = 1.0 + size * root
    return slope / (2.0 * root * shield * shield) + linear


@kernel
def log10_activity_coefficient_truesdell_jones_1974(
    charge_number: float,
    ion_size: float,
    b: float,
    ionic_strength: float,
    temperature: float,
) -> float:
    r"""
    Return the activity coefficient of an ion with fitted parameters.

    Parameters
    ----------
    charge_number : float
        Charge number of the ion [dimensionless].
    ion_size : float
        Ion size parameter [angstrom].
    b : float
        Coefficient of the linear term [kg/mol].
    ionic_strength : float
        Ionic strength, 0 to 0.5 [mol/kg].
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Decadic logarithm of the molal activity coefficient [dimensionless].

    Notes
    -----
    .. math:: \lg \gamma = -\frac{A z^2 \sqrt{I}}{1 + B a \sqrt{I}} + b I

    References
    ----------
    .. [1] A. H. Truesdell and B. F. Jones, *WATEQ*, U.S. Geological Survey Journal of Research
       2, 233-248, 1974. Source key: ``truesdell-jones-1974``.
    """
    slope = -debye_hueckel_a(temperature) * charge_number * charge_number
    size = debye_hueckel_b(temperature) * ion_size
    return log10_extended_debye_hueckel(slope, size, b, ionic_strength)


@kernel
def log10_activity_coefficient_davies_1962(
    charge_number: float, ionic_strength: float, temperature: float
) -> float:
    r"""
    Return the activity coefficient of an ion without fitted parameters.

    Parameters
    ----------
    charge_number : float
        Charge number of the ion [dimensionless].
    ionic_strength : float
        Ionic strength, 0 to 0.5 [mol/kg].
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    float
        Decadic logarithm of the molal activity coefficient [dimensionless].

    Notes
    -----
    .. math:: \lg \gamma = -A z^2 \left( \frac{\sqrt{I}}{1 + \sqrt{I}} - 0.3 I \right)

    References
    ----------
    .. [1] C. W. Davies, *Ion Association*, Butterworths, London, 1962, ch. 3.
       Source key: ``davies-1962``.
    """
    slope = -debye_hueckel_a(temperature) * charge_number * charge_number
    return log10_extended_debye_hueckel(slope, 1.0, -DAVIES_LINEAR * slope, ionic_strength)


@kernel
def water_activity(total_molality: float) -> float:
    r"""
    Return the activity of water by Raoult's law for dilute solutions.

    Parameters
    ----------
    total_molality : float
        Sum of the molalities of all solutes, 0 to about 1 [mol/kg].

    Returns
    -------
    float
        Activity of water, at least 0.5 [dimensionless].

    Notes
    -----
    .. math:: a_w = 1 - 0.017 \sum_i m_i

    References
    ----------
    .. [1] R. M. Garrels and C. L. Christ, *Solutions, Minerals, and Equilibria*, Harper and Row,
       1965, p. 66, as used by PHREEQC. Source key: ``garrels-christ-1965``.
    """
    return max(1.0 - WATER_ACTIVITY_SLOPE * total_molality, 0.5)


_ClassKey = tuple[bool, int, float, float]


def _class_key(row: ActivityRow, charge_number: int) -> _ClassKey:
    """
    Return the numbers that fix an activity coefficient.

    Parameters
    ----------
    row : ActivityRow
        Parameters of one species.
    charge_number : int
        Its charge number.

    Returns
    -------
    tuple of bool, int, float and float
        Whether Davies, squared charge number, ion size and linear term.
    """
    davies = row.model == "davies"
    if charge_number == 0:
        return (False, 0, 0.0, row.b_kg_per_mol)
    return (davies, charge_number**2, row.ion_size_angstrom, 0.0 if davies else row.b_kg_per_mol)


def _classes() -> tuple[tuple[_ClassKey, ...], tuple[int, ...]]:
    """
    Return the distinct classes and the class of each species.

    Returns
    -------
    distinct : tuple
        One entry per class.
    places : tuple of int
        Index into `distinct` for each species.
    """
    rows = {row.species: row for row in load_activity_parameters()}
    keys = [
        _class_key(rows[name], charge)
        for name, charge in zip(SPECIES_NAMES, SPECIES_CHARGES, strict=True)
    ]
    distinct = tuple(dict.fromkeys(keys))
    return distinct, tuple(distinct.index(key) for key in keys)


_CLASSES, _CLASS_OF_SPECIES = _classes()

CLASS_COUNT: Final = len(_CLASSES)
"""Number of different activity coefficients that the species share."""

SPECIES_CLASS: Final = constant_array(_CLASS_OF_SPECIES, np.uint32)
"""Class of each species, shape (SPECIES_COUNT,)."""

_IS_DAVIES: Final = constant_array([key[0] for key in _CLASSES], np.bool_)
_SQUARED_CHARGE: Final = constant_array([key[1] for key in _CLASSES], np.float64)
_ION_SIZE: Final = constant_array([key[2] for key in _CLASSES], np.float64)
_LINEAR: Final = constant_array([key[3] for key in _CLASSES], np.float64)


@kernel
def fill_activity_parameters(
    temperature: float, slope: FloatArray, size: FloatArray, linear: FloatArray
) -> None:
    """
    Fill in the three numbers of each activity class at a temperature.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].
    slope : ndarray, shape (n_classes,)
        Receives the negative product of A and squared charge number [kg^0.5/mol^0.5].
    size : ndarray, shape (n_classes,)
        Receives the product of B and ion size, or 1 for Davies [kg^0.5/mol^0.5].
    linear : ndarray, shape (n_classes,)
        Receives the coefficient of the linear term [kg/mol].

    References
    ----------
    .. [1] A. H. Truesdell and B. F. Jones, *WATEQ*, U.S. Geological Survey Journal of Research
       2, 233-248, 1974. Source key: ``truesdell-jones-1974``.
    """
    a = debye_hueckel_a(temperature)
    b = debye_hueckel_b(temperature)
    for index in range(CLASS_COUNT):
        slope[index] = -a * _SQUARED_CHARGE[index]
        if _IS_DAVIES[index]:
            size[index] = 1.0
            linear[index] = -DAVIES_LINEAR * slope[index]
        else:
            size[index] = b * _ION_SIZE[index]
            linear[index] = _LINEAR[index]
