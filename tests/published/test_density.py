"""
Printed densities of acids.

LAL rows were evaluated from the correlation that is also ours: a check of the transcription, to
the printed digits. Handbook rows are measurements; the correlation's author states a standard
deviation of 0.14 % for all solutes together. Left out: normalities of concentrated acids whose
strength the source does not state (sulfuric 36.0, nitric 15.6 eq/L), and 44.4 eq/L of phosphoric
acid, which counts three hydrogen ions. `memory` rows are plausible to 0.2 %.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from service.chemistry.density import (
    REAGENT_NAMES,
    reagent_concentration,
    reagent_density,
    water_density,
)
from service.chemistry.solution_density import dissolved_mass, solution_density
from service.reference.components import AMMONIUM, CHLORIDE, COMPONENT_COUNT, SULFATE
from tests.comparisons import compared

HANDBOOK = 0.0015
PLAUSIBLE = 0.002
IAPWS = {
    "basis": "published",
    "source": "International formula of the density of water (IAPWS-95)",
    "locator": "1 atm",
}
CONCENTRATIVE = {
    "basis": "published",
    "source": "CRC Handbook of Chemistry and Physics, 102nd ed.",
    "locator": "Concentrative Properties of Aqueous Solutions, 20 degC",
}


def _rows():
    path = Path(__file__).parent / "density.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        return [pytest.param(row, id=row["id"]) for row in csv.DictReader(lines)]


def _rounding(printed):
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def _reach(row):
    if row["id"].startswith("LAL"):
        return 0.0
    return PLAUSIBLE if row["basis"] == "memory" else HANDBOOK


@pytest.mark.parametrize("row", _rows())
def test_density_of_an_acid_is_the_printed_one(row):
    reagent = REAGENT_NAMES.index(row["reagent"])
    strength = float(row["mass_percent"]) / 100.0
    cold = 273.15 + float(row["lowest_celsius"])
    warm = 273.15 + float(row["highest_celsius"])
    divisor = 1.0
    if row["id"].startswith("DMM-003"):
        divisor = water_density(273.15 + 15.56)
    lowest = reagent_density(reagent, strength, warm) / divisor
    highest = reagent_density(reagent, strength, cold) / divisor
    slack = _rounding(row["lowest_printed"]) + 1e-9
    least, most = float(row["lowest_printed"]), float(row["highest_printed"])
    nearest = min(max(lowest, least), most)
    compared("density", row, nearest, lowest, _reach(row) * nearest + slack)
    assert highest >= least * (1.0 - _reach(row)) - slack


def test_concentrated_phosphoric_acid_holds_the_moles_that_a_supplier_prints():
    reagent = REAGENT_NAMES.index("phosphoric_acid")
    ours = reagent_concentration(reagent, 0.855, 97.995, 293.15)
    assert ours == pytest.approx(14800.0, abs=100.0)


def test_water_has_the_density_of_the_international_formula():
    for printed, celsius in ((0.999843, 0.0), (0.998207, 20.0), (0.997047, 25.0), (0.992216, 40.0)):
        row = {**IAPWS, "id": f"water-{celsius:g}"}
        compared("density", row, printed, water_density(273.15 + celsius), 2e-5)


SALT_DENSITIES = [
    ((AMMONIUM, 2.0, SULFATE, 1.0), 132.14, 10.0, 1.0574),
    ((AMMONIUM, 2.0, SULFATE, 1.0), 132.14, 20.0, 1.1154),
    ((AMMONIUM, 1.0, CHLORIDE, 1.0), 53.492, 10.0, 1.0286),
    ((AMMONIUM, 1.0, CHLORIDE, 1.0), 53.492, 20.0, 1.0567),
]
"""Ions, molar mass, mass percent, density at 20 degC: CRC, 102nd ed., Concentrative Properties."""


@pytest.mark.parametrize(("ions", "molar_mass", "percent", "printed"), SALT_DENSITIES)
def test_density_of_a_salt_solution_is_the_printed_one(ions, molar_mass, percent, printed):
    molality = 1000.0 * percent / (100.0 - percent) / molar_mass
    composition = np.zeros(COMPONENT_COUNT)
    composition[ions[0]] = ions[1] * molality
    composition[ions[2]] = ions[3] * molality
    assert dissolved_mass(composition) == pytest.approx(percent / (100.0 - percent), rel=1e-3)
    row = {**CONCENTRATIVE, "id": f"{molar_mass:g}-{percent:g}"}
    compared("density", row, printed, solution_density(composition, 293.15), HANDBOOK * printed)
