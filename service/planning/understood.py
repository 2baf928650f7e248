"""A row as the request that it was understood to be: names of the contract, canonical units."""

import math
from typing import Any

from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.water_columns import stated_values
from service.reference.components import ELEMENT_NAMES

_PLANT_CODES = (
    ("size", rows.SIZES),
    ("setup", rows.SETUPS),
    ("growth", rows.GROWTHS),
    ("medium", rows.MEDIA),
    ("refill", rows.REFILLS),
)
_PLANT_NUMBERS = ("count", "pot_diameter_cm", "days_since_flush")
_AIR_NUMBERS = (
    "humidity_percent",
    "temperature_celsius",
    "average_humidity_percent",
    "average_temperature_celsius",
)
_VALUE_NAMES = {
    "element": "mg_per_l",
    "product": "g_per_l",
    "conductivity": "ec_ms_per_cm",
    "meter_ppm": "ppm",
}


def _numbers(record: Any, names: tuple[str, ...]) -> dict[str, float]:
    return {name: float(record[name]) for name in names if math.isfinite(record[name])}


def _strength(row: Any, slot: int) -> dict[str, Any] | None:
    code = int(row["strength_basis"][slot])
    if code == rows.ABSENT:
        return None
    basis = rows.STRENGTH_BASES[code]
    name = _VALUE_NAMES[basis]
    if basis == "product" and row["strength_by_volume"][slot] == 1:
        name = "ml_per_l"
    strength: dict[str, Any] = {"basis": basis, name: float(row["strength_value"][slot])}
    if basis == "element":
        strength["element"] = ELEMENT_NAMES[row["strength_element"][slot]]
    if math.isfinite(row["strength_scale"][slot]):
        strength["scale"] = int(row["strength_scale"][slot])
    if row["strength_counts"][slot] != rows.ABSENT:
        strength["counts"] = rows.COUNTS[row["strength_counts"][slot]]
    return strength


def understood(row: Any, catalogue: Catalogue, *, solution: bool = True) -> dict[str, Any]:
    """
    Return the request that a row stands for, defaults filled in.

    Parameters
    ----------
    row : record of `rows.DOSE_REQUEST`
        The request after planning.
    catalogue : Catalogue
        Tables that the row refers to.
    solution : bool
        Whether products, water and instruments belong to the request.

    Returns
    -------
    dict
        Nested by the names of the contract.
    """
    inputs: dict[str, Any] = {}
    if row["limited"] == 1:
        plants: dict[str, Any] = {"profile": catalogue.profile_names[row["profile"]]}
        for name, texts in _PLANT_CODES:
            if row[name] != rows.ABSENT:
                plants[name] = texts[row[name]]
        plants |= _numbers(row, _PLANT_NUMBERS)
        inputs["plants"] = plants
        inputs["air"] = _numbers(row, _AIR_NUMBERS)
        if row["application"] != rows.ABSENT:
            inputs["application"] = rows.APPLICATIONS[row["application"]]
        inputs |= _numbers(row, ("interval_days",))
    if not solution:
        return inputs
    products = [
        {
            "product": catalogue.product_rows[row["product"][slot]].key,
            "strength": _strength(row, slot),
        }
        for slot in range(int(row["product_count"]))
    ]
    if len(products) == 1:
        inputs |= products[0]
    elif products:
        inputs["products"] = products
    inputs["water"] = stated_values(row["water"])
    inputs |= _numbers(row, ("volume_l", "volume_per_plant_ml", "target_ph"))
    if row["acid_kind"] != rows.ABSENT:
        acid = {"kind": (rows.ACID_KINDS + rows.BASE_KINDS)[row["acid_kind"]]}
        inputs["acid"] = acid | _numbers(row, ("acid_percent",))
        if "acid_percent" in inputs["acid"]:
            inputs["acid"]["percent"] = inputs["acid"].pop("acid_percent")
    inputs["instruments"] = _numbers(row, rows.INSTRUMENT_NUMBERS)
    return inputs
