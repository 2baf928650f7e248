"""
Plain doses, read into the planners' records without a model.

A dose of numbers, words and keys alone is checked by the closed shapes of `row_structs`, as the
rows of a batch are. What they do not take, whatever the reason, the model of the contract reads: it
knows texts with units and labels, and what exactly is wrong.
"""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.api.naming import NamingError, OpenCatalogue
from service.api.row_columns import Stated, is_whole
from service.api.row_reader import holds_null, shape_from
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.requests import fill_row

Records = tuple[NDArray[np.void], NDArray[np.void]]
FLUSH: Final = "flush"
MOUNT: Final = "mount"


def plain_records(value: object, base: Catalogue) -> Records | None:
    """
    Return the records of a dose that is as plain as it looks.

    Parameters
    ----------
    value : object
        The request as JSON holds it.
    base : Catalogue
        Everything that a plain dose can name.

    Returns
    -------
    tuple of ndarray, shape (1,), or None
        Request and result, not yet planned; None for what the model has to read.
    """
    if not isinstance(value, dict) or holds_null(value):
        return None
    # An object that says nothing is not the same as none: the model decides.
    if {} in value.values():
        return None
    shape = shape_from(value)
    if shape is None or not _is_complete(shape):
        return None
    for strength_of in (shape, *(shape.products or ())):
        if strength_of.strength is not None:
            strength_of.strength = Stated(strength_of.strength)
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    try:
        fill_row(requests[0], results[0], shape, OpenCatalogue(base), limited=True)
    except NamingError:
        return None
    return requests, results


def _is_complete(shape: Any) -> bool:
    """Tell whether a shape is one dose, by the rules of `DoseRequest`."""
    several = shape.products is not None
    if shape.application != FLUSH or several or shape.product is not None:
        if (shape.product is not None) == several:
            return False
        if several and shape.strength is not None:
            return False
    strengths = [each.strength for each in shape.products or ()]
    if shape.strength is not None:
        strengths.append(shape.strength)
    if not all(map(is_whole, strengths)):
        return False
    if shape.air is not None and not _is_said(shape.air.humidity_percent):
        return False
    if shape.acid is not None and shape.acid.kind is None:
        return False
    return _has_one_volume(shape)


def _has_one_volume(shape: Any) -> bool:
    """Tell whether the volume is known, and said in one way."""
    plants = shape.plants
    counted = plants is not None and _is_said(plants.count)
    volume, each = _is_said(shape.volume_l), _is_said(shape.volume_per_plant_ml)
    if volume or (each and counted):
        return not (volume and each)
    return counted and (_is_said(plants.pot_diameter_cm) or plants.setup == MOUNT)


def _is_said(number: float) -> bool:
    return number == number
