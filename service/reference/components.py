"""
The conserved components of a solution, in the order that every kernel uses.

A composition is a vector with one amount per component: mol/kg water inside chemistry,
mmol/L in planning, mmol per gram for a product. Hydrogen and oxygen are not among them;
the hydrogen ion follows from charge balance, so that an acid or a base is a product like any
other (nitric acid is nitrate alone, potassium hydroxide is potassium alone).
"""

from typing import Final

CALCIUM: Final = 0
MAGNESIUM: Final = 1
POTASSIUM: Final = 2
SODIUM: Final = 3
AMMONIUM: Final = 4
NITRATE: Final = 5
CHLORIDE: Final = 6
SULFATE: Final = 7
PHOSPHATE: Final = 8
CARBONATE: Final = 9
BORATE: Final = 10
CITRATE: Final = 11
IRON: Final = 12
IRON_CHELATE: Final = 13
MANGANESE: Final = 14
ZINC: Final = 15
COPPER: Final = 16
MOLYBDATE: Final = 17
SILICATE: Final = 18
FLUORIDE: Final = 19
UREA: Final = 20
UNMEASURED: Final = 21
"""Signed charge of ions that an analysis or a label leaves out [mmol(charge)]."""

COMPONENT_NAMES: Final = (
    "calcium",
    "magnesium",
    "potassium",
    "sodium",
    "ammonium",
    "nitrate",
    "chloride",
    "sulfate",
    "phosphate",
    "carbonate",
    "borate",
    "citrate",
    "iron",
    "iron_chelate",
    "manganese",
    "zinc",
    "copper",
    "molybdate",
    "silicate",
    "fluoride",
    "urea",
    "unmeasured",
)
COMPONENT_COUNT: Final = len(COMPONENT_NAMES)

NOMINAL_CHARGE: Final = (2, 2, 1, 1, 1, -1, -1, -2, 0, 0, 0, 0, 2, -1, 2, 2, 2, -2, 0, -1, 0, 1)
"""
Charge that each component brings when its acid–base partner is H+ or OH-.

Phosphate counts as H3PO4, carbonate as CO2, borate as B(OH)3, citrate as H3Cit and silicate as
Si(OH)4, all uncharged; ammonium counts as NH4+; iron is Fe(II), chelated iron an anion of charge
-1; `unmeasured` is a signed charge itself. The sum of amount times this charge is what H+, OH-
and the ionised weak acids must balance.
"""

ELEMENT_NAMES: Final = (
    "nitrogen",
    "phosphorus",
    "potassium",
    "calcium",
    "magnesium",
    "sulfur",
    "sodium",
    "chlorine",
    "boron",
    "iron",
    "manganese",
    "zinc",
    "copper",
    "molybdenum",
    "silicon",
    "fluorine",
)
"""Elements that answers report, in the order of `ELEMENT_MATRIX` in `service.reference.loader`."""
