"""
The salt of one pot day by day, kept as weeks.

Every day what the schedule says is poured, then plant and air take their water. Salt is counted as
conductivity times volume; what is poured, what drains, what the plant takes and what is left add
up exactly.
"""

from typing import Final

import numpy as np

from service.chemistry.kernel import kernel
from service.chemistry.root_zone import salt_after_pouring

DRY_SHARE: Final = 0.2
"""Share of the held water that a pot keeps however long it dries; common practice."""

MOIST: Final = 0
"""Highest conductivity just after a watering; at full pot where there was none [mS/cm]."""
DRIEST: Final = 1
"""Highest conductivity of the week [mS/cm]."""
POURED: Final = 2
POURED_SALT: Final = 3
DRAINED: Final = 4
DRAINED_SALT: Final = 5
TAKEN_SALT: Final = 6
"""Volumes [L] and salt [mS/cm L] of the week; taken is what the plant took."""
SALT: Final = 7
WATER: Final = 8
"""Salt [mS/cm L] and water [L] in the pot when the week ends."""
DRIED_OUT: Final = 9
"""Days on which the pot was at its driest."""
COLUMN_COUNT: Final = 10


@kernel
def salt_weeks(
    day: np.ndarray,
    volume: np.ndarray,
    strength: np.ndarray,
    drains: np.ndarray,
    is_feed: np.ndarray,
    held: float,
    efficiency: float,
    use: float,
    start: float,
    uptake: float,
    weeks: np.ndarray,
) -> None:
    """
    Follow the salt of one pot.

    Parameters
    ----------
    day : ndarray of int, shape (n_waterings,)
        Days of the waterings, rising from 1.
    volume : ndarray, shape (n_waterings,)
        Volumes poured [L].
    strength : ndarray, shape (n_waterings,)
        Conductivities [mS/cm].
    drains : ndarray of int, shape (n_waterings,)
        1 where the surplus drains, 0 where no more is poured than the pot takes.
    is_feed : ndarray of int, shape (n_waterings,)
        1 where the plant takes salt.
    held : float
        Water of the full pot, above 0 [L].
    efficiency : float
        Share of the passing water that rinses [dimensionless].
    use : float
        Water lost in a day, at least 0 [L].
    start : float
        Conductivity of the full pot at the start [mS/cm].
    uptake : float
        Share of the salt staying with a feed that the plant takes [dimensionless].
    weeks : ndarray, shape (n_weeks, COLUMN_COUNT)
        Receives the weeks.
    """
    water = held
    salt = start * held
    floor = DRY_SHARE * held
    place = 0
    for week in range(weeks.shape[0]):
        row = weeks[week]
        for column in range(COLUMN_COUNT):
            row[column] = 0.0
        row[MOIST] = -1.0
        for today in range(7 * week + 1, 7 * week + 8):
            while place < day.size and day[place] == today:
                room = held - water
                poured = volume[place]
                if drains[place] == 0:
                    poured = min(poured, room)
                filling = min(poured, room)
                entering = strength[place]
                before = salt
                salt = salt_after_pouring(salt, water, held, poured, entering, efficiency)
                # The sum may exceed the full pot by its rounding.
                water = min(water + filling, held)
                row[POURED] += poured
                row[POURED_SALT] += entering * poured
                row[DRAINED] += poured - filling
                row[DRAINED_SALT] += before + entering * poured - salt
                if is_feed[place] == 1:
                    taken = min(uptake * entering * filling, salt)
                    salt -= taken
                    row[TAKEN_SALT] += taken
                row[MOIST] = max(row[MOIST], salt / water)
                place += 1
            if water - use <= floor:
                row[DRIED_OUT] += 1.0
                water = floor
            else:
                water -= use
            row[DRIEST] = max(row[DRIEST], salt / water)
        if row[MOIST] < 0.0:
            row[MOIST] = salt / held
        row[SALT] = salt
        row[WATER] = water
