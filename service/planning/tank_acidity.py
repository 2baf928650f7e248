"""The pH of a concentrate, as far as a model of weak solutions tells it, and what it does."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED, OK
from service.chemistry.workspace import PH
from service.planning.solution import speciated
from service.reference.components import COMPONENT_COUNT, NOMINAL_CHARGE, UNMEASURED

FloatArray = NDArray[np.float64]

MODEL_STRENGTHS: Final = (0.4, 0.2, 0.1)
"""Ionic strengths that a concentrate is thinned to for its pH, until the model holds [mol/kg]."""

REFERENCE_KELVIN: Final = 298.15
_SQUARED_CHARGE: Final = np.array(
    [
        1.0 if component == UNMEASURED else float(charge * charge)
        for component, charge in enumerate(NOMINAL_CHARGE)
    ]
)
_WEAK_ACID: Final = 1.0
"""Squared charge that a component without nominal charge is counted with."""


def tank_ph(composition: FloatArray) -> float | None:
    """
    Return an estimate of the pH of a concentrate.

    Parameters
    ----------
    composition : ndarray, shape (n_components,)
        Conserved components [mol/kg].

    Returns
    -------
    float or None
        pH at 25 degC, thinned with pure water to one of `MODEL_STRENGTHS`; None where
        that lies outside pH 2 to 12.

    Notes
    -----
    Phosphates and other buffers change by a few tenths of a unit on thinning; that of a strong
    acid, which would change by the logarithm of the thinning, lies below the range.
    """
    charges = np.maximum(_SQUARED_CHARGE, _WEAK_ACID)
    strength = 0.5 * float(np.dot(charges, np.abs(composition[:COMPONENT_COUNT])))
    for model in MODEL_STRENGTHS:
        thinned = composition * min(1.0, model / max(strength, model))
        mix = speciated(thinned, REFERENCE_KELVIN, CLOSED)
        if mix.status == OK:
            return float(mix.work[PH])
    return None
