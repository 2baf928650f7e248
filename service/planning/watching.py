"""Who wants to know what planning rows took and came to: numbers for operation, never contents."""

from collections.abc import Callable
from typing import Final

import numpy as np

Watcher = Callable[[np.ndarray, float], None]
"""Receives finished rows of `rows.DOSE_RESULT` and the seconds that planning them took."""

_watchers: Final[list[Watcher]] = []


def watch(watcher: Watcher) -> None:
    """
    Have every finished plan reported.

    Parameters
    ----------
    watcher : callable
        Is called on the thread that planned; told once, it stays.
    """
    if watcher not in _watchers:
        _watchers.append(watcher)


def report(results: np.ndarray, seconds: float) -> None:
    """
    Report finished rows.

    Parameters
    ----------
    results : ndarray of `rows.DOSE_RESULT`, shape (n_rows,)
        The rows.
    seconds : float
        What planning them took [s].
    """
    for watcher in _watchers:
        watcher(results, seconds)
