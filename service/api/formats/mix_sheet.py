"""The mixes of a batch on the mixing sheet: what goes into each can, and who takes from it."""

from collections.abc import Callable, Iterator, Sequence
from textwrap import wrap
from typing import Any, Final

import numpy as np

from service.planning.card import additions
from service.planning.catalogue import Catalogue
from service.planning.mix_cans import Filling
from service.planning.mix_card import acid_to_add
from service.planning.mixes import Mixes, SharedMix

WIDEST_LINE: Final = 94
MOST_NAMES: Final = 40
"""Rows beyond this are counted, not named, at their can."""


def mix_lines(
    mixes: Mixes,
    names: Sequence[str],
    catalogue: Catalogue,
    addition: Callable[[dict[str, Any]], str],
    notes: Callable[[int], str],
) -> list[str]:
    """
    Return the cans of a batch as lines to read at the bench.

    Parameters
    ----------
    mixes : Mixes
        The planned mixes.
    names : sequence of str
        How the sheet calls each row.
    catalogue : Catalogue
        Everything that the rows name.
    addition : callable
        Words of one addition.
    notes : callable
        Numbers of the notes that caution bits lead to.
    """
    count = len(mixes.mixes)
    lines = [f"MIX FIRST, {count} {'mix' if count == 1 else 'mixes'}, in this order:"]
    if not mixes.feasible:
        lines.append("  NOT ALL WISHES CAN BE KEPT; these are the nearest.")
    for place, mix in enumerate(mixes.mixes):
        title = (
            f"Mix {place + 1}: {mix.made_l:.4g} L, EC {_conductivity(mix):.2f},"
            f" pH {_ph(mix)}, for {_names(mix, names)}"
        )
        see = notes(int(np.bitwise_or.reduce([each.result["cautions"] for each in mix.fillings])))
        title += f" (see {see})" if see else ""
        lines += wrap(title, WIDEST_LINE, initial_indent="  ", subsequent_indent="      ")
        for filling in mix.fillings:
            lines += _filling(filling, mix, catalogue, addition)
    return [*lines, ""]


def weighed_cans(mixes: Mixes) -> Iterator[tuple[str, Any, Any, int]]:
    """Yield name, request, result and number of every can that is weighed in."""
    for place, mix in enumerate(mixes.mixes):
        if mix.source is None:
            for filling in mix.fillings:
                yield f"mix {place + 1}", filling.request, filling.result, filling.times


def _conductivity(mix: SharedMix) -> float:
    return float(mix.fillings[0].result["predicted_ec_ms_per_cm"])


def _ph(mix: SharedMix) -> str:
    ph = float(mix.fillings[0].result["predicted_ph"])
    return f"{ph:.1f}" if ph == ph else "unknown"


def _names(mix: SharedMix, names: Sequence[str]) -> str:
    members = mix.rows.tolist()
    named = ", ".join(names[each] for each in members[:MOST_NAMES])
    more = len(members) - MOST_NAMES
    return f"{named} and {more} more" if more > 0 else named


def _filling(
    filling: Filling,
    mix: SharedMix,
    catalogue: Catalogue,
    addition: Callable[[dict[str, Any]], str],
) -> list[str]:
    """Return one can: how often it is filled, and what goes in."""
    often = f"{filling.times} x " if filling.times > 1 else ""
    acid = acid_to_add(filling)
    parts: list[str] = []
    if mix.source is None:
        parts += [addition(each) for each in additions(filling.request, filling.result, catalogue)]
        if acid is not None:
            parts.append(
                f"{acid['amount_text']} {acid['name']}: half, wait 15 min, measure, then the rest"
            )
    else:
        parts.append(f"{filling.volume_l - filling.portion_l:.4g} L water")
        if acid is not None:
            parts.append(f"{acid['amount_text']} {acid['name']} into this water, stir")
        parts.append(f"{filling.portion_l:.4g} L of mix {mix.source + 1}")
    lines = [f"    {often}{filling.volume_l:.4g} L:"]
    for part in parts:
        lines += wrap(
            f"[ ] {part}", WIDEST_LINE, initial_indent="      ", subsequent_indent="          "
        )
    return lines
