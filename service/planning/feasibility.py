"""Why a row is infeasible, and the request nearest to it that is not."""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.card import number
from service.planning.words import BINDING_WORDS

INFEASIBLE: Final = rows.STATUSES.index("infeasible")


def conflicts(result: Any) -> list[dict[str, Any]]:
    """
    Return the limit that the water of an infeasible row passes.

    Parameters
    ----------
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    list of dict
        `limit`, `needed`, `allowed` and `message`; empty for a row that is feasible.
    """
    if result["status"] != INFEASIBLE:
        return []
    limit = rows.BINDING_LIMITS[result["binding_limit"]]
    needed, allowed = None, None
    if limit == "conductivity":
        needed = number(result["water_ec_ms_per_cm"])
        allowed = number(result["ec_ceiling_ms_per_cm"])
    elif limit == "total_nitrogen":
        needed = number(result["water_nitrogen_mg_per_l"])
        allowed = number(result["nitrogen_ceiling_mg_per_l"])
    words = BINDING_WORDS[limit]
    message = f"The water alone is above the ceiling of {words}."
    return [{"limit": limit, "needed": needed, "allowed": allowed, "message": message}]


def nearest_feasible(row: Any, result: Any) -> dict[str, Any] | None:
    """
    Return the water that would do for an infeasible row: this one blended with pure water.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Holds the water.
    result : record of `rows.DOSE_RESULT`
        The finished row.

    Returns
    -------
    dict or None
        `water`, an analysis to ask again with, and the litres of both waters; None for a row that
        is feasible.
    """
    share = float(result["feasible_water_share_percent"]) / 100.0
    if result["status"] != INFEASIBLE or not 0.0 < share < 1.0:
        return None
    kept = ("ph", "temperature_celsius")
    water = {
        name: float(value) * (1.0 if name in kept else share)
        for name, value in zip(rows.WATER_FIELDS, row["water"].tolist(), strict=True)
        if np.isfinite(value)
    }
    volume = float(result["volume_l"])
    return {
        "water": {name: float(f"{value:.4g}") for name, value in water.items()},
        "this_water_l": float(f"{share * volume:.4g}"),
        "pure_water_l": float(f"{(1.0 - share) * volume:.4g}"),
    }
