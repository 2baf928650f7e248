"""
Published stock compositions, label arithmetic and mass factors.

Each row names its source. The tolerance is half a unit in the last printed digit; where a row
documents a coarser rounding, its `allowance_percent` holds instead and `allowance_reason` says why.
Rows of basis `informal` come from pages of no standing and are recomputed here; `not_reproduced`
rows hold printed values that are wrong, and the tests prove that they do not come out.
"""

import csv
import json
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.chemistry.label import element_mass_percent, label_composition
from service.chemistry.product import product_catalogue, product_compositions
from service.reference.loader import (
    COMPONENT_NAMES,
    ELEMENT_MATRIX,
    ELEMENT_NAMES,
    element_counts,
    ions,
    molar_mass,
)
from tests.comparisons import compared

FOLDER = Path(__file__).resolve().parent
Row = Mapping[str, str]
Inputs = Mapping[str, Any]
QUANTITY = {
    "label_amount": "mixing_amounts",
    "liquid_mass": "mixing_amounts",
    "liquid_amount": "mixing_amounts",
    "grams_per_litre": "mixing_amounts",
    "element_mg_per_l": "nutrient_solutions",
    "component_umol_per_l": "nutrient_solutions",
    "sum_of_labels_mg_per_l": "nutrient_solutions",
    "component_mg_per_l": "nutrient_solutions",
    "product_mg_per_l": "nutrient_solutions",
    "label_mg_per_l": "nutrient_solutions",
}
"""Of the kind of a check; the rest converts what a label states."""


def rows_of(*names: str) -> list[Any]:
    rows: list[Any] = []
    for name in names:
        with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
            rows += [pytest.param(row, id=row["id"]) for row in csv.DictReader(stream)]
    return rows


def half_last_digit(printed: str) -> float:
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    # Text such as "210" or "15500" is taken as exact to the unit.
    return 0.5 * 10.0 ** min(exponent, 0)


def assert_printed(computed: float, printed: str, row: Row) -> None:
    allowed = half_last_digit(printed) * (1 + 1e-9)
    if row["allowance_percent"]:
        assert row["allowance_reason"]
        allowed = float(row["allowance_percent"]) / 100.0 * abs(float(printed))
    compared(
        QUANTITY.get(row["check"], "label_conversions"), row, float(printed), computed, allowed
    )


def element_mg_per_g(composition: np.ndarray, element: str) -> float:
    return float((ELEMENT_MATRIX @ composition)[ELEMENT_NAMES.index(element)])


def label_mg_per_g(label: Mapping[str, float], element: str) -> float:
    composition = label_composition(label, closure="none").composition_mmol_per_g
    assert composition is not None
    return element_mg_per_g(composition, element)


def liquid_mg_per_ml(inputs: Inputs) -> float:
    reading = label_composition(inputs["label"], "liquid", inputs["density"], "none")
    assert reading.composition_mmol_per_ml is not None
    return element_mg_per_g(reading.composition_mmol_per_ml, inputs["element"])


def solution_mmol_per_l(inputs: Inputs) -> np.ndarray:
    catalogue = product_catalogue()
    total = np.zeros(len(COMPONENT_NAMES))
    for key, amount in inputs.get("mmol_per_l", {}).items():
        mass = catalogue[key].molar_mass_g_per_mol
        composition = catalogue[key].composition_mmol_per_g
        assert mass is not None
        assert composition is not None
        total += composition * mass / 1000.0 * amount
    for key, grams in inputs.get("g_per_l", {}).items():
        total += product_compositions()[key] * grams
    return total * inputs["factor"]


def amount(inputs: Inputs) -> float:
    return inputs["mg"] / label_mg_per_g(inputs["label"], inputs["element"]) / inputs["unit_g"]


def product_molar_mass(inputs: Inputs) -> float:
    mass = product_catalogue()[inputs["product"]].molar_mass_g_per_mol
    assert mass is not None
    return mass


def catalogue_label(inputs: Inputs) -> float:
    label = product_catalogue()[inputs["product"]].label
    assert label is not None
    return float(label[inputs["field"]])


def hardness(inputs: Inputs) -> float:
    if "meq" in inputs:
        return inputs["meq"] * molar_mass("CaCO3") / 2.0
    return inputs["mg_cao"] * molar_mass("CaCO3") / molar_mass("CaO")


def urea_share(inputs: Inputs) -> float:
    composition = product_compositions()[inputs["product"]]
    urea = np.zeros_like(composition)
    index = COMPONENT_NAMES.index("urea")
    urea[index] = composition[index]
    return 100.0 * element_mg_per_g(urea, "nitrogen") / element_mg_per_g(composition, "nitrogen")


