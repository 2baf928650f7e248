"""
Status codes that kernels return beside, or instead of, a number.

A value that cannot be computed is NaN; the status says why. Codes are plain integers because
compiled functions return them for every row.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.kernel import kernel
from service.reference.components import COMPONENT_COUNT, UNMEASURED

FloatArray = npt.NDArray[np.float64]

IN_RANGE: Final = 0
BELOW_RANGE: Final = 1
ABOVE_RANGE: Final = 2
NOT_FINITE: Final = 3


@kernel
def range_status(value: float, lowest: float, highest: float) -> int:
    """
    Return whether a value lies inside the range of a model.

    Parameters
    ----------
    value : float
        The value to judge [dimensionless].
    lowest : float
        Lowest allowed value, itself allowed [dimensionless].
    highest : float
        Highest allowed value, itself allowed [dimensionless].

    Returns
    -------
    int
        `IN_RANGE`, `BELOW_RANGE`, `ABOVE_RANGE` or `NOT_FINITE`.
    """
    if not math.isfinite(value):
        return NOT_FINITE
    if value < lowest:
        return BELOW_RANGE
    if value > highest:
        return ABOVE_RANGE
    return IN_RANGE


@kernel
def composition_is_valid(composition: FloatArray) -> bool:
    """
    Tell whether every amount is finite and none but the unmeasured charge negative.

    Parameters
    ----------
    composition : ndarray, shape (COMPONENT_COUNT,)
        Amount of each component [mol/kg].

    Returns
    -------
    bool
        False for NaN, infinite or negative amounts.
    """
    for component in range(COMPONENT_COUNT):
        amount = composition[component]
        if not math.isfinite(amount):
            return False
        if amount < 0.0 and component != UNMEASURED:
            return False
    return True
