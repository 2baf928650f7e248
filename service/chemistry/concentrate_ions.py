"""
The dissolved species of a concentrate, in the order that its kernels use.

Fewer than in `service.chemistry.species`: the ion-interaction model carries association in its
coefficients and needs no ion pairs. Ions that the model has no coefficients for stand in as the
nearest kind: an inert univalent cation as sodium, inert anions as chloride and sulfate.
"""

from typing import Final

import numpy as np

from service.chemistry.constant_arrays import constant_array
from service.reference.concentrate_tables import ANIONS, CATIONS

ION_NAMES: Final = (*CATIONS, "Inert+", *ANIONS, "Inert-", "Inert-2")
"""Cations, then anions; `Inert` ions interact as the nearest kind and belong to no solid."""

NEUTRAL_NAMES: Final = ("H3PO4", "CO2", "B(OH)3", "H3Cit", "H4SiO4", "Urea", "NH3")
"""Molecules; ideal, so that they count in the activity of water alone."""

SPECIES: Final = (*ION_NAMES, *NEUTRAL_NAMES)


def charge_of(name: str) -> int:
    """
    Return the charge in the identifier of a species.

    Parameters
    ----------
    name : str
        For instance ``SO4-2``.

    Returns
    -------
    int
        Charge number.
    """
    for sign, factor in (("+", 1), ("-", -1)):
        _, found, number = name.partition(sign)
        if found:
            return factor * int(number or 1)
    return 0


ION_COUNT: Final = len(ION_NAMES)
CATION_COUNT: Final = len(CATIONS) + 1
SPECIES_COUNT: Final = len(SPECIES)
CHARGES: Final = constant_array([charge_of(name) for name in SPECIES], np.float64)

HYDROGEN: Final = SPECIES.index("H+")
SODIUM: Final = SPECIES.index("Na+")
POTASSIUM: Final = SPECIES.index("K+")
AMMONIUM: Final = SPECIES.index("NH4+")
MAGNESIUM: Final = SPECIES.index("Mg+2")
CALCIUM: Final = SPECIES.index("Ca+2")
MANGANESE: Final = SPECIES.index("Mn+2")
IRON: Final = SPECIES.index("Fe+2")
ZINC: Final = SPECIES.index("Zn+2")
COPPER: Final = SPECIES.index("Cu+2")
INERT_CATION: Final = SPECIES.index("Inert+")
CHLORIDE: Final = SPECIES.index("Cl-")
NITRATE: Final = SPECIES.index("NO3-")
DIHYDROGEN_PHOSPHATE: Final = SPECIES.index("H2PO4-")
BICARBONATE: Final = SPECIES.index("HCO3-")
HYDROXIDE: Final = SPECIES.index("OH-")
SULFATE: Final = SPECIES.index("SO4-2")
HYDROGEN_PHOSPHATE: Final = SPECIES.index("HPO4-2")
CARBONATE: Final = SPECIES.index("CO3-2")
MOLYBDATE: Final = SPECIES.index("MoO4-2")
BORATE: Final = SPECIES.index("B(OH)4-")
INERT_ANION: Final = SPECIES.index("Inert-")
INERT_DIVALENT_ANION: Final = SPECIES.index("Inert-2")
PHOSPHORIC_ACID: Final = SPECIES.index("H3PO4")
CARBON_DIOXIDE: Final = SPECIES.index("CO2")
BORIC_ACID: Final = SPECIES.index("B(OH)3")
CITRIC_ACID: Final = SPECIES.index("H3Cit")
SILICIC_ACID: Final = SPECIES.index("H4SiO4")
UREA: Final = SPECIES.index("Urea")
AMMONIA: Final = SPECIES.index("NH3")
