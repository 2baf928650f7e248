"""The mixes of a batch: from the wishes of a request to the fields of the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from service.api.schemas.batch_mixes import MixWishes as AskedMixes
from service.planning.catalogue import Catalogue
from service.planning.mix_card import mix_fields
from service.planning.mix_grouping import DEFAULT_TOLERANCE, MixWishes
from service.planning.mix_summary import noted, summary_fields
from service.planning.mixes import Mixes, plan_mixes
from service.planning.notes import Notes

if TYPE_CHECKING:
    from service.api.batch import Batch

DEFAULT_RESERVE: Final = 5.0
"""How much more than needed is mixed when nothing is said [percent]; common practice."""


@dataclass(frozen=True)
class BatchMixes:
    """
    The mixes of a batch with what is said of them.

    Attributes
    ----------
    planned : Mixes
        As the planner gives them.
    notes : Notes
        Assumptions and cautions of the mixes.
    """

    planned: Mixes
    notes: Notes


def planned_mixes(
    asked: AskedMixes,
    requests: NDArray[np.void],
    results: NDArray[np.void],
    catalogue: Catalogue,
) -> BatchMixes:
    """
    Group the rows of a planned batch into few mixes.

    Parameters
    ----------
    asked : AskedMixes
        The `mixes` of the request.
    requests, results : ndarray
        Planned rows.
    catalogue : Catalogue
        Everything that the rows name.
    """
    notes = Notes()
    if asked.max_count is None and asked.tolerance_percent is None:
        notes.assume("mix_tolerance_assumed", tolerance=DEFAULT_TOLERANCE)
    reserve = asked.reserve_percent
    if reserve is None:
        reserve = DEFAULT_RESERVE
        notes.assume("mix_reserve_assumed", reserve=reserve)
    wishes = MixWishes(
        asked.max_count, asked.tolerance_percent, reserve, tuple(asked.can_volumes_l or ())
    )
    planned = plan_mixes(requests, results, catalogue, wishes)
    noted(planned, notes)
    return BatchMixes(planned, notes)


def with_mixes(batch: Batch, asked: AskedMixes | None) -> Batch:
    """Return a planned batch with the mixes that were asked for, if any were."""
    if asked is None:
        return batch
    mixes = planned_mixes(asked, batch.requests, batch.results, batch.catalogue)
    return replace(batch, mixes=mixes)


def mixes_of(batch: Batch) -> Mapping[str, Any]:
    """Return the fields `mixes_summary` and `mixes` of an answer."""
    if batch.mixes is None:
        return {"mixes_summary": None, "mixes": []}
    planned = batch.mixes.planned
    names = [outcome.id for outcome in batch.outcomes]
    waters = [outcome.water for outcome in batch.outcomes]
    return {
        "mixes_summary": summary_fields(planned, names),
        "mixes": mix_fields(planned, names, waters, batch.catalogue),
    }
