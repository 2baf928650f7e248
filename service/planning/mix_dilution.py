"""
When a weaker mix is poured from a stronger one of its kind instead of being weighed in.

Taking litres of a finished mix saves weighing, and only weighing: the products come out the same.
What differs is the moment of pouring, when raw water meets a strong can, so that the water that
thins it is pure, or is given its acid first.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.can_filling import HAIR, fillings

OK: Final = rows.STATUSES.index("ok")

PURE_ALKALINITY: Final = 10.0
"""
Alkalinity up to which a water thins a mix as pure water does [mg/L CaCO3]; our choice, twice that
of the generic reverse osmosis water.
"""

JUG_STEP: Final = 0.01
"""Mark of a measuring jug [L]; common practice."""

LEAST_PORTION: Final = 1.0
"""Least that is taken of a mix: a mark of the jug is one percent of it [L]; our choice."""

FINEST_STEP: Final = 1e-9
"""Step of an instrument that rounds nothing, for what is poured and not weighed [g or mL]."""

REASONS: Final = {
    "strongest": "Weighed in: the strongest mix of its kind.",
    "diluted": (
        "Poured from mix {source}: {portion:g} L of it in a can of {volume:g} L, filled up with "
        "{water}. It saves weighing and is the same solution."
    ),
    "alkaline_water": (
        "Weighed in, not poured from a stronger mix: the water is alkaline ({alkalinity:.0f} mg/L "
        "CaCO3) and gets no acid, so that pH would rise and lime or phosphate could cloud where it "
        "meets the strong mix."
    ),
    "alkalinity_unknown": (
        "Weighed in, not poured from a stronger mix: how alkaline the water is was not said."
    ),
    "acid_brought_along": (
        "Weighed in: a stronger mix would bring more acid along than this one may have."
    ),
    "small_portion": (
        "Weighed in: less than {least:g} L of a stronger mix would go into the can, too little for "
        "a jug."
    ),
    "no_weighing_saved": (
        "Weighed in: with these cans the stronger mix would need as many more fillings as this one "
        "saves."
    ),
}
"""Why a mix is made as it is."""


@dataclass(frozen=True)
class Dilution:
    """
    How a mix is made.

    Attributes
    ----------
    reason : str
        Key of `REASONS`.
    source : int or None
        The stronger mix that it takes from; None when it is weighed in.
    ratio : float
        Its strength over that of the stronger mix.
    """

    reason: str
    source: int | None = None
    ratio: float = 1.0


def portion(volume_l: float, ratio: float) -> float:
    """
    Return how much of a stronger mix goes into a can, never too much.

    Parameters
    ----------
    volume_l : float
        Volume of the can [L].
    ratio : float
        Strength wanted over that of the stronger mix [dimensionless].

    Returns
    -------
    float
        Whole marks of the jug [L].
    """
    return round(math.floor(volume_l * ratio / JUG_STEP * (1.0 + HAIR)) * JUG_STEP, 6)


def dilutions(
    kind: NDArray[np.int64],
    strength: NDArray[np.float64],
    planned: NDArray[np.void],
    wanted_l: NDArray[np.float64],
    cans_l: Sequence[float],
) -> tuple[list[Dilution], NDArray[np.float64]]:
    """
    Decide which mixes are poured from a stronger one.

    Parameters
    ----------
    kind : ndarray of int, shape (n_mixes,)
        Kind of each mix; the strongest of a kind stands first.
    strength : ndarray, shape (n_mixes,)
        What each holds of its first product [g/L or mL/L].
    planned : ndarray of `rows.DOSE_RESULT`, shape (n_mixes,)
        Each mix as it would be weighed in.
    wanted_l : ndarray, shape (n_mixes,)
        What is to be made of each for its own rows [L].
    cans_l : sequence of float
        Cans on hand [L].

    Returns
    -------
    tuple of list of Dilution and ndarray
        How each mix is made, and how much of it, with what the weaker ones take [L].
    """
    chosen: list[Dilution] = []
    made = wanted_l.copy()
    strongest = 0
    for mix in range(kind.size):
        refused = planned[strongest]["status"] != OK
        if mix == 0 or kind[mix] != kind[strongest] or refused:
            strongest = mix
            chosen.append(Dilution("strongest"))
            continue
        ratio = float(strength[mix] / strength[strongest])
        own = fillings(float(wanted_l[mix]), cans_l)
        reason = _obstacle(planned[strongest], planned[mix], ratio)
        if not reason and min(portion(volume, ratio) for volume, _ in own) < LEAST_PORTION:
            reason = "small_portion"
        taken = sum(times * portion(volume, ratio) for volume, times in own)
        if not reason:
            before = _times(fillings(float(made[strongest]), cans_l))
            after = _times(fillings(float(made[strongest]) + taken, cans_l))
            if after - before >= _times(own):
                reason = "no_weighing_saved"
        if reason:
            chosen.append(Dilution(reason))
            continue
        chosen.append(Dilution("diluted", strongest, ratio))
        made[strongest] += taken
    return chosen, made


def _obstacle(strong: np.void, weak: np.void, ratio: float) -> str:
    """Return why the chemistry of the water forbids pouring; empty when it does not."""
    acidified = bool(weak["acid_mmol_per_l"] > 0.0)
    if weak["acid_mmol_per_l"] < ratio * strong["acid_mmol_per_l"]:
        return "acid_brought_along"
    alkalinity = float(weak["water_alkalinity_mg_per_l_caco3"])
    if acidified or alkalinity <= PURE_ALKALINITY:
        return ""
    return "alkalinity_unknown" if np.isnan(alkalinity) else "alkaline_water"


def _times(sizes: Sequence[tuple[float, int]]) -> int:
    return sum(times for _, times in sizes)
