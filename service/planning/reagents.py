"""
The acids and bases as kernels read them: one row per kind, in the order of `KINDS`.

What a mole brings, its mass, the usual strength, the density that it is looked up under, and the
strength above which its sale is restricted.
"""

from typing import Final

import numpy as np

from service.chemistry.density import REAGENT_NAMES
from service.planning import rows
from service.reference.acids import acids

KINDS: Final = rows.ACID_KINDS + rows.BASE_KINDS
NITRIC: Final = KINDS.index("nitric")
PHOSPHORIC: Final = KINDS.index("phosphoric")
SULFURIC: Final = KINDS.index("sulfuric")
CITRIC: Final = KINDS.index("citric")
POTASSIUM_BICARBONATE: Final = KINDS.index("potassium_bicarbonate")

_REAGENTS: Final = [acids()[kind] for kind in KINDS]

COMPOSITION: Final = np.array([reagent.composition_mol_per_mol for reagent in _REAGENTS])
"""Components in one mole, shape (n_kinds, n_components) [mol/mol]."""

MOLAR_MASS: Final = np.array([reagent.molar_mass_g_per_mol for reagent in _REAGENTS])
"""Molar mass of the pure substance [g/mol]."""

USUAL_PERCENT: Final = np.array([reagent.default_strength_percent for reagent in _REAGENTS])
"""Strength that a bottle is taken to have when its label is not sent [percent by mass]."""

IS_BASE: Final = np.array([reagent.role == "base" for reagent in _REAGENTS])

DENSITY_NUMBER: Final = np.array(
    [REAGENT_NAMES.index(kind if kind in REAGENT_NAMES else f"{kind}_acid") for kind in KINDS]
)
"""Numbers of `service.chemistry.density.REAGENT_NAMES`."""

RESTRICTED_ABOVE: Final = np.array(
    [
        np.inf if reagent.restricted_above_percent is None else reagent.restricted_above_percent
        for reagent in _REAGENTS
    ]
)
"""Strength above which European law restricts sale to the public, infinite if none [percent]."""
for _table in (COMPOSITION, MOLAR_MASS, USUAL_PERCENT, IS_BASE, DENSITY_NUMBER, RESTRICTED_ABOVE):
    _table.setflags(write=False)


def reagent_name(kind: int) -> str:
    """
    Return the name of an acid or a base for people.

    Parameters
    ----------
    kind : int
        Position in `KINDS`.

    Returns
    -------
    str
        Such as `nitric acid` or `potassium bicarbonate`.
    """
    words = KINDS[kind].replace("_", " ")
    return words if IS_BASE[kind] else f"{words} acid"
