"""A dose that is larger than the largest can, in equal cans that each are measured out."""

from dataclasses import dataclass
from math import ceil
from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.doses import plan

OK: Final = rows.STATUSES.index("ok")


@dataclass(frozen=True, eq=False)
class CanSplit:
    """
    Equal cans in place of one.

    Attributes
    ----------
    count : int
        How many are mixed.
    row, result : record
        One of them as a dose, and its plan.
    """

    count: int
    row: Any
    result: Any


def can_count(row: Any, result: Any) -> int:
    """
    Return how many cans a dose takes.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Says how large the largest can is, if anything.
    result : record of `rows.DOSE_RESULT`
        Holds the volume.

    Returns
    -------
    int
        At least 1.
    """
    volume, largest = float(result["volume_l"]), float(row["largest_can_l"])
    return ceil(volume / largest - 1e-9) if largest < volume < np.inf else 1


def can_split(asked: Any, result: Any, catalogue: Catalogue) -> CanSplit | None:
    """
    Return the cans of a dose that is larger than the largest can.

    Parameters
    ----------
    asked : record of `rows.DOSE_REQUEST`
        The dose as it was asked, before defaults.
    result : record of `rows.DOSE_RESULT`
        Its plan.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    CanSplit or None
        None where one can holds it, or nothing is to be mixed.
    """
    count = can_count(asked, result)
    if count == 1 or result["status"] != OK:
        return None
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    requests[0] = asked
    requests[0]["volume_l"] = float(result["volume_l"]) / count
    requests[0]["largest_can_l"] = np.nan
    plan(requests, results, catalogue)
    if results[0]["status"] != OK:
        return None
    return CanSplit(count, requests[0], results[0])
