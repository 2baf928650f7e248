"""From a request for a pH or an alkalinity, however it arrived, to a row of numbers, and back."""

from typing import Any, Final

import numpy as np

from service.planning import ph_adjustment_rows as ph_rows
from service.planning import reagents, rows
from service.planning.catalogue import Catalogue
from service.planning.requests import Names, TooManyProductsError, profile_of
from service.planning.water_columns import fill_water_columns, stated_values

_INSTRUMENTS: Final = ("balance_resolution_g", "syringe_resolution_ml", "largest_can_l")
_TARGETS: Final = ("target_ph", "target_alkalinity_mg_per_l_caco3")


def fill_ph_row(row: Any, result: Any, request: Any, catalogue: Names) -> None:
    """
    Write one request into a row.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        An empty row; receives the request.
    result : record of `ph_adjustment_rows.PH_RESULT`
        Receives the assumptions and cautions that reading the request already tells.
    request : object
        Attributes as in the contract of pH adjustments.
    catalogue : Names
        Knows every product and profile that the request names.

    Raises
    ------
    KeyError
        If a product is in no catalogue; the argument is the key.
    TooManyProductsError
        If the can holds more than `rows.MAXIMUM_PRODUCTS`.
    """
    profile = None if request.plants is None else request.plants.profile
    row["profile"], assumptions, cautions = profile_of(profile, catalogue)
    result["assumptions"] |= assumptions
    result["cautions"] |= cautions
    result["cautions"] |= fill_water_columns(row["water"], request.water, catalogue.water_rows)
    row["volume_l"] = request.volume_l
    for name in _TARGETS:
        value = getattr(request, name)
        if value is not None:
            row[name] = value
    if request.acid is not None:
        row["acid_kind"] = reagents.KINDS.index(request.acid.kind)
        if request.acid.percent is not None:
            row["acid_percent"] = request.acid.percent
    if request.acid_goes is not None:
        row["acid_goes"] = ph_rows.ACID_PLACES.index(request.acid_goes)
    if request.carbon_dioxide is not None:
        row["carbon_dioxide"] = ph_rows.CARBON_DIOXIDE.index(request.carbon_dioxide)
    row["reservoir"] = int(bool(request.reservoir))
    if request.limits is not None and request.limits.acid_phosphorus_mg_per_l is not None:
        row["acid_phosphorus_mg_per_l"] = request.limits.acid_phosphorus_mg_per_l
    if request.instruments is not None:
        for name in _INSTRUMENTS:
            value = getattr(request.instruments, name)
            if value is not None:
                row[name] = value
    additions = request.additions or []
    if len(additions) > rows.MAXIMUM_PRODUCTS:
        raise TooManyProductsError
    row["product_count"] = len(additions)
    for slot, each in enumerate(additions):
        row["product"][slot] = catalogue.product_position(each.product)
        by_volume = each.g_per_l is None
        row["addition_by_volume"][slot] = int(by_volume)
        row["addition_per_l"][slot] = each.ml_per_l if by_volume else each.g_per_l


def ph_inputs(row: Any, catalogue: Catalogue) -> dict[str, Any]:
    """
    Return the request that a row stands for, defaults filled in.

    Parameters
    ----------
    row : record of `ph_adjustment_rows.PH_REQUEST`
        The request after planning.
    catalogue : Catalogue
        Tables that the row refers to.

    Returns
    -------
    dict
        Nested by the names of the contract.
    """
    inputs: dict[str, Any] = {
        "plants": {"profile": catalogue.profile_names[row["profile"]]},
        "water": stated_values(row["water"]),
        "volume_l": float(row["volume_l"]),
    }
    inputs |= {name: float(row[name]) for name in _TARGETS if np.isfinite(row[name])}
    inputs["acid"] = {
        "kind": reagents.KINDS[row["acid_kind"]],
        "percent": float(row["acid_percent"]),
    }
    inputs["additions"] = [
        {
            "product": catalogue.product_rows[row["product"][slot]].key,
            "ml_per_l" if row["addition_by_volume"][slot] else "g_per_l": float(
                row["addition_per_l"][slot]
            ),
        }
        for slot in range(int(row["product_count"]))
    ]
    inputs["acid_goes"] = ph_rows.ACID_PLACES[row["acid_goes"]]
    inputs["carbon_dioxide"] = ph_rows.CARBON_DIOXIDE[row["carbon_dioxide"]]
    inputs["reservoir"] = bool(row["reservoir"])
    inputs["limits"] = {"acid_phosphorus_mg_per_l": float(row["acid_phosphorus_mg_per_l"])}
    inputs["instruments"] = {
        name: float(row[name]) for name in _INSTRUMENTS if np.isfinite(row[name])
    }
    return inputs
