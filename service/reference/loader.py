"""The public face of the reference data: every table, read once and checked."""

import functools
import hashlib
from pathlib import Path
from typing import Final

from service.reference.acids import Acid, acids
from service.reference.catalogue import Product, products
from service.reference.components import COMPONENT_NAMES, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX, ELEMENT_SYMBOLS, Ion, ions
from service.reference.formula import (
    FormulaError,
    atomic_weights,
    element_counts,
    mass_fraction,
    molar_mass,
)
from service.reference.house_catalogue import house_products
from service.reference.integrity import sums_text
from service.reference.labels import LabelError, LabelNutrient, check_label, label_nutrients
from service.reference.plants import (
    Limit,
    PlantProfile,
    ProfileChoice,
    Provenance,
    Range,
    default_plant,
    plant_profile,
    plants,
    weakest_plant,
)
from service.reference.sources import Source, sources
from service.reference.tables import ReferenceDataError
from service.reference.waters import Water, waters

__all__ = [
    "COMPONENT_NAMES",
    "DATA_EDITION",
    "ELEMENT_MATRIX",
    "ELEMENT_NAMES",
    "ELEMENT_SYMBOLS",
    "Acid",
    "FormulaError",
    "Ion",
    "LabelError",
    "LabelNutrient",
    "Limit",
    "PlantProfile",
    "Product",
    "ProfileChoice",
    "Provenance",
    "Range",
    "ReferenceDataError",
    "Source",
    "Water",
    "acids",
    "atomic_weights",
    "check_label",
    "data_version",
    "default_plant",
    "element_counts",
    "house_products",
    "ions",
    "label_nutrients",
    "mass_fraction",
    "molar_mass",
    "plant_profile",
    "plants",
    "products",
    "sources",
    "waters",
    "weakest_plant",
]

DATA_EDITION: Final = "2026.11"
"""Year and month in which the tables were last reviewed as a whole."""

_FOLDER: Final = Path(__file__).resolve().parent


@functools.cache
def data_version() -> str:
    """
    Return the version of the reference data.

    Returns
    -------
    str
        Edition and the first eight hexadecimal digits of a SHA-256 over every packaged table, for
        instance ``2026.11+1a2b3c4d``; it changes whenever a number changes.
    """
    digest = hashlib.sha256(sums_text(_FOLDER).encode()).hexdigest()
    return f"{DATA_EDITION}+{digest[:8]}"
