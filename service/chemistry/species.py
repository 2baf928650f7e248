"""
The dissolved species of a solution, in the order that every speciation uses.

Each species is a sum of conserved components and hydrogen ions. Components count in the form of
`NOMINAL_CHARGE` (H3PO4, CO2, B(OH)3, H3Cit, Si(OH)4, otherwise the free ion), so that
charge = sum(component number x nominal charge) + hydrogen number. Water is left out of the sums.
Identifiers are spelled as PHREEQC spells them. Free ions and acids come first, ion pairs last.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from service.reference import components
from service.reference.components import COMPONENT_COUNT

HYDROGEN_ION: Final = 0
HYDROXIDE_ION: Final = 1
CALCIUM_ION: Final = 2
MAGNESIUM_ION: Final = 3
POTASSIUM_ION: Final = 4
SODIUM_ION: Final = 5
AMMONIUM_ION: Final = 6
AMMONIA: Final = 7
NITRATE_ION: Final = 8
CHLORIDE_ION: Final = 9
SULFATE_ION: Final = 10
BISULFATE_ION: Final = 11
PHOSPHATE_ION: Final = 12
HYDROGEN_PHOSPHATE_ION: Final = 13
DIHYDROGEN_PHOSPHATE_ION: Final = 14
PHOSPHORIC_ACID: Final = 15
CARBONATE_ION: Final = 16
BICARBONATE_ION: Final = 17
CARBON_DIOXIDE: Final = 18
BORIC_ACID: Final = 19
BORATE_ION: Final = 20
CITRATE_ION: Final = 21
HYDROGEN_CITRATE_ION: Final = 22
DIHYDROGEN_CITRATE_ION: Final = 23
CITRIC_ACID: Final = 24
SILICIC_ACID: Final = 25
TRIHYDROGEN_SILICATE_ION: Final = 26
DIHYDROGEN_SILICATE_ION: Final = 27
FLUORIDE_ION: Final = 28
HYDROGEN_FLUORIDE: Final = 29
IRON_ION: Final = 30
IRON_CHELATE_ION: Final = 31
MANGANESE_ION: Final = 32
ZINC_ION: Final = 33
COPPER_ION: Final = 34
MOLYBDATE_ION: Final = 35
UREA_MOLECULE: Final = 36
UNMEASURED_CATION: Final = 37
UNMEASURED_ANION: Final = 38
CALCIUM_HYDROXIDE: Final = 39
MAGNESIUM_HYDROXIDE: Final = 40
CALCIUM_SULFATE: Final = 41
CALCIUM_BISULFATE: Final = 42
MAGNESIUM_SULFATE: Final = 43
POTASSIUM_SULFATE: Final = 44
SODIUM_SULFATE: Final = 45
AMMONIUM_SULFATE: Final = 46
CALCIUM_CARBONATE: Final = 47
CALCIUM_BICARBONATE: Final = 48
MAGNESIUM_CARBONATE: Final = 49
MAGNESIUM_BICARBONATE: Final = 50
SODIUM_CARBONATE: Final = 51
SODIUM_BICARBONATE: Final = 52
CALCIUM_PHOSPHATE: Final = 53
CALCIUM_HYDROGEN_PHOSPHATE: Final = 54
CALCIUM_DIHYDROGEN_PHOSPHATE: Final = 55
MAGNESIUM_PHOSPHATE: Final = 56
MAGNESIUM_HYDROGEN_PHOSPHATE: Final = 57
MAGNESIUM_DIHYDROGEN_PHOSPHATE: Final = 58
POTASSIUM_HYDROGEN_PHOSPHATE: Final = 59
SODIUM_HYDROGEN_PHOSPHATE: Final = 60
CALCIUM_CITRATE: Final = 61
CALCIUM_HYDROGEN_CITRATE: Final = 62
CALCIUM_DIHYDROGEN_CITRATE: Final = 63
MAGNESIUM_CITRATE: Final = 64
MAGNESIUM_HYDROGEN_CITRATE: Final = 65
MAGNESIUM_DIHYDROGEN_CITRATE: Final = 66
POTASSIUM_CITRATE: Final = 67
SODIUM_CITRATE: Final = 68

FIRST_ION_PAIR: Final = CALCIUM_HYDROXIDE
"""Species from here on are ion pairs; those before are free ions, acids and molecules."""

_DEFINITIONS: Final[tuple[tuple[str, int, tuple[tuple[int, int], ...], int], ...]] = (
    # identifier, charge, ((component, number), ...), hydrogen number
    ("H+", 1, (), 1),
    ("OH-", -1, (), -1),
    ("Ca+2", 2, ((components.CALCIUM, 1),), 0),
    ("Mg+2", 2, ((components.MAGNESIUM, 1),), 0),
    ("K+", 1, ((components.POTASSIUM, 1),), 0),
    ("Na+", 1, ((components.SODIUM, 1),), 0),
    ("NH4+", 1, ((components.AMMONIUM, 1),), 0),
    ("NH3", 0, ((components.AMMONIUM, 1),), -1),
    ("NO3-", -1, ((components.NITRATE, 1),), 0),
    ("Cl-", -1, ((components.CHLORIDE, 1),), 0),
    ("SO4-2", -2, ((components.SULFATE, 1),), 0),
    ("HSO4-", -1, ((components.SULFATE, 1),), 1),
    ("PO4-3", -3, ((components.PHOSPHATE, 1),), -3),
    ("HPO4-2", -2, ((components.PHOSPHATE, 1),), -2),
    ("H2PO4-", -1, ((components.PHOSPHATE, 1),), -1),
    ("H3PO4", 0, ((components.PHOSPHATE, 1),), 0),
    ("CO3-2", -2, ((components.CARBONATE, 1),), -2),
    ("HCO3-", -1, ((components.CARBONATE, 1),), -1),
    ("CO2", 0, ((components.CARBONATE, 1),), 0),
    ("B(OH)3", 0, ((components.BORATE, 1),), 0),
    ("B(OH)4-", -1, ((components.BORATE, 1),), -1),
    ("Cit-3", -3, ((components.CITRATE, 1),), -3),
    ("HCit-2", -2, ((components.CITRATE, 1),), -2),
    ("H2Cit-", -1, ((components.CITRATE, 1),), -1),
    ("H3Cit", 0, ((components.CITRATE, 1),), 0),
    ("H4SiO4", 0, ((components.SILICATE, 1),), 0),
    ("H3SiO4-", -1, ((components.SILICATE, 1),), -1),
    ("H2SiO4-2", -2, ((components.SILICATE, 1),), -2),
    ("F-", -1, ((components.FLUORIDE, 1),), 0),
    ("HF", 0, ((components.FLUORIDE, 1),), 1),
    ("Fe+2", 2, ((components.IRON, 1),), 0),
    ("FeChelate-", -1, ((components.IRON_CHELATE, 1),), 0),
    ("Mn+2", 2, ((components.MANGANESE, 1),), 0),
    ("Zn+2", 2, ((components.ZINC, 1),), 0),
    ("Cu+2", 2, ((components.COPPER, 1),), 0),
    ("MoO4-2", -2, ((components.MOLYBDATE, 1),), 0),
    ("Urea", 0, ((components.UREA, 1),), 0),
    ("Unmeasured+", 1, ((components.UNMEASURED, 1),), 0),
    ("Unmeasured-", -1, ((components.UNMEASURED, -1),), 0),
    ("CaOH+", 1, ((components.CALCIUM, 1),), -1),
    ("MgOH+", 1, ((components.MAGNESIUM, 1),), -1),
    ("CaSO4", 0, ((components.CALCIUM, 1), (components.SULFATE, 1)), 0),
    ("CaHSO4+", 1, ((components.CALCIUM, 1), (components.SULFATE, 1)), 1),
    ("MgSO4", 0, ((components.MAGNESIUM, 1), (components.SULFATE, 1)), 0),
    ("KSO4-", -1, ((components.POTASSIUM, 1), (components.SULFATE, 1)), 0),
    ("NaSO4-", -1, ((components.SODIUM, 1), (components.SULFATE, 1)), 0),
    ("NH4SO4-", -1, ((components.AMMONIUM, 1), (components.SULFATE, 1)), 0),
    ("CaCO3", 0, ((components.CALCIUM, 1), (components.CARBONATE, 1)), -2),
    ("CaHCO3+", 1, ((components.CALCIUM, 1), (components.CARBONATE, 1)), -1),
    ("MgCO3", 0, ((components.MAGNESIUM, 1), (components.CARBONATE, 1)), -2),
    ("MgHCO3+", 1, ((components.MAGNESIUM, 1), (components.CARBONATE, 1)), -1),
    ("NaCO3-", -1, ((components.SODIUM, 1), (components.CARBONATE, 1)), -2),
    ("NaHCO3", 0, ((components.SODIUM, 1), (components.CARBONATE, 1)), -1),
    ("CaPO4-", -1, ((components.CALCIUM, 1), (components.PHOSPHATE, 1)), -3),
    ("CaHPO4", 0, ((components.CALCIUM, 1), (components.PHOSPHATE, 1)), -2),
    ("CaH2PO4+", 1, ((components.CALCIUM, 1), (components.PHOSPHATE, 1)), -1),
    ("MgPO4-", -1, ((components.MAGNESIUM, 1), (components.PHOSPHATE, 1)), -3),
    ("MgHPO4", 0, ((components.MAGNESIUM, 1), (components.PHOSPHATE, 1)), -2),
    ("MgH2PO4+", 1, ((components.MAGNESIUM, 1), (components.PHOSPHATE, 1)), -1),
    ("KHPO4-", -1, ((components.POTASSIUM, 1), (components.PHOSPHATE, 1)), -2),
    ("NaHPO4-", -1, ((components.SODIUM, 1), (components.PHOSPHATE, 1)), -2),
    ("CaCit-", -1, ((components.CALCIUM, 1), (components.CITRATE, 1)), -3),
    ("CaHCit", 0, ((components.CALCIUM, 1), (components.CITRATE, 1)), -2),
    ("CaH2Cit+", 1, ((components.CALCIUM, 1), (components.CITRATE, 1)), -1),
    ("MgCit-", -1, ((components.MAGNESIUM, 1), (components.CITRATE, 1)), -3),
    ("MgHCit", 0, ((components.MAGNESIUM, 1), (components.CITRATE, 1)), -2),
    ("MgH2Cit+", 1, ((components.MAGNESIUM, 1), (components.CITRATE, 1)), -1),
    ("KCit-2", -2, ((components.POTASSIUM, 1), (components.CITRATE, 1)), -3),
    ("NaCit-2", -2, ((components.SODIUM, 1), (components.CITRATE, 1)), -3),
)

SPECIES_NAMES: Final = tuple(definition[0] for definition in _DEFINITIONS)
SPECIES_COUNT: Final = len(SPECIES_NAMES)
SPECIES_CHARGES: Final = tuple(definition[1] for definition in _DEFINITIONS)
SPECIES_HYDROGEN: Final = tuple(definition[3] for definition in _DEFINITIONS)
"""Hydrogen ions in each species beyond its components; negative where they are missing."""


def _composition_matrix() -> npt.NDArray[np.float64]:
    """
    Return the numbers of components in species.

    Returns
    -------
    ndarray, shape (SPECIES_COUNT, COMPONENT_COUNT)
        Stoichiometric numbers.
    """
    matrix = np.zeros((SPECIES_COUNT, COMPONENT_COUNT))
    for row, definition in enumerate(_DEFINITIONS):
        for component, number in definition[2]:
            matrix[row, component] = number
    matrix.flags.writeable = False
    return matrix


SPECIES_COMPOSITION: Final = _composition_matrix()
"""Number of each component in each species, shape (SPECIES_COUNT, COMPONENT_COUNT)."""
