"""What a recipe can aim at: elements, and the forms of nitrogen one by one."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.components import (
    AMMONIUM,
    COMPONENT_COUNT,
    ELEMENT_NAMES,
    NITRATE,
    SULFATE,
    UREA,
)
from service.reference.elements import ELEMENT_MATRIX, ions

NITROGEN: Final = "nitrogen"
NITROGEN_FORMS: Final = {
    "nitrate_nitrogen": NITRATE,
    "ammonium_nitrogen": AMMONIUM,
    "urea_nitrogen": UREA,
}
"""Forms of nitrogen and the component that each is in."""

NUTRIENTS: Final = (*ELEMENT_NAMES, *NITROGEN_FORMS)
"""Names of targets, in the order of `NUTRIENT_MATRIX`."""

MACRONUTRIENTS: Final = ("nitrogen", "phosphorus", "potassium", "calcium", "magnesium")
TRACES: Final = ("boron", "iron", "manganese", "zinc", "copper", "molybdenum")
"""Micronutrients, of which milligrams go into a can."""

LEAST_TARGET: Final = 10.0
LEAST_TRACE_TARGET: Final = 0.1
"""
What a deviation from a target of zero is measured by, for an element and for a trace [mg/L]; our
choice, a tenth of what a feed has.
"""

SMALLEST_TARGET: Final = 1e-6
"""Target from which deviations are counted in per cent of it; below, it counts as 0 [mg/L]."""

FloatArray = NDArray[np.float64]


def _nutrient_matrix() -> FloatArray:
    matrix = np.zeros((len(NUTRIENTS), COMPONENT_COUNT))
    matrix[: len(ELEMENT_NAMES)] = ELEMENT_MATRIX
    nitrogen = ELEMENT_MATRIX[ELEMENT_NAMES.index(NITROGEN)]
    for name, component in NITROGEN_FORMS.items():
        matrix[NUTRIENTS.index(name), component] = nitrogen[component]
    matrix.setflags(write=False)
    return matrix


NUTRIENT_MATRIX: Final = _nutrient_matrix()
"""Milligrams of each nutrient in a millimole, shape (n_nutrients, n_components)."""


def _sulfate_row() -> FloatArray:
    row = np.zeros(COMPONENT_COUNT)
    row[SULFATE] = ions()["sulfate"].molar_mass_g_per_mol
    row.setflags(write=False)
    return row


SULFATE_ROW: Final = _sulfate_row()
"""Milligrams of sulfate, as SO4, per millimole of each component."""


def nutrient_row(name: str) -> FloatArray:
    """
    Return what a millimole of each component brings of one nutrient.

    Parameters
    ----------
    name : str
        One of `NUTRIENTS`.

    Returns
    -------
    ndarray, shape (n_components,)
        Milligrams per millimole.
    """
    row: FloatArray = NUTRIENT_MATRIX[NUTRIENTS.index(name)]
    return row


def nutrients_of(composition: FloatArray) -> dict[str, float]:
    """
    Return the nutrients of a composition.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Components [mmol/L].

    Returns
    -------
    dict of str to float
        All of `NUTRIENTS` [mg/L].
    """
    return dict(zip(NUTRIENTS, (NUTRIENT_MATRIX @ composition).tolist(), strict=True))


def target_scale(name: str, target: float) -> float:
    """
    Return the concentration that counts as 100 % of a target.

    Parameters
    ----------
    name : str
        One of `NUTRIENTS`.
    target : float
        The target [mg/L].

    Returns
    -------
    float
        The target itself, or the least that a target of zero is measured by [mg/L].
    """
    if target > SMALLEST_TARGET:
        return target
    return LEAST_TRACE_TARGET if name in TRACES else LEAST_TARGET


def brings_traces_alone(composition: FloatArray) -> bool:
    """
    Tell whether a product is there for its micronutrients.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Components of the product.

    Returns
    -------
    bool
        True when it brings a micronutrient and none of `MACRONUTRIENTS`.
    """
    found = nutrients_of(composition)
    return any(found[name] > 0.0 for name in TRACES) and not any(
        found[name] > 0.0 for name in MACRONUTRIENTS
    )
