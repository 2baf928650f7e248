"""Injectors: what a ratio of 1:100 means, and what the other reading of it would do."""

from dataclasses import dataclass
from typing import Final

PARTS_IN: Final = "parts_in"
PARTS_TO: Final = "parts_to"
MILLILITRES_PER_LITRE: Final = 1000.0


@dataclass(frozen=True)
class Injector:
    """
    How concentrates are thinned to the working solution.

    Attributes
    ----------
    factor : float
        Litres of working solution to a litre of each concentrate.
    tank_count : int
        Number of concentrates that are injected at once.
    counts : str
        ``parts_in``: one part in so many parts of the working solution; ``parts_to``: one part
        added to so many parts of water.
    """

    factor: float
    tank_count: int
    counts: str

    @property
    def ratio(self) -> float:
        """What the injector is set to, as its scale counts."""
        return self.factor if self.counts == PARTS_IN else self.factor - 1.0

    @property
    def concentrate_ml_per_l(self) -> float:
        """Each concentrate in a litre of working solution [mL/L]."""
        return MILLILITRES_PER_LITRE / self.factor

    @property
    def water_ml_per_l(self) -> float:
        """Plain water in a litre of working solution [mL/L]."""
        return MILLILITRES_PER_LITRE - self.tank_count * self.concentrate_ml_per_l

    @property
    def other_factor(self) -> float:
        """Factor that the same setting needs if the scale counts the other way."""
        return self.ratio + 1.0 if self.counts == PARTS_IN else self.ratio

    @property
    def other_strength_percent(self) -> float:
        """Strength of the working solution if the scale counts the other way [%]."""
        return 100.0 * self.factor / self.other_factor


def factor_of_ratio(ratio: float, counts: str) -> float:
    """
    Return the concentration factor that an injector asks for.

    Parameters
    ----------
    ratio : float
        Second number of its ratio, the first being one.
    counts : str
        ``parts_in`` or ``parts_to``.

    Returns
    -------
    float
        Concentration factor of every tank.
    """
    return ratio if counts == PARTS_IN else ratio + 1.0
