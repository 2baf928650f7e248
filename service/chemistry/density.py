"""Density of water, and of the acids and bases that are sold as solutions by their strength."""

import math
from typing import Final

from service.chemistry.kernel import kernel
from service.chemistry.validity import ABOVE_RANGE, range_status
from service.reference.solution_properties import (
    APPARENT_VOLUME_COEFFICIENTS,
    SOLUTE_NAMES,
    SULFURIC_ACID_DENSITY,
)

FREEZING_POINT: Final = 273.15
LOWEST_TEMPERATURE: Final = 273.15
"""Lower end of the range of every density here [K]."""

HIGHEST_TEMPERATURE: Final = 323.15
"""Upper end of the range of every density here [K]."""

NITRIC_ACID: Final = 0
SULFURIC_ACID: Final = 1
PHOSPHORIC_ACID: Final = 2
CITRIC_ACID: Final = 3
POTASSIUM_HYDROXIDE: Final = 4
POTASSIUM_BICARBONATE: Final = 5
POTASSIUM_CARBONATE: Final = 6

REAGENT_NAMES: Final = (
    "nitric_acid",
    "sulfuric_acid",
    "phosphoric_acid",
    "citric_acid",
    "potassium_hydroxide",
    "potassium_bicarbonate",
    "potassium_carbonate",
)
"""Reagents sold as solutions, in the order of the reagent numbers."""

REAGENT_HIGHEST_MASS_FRACTION: Final = (0.7011, 0.98, 0.86, 0.60, 0.5186, 0.3438, 0.3606)
"""
Strongest solution with a density [kg/kg].

Nitric acid and the bases end where laliberte-2009 ends, sulfuric acid where its density turns.
Phosphoric acid goes one point past the correlation (0.85), since 85 % is sold as 85 to 86 %;
citric acid (table to 0.30) is extrapolated, which one data sheet of 50 % solution supports.
"""

_SOLUTE_OF_REAGENT: Final = (
    SOLUTE_NAMES.index("HNO3"),
    SOLUTE_NAMES.index("H2SO4"),
    SOLUTE_NAMES.index("H3PO4"),
    -1,
    SOLUTE_NAMES.index("KOH"),
    SOLUTE_NAMES.index("KHCO3"),
    SOLUTE_NAMES.index("K2CO3"),
)

_CITRIC_VOLUME_INTERCEPT: Final = 0.5946
_CITRIC_VOLUME_SLOPE: Final = 0.0175
_SULFURIC_BLEND_FROM: Final = 0.75
_SULFURIC_BLEND_TO: Final = 0.78


@kernel
def water_density(temperature: float) -> float:
    r"""
    Return the density of air-free water at one atmosphere.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 323.15 [K].

    Returns
    -------
    float
        Density; NaN outside the range [kg/L].

    Notes
    -----
    The rational polynomial of [1]_ in degrees Celsius. The density correlation of aqueous
    solutions below was fitted with this water.

    Validity: within 0.001 % of the CIPM formula (Tanaka 2001) from 0 to 40 degC.

    References
    ----------
    .. [1] G. S. Kell, Density, Thermal Expansivity, and Compressibility of Liquid Water from
       0 to 150 degC, J. Chem. Eng. Data 20:97-105, 1975, eq. 16. Source key: ``kell-1975``.
    """
    if range_status(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE) != 0:
        return math.nan
    t = temperature - FREEZING_POINT
    series = 105.56302e-9 + t * -280.54253e-12
    series = -46.170461e-6 + t * series
    series = -7.9870401e-3 + t * series
    series = 16.945176 + t * series
    return 0.001 * (999.83952 + t * series) / (1.0 + 16.879850e-3 * t)


@kernel
def apparent_volume(solute: int, mass_fraction: float, temperature: float) -> float:
    r"""
    Return the apparent specific volume of a solute.

    Parameters
    ----------
    solute : int
        Position in `service.reference.solution_properties.SOLUTE_NAMES` [dimensionless].
    mass_fraction : float
        Mass fraction of all solutes together, held at the end of the correlation [kg/kg].
    temperature : float
        Temperature [K].

    Returns
    -------
    float
        Apparent specific volume [L/kg].

    Notes
    -----
    .. math:: v = \frac{w + c_2 + c_3 t}{(c_0 w + c_1)\,\exp(10^{-6}(t + c_4)^2)}

    Validity: for each solute the temperatures and mass fractions of the table; the author states
    a standard deviation of 0.14 % of the density over 109 solutes.

    References
    ----------
    .. [1] M. Laliberte, W. E. Cooper, J. Chem. Eng. Data 49:1141-1151, 2004, eqs. 5 to 8; the
       coefficients of M. Laliberte, J. Chem. Eng. Data 54:1725-1760, 2009.
       Source key: ``laliberte-2009``.
    """
    t = temperature - FREEZING_POINT
    row = APPARENT_VOLUME_COEFFICIENTS[solute]
    w = min(mass_fraction, row[5])
    divisor = (row[0] * w + row[1]) * math.exp(1e-6 * (t + row[4]) ** 2)
    if divisor == 0.0:
        return math.nan
    volume: float = 1000.0 * (w + row[2] + row[3] * t) / divisor
    return volume


