"""
Species that share a central ion and a ligand, as the solver walks through them.

A group without its central ion or its ligand in the solution is passed over as a whole, so that a
simple water costs no citrate and no fluoride.
"""

from typing import Final

import numpy as np

from service.chemistry.activity import CLASS_COUNT, SPECIES_CLASS
from service.chemistry.constant_arrays import constant_array
from service.chemistry.equilibrium_constants import (
    CENTRAL_COUNT,
    CENTRAL_IONS,
    CENTRAL_OF,
    LIGAND_COUNT,
    LIGAND_OF,
    LIGANDS,
    PROTON_POWER,
    REACTING,
    REACTING_COUNT,
)
from service.chemistry.species import SPECIES_CHARGES

_PAIRS: Final = tuple(
    (int(central), int(ligand)) for central, ligand in zip(CENTRAL_OF, LIGAND_OF, strict=True)
)
_GROUPS: Final = tuple(dict.fromkeys(_PAIRS))

GROUP_COUNT: Final = len(_GROUPS)
"""Number of pairs of central ion and ligand that form species; either may be none."""

GROUP_START: Final = constant_array(
    [*(_PAIRS.index(group) for group in _GROUPS), REACTING_COUNT], np.uint32
)
"""First reacting species of each group and the end of the last, shape (GROUP_COUNT + 1,)."""

GROUP_LIGAND: Final = constant_array([ligand for _, ligand in _GROUPS], np.uint32)
"""Ligand of each group, LIGAND_COUNT for none, shape (GROUP_COUNT,)."""

CENTRAL_START: Final = constant_array(
    [
        *(
            next(place for place, (central, _) in enumerate(_GROUPS) if central == wanted)
            for wanted in range(CENTRAL_COUNT + 1)
        ),
        GROUP_COUNT,
    ],
    np.uint32,
)
"""First group of each central ion, of none, and the end, shape (CENTRAL_COUNT + 2,)."""

CENTRAL_CLASS: Final = constant_array(
    [*(SPECIES_CLASS[i] for i in CENTRAL_IONS), CLASS_COUNT], np.uint32
)
"""Activity class of each central ion, and of none, shape (CENTRAL_COUNT + 1,)."""

LIGAND_CLASS: Final = constant_array([*(SPECIES_CLASS[i] for i in LIGANDS), CLASS_COUNT], np.uint32)
"""Activity class of each ligand, and of none, shape (LIGAND_COUNT + 1,)."""

REACTING_CLASS: Final = constant_array([SPECIES_CLASS[int(i)] for i in REACTING], np.uint32)
"""Activity class of each reacting species, shape (REACTING_COUNT,)."""

PROTONS: Final = constant_array([float(power) for power in PROTON_POWER], np.float64)
"""Power of the hydrogen ion activity in each reacting species, shape (REACTING_COUNT,)."""

SQUARED_CHARGE: Final = constant_array(
    [float(SPECIES_CHARGES[int(i)] ** 2) for i in REACTING], np.float64
)
"""Squared charge number of each reacting species, shape (REACTING_COUNT,)."""

UNPAIRED_GROUPS: Final = constant_array(
    [
        place
        for place, (central, ligand) in enumerate(_GROUPS)
        if central == CENTRAL_COUNT or ligand == LIGAND_COUNT
    ],
    np.uint32,
)
"""Groups in which no central ion meets a ligand."""
