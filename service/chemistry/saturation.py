"""
Saturation indices of the solids that a nutrient solution can throw out.

An index above 0 says that the solid can form, not that it does: calcite, hydroxyapatite and
magnesite are slow, magnesite does not form at these temperatures at all.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium_constants import (
    FORMATIONS,
    formation_from_masters,
    log10_equilibrium_constant,
)
from service.chemistry.kernel import kernel
from service.chemistry.species import SPECIES_NAMES
from service.chemistry.workspace import (
    ACTIVITY_COEFFICIENT,
    MOLALITY,
    PH,
    WATER_ACTIVITY,
)
from service.reference.equilibrium_tables import ReactionRow, load_saturation_constants

FloatArray = npt.NDArray[np.float64]

GYPSUM: Final = 0
CALCITE: Final = 1
ARAGONITE: Final = 2
MAGNESITE: Final = 3
BRUSHITE: Final = 4
MONETITE: Final = 5
HYDROXYAPATITE: Final = 6
STRUVITE: Final = 7
NEWBERYITE: Final = 8
SYNGENITE: Final = 9

SOLID_NAMES: Final = (
    "gypsum",
    "calcite",
    "aragonite",
    "magnesite",
    "brushite",
    "monetite",
    "hydroxyapatite",
    "struvite",
    "newberyite",
    "syngenite",
)
SOLID_COUNT: Final = len(SOLID_NAMES)


def _solid(row: ReactionRow) -> str:
    """
    Return the formula of the solid in its reaction.

    Parameters
    ----------
    row : ReactionRow
        A row of the table of saturation constants.

    Returns
    -------
    str
        The first species on the left.
    """
    return row.reaction.split(" = ", maxsplit=1)[0].split(" + ", maxsplit=1)[0]


_ROWS: Final = {row.name: row for row in load_saturation_constants()}
SOLID_FORMATIONS: Final = tuple(
    formation_from_masters(_ROWS[name], _solid(_ROWS[name]), FORMATIONS) for name in SOLID_NAMES
)
"""Every solid in terms of masters, as a product of its ions; in the order of `SOLID_NAMES`."""

_MASTERS: Final = tuple(
    sorted({name for solid in SOLID_FORMATIONS for name in solid.powers} - {"H+", "H2O"})
)


_MASTER_SPECIES: Final = constant_array([SPECIES_NAMES.index(name) for name in _MASTERS], np.uint32)
_MASTER_COUNT: Final = len(_MASTERS)
_POWERS: Final = constant_array(
    [[s.powers.get(name, 0) for name in _MASTERS] for s in SOLID_FORMATIONS], np.float64
)
_PROTON_POWERS: Final = constant_array(
    [s.powers.get("H+", 0) for s in SOLID_FORMATIONS], np.float64
)
_WATER_POWERS: Final = constant_array(
    [s.powers.get("H2O", 0) for s in SOLID_FORMATIONS], np.float64
)
# A solid is written as the product of its ions over its constant, so the sign turns.
_FUNCTIONS: Final = constant_array([-s.coefficients for s in SOLID_FORMATIONS], np.float64)


@kernel
def fill_saturation_constants(temperature: float, saturation_constants: FloatArray) -> None:
    r"""
    Fill in the solubility products of the solids at a temperature.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15; NaN makes every constant NaN [K].
    saturation_constants : ndarray, shape (SOLID_COUNT,)
        Receives log10 of the activity product of the free ions, fully deprotonated, with the
        hydrogen ions and the water of the solid [dimensionless].

    Notes
    -----
    Validity: gypsum, calcite, aragonite and brushite 0 to 40 degrees Celsius, struvite by its
    enthalpy; monetite, newberyite and syngenite are known at 25 degrees Celsius only, so that
    their constant in terms of the ions printed does not change with temperature.

    References
    ----------
    .. [1] L. N. Plummer and E. Busenberg, Geochim. Cosmochim. Acta 46, 1011-1040, 1982.
       Source key: ``plummer-busenberg-1982``.
    .. [2] T. M. Gregory, E. C. Moreno and W. E. Brown, J. Res. Natl. Bur. Stand. 74A, 461-475,
       1970. Source key: ``gregory-moreno-brown-1970``.
    .. [3] M. Ronteltap, M. Maurer and W. Gujer, Water Research 41, 977-984, 2007.
       Source key: ``ronteltap-maurer-gujer-2007``.
    """
    for solid in range(SOLID_COUNT):
        saturation_constants[solid] = log10_equilibrium_constant(
            _FUNCTIONS[solid, 0],
            _FUNCTIONS[solid, 1],
            _FUNCTIONS[solid, 2],
            _FUNCTIONS[solid, 3],
            _FUNCTIONS[solid, 4],
            _FUNCTIONS[solid, 5],
            temperature,
        )


@kernel
def saturation_indices(
    ws: FloatArray, saturation_constants: FloatArray, indices: FloatArray
) -> None:
    r"""
    Compute the saturation index of every solid in a speciated solution.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace with a speciated solution [mol/kg].
    saturation_constants : ndarray, shape (SOLID_COUNT,)
        Constants at the same temperature, from `fill_saturation_constants` [dimensionless].
    indices : ndarray, shape (SOLID_COUNT,)
        Receives the indices in the order of `SOLID_NAMES`; NaN where an ion of the solid is
        absent or the solution could not be computed [dimensionless].

    Notes
    -----
    .. math:: SI = \lg \prod_j a_j^{\nu_j} - \lg K_{sp}

    References
    ----------
    .. [1] W. Stumm and J. J. Morgan, *Aquatic Chemistry*, 3rd ed., Wiley, New York, 1996, ch. 7.
       Source key: ``stumm-morgan-1996``.
    """
    water = math.log10(ws[WATER_ACTIVITY]) if ws[WATER_ACTIVITY] > 0.0 else math.nan
    for solid in range(SOLID_COUNT):
        indices[solid] = (
            _WATER_POWERS[solid] * water
            - _PROTON_POWERS[solid] * ws[PH]
            - saturation_constants[solid]
        )
    for place in range(_MASTER_COUNT):
        species = _MASTER_SPECIES[place]
        activity = ws[MOLALITY + species] * ws[ACTIVITY_COEFFICIENT + species]
        logarithm = math.log10(activity) if activity > 0.0 else math.nan
        for solid in range(SOLID_COUNT):
            if _POWERS[solid, place] != 0.0:
                indices[solid] += _POWERS[solid, place] * logarithm
