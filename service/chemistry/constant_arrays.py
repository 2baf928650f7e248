"""Arrays that never change, as compiled code takes them for constants."""

from typing import Any

import numpy as np
import numpy.typing as npt


def constant_array(values: object, kind: type) -> npt.NDArray[Any]:
    """
    Return an array that cannot be written to.

    Parameters
    ----------
    values : array_like
        The values.
    kind : type
        Scalar type of numpy; indices are `numpy.uint32`, which spares compiled code the test for
        negative indices.

    Returns
    -------
    ndarray
        The values, with ``writeable`` False.
    """
    array: npt.NDArray[Any] = np.array(values, dtype=kind)
    array.flags.writeable = False
    return array
