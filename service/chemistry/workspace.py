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
from service.chemistry.species_groups import GROUP_COUNT

HYDROGEN_UNKNOWN: Final = LIGAND_COUNT
"""Place of the hydrogen ion among the unknowns, after the ligands."""

UNKNOWN_COUNT: Final = LIGAND_COUNT + 1

GROUP_SUM_COUNT: Final = 8
"""Sums over the species of a group that a Newton step needs."""

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
AMOUNT: Final = 6
"""Amount of a reagent that was found for a held pH; 0 without one [mol/kg]."""
AMOUNT_SLOPE: Final = 7
"""Change of the charge at the held pH with that amount, per mole of the reagent."""
MOLALITY: Final = 8
"""First of SPECIES_COUNT molalities [mol/kg]."""
ACTIVITY_COEFFICIENT: Final = MOLALITY + SPECIES_COUNT
"""First of SPECIES_COUNT molal activity coefficients."""

RESULT_SIZE: Final = ACTIVITY_COEFFICIENT + SPECIES_COUNT
"""Results end here; the rest is scratch of the solver."""

CONDITIONAL: Final = RESULT_SIZE
DRIFT: Final = CONDITIONAL + REACTING_COUNT
CLASS_COEFFICIENT: Final = DRIFT + REACTING_COUNT
CLASS_INVERSE: Final = CLASS_COEFFICIENT + CLASS_COUNT + 1
CLASS_DRIFT: Final = CLASS_INVERSE + CLASS_COUNT + 1
CLASS_PRESENT: Final = CLASS_DRIFT + CLASS_COUNT + 1
GROUP_PRESENT: Final = CLASS_PRESENT + CLASS_COUNT + 1
UNKNOWN: Final = GROUP_PRESENT + GROUP_COUNT
TOTAL: Final = UNKNOWN + UNKNOWN_COUNT
BEFORE_REAGENT: Final = TOTAL + CENTRAL_COUNT + LIGAND_COUNT
REAGENT: Final = BEFORE_REAGENT + CENTRAL_COUNT + LIGAND_COUNT
GROUP_SUMS: Final = REAGENT + CENTRAL_COUNT + LIGAND_COUNT
CENTRAL_FREE: Final = GROUP_SUMS + GROUP_SUM_COUNT * GROUP_COUNT
LIGAND_FREE: Final = CENTRAL_FREE + CENTRAL_COUNT + 1
POWER: Final = LIGAND_FREE + LIGAND_COUNT + 1
CENTRAL_PROTON: Final = POWER + HIGHEST_PROTON_POWER - LOWEST_PROTON_POWER + 1
CENTRAL_SQUARE: Final = CENTRAL_PROTON + CENTRAL_COUNT + 1
PAIR: Final = CENTRAL_SQUARE + CENTRAL_COUNT + 1
LIGAND_SUM: Final = PAIR + (CENTRAL_COUNT + 1) * (LIGAND_COUNT + 1)
LIGAND_PROTON: Final = LIGAND_SUM + LIGAND_COUNT + 1
LIGAND_SQUARE: Final = LIGAND_PROTON + LIGAND_COUNT + 1
MATRIX: Final = LIGAND_SQUARE + LIGAND_COUNT + 1
INVERSE_PIVOT: Final = MATRIX + UNKNOWN_COUNT * UNKNOWN_COUNT
RESIDUAL: Final = INVERSE_PIVOT + UNKNOWN_COUNT
STRENGTH_COLUMN: Final = RESIDUAL + UNKNOWN_COUNT
AMOUNT_COLUMN: Final = STRENGTH_COLUMN + UNKNOWN_COUNT
STRENGTH_ROW: Final = AMOUNT_COLUMN + UNKNOWN_COUNT
CHARGE_ROW: Final = STRENGTH_ROW + UNKNOWN_COUNT
SOLUTE_SUM: Final = CHARGE_ROW + UNKNOWN_COUNT
FORMAL_SQUARE: Final = SOLUTE_SUM + 1
FORMAL_SUM: Final = FORMAL_SQUARE + 1
"""Sums over the masters of the last solution, before any of them paired."""

WORKSPACE_SIZE: Final = FORMAL_SUM + 1
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
