"""Acids and bases for pH adjustment: what a mole brings, usual strengths, legal limits."""

import functools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES
from service.reference.formula import molar_mass
from service.reference.sources import require_source
from service.reference.tables import ReferenceDataError, Row, number, read_table

ROLES: Final = ("acid", "base")


@dataclass(frozen=True, slots=True, eq=False)
class Acid:
    """
    An acid or a base, apart from its strength.

    Parameters
    ----------
    key : str
        ``nitric``, ``phosphoric``, ``sulfuric``, ``citric``, ``potassium_hydroxide``,
        ``potassium_bicarbonate`` or ``potassium_carbonate``.
    name : str
        Name for people.
    role : str
        ``acid`` or ``base``.
    form : str
        ``liquid`` when it is always a solution, otherwise ``solid`` at full strength.
    formula : str
        Chemical formula of the pure substance.
    molar_mass_g_per_mol : float
        Molar mass of the pure substance.
    composition_mol_per_mol : ndarray, shape (n_components,)
        Conserved components that one mole brings.
    usual_strengths_percent : tuple of float
        Commercial strengths, mass per cent.
    default_strength_percent : float
        Strength assumed when a caller names none.
    restricted_above_percent : float or None
        Strength above which European law restricts sale to members of the public.
    sources : tuple of str
        Source keys.
    note : str
        What a grower should know.
    """

    key: str
    name: str
    role: str
    form: str
    formula: str
    molar_mass_g_per_mol: float
    composition_mol_per_mol: NDArray[np.float64]
    usual_strengths_percent: tuple[float, ...]
    default_strength_percent: float
    restricted_above_percent: float | None
    sources: tuple[str, ...]
    note: str


@functools.cache
def acids() -> Mapping[str, Acid]:
    """
    Return the acids and bases.

    Returns
    -------
    mapping of str to Acid
        By key, acids first.

    Raises
    ------
    ReferenceDataError
        If the packaged tables are wrong.
    """
    values: dict[str, list[Row]] = defaultdict(list)
    for row in read_table("acid_values", ("acid", "quantity", "value", "unit", "basis", "source")):
        require_source(row["source"], row["row"])
        values[row["acid"]].append(row)
    result: dict[str, Acid] = {}
    for row in read_table("acids", ("key", "name", "role", "form", "formula", "note")):
        if row["role"] not in ROLES:
            raise ReferenceDataError(row["row"], "role must be acid or base")
        result[row["key"]] = _acid(row, values.pop(row["key"], []))
    if values:
        raise ReferenceDataError("acid_values.csv", f"names unknown acids {sorted(values)}")
    return MappingProxyType(result)


def _acid(row: Row, values: list[Row]) -> Acid:
    composition = np.zeros(COMPONENT_COUNT)
    strengths: list[float] = []
    default: float | None = None
    restricted: float | None = None
    for value in values:
        quantity, _, name = value["quantity"].partition(".")
        if quantity == "component":
            if name not in COMPONENT_NAMES:
                raise ReferenceDataError(value["row"], f"unknown component {name!r}")
            composition[COMPONENT_NAMES.index(name)] = number(value)
        elif quantity == "usual_strength":
            strengths.append(number(value))
            if value["note"] == "default":
                default = number(value)
        elif quantity == "restricted_above":
            restricted = number(value)
        else:
            raise ReferenceDataError(value["row"], f"unknown quantity {quantity!r}")
    if default is None:
        raise ReferenceDataError(row["row"], "has no default strength")
    composition.setflags(write=False)
    return Acid(
        key=row["key"],
        name=row["name"],
        role=row["role"],
        form=row["form"],
        formula=row["formula"],
        molar_mass_g_per_mol=molar_mass(row["formula"]),
        composition_mol_per_mol=composition,
        usual_strengths_percent=tuple(strengths),
        default_strength_percent=default,
        restricted_above_percent=restricted,
        sources=tuple(dict.fromkeys(value["source"] for value in values)),
        note=row["note"],
    )
