"""The columns of a water analysis: filled from a request, and read back."""

import math
import operator
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.planning import rows
from service.planning.cautions import caution_bit

SOFTENED_WATER: Final = caution_bit("softened_water")
_SOFTENED: Final = "softened_tap"
_stated: Final = operator.attrgetter(*rows.WATER_FIELDS)
_NOTHING: Final = np.uint64(0)


def fill_water_columns(
    columns: NDArray[np.float64], water: Any, presets: Mapping[str, NDArray[np.float64]]
) -> np.uint64:
    """
    Write a water into its columns.

    Parameters
    ----------
    columns : ndarray, shape (n_water_fields,)
        Receives the values; what is not stated keeps its own.
    water : str, mapping or object
        Key of a preset, or the values of a water analysis by name or as attributes.
    presets : mapping of str to ndarray
        Columns of the presets.

    Returns
    -------
    uint64
        Caution bits that the choice itself tells.
    """
    if isinstance(water, str):
        columns[:] = presets[water]
        return SOFTENED_WATER if water == _SOFTENED else _NOTHING
    values = map(water.get, rows.WATER_FIELDS) if isinstance(water, Mapping) else _stated(water)
    for position, value in enumerate(values):
        if value is not None and value == value:
            columns[position] = value
    return _NOTHING


def stated_values(columns: NDArray[np.float64] | Sequence[float]) -> dict[str, float]:
    """
    Return what an analysis states.

    Parameters
    ----------
    columns : ndarray or sequence of float, shape (n_water_fields,)
        Columns of `rows.WATER_FIELDS`.

    Returns
    -------
    dict of str to float
        The finite values by the names of a water analysis.
    """
    values: Sequence[float] = columns.tolist() if isinstance(columns, np.ndarray) else columns
    return {
        name: value
        for name, value in zip(rows.WATER_FIELDS, values, strict=True)
        if math.isfinite(value)
    }
