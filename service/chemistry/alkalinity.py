"""
Alkalinity of a solution, by its species and by its composition.

The zero level of protons is that of the carbon dioxide end point of a titration (about pH 4.5):
CO2, H2PO4-, NH4+, B(OH)3, Si(OH)4, SO4-2, F- and H2Cit-. So HPO4-2 counts one equivalent, H2PO4-
none and H3PO4 minus one; citrate counts by what it binds above H2Cit-.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.constant_arrays import constant_array
from service.chemistry.kernel import kernel
from service.chemistry.species import SPECIES_COMPOSITION, SPECIES_COUNT, SPECIES_HYDROGEN
from service.chemistry.workspace import MOLALITY
from service.reference.components import (
    CARBONATE,
    CITRATE,
    COMPONENT_COUNT,
    NOMINAL_CHARGE,
    PHOSPHATE,
)

FloatArray = npt.NDArray[np.float64]

END_POINT_HYDROGEN: Final = {PHOSPHATE: -1, CITRATE: -1}
"""Hydrogen number of the species that defines zero alkalinity, where it is not the component."""


ALKALINITY_NUMBER: Final = constant_array(
    [
        sum(END_POINT_HYDROGEN.get(c, 0) * SPECIES_COMPOSITION[i, c] for c in END_POINT_HYDROGEN)
        - SPECIES_HYDROGEN[i]
        for i in range(SPECIES_COUNT)
    ],
    np.float64,
)
"""Equivalents of alkalinity per mole of each species, shape (SPECIES_COUNT,)."""

_CARBONATE_NUMBER: Final = constant_array(
    [-SPECIES_HYDROGEN[i] * float(SPECIES_COMPOSITION[i, CARBONATE]) for i in range(SPECIES_COUNT)],
    np.float64,
)


@kernel
def alkalinity(ws: FloatArray) -> float:
    r"""
    Return the alkalinity of a speciated solution to the carbon dioxide end point.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace with a speciated solution [mol/kg].

    Returns
    -------
    float
        Alkalinity in equivalents; NaN where the solution could not be computed [mmol/kg].

    Notes
    -----
    .. math:: A = \sum_i (h^0_i - h_i) m_i

    with h the hydrogen number of a species and h0 that of its end point form. Ion pairs count
    like the ions in them.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    total = 0.0
    for index in range(SPECIES_COUNT):
        total += ALKALINITY_NUMBER[index] * ws[MOLALITY + index]
    return 1000.0 * total


@kernel
def carbonate_alkalinity(ws: FloatArray) -> float:
    r"""
    Return the share of the alkalinity that bicarbonate and carbonate hold.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace with a speciated solution [mol/kg].

    Returns
    -------
    float
        Bicarbonate plus twice carbonate, ion pairs included, in equivalents; NaN where the
        solution could not be computed [mmol/kg].

    Notes
    -----
    .. math:: A_C = [HCO_3^-] + 2 [CO_3^{2-}]

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    total = 0.0
    for index in range(SPECIES_COUNT):
        total += _CARBONATE_NUMBER[index] * ws[MOLALITY + index]
    return 1000.0 * total


@kernel
def alkalinity_of_composition(composition: FloatArray) -> float:
    r"""
    Return the alkalinity that an electroneutral solution of a composition has.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component; a single mole of a reagent gives its equivalents [mol/kg].

    Returns
    -------
    float
        Alkalinity in equivalents, in the unit of the composition [mol/kg].

    Notes
    -----
    .. math:: A = \sum_j z_j T_j - T_P - T_{Cit}

    with z the nominal charge of a component: by electroneutrality the same as `alkalinity`
    divided by 1000. It is conserved in mixing and does not change with carbon dioxide, temperature
    or ion pairs.

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 4.
       Source key: ``stumm-morgan-1996``.
    """
    total: float = -composition[PHOSPHATE] - composition[CITRATE]
    for component in range(COMPONENT_COUNT):
        total += NOMINAL_CHARGE[component] * composition[component]
    return total
