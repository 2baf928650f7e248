"""All mixes of a batch together: counts, shortfalls, colliding wishes, rows that are left out."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from service.planning.mix_grouping import (
    INFEASIBLE,
    LEFT_OUT,
    MOST_MIXES,
    NO_COMMON_CAN,
    NO_MIX,
    PLAIN_WATER,
    REJECTED,
    SERVED,
    TOO_MANY_KINDS,
)
from service.planning.mixes import STRENGTHS_AGREE, Mixes
from service.planning.notes import Notes

LEFT_OUT_WORDS: Final = {
    REJECTED: "Rejected rows; their problems stand in the row.",
    INFEASIBLE: "Rows that no dose meets; each says why.",
    PLAIN_WATER: "Rows of plain water: nothing is mixed for them.",
    NO_COMMON_CAN: "Rows whose ceilings a shared can would not keep; mix them on their own.",
    TOO_MANY_KINDS: (
        f"Rows of more than {MOST_MIXES} kinds that cannot share a can; send fewer kinds at once."
    ),
}

NAMED: Final = 1_000
"""Rows beyond this are counted and not named: a batch of nonsense gets no larger answer."""


def noted(mixes: Mixes, notes: Notes) -> None:
    """
    Note what rounding does to a tolerance that is kept.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.
    notes : Notes
        Receives cautions.
    """
    tolerance = mixes.wishes.tolerance_percent
    if tolerance is None or mixes.outside.size:
        return
    below = mixes.below_own_percent[mixes.mix != NO_MIX]
    most = float(np.max(below, initial=0.0))
    if most > tolerance + STRENGTHS_AGREE:
        notes.caution("mix_rounded_beyond_tolerance", below=most)


def summary_fields(mixes: Mixes, names: Sequence[str | None]) -> dict[str, Any]:
    """
    Return what can be said of all mixes together.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.
    names : sequence of str or None
        The caller's name of each row.

    Returns
    -------
    dict
        Status, counts, volumes, shortfalls, collisions, and the rows that are in no mix.
    """
    served = mixes.mix != NO_MIX
    below = mixes.below_own_percent[served]
    needed = sum(mix.needed_l for mix in mixes.mixes)
    return {
        "status": "ok" if mixes.feasible else "infeasible",
        "mix_count": len(mixes.mixes),
        "kind_count": mixes.kind_count,
        "fewest_count": mixes.fewest_count,
        "max_count": mixes.wishes.max_count,
        "tolerance_percent": mixes.wishes.tolerance_percent,
        "reserve_percent": mixes.wishes.reserve_percent,
        "can_volumes_l": list(mixes.wishes.can_volumes_l),
        "needed_volume_l": needed,
        "volume_l": sum(mix.made_l - mix.drawn_l for mix in mixes.mixes),
        "mean_below_own_percent": mixes.mean_below_own_percent,
        "below_own_percent": float(below.max()) if below.size else None,
        "conflicts": conflicts(mixes),
        "outside_tolerance": _named(mixes.outside.tolist(), names),
        "left_out": [
            {
                "reason": word,
                "message": LEFT_OUT_WORDS[reason],
                "count": int((mixes.left_out == reason).sum()),
                **_named(np.flatnonzero(mixes.left_out == reason).tolist(), names),
            }
            for reason, word in enumerate(LEFT_OUT)
            if reason != SERVED and (mixes.left_out == reason).any()
        ],
    }


def _named(indices: list[int], names: Sequence[str | None]) -> dict[str, Any]:
    return {
        "row_indices": indices[:NAMED],
        "row_ids": [names[each] for each in indices[:NAMED]],
    }


def conflicts(mixes: Mixes) -> list[dict[str, Any]]:
    """
    Return which wishes collide.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.

    Returns
    -------
    list of dict
        Objects with `limit`, `needed`, `allowed` and `message`; empty when the wishes are kept.
    """
    most, tolerance = mixes.wishes.max_count, mixes.wishes.tolerance_percent
    found: list[tuple[str, float | None, float | None, str]] = []
    if (mixes.left_out == TOO_MANY_KINDS).any():
        words = LEFT_OUT_WORDS[TOO_MANY_KINDS]
        found.append(("mixes", float(mixes.kind_count), float(MOST_MIXES), words))
    elif most is not None and mixes.kind_count > most:
        words = (
            f"Different products, waters, pH targets or applications cannot share a can: these "
            f"rows need {mixes.kind_count} cans at least, and {len(mixes.mixes)} are given."
        )
        found.append(("mixes.max_count", float(mixes.kind_count), float(most), words))
    if mixes.outside.size and tolerance is not None:
        needed = None if mixes.fewest_count is None else float(mixes.fewest_count)
        allowed = float(MOST_MIXES if most is None else most)
        words = (
            f"With {len(mixes.mixes)} cans {mixes.outside.size} rows get more than {tolerance:g} % "
            f"less than they bear (`outside_tolerance` names them); {mixes.fewest_count} cans "
            "would keep the tolerance."
        )
        found.append(("mixes.tolerance_percent", needed, allowed, words))
    if (mixes.left_out == NO_COMMON_CAN).any():
        words = LEFT_OUT_WORDS[NO_COMMON_CAN]
        found.append(("ceilings", None, None, words))
    return [
        {"limit": limit, "needed": needed, "allowed": allowed, "message": message}
        for limit, needed, allowed, message in found
    ]
