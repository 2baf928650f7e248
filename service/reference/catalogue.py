"""The catalogue of products: pure salts by formula, everything else by its label."""

import functools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES, ELEMENT_NAMES
from service.reference.elements import ELEMENT_MATRIX, ELEMENT_SYMBOLS
from service.reference.formula import atomic_weights, element_counts, molar_mass
from service.reference.labels import LABEL_EC, Label, LabelError, check_label
from service.reference.sources import require_source
from service.reference.tables import ReferenceDataError, Row, number, read_table

PRODUCT_KINDS: Final = ("salt", "chelate", "feed", "supplement", "stimulant", "acid", "base")
CLOSURES: Final = ("sulfate", "chloride", "sodium", "unmeasured", "none")
"""How a label's missing charge may be closed when the ordinary rule does not fit a product."""

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Product:
    """
    Something that can be weighed or measured into a can.

    Parameters
    ----------
    key : str
        Chemical or generic name, lower case with underscores.
    name : str
        Name for people.
    kind : str
        One of `PRODUCT_KINDS`.
    formula : str or None
        Formula of a pure substance.
    molar_mass_g_per_mol : float or None
        Molar mass of a pure substance.
    form : str
        ``solid`` or ``liquid``.
    density_kg_per_l : float or None
        Density of a liquid.
    composition_mmol_per_g : ndarray, shape (n_components,) or None
        Amount of each component per gram; None for a product known by its label alone, which
        `service.chemistry.product` turns into a composition.
    composition_mmol_per_ml : ndarray, shape (n_components,) or None
        Amount of each component per millilitre of a liquid; None for a solid.
    label : mapping or None
        Label in per cent.
    label_ec_ms_per_cm_at_100_mg_per_l_n : float or None
        Conductivity that the label states for 100 mg/L nitrogen in pure water, 25 °C.
    oxidiser : bool
        Whether the substance feeds a fire.
    closure_rule : str or None
        One of `CLOSURES` where the ordinary rule for a label's missing charge does not fit.
    closure : str or None
        Name of the charge closure found when the label was turned into a composition; None for a
        pure substance and before that.
    sources : tuple of str
        Source keys of its values.
    basis : str
        Weakest basis among its values.
    note : str
        Remark, may be empty.
    """

    key: str
    name: str
    kind: str
    formula: str | None
    molar_mass_g_per_mol: float | None
    form: str
    density_kg_per_l: float | None
    composition_mmol_per_g: Vector | None
    composition_mmol_per_ml: Vector | None
    label: Label | None
    label_ec_ms_per_cm_at_100_mg_per_l_n: float | None
    oxidiser: bool
    closure_rule: str | None
    closure: str | None
    sources: tuple[str, ...]
    basis: str
    note: str


_PRODUCT_COLUMNS: Final = ("key", "name", "kind", "form", "formula", "oxidiser", "closure", "note")
_VALUE_COLUMNS: Final = ("product", "quantity", "value", "unit", "basis", "source", "locator")
_UNITS: Final = {"component": "mol/mol", "label": "%", "density": "kg/L"}
_EC_QUANTITY: Final = "ec_at_100_mg_per_l_n"
_BASES_BY_STRENGTH: Final = ("standard", "derived", "published", "informal", "memory")


@functools.cache
def products() -> Mapping[str, Product]:
    """
    Return the packaged catalogue.

    Returns
    -------
    mapping of str to Product
        By key, in the order of the table.

    Raises
    ------
    ReferenceDataError
        If the packaged tables are wrong.
    """
    values: dict[str, list[Row]] = defaultdict(list)
    for row in read_table("product_values", _VALUE_COLUMNS):
        require_source(row["source"], row["row"])
        values[row["product"]].append(row)
    result: dict[str, Product] = {}
    for row in read_table("products", _PRODUCT_COLUMNS):
        if row["key"] in result:
            raise ReferenceDataError(row["row"], f"repeats the product {row['key']!r}")
        result[row["key"]] = _product(row, values.pop(row["key"], []))
    if values:
        raise ReferenceDataError("product_values.csv", f"names unknown products {sorted(values)}")
    return MappingProxyType(result)


def _product(row: Row, values: list[Row]) -> Product:
    _check_choice(row, "kind", PRODUCT_KINDS)
    _check_choice(row, "oxidiser", ("true", "false"))
    _check_choice(row, "closure", ("", *CLOSURES))
    if not values:
        raise ReferenceDataError(row["row"], f"{row['key']!r} has no values")
    components: dict[str, float] = {}
    label: dict[str, float | str] = {}
    density: float | None = None
    label_ec: float | None = None
    for value in values:
        quantity, _, name = value["quantity"].partition(".")
        expected_unit = "mS/cm" if quantity == _EC_QUANTITY else _UNITS.get(quantity)
        if value["unit"] != expected_unit:
            raise ReferenceDataError(value["row"], f"unit must be {expected_unit}")
        if quantity == "component":
            components[name] = number(value)
        elif quantity == "label":
            label[name] = number(value)
        elif quantity == "density":
            density = number(value)
        else:
            label_ec = number(value)
    formula = row["formula"] or None
    composition = None
    if formula:
        composition = _formula_composition(formula, components, row["row"])
    else:
        label["basis"] = "mass"
        if label_ec is not None:
            label[LABEL_EC] = label_ec
        try:
            check_label(label, row["form"], density)
        except LabelError as error:
            raise ReferenceDataError(row["row"], str(error)) from error
    return Product(
        key=row["key"],
        name=row["name"],
        kind=row["kind"],
        formula=formula,
        molar_mass_g_per_mol=molar_mass(formula) if formula else None,
        form=row["form"],
        density_kg_per_l=density,
        composition_mmol_per_g=composition,
        composition_mmol_per_ml=None,
        label=MappingProxyType(label) if label else None,
        label_ec_ms_per_cm_at_100_mg_per_l_n=label_ec,
        oxidiser=row["oxidiser"] == "true",
        closure_rule=row["closure"] or None,
        closure=None,
        sources=tuple(dict.fromkeys(value["source"] for value in values)),
        basis=max((value["basis"] for value in values), key=_BASES_BY_STRENGTH.index),
        note=row["note"],
    )


def _check_choice(row: Row, column: str, allowed: tuple[str, ...]) -> None:
    if row[column] not in allowed:
        raise ReferenceDataError(
            row["row"], f"{column} must be one of {', '.join(allowed)}, got {row[column]!r}"
        )


def _formula_composition(formula: str, components: Mapping[str, float], where: str) -> Vector:
    """Return the composition per gram after checking it against the atoms of the formula."""
    amounts = np.zeros(COMPONENT_COUNT)
    for component, count in components.items():
        if component not in COMPONENT_NAMES:
            raise ReferenceDataError(where, f"unknown component {component!r}")
        amounts[COMPONENT_NAMES.index(component)] = count
    weights, atoms = atomic_weights(), element_counts(formula)
    masses = ELEMENT_MATRIX @ amounts
    for element, symbol, mass in zip(ELEMENT_NAMES, ELEMENT_SYMBOLS, masses, strict=True):
        if abs(mass - weights[symbol] * atoms.get(symbol, 0.0)) > 1e-9:
            raise ReferenceDataError(where, f"components and formula disagree on {element}")
    composition = amounts * (1000.0 / molar_mass(formula))
    composition.setflags(write=False)
    return composition