@kernel
def _concentrated_sulfuric_acid_density(mass_fraction: float, temperature: float) -> float:
    """
    Return the density of sulfuric acid above 70 %, interpolated between whole percents.

    Parameters
    ----------
    mass_fraction : float
        Mass fraction of H2SO4, 0.70 to 1 [kg/kg].
    temperature : float
        Temperature [K].

    Returns
    -------
    float
        Density [kg/L].

    References
    ----------
    .. [1] Source key: ``carma-sulfate``.
    """
    percent = 100.0 * mass_fraction
    last = SULFURIC_ACID_DENSITY.shape[0] - 1
    place = 1
    while place < last and SULFURIC_ACID_DENSITY[place, 0] < percent:
        place += 1
    low = SULFURIC_ACID_DENSITY[place - 1]
    high = SULFURIC_ACID_DENSITY[place]
    share: float = (percent - low[0]) / (high[0] - low[0])
    below: float = low[1] + low[2] * temperature
    above: float = high[1] + high[2] * temperature
    return (1.0 - share) * below + share * above


@kernel
def reagent_status(reagent: int, mass_fraction: float, temperature: float) -> int:
    """
    Return whether the density of an acid or base solution is known.

    Parameters
    ----------
    reagent : int
        Position in `REAGENT_NAMES` [dimensionless].
    mass_fraction : float
        Strength, mass of the acid or base per mass of solution [kg/kg].
    temperature : float
        Temperature [K].

    Returns
    -------
    int
        A code of `service.chemistry.validity`, of the strength first, then of the temperature.
    """
    if reagent < 0 or reagent >= len(REAGENT_HIGHEST_MASS_FRACTION):
        return ABOVE_RANGE
    status = range_status(mass_fraction, 0.0, REAGENT_HIGHEST_MASS_FRACTION[reagent])
    if status != 0:
        return status
    return range_status(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE)


@kernel
def reagent_density(reagent: int, mass_fraction: float, temperature: float) -> float:
    r"""
    Return the density of an acid or base solution of known strength.

    Parameters
    ----------
    reagent : int
        Position in `REAGENT_NAMES` [dimensionless].
    mass_fraction : float
        Strength, mass of the acid or base per mass of solution [kg/kg].
    temperature : float
        Temperature, 273.15 to 323.15 [K].

    Returns
    -------
    float
        Density; NaN outside the ranges [kg/L].

    Notes
    -----
    .. math:: \frac{1}{\rho} = \frac{1 - w}{\rho_w} + w\,v(w, t)

    Sulfuric acid passes from the correlation [1]_ to a handbook table [2]_ between 75 and 78 %.
    Citric acid has a volume linear in strength, fitted to [3]_ at 20 degC (to 0.02 %) and kept at
    other temperatures.

    Validity: nitric acid to 70 %, sulfuric to 98 %, phosphoric to 86 %, bases to the end of [1]_;
    0.15 % against handbook tables. Citric acid 0.02 % to 30 %, about 0.5 % from there to 60 %.

    References
    ----------
    .. [1] M. Laliberte, J. Chem. Eng. Data 54:1725-1760, 2009. Source key: ``laliberte-2009``.
    .. [2] Linear fits of density in temperature by percent, as kept in the open climate model
       CARMA. Source key: ``carma-sulfate``.
    .. [3] CRC Handbook of Chemistry and Physics, 102nd ed., Concentrative Properties of Aqueous
       Solutions. Source key: ``crc-102-concentrative``.
    """
    if reagent_status(reagent, mass_fraction, temperature) != 0:
        return math.nan
    w = mass_fraction
    if reagent == CITRIC_ACID:
        volume = _CITRIC_VOLUME_INTERCEPT + _CITRIC_VOLUME_SLOPE * w
    else:
        volume = apparent_volume(_SOLUTE_OF_REAGENT[reagent], w, temperature)
    density = 1.0 / ((1.0 - w) / water_density(temperature) + w * volume)
    if reagent == SULFURIC_ACID and w > _SULFURIC_BLEND_FROM:
        strong = _concentrated_sulfuric_acid_density(w, temperature)
        share = min(1.0, (w - _SULFURIC_BLEND_FROM) / (_SULFURIC_BLEND_TO - _SULFURIC_BLEND_FROM))
        density = (1.0 - share) * density + share * strong
    return density


@kernel
def reagent_concentration(
    reagent: int, mass_fraction: float, molar_mass: float, temperature: float
) -> float:
    r"""
    Return the moles of acid or base in a litre of its solution.

    Parameters
    ----------
    reagent : int
        Position in `REAGENT_NAMES` [dimensionless].
    mass_fraction : float
        Strength, mass of the acid or base per mass of solution [kg/kg].
    molar_mass : float
        Molar mass of the acid or base [g/mol].
    temperature : float
        Temperature, 273.15 to 323.15 [K].

    Returns
    -------
    float
        Amount concentration; NaN outside the ranges [mmol/L].

    Notes
    -----
    .. math:: c = 10^6\,w\,\rho / M

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    if not molar_mass > 0.0:
        return math.nan
    return 1e6 * mass_fraction * reagent_density(reagent, mass_fraction, temperature) / molar_mass