CHECKS: Mapping[str, Callable[[Inputs], float]] = {
    "element_mg_per_l": lambda i: element_mg_per_g(solution_mmol_per_l(i), i["element"]),
    "component_umol_per_l": lambda i: float(
        1000.0 * solution_mmol_per_l(i)[COMPONENT_NAMES.index(i["component"])]
    ),
    "grams_per_litre": lambda i: product_molar_mass(i) * i["mol_per_l"],
    "millimoles_per_litre": lambda i: 1000.0 * i["g"] / product_molar_mass(i) / i["l"],
    "label_mg_per_l": lambda i: label_mg_per_g(i["label"], i["element"]) * i["g_per_l"],
    "label_amount": amount,
    "element_percent": lambda i: label_mg_per_g(i["label"], i["element"]) / 10.0,
    "catalogue_label": catalogue_label,
    "sum_of_labels_mg_per_l": lambda i: sum(
        label_mg_per_g(label, i["element"]) * grams for label, grams in i["parts"]
    ),
    "component_mg_per_l": lambda i: float(
        product_compositions()[i["product"]][COMPONENT_NAMES.index(i["ion"])]
        * ions()[i["ion"]].molar_mass_g_per_mol
        * i["g_per_l"]
    ),
    "liquid_mass": lambda i: liquid_mg_per_ml(i) * i["ml"] / 1000.0 / i["unit_g"],
    "liquid_amount": lambda i: i["mg"] / liquid_mg_per_ml(i) / i["unit_ml"],
    "hardness": hardness,
    "calcium_of_hardness": lambda i: i["mg_caco3"] * molar_mass("Ca") / molar_mass("CaCO3"),
    "product_mg_per_l": lambda i: (
        element_mg_per_g(product_compositions()[i["product"]], i["element"]) * i["g_per_l"]
    ),
    "urea_share_percent": urea_share,
}

ROWS = rows_of("stock_compositions", "label_and_dilution_amounts")
OTHER_CHECKS = (
    "not_reproduced",
    "not_reproduced_amount",
    "note_element_mg_per_l",
    "elemental_grade",
)


def with_check(*names: str) -> list[Any]:
    chosen = [row for row in ROWS if row.values[0]["check"] in names]
    assert chosen
    return chosen


def test_every_row_has_a_check() -> None:
    known = {*CHECKS, *OTHER_CHECKS}
    assert {row.values[0]["check"] for row in ROWS} == known


@pytest.mark.parametrize("row", with_check(*CHECKS))
def test_printed_value_comes_out(row: Row) -> None:
    computed = CHECKS[row["check"]](json.loads(row["inputs"]))
    assert_printed(computed, row["value"], row)


@pytest.mark.parametrize("row", with_check("note_element_mg_per_l"))
def test_stock_strength_delivers_what_its_note_recomputes(row: Row) -> None:
    inputs = json.loads(row["inputs"])
    per_litre = element_mg_per_g(product_compositions()[inputs["product"]], inputs["element"])
    delivered = per_litre * float(row["value"]) * inputs["factor"]
    assert inputs["note_value"] in row["note"]
    assert_printed(delivered, inputs["note_value"], row)


@pytest.mark.parametrize("row", with_check("not_reproduced", "not_reproduced_amount"))
def test_wrong_printed_value_does_not_come_out(row: Row) -> None:
    inputs = json.loads(row["inputs"])
    if row["check"] == "not_reproduced_amount":
        computed = amount(inputs)
    else:
        computed = label_mg_per_g(inputs["label"], inputs["element"]) * inputs["g_per_l"]
    assert computed == pytest.approx(inputs["correct"], abs=0.005)
    assert abs(computed - float(row["value"])) > 0.1 * computed


@pytest.mark.parametrize("row", with_check("elemental_grade"))
def test_oxide_grade_becomes_the_printed_elemental_grade(row: Row) -> None:
    label = json.loads(row["inputs"])["label"]
    composition = label_composition(label, closure="none").composition_mmol_per_g
    assert composition is not None
    percent = dict(zip(ELEMENT_NAMES, element_mass_percent(composition), strict=True))
    computed = (percent["nitrogen"], percent["phosphorus"], percent["potassium"])
    printed = re.fullmatch(r"([\d.]+)N-([\d.]+)P-([\d.]+)K", row["value"])
    recomputed = re.search(r"([\d.]+)N-([\d.]+)P-([\d.]+)K", row["note"])
    assert printed is not None
    assert recomputed is not None
    for ours, theirs, noted in zip(computed, printed.groups(), recomputed.groups(), strict=True):
        assert abs(ours - float(noted)) <= half_last_digit(noted)
        assert_printed(ours, theirs, row)


def mass_factor(have: str, want: str) -> float:
    """Mass of `want` per mass of `have`, by the element (or carbon) that both hold."""
    shared = [symbol for symbol in element_counts(have) if symbol in element_counts(want)]
    element = next((symbol for symbol in shared if symbol != "O"), "O")
    per_atom_have = molar_mass(have) / element_counts(have)[element]
    return molar_mass(want) / element_counts(want)[element] / per_atom_have


@pytest.mark.parametrize("row", rows_of("oxide_factors"))
def test_mass_factor_follows_from_atomic_weights(row: Row) -> None:
    words = re.fullmatch(r"(mass factor|divisor) (\S+) to (\S+)", row["quantity"])
    assert words is not None
    kind, have, want = words.groups()
    factor = mass_factor(have, want) if kind == "mass factor" else 1.0 / mass_factor(have, want)
    assert_printed(factor, row["value"], row)
    noted = re.search(r"IUPAC 2021 masses give ([\d.]+)", row["note"])
    if kind == "mass factor":
        assert noted is not None
        # Derived in the note from full atomic weights; the abridged ones differ in the sixth digit.
        assert factor == pytest.approx(float(noted.group(1)), rel=5e-5)
