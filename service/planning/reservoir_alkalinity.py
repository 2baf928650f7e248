"""
The alkalinity of a reservoir, of which a pH says little: the least and the most that it can be.

A pH says how alkaline a solution is only together with its carbon dioxide. Between a reservoir just
filled, which still holds the carbon of its water, and one in balance with the air lies everything
that stands or is stirred. Neither is more alkaline than water and feed together made it. A drop
test in the reservoir itself ends the guessing.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.alkalinity import alkalinity_of_composition
from service.chemistry.equilibrium import NOT_CONVERGED
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.solution import (
    constants_of,
    density_of,
    molal_composition,
    set_temperature,
    speciation_of,
    workspace,
)
from service.chemistry.water_analysis import (
    composition_beside_air,
    composition_from_alkalinity,
    composition_from_carbonate,
)
from service.planning.water import FREEZING_POINT
from service.reference.components import COMPONENT_COUNT
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ

FloatArray = NDArray[np.float64]

MILLIMOLES: Final = 1000.0


@dataclass(frozen=True, eq=False)
class Buffered:
    """
    What a reservoir of a pH can be made of.

    Attributes
    ----------
    least_mmol_per_l, most_mmol_per_l : ndarray, shape (n_components,)
        The composition of the least and of the most alkalinity.
    least_meq_per_l, most_meq_per_l : float
        Their alkalinity.
    measured : bool
        Whether the alkalinity was measured.
    """

    least_mmol_per_l: FloatArray
    most_mmol_per_l: FloatArray
    least_meq_per_l: float
    most_meq_per_l: float
    measured: bool


def buffered(
    mixed_mmol_per_l: FloatArray,
    ph: float,
    temperature_celsius: float,
    alkalinity_mg_per_l_caco3: float | None,
) -> Buffered | None:
    """
    Return what a reservoir of a pH can be made of.

    Parameters
    ----------
    mixed_mmol_per_l : ndarray, shape (n_components,)
        Water and feed as they were mixed, before any acid [mmol/L].
    ph : float
        pH that is read.
    temperature_celsius : float
        Temperature [degC].
    alkalinity_mg_per_l_caco3 : float or None
        Alkalinity where it was measured.

    Returns
    -------
    Buffered or None
        None where nothing that was mixed has this pH.
    """
    work = workspace()
    set_temperature(temperature_celsius + FREEZING_POINT, work)
    density, constants, state = density_of(work), constants_of(work), speciation_of(work)
    molal = np.zeros(COMPONENT_COUNT)
    molal_composition(mixed_mmol_per_l, density, molal)

    def with_alkalinity(milliequivalents: float) -> FloatArray | None:
        composition = np.zeros(COMPONENT_COUNT)
        status, _ = composition_from_alkalinity(
            molal, ph, milliequivalents / density, constants, state, composition
        )
        return composition if status < NOT_CONVERGED else None

    if alkalinity_mg_per_l_caco3 is not None:
        measured = with_alkalinity(alkalinity_mg_per_l_caco3 / CALCIUM_CARBONATE_MG_PER_MEQ)
        if measured is None:
            return None
        return _between(measured, measured, density, measured=True)
    fresh, aired = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    status, _ = composition_from_carbonate(molal, ph, constants, state, fresh)
    found = [fresh] if status < NOT_CONVERGED else []
    status, _ = composition_beside_air(
        molal, ph, ATMOSPHERIC_CARBON_DIOXIDE, constants, state, aired
    )
    found += [aired] if status < NOT_CONVERGED else []
    most = alkalinity_of_composition(molal)
    kept = [each for each in found if alkalinity_of_composition(each) <= most]
    if len(kept) < len(found):
        # More alkaline than what was mixed: carbon has left, and what was mixed is the most.
        whole = with_alkalinity(MILLIMOLES * most * density)
        kept += [] if whole is None else [whole]
    if not kept:
        return None
    kept.sort(key=alkalinity_of_composition)
    return _between(kept[0], kept[-1], density, measured=False)


def _between(least: FloatArray, most: FloatArray, density: float, *, measured: bool) -> Buffered:
    low, high = MILLIMOLES * density * least, MILLIMOLES * density * most
    return Buffered(
        least_mmol_per_l=low,
        most_mmol_per_l=high,
        least_meq_per_l=float(alkalinity_of_composition(low)),
        most_meq_per_l=float(alkalinity_of_composition(high)),
        measured=measured,
    )
