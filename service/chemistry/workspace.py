"""
Layout of the workspace that carries the speciation of one solution.

One array per solution, made once and used for any number of rows: results first, then the scratch
of the solver, so that no kernel allocates memory. The same array is the warm start of a next,
similar solution.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.activity import CLASS_COUNT
from service.chemistry.equilibrium_constants import (
    CENTRAL_COUNT,
    HIGHEST_PROTON_POWER,
    LIGAND_COUNT,
    LOWEST_PROTON_POWER,
    REACTING_COUNT,
)
from service.chemistry.species import SPECIES_COUNT

HYDROGEN_UNKNOWN: Final = LIGAND_COUNT
"""Place of the hydrogen ion among the unknowns, after the ligands."""

UNKNOWN_COUNT: Final = LIGAND_COUNT + 1

PH: Final = 0
"""pH of the solution."""
IONIC_STRENGTH: Final = 1
"""Ionic strength, of free ions and charged pairs [mol/kg]."""
WATER_ACTIVITY: Final = 2
"""Activity of water."""
CHARGE_IMBALANCE: Final = 3
"""Charge of all species; 0 unless the pH was held [mol/kg]."""
TOTAL_CARBONATE: Final = 4
"""Total carbonate, also where it follows from a gas [mol/kg]."""
ITERATIONS: Final = 5
"""Newton steps taken."""
MOLALITY: Final = 8
"""First of SPECIES_COUNT molalities [mol/kg]."""
ACTIVITY_COEFFICIENT: Final = MOLALITY + SPECIES_COUNT
"""First of SPECIES_COUNT molal activity coefficients."""

RESULT_SIZE: Final = ACTIVITY_COEFFICIENT + SPECIES_COUNT
"""Results end here; the rest is scratch of the solver."""

CONDITIONAL: Final = RESULT_SIZE
PART: Final = CONDITIONAL + REACTING_COUNT
CLASS_COEFFICIENT: Final = PART + REACTING_COUNT
UNKNOWN: Final = CLASS_COEFFICIENT + CLASS_COUNT + 1
TOTAL: Final = UNKNOWN + LIGAND_COUNT + 1
CENTRAL_FREE: Final = TOTAL + CENTRAL_COUNT + LIGAND_COUNT
LIGAND_FREE: Final = CENTRAL_FREE + CENTRAL_COUNT + 1
POWER: Final = LIGAND_FREE + LIGAND_COUNT + 1
CENTRAL_PROTON: Final = POWER + HIGHEST_PROTON_POWER - LOWEST_PROTON_POWER + 1
PAIR: Final = CENTRAL_PROTON + CENTRAL_COUNT + 1
LIGAND_SUM: Final = PAIR + (CENTRAL_COUNT + 1) * (LIGAND_COUNT + 1)
LIGAND_PROTON: Final = LIGAND_SUM + LIGAND_COUNT + 1
MATRIX: Final = LIGAND_PROTON + LIGAND_COUNT + 1
RESIDUAL: Final = MATRIX + (LIGAND_COUNT + 1) ** 2
CENTRAL_SQUARE: Final = RESIDUAL + LIGAND_COUNT + 1
LIGAND_SQUARE: Final = CENTRAL_SQUARE + CENTRAL_COUNT + 1
SOLUTE_SUM: Final = LIGAND_SQUARE + LIGAND_COUNT + 2

WORKSPACE_SIZE: Final = SOLUTE_SUM + 1
"""Length of a workspace."""


def workspace() -> npt.NDArray[np.float64]:
    """
    Return an empty workspace for one solution.

    Returns
    -------
    ndarray, shape (WORKSPACE_SIZE,)
        Results at `PH`, `IONIC_STRENGTH`, `WATER_ACTIVITY`, `CHARGE_IMBALANCE` and
        `TOTAL_CARBONATE`, molalities from `MOLALITY` and activity coefficients from
        `ACTIVITY_COEFFICIENT` in the order of the species, then scratch [mol/kg].
    """
    return np.zeros(WORKSPACE_SIZE)
