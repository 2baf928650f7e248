"""
Water vapour in the air: saturation pressure, deficit and missing moisture.

Over liquid water only; below the freezing point a glasshouse has other worries, so colder air is
reported by `saturation_status` and its values are NaN.
"""

import math
from typing import Final

from service.chemistry.kernel import kernel
from service.chemistry.validity import range_status

CRITICAL_TEMPERATURE: Final = 647.096
"""Critical temperature of water [K], wagner-pruss-2002, eq. 2.5."""

CRITICAL_PRESSURE: Final = 22064.0
"""Critical pressure of water [kPa], wagner-pruss-2002, eq. 2.5."""

WATER_MOLAR_MASS: Final = 18.015268
"""Molar mass of water [g/mol], wagner-pruss-2002, sec. 2.1."""

GAS_CONSTANT: Final = 8.31446261815324
"""Molar gas constant [J/(mol K)], exact, codata-2018."""

LOWEST_TEMPERATURE: Final = 273.15
"""Freezing point, lower end of the range over liquid water [K]."""

HIGHEST_TEMPERATURE: Final = 373.15
"""Upper end of the range kept here [K]; the equation itself reaches the critical point."""


@kernel
def saturation_status(temperature: float) -> int:
    """
    Return whether saturation over liquid water is defined at a temperature.

    Parameters
    ----------
    temperature : float
        Temperature of the air [K].

    Returns
    -------
    int
        A code of `service.chemistry.validity`; `BELOW_RANGE` means ice.
    """
    return range_status(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE)


@kernel
def saturation_vapour_pressure(temperature: float) -> float:
    r"""
    Return the saturation pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature : float
        Temperature on the ITS-90 scale, 273.15 to 373.15 [K].

    Returns
    -------
    float
        Saturation pressure; NaN outside the range [kPa].

    Notes
    -----
    .. math:: \ln\frac{p}{p_c} = \frac{T_c}{T}
       (a_1\tau + a_2\tau^{1.5} + a_3\tau^3 + a_4\tau^{3.5} + a_5\tau^4 + a_6\tau^{7.5})

    with :math:`\tau = 1 - T/T_c` [1]_. Pure vapour: the enhancement by air (0.4 % at sea level)
    is left out, as agricultural practice and most printed deficits do.

    Validity: 0 to 100 degC; the CRC (1992) and ASHRAE (2017) tables agree within 0.05 % from
    0 to 50 degC.

    References
    ----------
    .. [1] W. Wagner, A. Pruss, The IAPWS Formulation 1995 for the Thermodynamic Properties of
       Ordinary Water Substance, J. Phys. Chem. Ref. Data 31:387-535, 2002, eq. 2.5.
       Source key: ``wagner-pruss-2002``.
    """
    if saturation_status(temperature) != 0:
        return math.nan
    tau = 1.0 - temperature / CRITICAL_TEMPERATURE
    root = math.sqrt(tau)
    cube = tau * tau * tau
    series = (
        -7.85951783 * tau
        + 1.84408259 * tau * root
        - 11.7866497 * cube
        + 22.6807411 * cube * root
        - 15.9618719 * cube * tau
        + 1.80122502 * cube * cube * tau * root
    )
    return CRITICAL_PRESSURE * math.exp(CRITICAL_TEMPERATURE / temperature * series)


@kernel
def vapour_pressure_deficit(temperature: float, relative_humidity: float) -> float:
    r"""
    Return how far the vapour pressure of the air is below saturation.

    Parameters
    ----------
    temperature : float
        Temperature of the air, 273.15 to 373.15 [K].
    relative_humidity : float
        Relative humidity of the air, 0 to 100 [percent].

    Returns
    -------
    float
        Deficit, 0 for saturated air; NaN outside the ranges [kPa].

    Notes
    -----
    .. math:: D = p_s(T)\,(1 - \varphi)

    Averages over time are averages of this deficit, never the deficit of averages.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, *Crop Evapotranspiration*, FAO
       Irrigation and Drainage Paper 56, Rome, 1998, ch. 3. Source key: ``fao-56-1998``.
    """
    if range_status(relative_humidity, 0.0, 100.0) != 0:
        return math.nan
    return saturation_vapour_pressure(temperature) * (1.0 - relative_humidity / 100.0)


@kernel
def moisture_deficit(temperature: float, relative_humidity: float) -> float:
    r"""
    Return the mass of water vapour that a volume of air could still take up.

    Parameters
    ----------
    temperature : float
        Temperature of the air, 273.15 to 373.15 [K].
    relative_humidity : float
        Relative humidity of the air, 0 to 100 [percent].

    Returns
    -------
    float
        Missing moisture; NaN outside the ranges [g/m^3].

    Notes
    -----
    Ideal gas, :math:`\rho = D M / (R T)`; water vapour at saturation departs from it by less than
    0.3 % below 50 degC.

    References
    ----------
    .. [1] W. Wagner, A. Pruss, J. Phys. Chem. Ref. Data 31:387-535, 2002, sec. 2.1 (molar mass).
       Source key: ``wagner-pruss-2002``.
    .. [2] E. Tiesinga et al., CODATA recommended values 2018, Rev. Mod. Phys. 93:025010, 2021.
       Source key: ``codata-2018``.
    """
    deficit = vapour_pressure_deficit(temperature, relative_humidity)
    if not math.isfinite(deficit):
        return math.nan
    return 1000.0 * deficit * WATER_MOLAR_MASS / (GAS_CONSTANT * temperature)
