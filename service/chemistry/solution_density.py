"""
Density of nutrient solutions and concentrates, from what is dissolved in them.

Also the conversions between amounts per kilogram of water and amounts per litre of solution,
which all take a density.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.density import apparent_volume, water_density
from service.chemistry.kernel import kernel
from service.reference.components import CARBONATE, COMPONENT_COUNT, PHOSPHATE
from service.reference.solution_properties import (
    APPARENT_VOLUME_COEFFICIENTS,
    COMPONENT_FORM,
    COMPONENT_ROLE,
    PAIR_RECIPES,
)

FloatArray = npt.NDArray[np.float64]

_HYDROGEN_MASS: Final = 1.008
_HYDROXIDE_MASS: Final = 17.007
_WATER_MASS: Final = 18.015


@kernel
def _acidity(composition: FloatArray) -> float:
    """
    Return the hydrogen ions that balance a composition, negative for hydroxide ions.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].

    Returns
    -------
    float
        Equivalents of anions less those of cations, phosphate and carbonate as single anions
        [mol/kg].
    """
    total = 0.0
    for component in range(COMPONENT_COUNT):
        role = COMPONENT_ROLE[component]
        if role >= 0:
            sign = -1.0 if role < 6 else 1.0
            total += sign * composition[component] * COMPONENT_FORM[component, 1]
    return total


@kernel
def _neutralised(composition: FloatArray) -> float:
    """
    Return the hydroxide that turns into water on H2PO4- and HCO3-.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].

    Returns
    -------
    float
        Amount of water formed [mol/kg].
    """
    hydroxide = max(0.0, -_acidity(composition))
    weak: float = composition[PHOSPHATE] + composition[CARBONATE]
    return min(hydroxide, weak)


@kernel
def dissolved_mass(composition: FloatArray) -> float:
    """
    Return the mass of all that is dissolved in a kilogram of water.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].

    Returns
    -------
    float
        Mass of solutes per mass of water [kg/kg].

    Notes
    -----
    Charge that the components leave open is closed with H+ or OH-, and OH- beside H2PO4- or HCO3-
    becomes water; so nitric acid is nitrate alone and potassium hydroxide potassium alone.

    References
    ----------
    .. [1] T. Prohaska et al., Standard atomic weights of the elements 2021, Pure Appl. Chem.
       94:573-600, 2022. Source key: ``prohaska-2022``.
    """
    total = 0.0
    for component in range(COMPONENT_COUNT):
        total += composition[component] * COMPONENT_FORM[component, 0]
    acidity = _acidity(composition)
    if acidity > 0.0:
        total += _HYDROGEN_MASS * acidity
    else:
        total -= _HYDROXIDE_MASS * acidity
        total -= _WATER_MASS * _neutralised(composition)
    return 0.001 * total


@kernel
def _role_equivalents(composition: FloatArray, role: int) -> float:
    """
    Return the equivalents of the components that share the volume of one ion.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].
    role : int
        Position in `service.reference.solution_properties.VOLUME_ROLES` [dimensionless].

    Returns
    -------
    float
        Equivalents [mol/kg].
    """
    total = 0.0
    for component in range(COMPONENT_COUNT):
        if COMPONENT_ROLE[component] == role:
            total += composition[component] * COMPONENT_FORM[component, 1]
    return total


@kernel
def solution_density(composition: FloatArray, temperature: float) -> float:
    r"""
    Return the density of a nutrient solution or concentrate.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component, none below zero [mol/kg].
    temperature : float
        Temperature, 273.15 to 323.15 [K].

    Returns
    -------
    float
        Density; NaN outside the range and for negative or infinite amounts [kg/L].

    Notes
    -----
    Young's rule: the volume of the solutes is that of all salts that can be paired from the ions,

    .. math:: V = \sum_c \sum_a \frac{E_c E_a}{E}\,V_{ca}(w, t)

    with equivalents :math:`E` and the volume :math:`V_{ca}` per equivalent of each salt [1]_ at
    the mass fraction :math:`w` of all solutes. Pairs without a correlation are built from three
    others. What charges lack is made up by H+ or OH-. Urea and other molecules add volumes of
    their own.

    Validity: single salts are those of [1]_; mixtures to about 0.3 % at 3 mol/kg.

    References
    ----------
    .. [1] M. Laliberte, J. Chem. Eng. Data 54:1725-1760, 2009. Source key: ``laliberte-2009``.
    .. [2] T. F. Young, M. B. Smith, Thermodynamic Properties of Mixtures of Electrolytes in Aqueous
       Solutions, J. Phys. Chem. 58:716-724, 1954 (the rule). Source key: ``young-smith-1954``.
    """
    water = water_density(temperature)
    if not math.isfinite(water):
        return math.nan
    cations = 0.0
    neutral_volume = 0.0
    for component in range(COMPONENT_COUNT):
        amount = composition[component]
        if component != COMPONENT_COUNT - 1 and not 0.0 <= amount < math.inf:
            return math.nan
        role = COMPONENT_ROLE[component]
        if role < 0:
            neutral_volume += amount * COMPONENT_FORM[component, 2]
        elif role < 6:
            cations += amount * COMPONENT_FORM[component, 1]
    solutes = dissolved_mass(composition)
    mass_fraction = solutes / (1.0 + solutes)
    acidity = _acidity(composition)
    total = cations + max(0.0, acidity)
    volume = 0.001 * (neutral_volume - _WATER_MASS * _neutralised(composition) / water)
    for cation in range(6):
        cation_equivalents = _role_equivalents(composition, cation)
        if cation == 5:
            cation_equivalents = max(0.0, acidity)
        if cation_equivalents <= 0.0:
            continue
        for anion in range(6):
            anion_equivalents = _role_equivalents(composition, 6 + anion)
            if anion == 5:
                anion_equivalents = max(0.0, -acidity)
            if anion_equivalents <= 0.0:
                continue
            pair = 0.0
            for place in range(3):
                solute = PAIR_RECIPES[cation, anion, 2 * place]
                if solute < 0:
                    break
                molar = APPARENT_VOLUME_COEFFICIENTS[solute, 6] * apparent_volume(
                    solute, mass_fraction, temperature
                )
                sign = -1.0 if place == 2 else 1.0
                pair += sign * molar / PAIR_RECIPES[cation, anion, 2 * place + 1]
            volume += 0.001 * pair * cation_equivalents * anion_equivalents / total
    return (1.0 + solutes) / (1.0 / water + volume)


@kernel
def concentration_from_molality(molality: float, solutes: float, density: float) -> float:
    r"""
    Return the amount per litre of solution of an amount per kilogram of water.

    Parameters
    ----------
    molality : float
        Amount per mass of water [mol/kg].
    solutes : float
        Mass of all solutes per mass of water, see `dissolved_mass` [kg/kg].
    density : float
        Density of the solution [kg/L].

    Returns
    -------
    float
        Amount concentration [mmol/L].

    Notes
    -----
    .. math:: c = 1000\,b\,\rho / (1 + s)

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    if not solutes > -1.0:
        return math.nan
    return 1000.0 * molality * density / (1.0 + solutes)


@kernel
def molality_from_concentration(
    concentration: float, mass_concentration: float, density: float
) -> float:
    r"""
    Return the amount per kilogram of water of an amount per litre of solution.

    Parameters
    ----------
    concentration : float
        Amount concentration [mmol/L].
    mass_concentration : float
        Mass of all solutes per volume of solution [g/L].
    density : float
        Density of the solution [kg/L].

    Returns
    -------
    float
        Molality; NaN when the solutes outweigh the solution [mol/kg].

    Notes
    -----
    .. math:: b = 0.001\,c / (\rho - 0.001\,\beta)

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    water = density - 0.001 * mass_concentration
    if not water > 0.0:
        return math.nan
    return 0.001 * concentration / water
