"""The stocks of a reservoir: how far a millilitre of each in a litre moves the conductivity."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.equilibrium import CLOSED
from service.planning.known_water import REFERENCE_CELSIUS, KnownWater
from service.planning.mix_parts import MixPart
from service.planning.notes import RefusalError
from service.planning.solution import mixture
from service.planning.strength import BLIND_CONDUCTIVITY
from service.reference.components import COMPONENT_COUNT, ELEMENT_NAMES, UREA
from service.reference.elements import ELEMENT_MATRIX

FloatArray = NDArray[np.float64]

MOST_STOCK: Final = 200.0
"""Stock of each kind in a litre above which it is no stock any more [mL/L]."""

LEAST_RISE: Final = 1e-6
"""Conductivity that a millilitre in a litre must add [mS/cm]."""

MILLILITRES_IN_A_LITRE: Final = 1000.0
ROUNDS: Final = 20
SETTLED: Final = 1e-7
"""Relative difference of a conductivity at which an amount is found."""

_NITROGEN: Final = ELEMENT_NAMES.index("nitrogen")


@dataclass(frozen=True, eq=False)
class Stocks:
    """
    The stocks of a reservoir, of each of which the same volume goes in.

    Attributes
    ----------
    count : int
        How many there are: one, or A and B.
    parts : tuple of MixPart
        What a millilitre of each in a litre brings; empty where it is not told.
    stated_rise_ms_per_cm : float or None
        Conductivity that a millilitre of each in a litre adds, as measured by the caller.
    water : KnownWater
        The water that they go into.
    """

    count: int
    parts: tuple[MixPart, ...]
    stated_rise_ms_per_cm: float | None
    water: KnownWater

    @property
    def composition_mmol_per_ml(self) -> FloatArray:
        """Components that a millilitre of each brings."""
        total = np.zeros(COMPONENT_COUNT)
        for part in self.parts:
            total += part.added_mmol_per_l
        return total

    @property
    def holds_urea(self) -> bool:
        """Whether urea is in them, or may be."""
        return not self.parts or bool(self.composition_mmol_per_ml[UREA] > 0.0)

    def conductivity(self, amount: float) -> float:
        """
        Return the conductivity of the water with an amount of each stock.

        Parameters
        ----------
        amount : float
            Millilitres of each in a litre [mL/L].

        Returns
        -------
        float
            Conductivity at 25 degC [mS/cm].
        """
        if self.stated_rise_ms_per_cm is not None:
            return self.water.ec_ms_per_cm + amount * self.stated_rise_ms_per_cm
        if amount <= 0.0:
            return self.water.ec_ms_per_cm
        scaled = [
            replace(
                part, amount=amount * part.amount, added_mmol_per_l=amount * part.added_mmol_per_l
            )
            for part in self.parts
        ]
        return mixture(self.water, scaled, None, REFERENCE_CELSIUS, CLOSED).ec_ms_per_cm

    def rise(self, conductivity: float) -> float:
        """
        Return what one more millilitre of each in a litre adds at a conductivity.

        Parameters
        ----------
        conductivity : float
            Conductivity of the reservoir [mS/cm].

        Returns
        -------
        float
            Rise for 1 mL/L [mS/cm].
        """
        if self.stated_rise_ms_per_cm is not None:
            return self.stated_rise_ms_per_cm
        amount = self.amount_at(conductivity)
        return self.conductivity(amount + 1.0) - self.conductivity(amount)

    def amount_at(self, conductivity: float) -> float:
        """
        Return how much of each stock is in a litre of that conductivity.

        Parameters
        ----------
        conductivity : float
            Conductivity at 25 degC [mS/cm].

        Returns
        -------
        float
            Millilitres of each in a litre, 0 where the water alone has it [mL/L].

        Raises
        ------
        RefusalError
            If the stocks cannot bring a litre to it.
        """
        start = self.water.ec_ms_per_cm
        if conductivity <= start:
            return 0.0
        slope = self.conductivity(1.0) - start
        if not slope > LEAST_RISE:
            raise RefusalError("stocks_add_no_conductivity")
        amount = (conductivity - start) / slope
        for _ in range(ROUNDS):
            if amount > MOST_STOCK:
                raise RefusalError("stocks_too_weak", target=conductivity, most=MOST_STOCK)
            found = self.conductivity(amount)
            if abs(found - conductivity) <= SETTLED * conductivity:
                break
            # A feed conducts less for each gram the stronger it is: the chord is no steeper.
            slope = (found - start) / amount
            amount += (conductivity - found) / slope
        return amount


def stocks_of(
    parts_of_each: Sequence[Sequence[MixPart]],
    rises: Sequence[float | None],
    water: KnownWater,
) -> Stocks | None:
    """
    Return the stocks of a request.

    Parameters
    ----------
    parts_of_each : sequence of sequence of MixPart
        What a millilitre of each stock brings.
    rises : sequence of float or None
        What the caller measured that a millilitre of each in a litre adds [mS/cm].
    water : KnownWater
        The water that they go into.

    Returns
    -------
    Stocks or None
        None where there are none.

    Raises
    ------
    RefusalError
        If their conductivity tells nothing of their nitrogen.
    """
    if not parts_of_each:
        return None
    known = [rise for rise in rises if rise is not None]
    stated = sum(known) if len(known) == len(rises) else None
    complete = all(len(parts) > 0 for parts in parts_of_each)
    parts = tuple(part for each in parts_of_each for part in each) if complete else ()
    stocks = Stocks(len(parts_of_each), parts, stated, water)
    nitrogen = float(ELEMENT_MATRIX[_NITROGEN] @ stocks.composition_mmol_per_ml)
    if nitrogen > 0.0 and 100.0 * stocks.rise(water.ec_ms_per_cm) < BLIND_CONDUCTIVITY * nitrogen:
        raise RefusalError("stocks_blind_to_urea")
    return stocks
