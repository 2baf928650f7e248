"""What became of a computation, and the range in which the chemistry holds."""

from typing import Final

OK: Final = 0
OUT_OF_RANGE: Final = 1
"""Computed, but outside the published range of temperature, ionic strength or pH."""
NOT_CONVERGED: Final = 2
INVALID_INPUT: Final = 3
NO_SOLUTION: Final = 4
"""No amount of what may change reaches what was asked."""

LOWEST_PH: Final = 2.0
HIGHEST_PH: Final = 12.0

CLOSED: Final = -1.0
"""Stands for a carbon dioxide pressure when total carbon is conserved."""
