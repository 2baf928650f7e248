"""Water presets: generic analyses a grower can start from."""

import functools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Final

from service.reference.sources import require_source
from service.reference.tables import ReferenceDataError, Row, number, read_table

_QUANTITIES: Final = MappingProxyType(
    {
        "ph": ("ph", "1"),
        "alkalinity": ("alkalinity_mg_per_l_caco3", "mg/L CaCO3"),
        "calcium": ("calcium_mg_per_l", "mg/L"),
        "magnesium": ("magnesium_mg_per_l", "mg/L"),
        "potassium": ("potassium_mg_per_l", "mg/L"),
        "sodium": ("sodium_mg_per_l", "mg/L"),
        "chloride": ("chloride_mg_per_l", "mg/L"),
        "sulfate": ("sulfate_mg_per_l", "mg/L SO4"),
        "nitrate": ("nitrate_mg_per_l", "mg/L NO3"),
        "ammonium_nitrogen": ("ammonium_nitrogen_mg_per_l", "mg/L"),
        "boron": ("boron_mg_per_l", "mg/L"),
        "fluoride": ("fluoride_mg_per_l", "mg/L"),
        "silica": ("silica_mg_per_l", "mg/L SiO2"),
        "ec": ("ec_ms_per_cm", "mS/cm"),
    }
)


@dataclass(frozen=True, slots=True)
class Water:
    """
    A water preset; the fields are those of a water analysis.

    Parameters
    ----------
    key : str
        Preset name.
    name : str
        Name for people.
    ph : float
        pH at 25 °C.
    alkalinity_mg_per_l_caco3 : float
        Total alkalinity as CaCO3.
    calcium_mg_per_l, magnesium_mg_per_l, potassium_mg_per_l, sodium_mg_per_l : float
        Cations as elements.
    chloride_mg_per_l : float
        Chloride.
    sulfate_mg_per_l : float
        Sulfate as SO4.
    nitrate_mg_per_l : float
        Nitrate as NO3.
    ammonium_nitrogen_mg_per_l : float
        Ammonium as N.
    boron_mg_per_l, fluoride_mg_per_l : float
        Boron and fluoride as elements.
    silica_mg_per_l : float
        Silica as SiO2.
    ec_ms_per_cm : float
        Conductivity at 25 °C.
    sources : tuple of str
        Source keys.
    note : str
        Remark, may be empty.
    """

    key: str
    name: str
    ph: float
    alkalinity_mg_per_l_caco3: float
    calcium_mg_per_l: float
    magnesium_mg_per_l: float
    potassium_mg_per_l: float
    sodium_mg_per_l: float
    chloride_mg_per_l: float
    sulfate_mg_per_l: float
    nitrate_mg_per_l: float
    ammonium_nitrogen_mg_per_l: float
    boron_mg_per_l: float
    fluoride_mg_per_l: float
    silica_mg_per_l: float
    ec_ms_per_cm: float
    sources: tuple[str, ...]
    note: str

    def analysis(self) -> dict[str, float]:
        """
        Return the analysis as the fields of a `water` object.

        Returns
        -------
        dict of str to float
            pH, alkalinity, ions and conductivity by field name.
        """
        text_fields = ("key", "name", "sources", "note")
        return {
            field.name: getattr(self, field.name)
            for field in fields(self)
            if field.name not in text_fields
        }


@functools.cache
def waters() -> Mapping[str, Water]:
    """
    Return the water presets.

    Returns
    -------
    mapping of str to Water
        By key.

    Raises
    ------
    ReferenceDataError
        If the packaged tables are wrong.
    """
    values: dict[str, list[Row]] = defaultdict(list)
    columns = ("water", "quantity", "value", "unit", "basis", "source")
    for row in read_table("water_values", columns):
        require_source(row["source"], row["row"])
        values[row["water"]].append(row)
    result: dict[str, Water] = {}
    for row in read_table("waters", ("key", "name", "note")):
        result[row["key"]] = _water(row, values.pop(row["key"], []))
    if values:
        raise ReferenceDataError("water_values.csv", f"names unknown waters {sorted(values)}")
    return MappingProxyType(result)


def _water(row: Row, values: list[Row]) -> Water:
    # What a preset does not state it does not hold: ammonium, boron, fluoride and silica are 0.
    analysis = {
        name: 0.0
        for quantity, (name, _) in _QUANTITIES.items()
        if quantity in ("ammonium_nitrogen", "boron", "fluoride", "silica")
    }
    for value in values:
        name, unit = _QUANTITIES.get(value["quantity"], ("", ""))
        if not name or value["unit"] != unit:
            raise ReferenceDataError(value["row"], "has an unknown quantity or the wrong unit")
        analysis[name] = number(value)
    missing = [name for name, _ in _QUANTITIES.values() if name not in analysis]
    if missing:
        raise ReferenceDataError(row["row"], f"lacks {', '.join(missing)}")
    return Water(
        key=row["key"],
        name=row["name"],
        sources=tuple(dict.fromkeys(value["source"] for value in values)),
        note=row["note"],
        **analysis,
    )
