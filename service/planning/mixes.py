"""
A batch in few cans: which rows share one, how each can is made, and what every row gets of it.

Rows are planned on their own first. `mix_grouping` decides which share a can, `mix_dilution` which
can is poured from a stronger one, `mix_cans` plans every can by the kernel of a single dose; here
the parts come together, and a row whose ceilings a can would not keep is taken out of it.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.planning.catalogue import Catalogue
from service.planning.mix_cans import (
    Filling,
    SharedNeeds,
    fill_kept,
    filled_cans,
    planned_cans,
    shared_needs,
    with_pre_dilution_said,
)
from service.planning.mix_dilution import Dilution, dilutions
from service.planning.mix_grouping import (
    NO_COMMON_CAN,
    NO_MIX,
    SERVED,
    TOO_MANY_KINDS,
    Grouping,
    MixWishes,
    grouped,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STRENGTHS_AGREE: Final = 0.02
"""
Percent points within which a row keeps a tolerance: strengths that differ by one in ten thousand
count as one.
"""


@dataclass(frozen=True, eq=False)
class SharedMix:
    """
    One mix.

    Attributes
    ----------
    rows : ndarray of int, shape (n_members,)
        The rows that it serves.
    needed_l : float
        What they take.
    made_l : float
        What is made, with the reserve and with what weaker mixes take.
    drawn_l : float
        What weaker mixes take.
    source : int or None
        Position of the stronger mix that it is poured from.
    reason : str
        Key of `service.planning.mix_dilution.REASONS`.
    fillings : list of Filling
        Its cans, the larger ones first.
    below_own_percent : float
        The most that any of its rows gets less than it bears.
    """

    rows: IntArray
    needed_l: float
    made_l: float
    drawn_l: float
    source: int | None
    reason: str
    fillings: list[Filling]
    below_own_percent: float


@dataclass(frozen=True, eq=False)
class Mixes:
    """
    A batch in few cans.

    Attributes
    ----------
    wishes : MixWishes
        What was asked for.
    mixes : list of SharedMix
        In the order of mixing: kind by kind, the strongest first.
    mix : ndarray of int, shape (n_rows,)
        Position of the mix of each row, or `NO_MIX`.
    below_own_percent : ndarray, shape (n_rows,)
        How much less than it bears each row gets, at the amounts as measured; NaN without a mix.
    left_out : ndarray of int, shape (n_rows,)
        Position in `service.planning.mix_grouping.LEFT_OUT`.
    mean_below_own_percent : float or None
        The same over all rows, weighted by their volumes; None without a mix.
    outside : ndarray of int, shape (n_outside,)
        Rows whose mix is weaker than the tolerance lets it be.
    kind_count : int
        Number of kinds that cannot share a can.
    fewest_count : int or None
        Cans that the tolerance needs.
    """

    wishes: MixWishes
    mixes: list[SharedMix]
    mix: IntArray
    below_own_percent: FloatArray
    left_out: IntArray
    mean_below_own_percent: float | None
    outside: IntArray
    kind_count: int
    fewest_count: int | None

    @property
    def feasible(self) -> bool:
        """Whether the wishes are kept and every row with a dose has its can."""
        most = self.wishes.max_count
        refused = np.isin(self.left_out, (NO_COMMON_CAN, TOO_MANY_KINDS)).any()
        kept = most is None or len(self.mixes) <= most
        return bool(kept and not refused and not self.outside.size)


def plan_mixes(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    catalogue: Catalogue,
    wishes: MixWishes,
) -> Mixes:
    """
    Return how planned rows are served from few cans.

    Parameters
    ----------
    requests : ndarray of `rows.DOSE_REQUEST`, shape (n_rows,)
        Planned requests, defaults filled in.
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        Their plans.
    catalogue : Catalogue
        Everything that the rows name.
    wishes : MixWishes
        How many cans, how much less than its own a row may get, how much reserve, which cans.

    Returns
    -------
    Mixes
        Every row with a dose is in exactly one mix, unless its kinds are too many to list or its
        ceilings are not kept, which `left_out` says.
    """
    wishes = wishes.settled()
    grouping = grouped(requests, results, wishes)
    needs = shared_needs(requests, results, grouping, catalogue)
    wanted = needs.volume_l * (1.0 + wishes.reserve_percent / 100.0)
    _, trial = planned_cans(needs, np.arange(grouping.count), wanted, catalogue)
    made_how, made = dilutions(grouping.kind, needs.strength, trial, wanted, wishes.can_volumes_l)
    filled = [
        [with_pre_dilution_said(each) if each.portion_l else each for each in cans]
        for cans in filled_cans(needs, made, made_how, wishes.can_volumes_l, catalogue)
    ]
    served = _served(requests, results, grouping, made_how, filled, catalogue)
    left_out = grouping.left_out.copy()
    left_out[(left_out == SERVED) & ~served] = NO_COMMON_CAN
    collected = _collected(grouping, needs, made_how, filled, served, left_out, wishes)
    if not served.any():
        return collected
    below, volumes = collected.below_own_percent[served], results["volume_l"][served]
    return replace(collected, mean_below_own_percent=float(np.average(below, weights=volumes)))


def _served(
    requests: NDArray[np.void],
    results: NDArray[np.void],
    grouping: Grouping,
    made_how: list[Dilution],
    filled: list[list[Filling]],
    catalogue: Catalogue,
) -> NDArray[np.bool_]:
    """Tell which rows have a can that keeps their ceilings, at every size that it is made in."""
    served: NDArray[np.bool_] = grouping.mix != NO_MIX
    usable = [all(each.usable for each in cans) for cans in filled]
    for mix, how in enumerate(made_how):
        if how.source is not None and not usable[how.source]:
            usable[mix] = False
    served &= np.array([*usable, False], dtype=bool)[grouping.mix]
    for place in (0, -1):
        if filled:
            fill_kept(
                requests,
                results,
                np.where(served, grouping.mix, NO_MIX),
                np.stack([cans[place].request for cans in filled]),
                np.stack([cans[place].result for cans in filled]),
                catalogue.product_table,
                catalogue.profile_table,
                served,
            )
    return served


def _collected(
    grouping: Grouping,
    needs: SharedNeeds,
    made_how: list[Dilution],
    filled: list[list[Filling]],
    served: NDArray[np.bool_],
    left_out: IntArray,
    wishes: MixWishes,
) -> Mixes:
    """Return the mixes that serve a row, with what each row gets against what it bears."""
    order = np.flatnonzero(served)[np.argsort(grouping.mix[served], kind="stable")]
    bounds = np.searchsorted(grouping.mix[order], np.arange(grouping.count + 1))
    drawn = np.zeros(grouping.count)
    for mix, how in enumerate(made_how):
        if how.source is not None and bounds[mix] < bounds[mix + 1]:
            drawn[how.source] += sum(each.times * each.portion_l for each in filled[mix])
    number = np.full(served.size, NO_MIX, dtype=np.int64)
    below = np.full(served.size, np.nan)
    planned_below = np.zeros(served.size)
    renumbered: dict[int, int] = {}
    mixes: list[SharedMix] = []
    for mix, cans in enumerate(filled):
        members = order[bounds[mix] : bounds[mix + 1]]
        if not members.size and not drawn[mix]:
            continue
        renumbered[mix] = len(mixes)
        number[members] = len(mixes)
        own = grouping.strength[members]
        first = int(grouping.products[members[0], 0]) if members.size else 0
        held = min((_held(each, first) for each in cans), default=0.0)
        below[members] = 100.0 * np.maximum(1.0 - held / own, 0.0)
        planned_below[members] = 100.0 * (1.0 - needs.strength[mix] / own)
        source = made_how[mix].source
        mixes.append(
            SharedMix(
                rows=members,
                needed_l=float(needs.volume_l[mix]),
                made_l=sum(each.times * each.volume_l for each in cans),
                drawn_l=float(drawn[mix]),
                source=None if source is None else renumbered[source],
                reason=made_how[mix].reason,
                fillings=cans,
                below_own_percent=float(np.max(below[members], initial=0.0)),
            )
        )
    tolerance = wishes.tolerance_percent
    outside = planned_below > (np.inf if tolerance is None else tolerance + STRENGTHS_AGREE)
    return Mixes(
        wishes=wishes,
        mixes=mixes,
        mix=number,
        below_own_percent=below,
        left_out=left_out,
        mean_below_own_percent=None,
        outside=np.flatnonzero(outside),
        kind_count=grouping.kind_count,
        fewest_count=grouping.fewest_count,
    )


def _held(filling: Filling, product: int) -> float:
    """Return what a can holds of a product, per litre."""
    slot = filling.request["product"].tolist().index(product)
    return float(filling.result["amount"][slot]) / filling.volume_l
