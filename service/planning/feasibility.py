"""Why a row is infeasible, and the request nearest to it that is not."""

from typing import Any, Final

import numpy as np

from service.planning import rows
from service.planning.acid_dose import LARGEST_ACID_PHOSPHORUS, phosphorus_of_acid
from service.planning.card import number
from service.planning.catalogue import Catalogue
from service.planning.doses import plan
from service.planning.water_columns import stated_values
from service.planning.words import BINDING_WORDS

INFEASIBLE: Final = rows.STATUSES.index("infeasible")
OK: Final = rows.STATUSES.index("ok")
BY_ACID: Final = "acid_phosphorus"
OTHER_ACIDS: Final = ("citric", "nitric", "sulfuric")
"""Acids tried in place of phosphoric, the mildest first."""


def conflicts(row: Any, result: Any) -> list[dict[str, Any]]:
    """
    Return the limit that the water of an infeasible row, or its acid, passes.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request, defaults filled in.
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
    elif limit == BY_ACID:
        needed = phosphorus_of_acid(row["acid_kind"], result["acid_mmol_per_l"])
        allowed = LARGEST_ACID_PHOSPHORUS
        message = (
            f"{needed:.0f} mg/L phosphorus would come from the acid alone; at most {allowed:.0f} "
            "mg/L may. Take another acid, or rain or reverse osmosis water in the blend."
        )
        return [{"limit": limit, "needed": needed, "allowed": allowed, "message": message}]
    words = BINDING_WORDS[limit]
    message = f"The water alone is above the ceiling of {words}."
    return [{"limit": limit, "needed": needed, "allowed": allowed, "message": message}]


def nearest_feasible(
    row: Any, result: Any, catalogue: Catalogue, asked: Any = None
) -> dict[str, Any] | None:
    """
    Return what would do for an infeasible row: its water blended with pure water, or another acid.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        Holds the water.
    result : record of `rows.DOSE_RESULT`
        The finished row.
    catalogue : Catalogue
        Tables that the row refers to.
    asked : record of `rows.DOSE_REQUEST` or None
        The request as it was asked, before defaults were filled in.

    Returns
    -------
    dict or None
        `water`, an analysis to ask again with, and the litres of both waters; or `acid` with what
        the can then takes. None for a row that is feasible.
    """
    if rows.BINDING_LIMITS[result["binding_limit"]] == BY_ACID:
        return _another_acid(row if asked is None else asked, result, catalogue)
    share = float(result["feasible_water_share_percent"]) / 100.0
    if result["status"] != INFEASIBLE or not 0.0 < share < 1.0:
        return None
    kept = ("ph", "temperature_celsius")
    water = {
        name: value * (1.0 if name in kept else share)
        for name, value in stated_values(row["water"]).items()
    }
    volume = float(result["volume_l"])
    return {
        "water": {name: float(f"{value:.4g}") for name, value in water.items()},
        "this_water_l": float(f"{share * volume:.4g}"),
        "pure_water_l": float(f"{(1.0 - share) * volume:.4g}"),
    }


def _another_acid(asked: Any, result: Any, catalogue: Catalogue) -> dict[str, Any] | None:
    """Return the first other acid with which the row has an answer, and its amounts."""
    for kind in OTHER_ACIDS:
        requests, results = rows.empty_requests(1), rows.empty_results(1)
        requests[0] = asked
        requests[0]["acid_kind"] = rows.ACID_KINDS.index(kind)
        requests[0]["acid_percent"] = np.nan
        results[0]["assumptions"] = result["assumptions"]
        plan(requests, results, catalogue)
        found = results[0]
        if found["problem"] == 0 and found["status"] == OK:
            single = int(asked["product_count"]) == 1
            liquid = single and catalogue.product_rows[asked["product"][0]].liquid
            amount = float(found["amount"][0]) if single else None
            return {
                "acid": {"kind": kind, "percent": float(requests[0]["acid_percent"])},
                "acid_volume_ml": _figures(found["acid_volume_ml"]),
                "acid_mass_g": _figures(found["acid_mass_g"]),
                "product_mass_g": None if liquid else amount,
                "product_volume_ml": amount if liquid else None,
                "predicted_ph": _figures(found["predicted_ph"]),
            }
    return None


def _figures(value: float) -> float | None:
    """Return a number with four figures, None where there is none."""
    known = number(value)
    return None if known is None else float(f"{known:.4g}")
