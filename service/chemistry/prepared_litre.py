"""
A litre of solution as it is made up: water, and what is weighed into it, filled to the mark.

Unlike `service.chemistry.solution`, which takes a litre of solution to hold a litre of water, this
holds for concentrates too: what is dissolved takes up room, so there is less water.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.kernel import kernel
from service.chemistry.mass_action import ATMOSPHERE_IN_BAR
from service.chemistry.solution_density import dissolved_mass, solution_density
from service.reference.components import COMPONENT_COUNT, UNMEASURED

FloatArray = npt.NDArray[np.float64]

_MAXIMUM_ITERATIONS: Final = 60
_TOLERANCE: Final = 1e-12
_LEAST_WATER: Final = 0.2
"""Water in a litre under which nothing here is a solution any more [kg/L]."""


@kernel
def water_content(composition: FloatArray, temperature: float) -> float:
    r"""
    Return the mass of water in a litre of solution.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Amount of each conserved component [mol/kg].
    temperature : float
        Temperature, 273.15 to 323.15 [K].

    Returns
    -------
    float
        Mass of water per volume of solution; NaN outside the range of the density [kg/L].

    Notes
    -----
    .. math:: w = \rho / (1 + s)

    with the mass :math:`s` of all that is dissolved per mass of water.

    References
    ----------
    .. [1] M. Laliberte, J. Chem. Eng. Data 54:1725-1760, 2009. Source key: ``laliberte-2009``.
    """
    solutes = dissolved_mass(composition)
    if not solutes > -1.0:
        return math.nan
    return solution_density(composition, temperature) / (1.0 + solutes)


@kernel
def prepared_litre(
    water: FloatArray, added: FloatArray, temperature: float, composition: FloatArray
) -> float:
    r"""
    Fill in the composition of a litre that is made up to the mark with a water.

    Parameters
    ----------
    water : ndarray, shape (n_components,)
        Amount of each component in the water that fills up [mol/kg].
    added : ndarray, shape (n_components,)
        Amount of each component that a litre of the finished solution is given [mmol/L].
    temperature : float
        Temperature at which the litre is measured, 273.15 to 323.15 [K].
    composition : ndarray, shape (n_components,)
        Receives the amounts per mass of water [mol/kg].

    Returns
    -------
    float
        Mass of water in the litre; NaN when the solutes leave no room for it [kg/L].

    Notes
    -----
    .. math:: b = b_w + 0.001\,c / w, \qquad w = \rho(b) / (1 + s(b))

    by repetition, which contracts: a litre loses well under a litre of water to what dissolves in
    it. Crystal water of a salt counts as water.

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    for component in range(COMPONENT_COUNT):
        composition[component] = water[component]
    content = water_content(composition, temperature)
    if not content > 0.0:
        return math.nan
    for _ in range(_MAXIMUM_ITERATIONS):
        for component in range(COMPONENT_COUNT):
            amount = water[component] + 0.001 * added[component] / content
            if component != UNMEASURED and not 0.0 <= amount < math.inf:
                return math.nan
            composition[component] = amount
        following = water_content(composition, temperature)
        if not _LEAST_WATER < following < math.inf:
            return math.nan
        if abs(following - content) <= _TOLERANCE:
            return following
        content = following
    return math.nan


@kernel
def carbon_dioxide_pressure(share: float) -> float:
    r"""
    Return the partial pressure of carbon dioxide in air at one atmosphere.

    Parameters
    ----------
    share : float
        Carbon dioxide in a million parts of air, by volume [ppm].

    Returns
    -------
    float
        Partial pressure; NaN below zero [bar].

    Notes
    -----
    .. math:: p = 10^{-6}\,x\,p_0, \qquad p_0 = 1.01325\ \mathrm{bar}

    References
    ----------
    .. [1] E. R. Cohen et al., *Quantities, Units and Symbols in Physical Chemistry* (IUPAC Green
       Book), 3rd ed., 2008, sec. 2.10. Source key: ``iupac-green-book-2008``.
    """
    if not 0.0 <= share <= 1e6:
        return math.nan
    return 1e-6 * share * ATMOSPHERE_IN_BAR
