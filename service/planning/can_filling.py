"""
How a volume is divided among the cans on hand.

A volume that nobody gave is rounded up to what a can's marks show; full cans come first, the rest
goes into the smallest can that holds it.
"""

import math
from collections.abc import Sequence
from typing import Final

MARKS_PER_DECADE: Final = 20.0
"""Marks up to each power of ten to which a volume is rounded up; common practice."""

HAIR: Final = 1e-9
"""Relative difference that binary fractions may make to a volume."""


def marked_volume(volume_l: float) -> float:
    """
    Return a volume rounded up to a mark: 24.2 L becomes 24.5 L, 0.87 L becomes 0.87 L.

    Parameters
    ----------
    volume_l : float
        Volume, above 0 [L].

    Returns
    -------
    float
        At most a twentieth of its power of ten more [L].
    """
    step = 10.0 ** math.floor(math.log10(volume_l)) / MARKS_PER_DECADE
    return float(f"{math.ceil(volume_l / step - HAIR) * step:.12g}")


def fillings(volume_l: float, cans_l: Sequence[float]) -> list[tuple[float, int]]:
    """
    Return which cans are filled how far and how often to get a volume.

    Parameters
    ----------
    volume_l : float
        Volume to mix, above 0 [L].
    cans_l : sequence of float
        Volumes of the cans on hand, each above 0; empty for one can that holds it all [L].

    Returns
    -------
    list of tuple of float and int
        Volume of a filling [L] and how often it is made; as few fillings as the largest can allows.
    """
    if not cans_l:
        return [(marked_volume(volume_l), 1)]
    largest = max(cans_l)
    full = math.floor(volume_l / largest * (1.0 + HAIR))
    rest = volume_l - full * largest
    listed = [(largest, full)] if full else []
    if rest > HAIR * volume_l:
        can = min(each for each in cans_l if each >= rest)
        filled = min(marked_volume(rest), can)
        if full and filled == largest:
            return [(largest, full + 1)]
        listed.append((filled, 1))
    return listed
