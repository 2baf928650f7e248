"""
Two waters mixed to limits: the largest share of the first that keeps every one of them.

Ions and alkalinity mix by volume. Conductivity does not: the ions of a weaker water conduct
better, so that it is computed from the ions of each blend. pH is that of the blended ions.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

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
from service.planning.notes import RefusalError
from service.reference.components import CALCIUM, MAGNESIUM
from service.reference.formula import atomic_weights, molar_mass
from service.units.canonical import (
    BICARBONATE_MG_PER_MEQ,
    CALCIUM_CARBONATE_MG_PER_MEQ,
)

FloatArray = NDArray[np.float64]

PLACES: Final = ("first", "second")
POINTS: Final = 201
"""Shares at which a conductivity that is no straight line is tried before it is closed in on."""

BISECTIONS: Final = 50
SHARE_STEP: Final = 1e-4
"""Step to which a share is rounded, towards the limit that it keeps."""

CONDUCTIVITY: Final = "ec_ms_per_cm"
ALKALINITY: Final = "alkalinity_mg_per_l_caco3"
HARDNESS: Final = "hardness_mg_per_l_caco3"
TOLERANCE: Final = 1e-9
SMALLEST_LIMIT: Final = 1e-3
"""Limit under which an excess is counted against this much, in the unit of the limit."""

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


@dataclass(frozen=True)
class Bound:
    """
    One limit of a blend.

    Attributes
    ----------
    name : str
        Dotted name in the request, such as ``limits.sodium_mg_per_l``.
    value : str
        The value that it bounds, by the name of a water analysis.
    allowed : float
        The limit, in the unit of the name.
    is_maximum : bool
        Whether it is the most or the least.
    """

    name: str
    value: str
    allowed: float
    is_maximum: bool


@dataclass(frozen=True, eq=False)
class Blend:
    """
    The blend that was found.

    Attributes
    ----------
    share : float
        Share of the first water, 0 to 1.
    feasible : bool
        Whether it keeps every limit.
    binding : str or None
        Name of the limit that stops the first water.
    conflicts : list of dict
        Limits that collide, as the contract writes them.
    """

    share: float
    feasible: bool
    binding: str | None
    conflicts: list[dict[str, Any]]


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
        return float(conductivity_of_total(self.composition(share), self._work)) + unexplained

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
            self.composition(share), REFERENCE_TEMPERATURE, CLOSED, self._work, state
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


def bounds_of(limits: Mapping[str, float], minima: Mapping[str, float]) -> list[Bound]:
    """
    Return the limits of a request.

    Parameters
    ----------
    limits, minima : mapping of str to float
        Most and least, by the names of a water analysis.

    Returns
    -------
    list of Bound
        Maxima first.
    """
    listed = [Bound(f"limits.{name}", name, value, True) for name, value in limits.items()]
    return listed + [Bound(f"minima.{name}", name, least, False) for name, least in minima.items()]


def largest_share(pair: WaterPair, bounds: Sequence[Bound]) -> Blend:
    """
    Find the largest share of the first water that keeps every limit.

    Parameters
    ----------
    pair : WaterPair
        The two waters.
    bounds : sequence of Bound
        What the blend must keep.

    Returns
    -------
    Blend
        The share, or that which passes the limits least where no share keeps them.

    Raises
    ------
    RefusalError
        If a water does not state a value that is bounded.
    """
    for bound in bounds:
        for place, values in zip(PLACES, pair.values, strict=True):
            if bound.value != CONDUCTIVITY and bound.value not in values:
                raise RefusalError(
                    "blend_value_unknown", bound.name, limit=bound.value, place=place
                )
    shares = np.linspace(0.0, 1.0, POINTS)
    excesses = _excesses(pair, bounds, shares)
    worst = excesses.max(axis=0) if bounds else np.zeros(POINTS)

    def kept(share: float) -> bool:
        return all(_excess(pair, bound, share) <= TOLERANCE for bound in bounds)

    if not bounds or worst[-1] <= TOLERANCE:
        return Blend(1.0, feasible=True, binding=None, conflicts=[])
    good = np.flatnonzero(worst <= TOLERANCE)
    start = float(shares[good[-1]]) if good.size else _between(pair, bounds, worst, shares, kept)
    if np.isnan(start):
        share = float(shares[int(np.argmin(worst))])
        return Blend(share, False, None, _conflicts(pair, bounds, excesses, shares, share))
    low, high = start, min(start + 1.0 / (POINTS - 1), 1.0)
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if kept(middle) else (low, middle)
    passed = max(bounds, key=lambda bound: _excess(pair, bound, high))
    rounded = np.floor(low / SHARE_STEP + TOLERANCE) * SHARE_STEP
    share = float(rounded) if kept(float(rounded)) else low
    return Blend(share, feasible=True, binding=passed.name, conflicts=[])


def _excess(pair: WaterPair, bound: Bound, share: float) -> float:
    """Return by how much of itself a limit is passed, negative where it is kept."""
    return _beyond(bound, pair.value(bound.value, share))


def _beyond(bound: Bound, value: float) -> float:
    """Return by how much of itself a value passes a limit."""
    beyond = value - bound.allowed if bound.is_maximum else bound.allowed - value
    return beyond / max(bound.allowed, SMALLEST_LIMIT)


def _excesses(pair: WaterPair, bounds: Sequence[Bound], shares: FloatArray) -> FloatArray:
    """Return the excess of every limit at every share; each value is computed once."""
    values = {
        name: [pair.value(name, share) for share in shares.tolist()]
        for name in dict.fromkeys(bound.value for bound in bounds)
    }
    return np.array([[_beyond(bound, value) for value in values[bound.value]] for bound in bounds])


def _between(
    pair: WaterPair,
    bounds: Sequence[Bound],
    worst: FloatArray,
    shares: FloatArray,
    kept: Callable[[float], bool],
) -> float:
    """Look for a share between the tried ones where the least excess is; NaN without one."""
    place = int(np.argmin(worst))
    low, high = float(shares[max(place - 1, 0)]), float(shares[min(place + 1, POINTS - 1)])

    def excess(share: float) -> float:
        return max(_excess(pair, bound, share) for bound in bounds)

    for _ in range(BISECTIONS):
        left, right = low + (high - low) / 3.0, high - (high - low) / 3.0
        if excess(left) <= excess(right):
            high = right
        else:
            low = left
    middle = 0.5 * (low + high)
    return middle if kept(middle) else np.nan


def _conflicts(
    pair: WaterPair,
    bounds: Sequence[Bound],
    excesses: FloatArray,
    shares: FloatArray,
    share: float,
) -> list[dict[str, Any]]:
    """Return the limits that collide: one that no blend keeps, or those that no blend shares."""
    never = [row.min() > TOLERANCE for row in excesses]
    listed = []
    for place, bound in enumerate(bounds):
        if not never[place] and any(never):
            continue
        best = float(shares[int(np.argmin(excesses[place]))]) if never[place] else share
        value = pair.value(bound.value, best)
        if not never[place] and _excess(pair, bound, share) < -0.02:
            continue
        word = "at most" if bound.is_maximum else "at least"
        why = (
            f"No blend of these waters keeps {bound.value} {word} {bound.allowed:g}: the nearest"
            f" has {value:.3g}."
            if never[place]
            else f"{bound.value} {word} {bound.allowed:g} leaves no share of the first water that"
            " the other limits allow."
        )
        listed.append(
            {"limit": bound.name, "needed": value, "allowed": bound.allowed, "message": why}
        )
    return listed


def eased_limits(pair: WaterPair, bounds: Sequence[Bound], share: float) -> dict[str, Any]:
    """
    Return limits that the blend of a share keeps, the caller's own where they are kept already.

    Parameters
    ----------
    pair : WaterPair
        The two waters.
    bounds : sequence of Bound
        What the caller asked for.
    share : float
        Share of the first water.

    Returns
    -------
    dict
        `limits` and `minima` of a request that is feasible.
    """
    eased: dict[str, dict[str, float]] = {"limits": {}, "minima": {}}
    for bound in bounds:
        value = pair.value(bound.value, share)
        group = "limits" if bound.is_maximum else "minima"
        kept = _excess(pair, bound, share) <= TOLERANCE
        outward = 1.0 + 1e-3 if bound.is_maximum else 1.0 - 1e-3
        eased[group][bound.value] = bound.allowed if kept else float(f"{value * outward:.5g}")
    return {group: limits for group, limits in eased.items() if limits}
