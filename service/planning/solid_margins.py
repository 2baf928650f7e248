"""
How far the model of concentrates may be off for a solid, and what that rests on.

A salt alone is as sure as its adopted solubility. In a mixture the margin is what the model missed
where such mixtures were measured; where none was, it is wider, and that is said.
"""

import functools
import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.concentrate_solids import (
    COMPOSITIONS,
    SALT_OF_SOLID,
    SOLID_NAMES,
    formula_ions,
)
from service.reference.components import COMPONENT_NAMES
from service.reference.concentrate_tables import mixture_rows, solid_rows

FloatArray = NDArray[np.float64]

MEASURED: Final = "measured"
ESTIMATED: Final = "estimated"
ALONE: Final = "single_salt"

SINGLE_MARGINS: Final = {row.solid: row.margin_percent for row in solid_rows()}
"""How far the solubility of a salt alone may be off [percent]."""

ESTIMATED_MARGIN: Final = 40.0
"""
Margin where no mixture of these ions was measured [percent]. Pairs of salts that were left out of
the fit came out up to 15 % too high (tests/published/salt_mixture_fit.py), mixtures of three salts
up to 8 % (test_salt_mixture_checks.py); one without coefficients of its own may be off by more.
"""

MINERAL_MARGIN: Final = 30.0
"""
Margin of minerals with a published constant [percent]: constants of one mineral differ by as much.
Up to an ionic strength of 0.5 mol/kg the indices of the phosphates of calcium and magnesium are
those of the model of weak solutions, which counts their ion pairs one by one, or up to 0.2 above.
"""

MINOR_SHARE: Final = 0.03
"""Share of the dissolved amount under which a component does not make a mixture of its own."""

TRACE_SHARE: Final = 0.001
"""Share of all foreign components together up to which a salt counts as alone."""

MINOR_MARGIN: Final = 5.0
"""Margin of a salt beside no more than minor amounts of others [percent]."""


def margin_of(solid: int, composition: FloatArray) -> tuple[float, str]:
    """
    Return how far the model may be off for a solid in a mixture.

    Parameters
    ----------
    solid : int
        Position in `SOLID_NAMES`.
    composition : ndarray, shape (n_components,)
        Components of the mixture; only their proportions matter.

    Returns
    -------
    margin_percent : float
        Share of the contents [percent].
    evidence : str
        ``single_salt``, ``measured`` or ``estimated``.
    """
    return margins_of((solid,), composition)[0]


def margins_of(solids: Sequence[int], composition: FloatArray) -> list[tuple[float, str]]:
    """
    Return the same as `margin_of` for several solids of one mixture.

    Parameters
    ----------
    solids : sequence of int
        Positions in `SOLID_NAMES`.
    composition : ndarray, shape (n_components,)
        Components of the mixture; only their proportions matter.

    Returns
    -------
    list of (float, str)
        Margin [percent] and evidence of each.
    """
    amounts = np.abs(composition)
    total = float(amounts.sum())
    places = np.flatnonzero(amounts > MINOR_SHARE * max(total, 1e-30)).tolist()
    foreign = _FOREIGN @ amounts <= TRACE_SHARE * total
    present = frozenset(COMPONENT_NAMES[place] for place in places)
    return [_margin(solid, present, alone=bool(foreign[solid])) for solid in solids]


_FOREIGN: Final = np.where(COMPOSITIONS == 0.0, 1.0, 0.0)
"""Which components are foreign to each solid."""


@functools.lru_cache(maxsize=16_384)
def _margin(solid: int, present: frozenset[str], *, alone: bool) -> tuple[float, str]:
    """Return the margin of a solid beside components that are no minor ones."""
    if SALT_OF_SOLID[solid] < 0:
        return MINERAL_MARGIN, ESTIMATED
    single = SINGLE_MARGINS[SOLID_NAMES[solid]]
    if alone:
        return single, ALONE
    own = frozenset(
        COMPONENT_NAMES[place] for place in np.flatnonzero(COMPOSITIONS[solid] > 0.0).tolist()
    )
    if present <= own:
        return max(single, MINOR_MARGIN), ESTIMATED
    for row in mixture_rows():
        if row.solid == SOLID_NAMES[solid] and present <= row.components | own:
            return max(single, row.margin_percent), MEASURED
    return max(single, ESTIMATED_MARGIN), ESTIMATED


@functools.lru_cache(maxsize=4096)
def margin_in_index(solid: int, percent: float) -> float:
    """
    Return a margin as a difference of the saturation index.

    Parameters
    ----------
    solid : int
        Position in `SOLID_NAMES`.
    percent : float
        Share of the contents [percent].

    Returns
    -------
    float
        The same in decadic logarithms of the ion product.
    """
    return formula_ions(solid) * math.log10(1.0 + percent / 100.0)
