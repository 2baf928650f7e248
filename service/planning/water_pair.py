"""Two waters, and everything that can be said of a blend of them by its share of the first."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED, NOT_CONVERGED
from service.chemistry.solution import (
    REFERENCE_TEMPERATURE,
    STATE_COUNT,
    STATE_PH,
    conductivity_of_total,
    predicted_state,
    workspace,
)
from service.planning.card import number
from service.planning.known_water import KnownWater
from service.reference.components import CALCIUM, MAGNESIUM
from service.reference.formula import atomic_weights, molar_mass
from service.units.canonical import (
    BICARBONATE_MG_PER_MEQ,
    CALCIUM_CARBONATE_MG_PER_MEQ,
)

FloatArray = NDArray[np.float64]

CONDUCTIVITY: Final = "ec_ms_per_cm"
ALKALINITY: Final = "alkalinity_mg_per_l_caco3"
HARDNESS: Final = "hardness_mg_per_l_caco3"

LINEAR: Final = (
    ALKALINITY,
    HARDNESS,
    "calcium_mg_per_l",
    "magnesium_mg_per_l",
    "potassium_mg_per_l",
    "sodium_mg_per_l",
    "chloride_mg_per_l",
    "sulfate_mg_per_l",
    "nitrate_mg_per_l",
    "ammonium_nitrogen_mg_per_l",
    "phosphate_phosphorus_mg_per_l",
    "boron_mg_per_l",
    "iron_mg_per_l",
    "manganese_mg_per_l",
    "zinc_mg_per_l",
    "copper_mg_per_l",
    "fluoride_mg_per_l",
    "silica_mg_per_l",
)
"""Values of an analysis that mix by volume."""

_NITROGEN_AS_NITRATE: Final = molar_mass("NO3") / atomic_weights()["N"]
_CALCIUM: Final = atomic_weights()["Ca"]
_MAGNESIUM: Final = atomic_weights()["Mg"]


def stated_values(water: KnownWater) -> dict[str, float]:
    """
    Return what a water states, in the forms in which it is mixed.

    Parameters
    ----------
    water : KnownWater
        The water; a value that a preset leaves out counts as 0.

    Returns
    -------
    dict of str to float
        By the names of `LINEAR`, without what is not known.
    """
    given = dict(water.analysis)
    values: dict[str, float] = {name: given[name] for name in LINEAR if name in given}
    if ALKALINITY not in values and "bicarbonate_mg_per_l" in given:
        equivalents = given["bicarbonate_mg_per_l"] / BICARBONATE_MG_PER_MEQ
        values[ALKALINITY] = equivalents * CALCIUM_CARBONATE_MG_PER_MEQ
    if "nitrate_mg_per_l" not in values and "nitrate_nitrogen_mg_per_l" in given:
        values["nitrate_mg_per_l"] = given["nitrate_nitrogen_mg_per_l"] * _NITROGEN_AS_NITRATE
    total = water.composition_mmol_per_l
    if HARDNESS in values:
        # Filled in by what was known of the split, or assumed and said.
        values.setdefault("calcium_mg_per_l", float(total[CALCIUM]) * _CALCIUM)
        values.setdefault("magnesium_mg_per_l", float(total[MAGNESIUM]) * _MAGNESIUM)
    elif "calcium_mg_per_l" in values and "magnesium_mg_per_l" in values:
        divalent = float(total[CALCIUM] + total[MAGNESIUM])
        values[HARDNESS] = 2.0 * divalent * CALCIUM_CARBONATE_MG_PER_MEQ
    if water.preset is not None:
        for name in LINEAR:
            values.setdefault(name, 0.0)
    return values


class WaterPair:
    """
    Two waters and everything that can be said of their blends.

    Parameters
    ----------
    first, second : KnownWater
        The waters.
    """

    def __init__(self, first: KnownWater, second: KnownWater) -> None:
        self.first = first
        self.second = second
        self.values = (stated_values(first), stated_values(second))
        self._work = workspace()

    def composition(self, share: float) -> FloatArray:
        """
        Return the components of a blend.

        Parameters
        ----------
        share : float
            Share of the first water, 0 to 1.

        Returns
        -------
        ndarray, shape (n_components,)
            Amounts [mmol/L].
        """
        return (
            share * self.first.composition_mmol_per_l
            + (1.0 - share) * self.second.composition_mmol_per_l
        )

    def conductivity(self, share: float) -> float:
        """
        Return the conductivity of a blend.

        Parameters
        ----------
        share : float
            Share of the first water, 0 to 1.

        Returns
        -------
        float
            Conductivity at 25 degC; what the analyses do not explain mixes by volume [mS/cm].
        """
        unexplained = (
            share * self.first.unexplained_ec_ms_per_cm
            + (1.0 - share) * self.second.unexplained_ec_ms_per_cm
        )
        return (
            float(conductivity_of_total(self.composition(share), False, self._work)) + unexplained
        )

    def ph(self, share: float) -> float | None:
        """
        Return the pH of a blend, mixed without contact to air.

        Parameters
        ----------
        share : float
            Share of the first water, 0 to 1.

        Returns
        -------
        float or None
            pH at 25 degC; None where the alkalinity of a water in it is not known.
        """
        if (share > 0.0 and not self.first.alkalinity_known) or (
            share < 1.0 and not self.second.alkalinity_known
        ):
            return None
        state = np.empty(STATE_COUNT)
        status = predicted_state(
            self.composition(share), REFERENCE_TEMPERATURE, CLOSED, False, self._work, state
        )
        return None if status >= NOT_CONVERGED else number(state[STATE_PH])

    def value(self, name: str, share: float) -> float:
        """
        Return a value of the analysis of a blend.

        Parameters
        ----------
        name : str
            A name of `LINEAR`, or the conductivity.
        share : float
            Share of the first water, 0 to 1.

        Returns
        -------
        float
            The value in the unit of its name; NaN where a water does not state it.
        """
        if name == CONDUCTIVITY:
            return self.conductivity(share)
        first = self.values[0].get(name, np.nan)
        second = self.values[1].get(name, np.nan)
        if share == 1.0:
            return first
        if share == 0.0:
            return second
        return share * first + (1.0 - share) * second

    def analysis(self, share: float) -> dict[str, float | None]:
        """
        Return the analysis of a blend.

        Parameters
        ----------
        share : float
            Share of the first water, 0 to 1.

        Returns
        -------
        dict
            By the names of a water analysis; None where a water does not state a value.
        """
        listed: dict[str, float | None] = {"ph": self.ph(share)}
        listed |= {name: number(self.value(name, share)) for name in LINEAR}
        listed[CONDUCTIVITY] = self.conductivity(share)
        return listed
