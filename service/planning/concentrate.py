"""
How near the solids of a concentrate are to coming out.

Judged by the model of weak solutions, which ends at an ionic strength of 0.5 mol/kg: a stronger
concentrate is refused rather than guessed at.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED, OK
from service.chemistry.saturation import (
    SOLID_COUNT,
    SOLID_NAMES,
    fill_saturation_constants,
    saturation_indices,
)
from service.planning.notes import RefusalError
from service.planning.solution import SLOW_SOLIDS, speciated
from service.planning.water import FREEZING_POINT

MARGIN: Final = 0.15
"""Spread of published solubility constants of gypsum, brushite and struvite; common practice."""


@dataclass(frozen=True)
class SolidState:
    """
    How far one solid is from coming out.

    Attributes
    ----------
    solid : str
        Name of the mineral.
    saturation_index : float
        Above 0 it can come out.
    margin : float
        Uncertainty of the index.
    margin_percent : float
        The same as percent of the contents, for a solid of two ions.
    evidence : str
        ``measured`` or ``estimated``.
    """

    solid: str
    saturation_index: float
    margin: float
    margin_percent: float
    evidence: str


def solid_states(
    composition_mol_per_kg: NDArray[np.float64], temperature_celsius: float
) -> tuple[SolidState, ...]:
    """
    Return the solids that the ions of a concentrate could form.

    Parameters
    ----------
    composition_mol_per_kg : ndarray, shape (n_components,)
        Conserved components.
    temperature_celsius : float
        Temperature [degC].

    Returns
    -------
    tuple of SolidState
        The nearest first.

    Raises
    ------
    RefusalError
        Beyond the model.
    """
    temperature = temperature_celsius + FREEZING_POINT
    mix = speciated(composition_mol_per_kg, temperature, CLOSED)
    if mix.status != OK:
        raise RefusalError("solution_too_strong", strength="more than 0.5")
    constants, indices = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    fill_saturation_constants(temperature, constants)
    saturation_indices(mix.work, constants, indices)
    percent = 100.0 * (10.0 ** (0.5 * MARGIN) - 1.0)
    found = [
        SolidState(name, float(index), MARGIN, percent, "estimated")
        for name, index in zip(SOLID_NAMES, indices, strict=True)
        if np.isfinite(index) and name not in SLOW_SOLIDS
    ]
    return tuple(sorted(found, key=lambda state: -state.saturation_index))
