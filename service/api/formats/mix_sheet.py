"""The mixes of a batch on the mixing sheet: what goes into each can, and who takes from it."""

from collections.abc import Callable, Sequence
from textwrap import wrap
from typing import Final

from service.api.batch import Batch
from service.api.formats.bench_lines import can_lines, mix_bits, mix_conductivity, mix_ph
from service.planning.mix_cans import Filling
from service.planning.mixes import SharedMix

WIDEST_LINE: Final = 94
MOST_NAMES: Final = 40
"""Rows beyond this are counted, not named, at their can."""


def mix_lines(batch: Batch, names: Sequence[str], notes: Callable[[int], str]) -> list[str]:
    """
    Return the cans of a batch as lines to read at the bench.

    Parameters
    ----------
    batch : Batch
        A batch with mixes.
    names : sequence of str
        How the sheet calls each row.
    notes : callable
        Numbers of the notes that caution bits lead to.
    """
    assert batch.mixes is not None
    mixes = batch.mixes.planned
    count = len(mixes.mixes)
    lines = [f"MIX FIRST, {count} {'mix' if count == 1 else 'mixes'}, in this order:"]
    if not mixes.feasible:
        lines.append("  NOT ALL WISHES CAN BE KEPT; these are the nearest.")
    for place, mix in enumerate(mixes.mixes):
        ph = mix_ph(mix)
        title = (
            f"Mix {place + 1}: {mix.made_l:.4g} L, EC {mix_conductivity(mix):.2f},"
            f" pH {'unknown' if ph is None else f'{ph:.1f}'}, for {_names(mix, names)}"
        )
        see = notes(mix_bits(mix))
        title += f" (see {see})" if see else ""
        lines += wrap(title, WIDEST_LINE, initial_indent="  ", subsequent_indent="      ")
        for filling in mix.fillings:
            lines += _filling(batch, mix, filling)
    return [*lines, ""]


def _names(mix: SharedMix, names: Sequence[str]) -> str:
    members = mix.rows.tolist()
    named = ", ".join(names[each] for each in members[:MOST_NAMES])
    more = len(members) - MOST_NAMES
    return f"{named} and {more} more" if more > 0 else named


def _filling(batch: Batch, mix: SharedMix, filling: Filling) -> list[str]:
    """Return one can: how often it is filled, and what goes in."""
    often = f"{filling.times} x " if filling.times > 1 else ""
    lines = [f"    {often}{filling.volume_l:.4g} L:"]
    for each in can_lines(batch, mix, filling):
        lines += wrap(
            f"[ ] {each.amount} {each.words}",
            WIDEST_LINE,
            initial_indent="      ",
            subsequent_indent="          ",
        )
    return lines
