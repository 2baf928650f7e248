"""Atomic composition of the conserved components, and the ions of water analyses."""

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES, ELEMENT_NAMES
from service.reference.formula import atomic_weights, molar_mass
from service.reference.tables import ReferenceDataError, number, read_table

ELEMENT_SYMBOLS: Final = (
    "N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Na",
    "Cl",
    "B",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "Mo",
    "Si",
    "F",
)
"""Symbols of `ELEMENT_NAMES`, in the same order."""

COMPONENT_ELEMENTS: Final[Mapping[str, tuple[str, int]]] = MappingProxyType(
    {
        "calcium": ("calcium", 1),
        "magnesium": ("magnesium", 1),
        "potassium": ("potassium", 1),
        "sodium": ("sodium", 1),
        "ammonium": ("nitrogen", 1),
        "nitrate": ("nitrogen", 1),
        "chloride": ("chlorine", 1),
        "sulfate": ("sulfur", 1),
        "phosphate": ("phosphorus", 1),
        "borate": ("boron", 1),
        "iron": ("iron", 1),
        "iron_chelate": ("iron", 1),
        "manganese": ("manganese", 1),
        "zinc": ("zinc", 1),
        "copper": ("copper", 1),
        "molybdate": ("molybdenum", 1),
        "silicate": ("silicon", 1),
        "fluoride": ("fluorine", 1),
        "urea": ("nitrogen", 2),
    }
)
"""
Reported element of each component and how many atoms of it one unit of the component brings.

Carbonate, citrate and unmeasured charge bring none of the reported elements.
"""


def _element_matrix() -> NDArray[np.float64]:
    weights = atomic_weights()
    matrix = np.zeros((len(ELEMENT_NAMES), COMPONENT_COUNT))
    for component, (element, count) in COMPONENT_ELEMENTS.items():
        row = ELEMENT_NAMES.index(element)
        matrix[row, COMPONENT_NAMES.index(component)] = count * weights[ELEMENT_SYMBOLS[row]]
    matrix.setflags(write=False)
    return matrix


ELEMENT_MATRIX: Final = _element_matrix()
"""
Milligrams of each element per millimole of each component, shape (n_elements, n_components).

``ELEMENT_MATRIX @ composition`` turns mmol/L into mg/L of `ELEMENT_NAMES`.
"""


@dataclass(frozen=True, slots=True)
class Ion:
    """
    An ion or neutral species in which analyses are expressed.

    Parameters
    ----------
    key : str
        Name, for instance ``nitrate``.
    formula : str
        Chemical formula without the charge.
    charge_number : int
        Signed charge number.
    component : str
        Conserved component it belongs to.
    molar_mass_g_per_mol : float
        Molar mass.
    source : str
        Source key.
    """

    key: str
    formula: str
    charge_number: int
    component: str
    molar_mass_g_per_mol: float
    source: str


@functools.cache
def ions() -> Mapping[str, Ion]:
    """
    Return the ions and neutral species in which analyses are expressed.

    Returns
    -------
    mapping of str to Ion
        By key.

    Raises
    ------
    ReferenceDataError
        If the packaged table is wrong.
    """
    result: dict[str, Ion] = {}
    columns = ("key", "formula", "charge_number", "component", "source", "locator")
    for row in read_table("ions", columns):
        if row["component"] not in COMPONENT_NAMES:
            raise ReferenceDataError(row["row"], f"unknown component {row['component']!r}")
        result[row["key"]] = Ion(
            key=row["key"],
            formula=row["formula"],
            charge_number=int(number(row, "charge_number")),
            component=row["component"],
            molar_mass_g_per_mol=molar_mass(row["formula"]),
            source=row["source"],
        )
    return MappingProxyType(result)
