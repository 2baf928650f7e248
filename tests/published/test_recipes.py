"""
Published recipes: their profile and their salts as the shelf must give back their amounts.

The water is free of ions, as the sources take it. What is printed in mol/L of a thousandfold stock
stands here as mmol/L of the feed, grams of the stock as milligrams. The tolerance is half a unit of
the last printed digit, or the row's allowance with its reason. The molar rows of the Hoagland
solutions are informal copies and are recomputed. Left out of the rice solution: its sulfuric acid,
which no water without alkalinity may be given here.
"""

import csv
from collections import defaultdict
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest

from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.notes import Notes
from service.planning.recipe import plan_recipe
from service.planning.recipe_nutrients import nutrient_row
from service.planning.rows import WATER_FIELDS
from service.reference.catalogue import products
from service.reference.components import COMPONENT_NAMES
from service.reference.formula import molar_mass
from tests.comparisons import compared
from tests.planned_recipes import asked, bottle, labelled

GRAMS_IN_AN_OUNCE = 28.349523125
LITRES_IN_100_GALLONS = 378.5411784

LABELS = {
    "calcium_nitrate_label": {
        "nitrate_n_percent": 14.4, "ammonium_n_percent": 1.1, "ca_percent": 19,
    },
    "nitrogen_15": {"nitrate_n_percent": 15},
    "nitrogen_20": {"nitrate_n_percent": 20},
}  # fmt: skip


def _recipes():
    with (Path(__file__).parent / "recipes.csv").open(encoding="utf-8", newline="") as lines:
        grouped = defaultdict(list)
        for row in csv.DictReader(lines):
            grouped[row["recipe"]].append(row)
    return grouped


RECIPES = _recipes()


def pure_water():
    zeros = dict.fromkeys(WATER_FIELDS, 0.0) | {
        "ph": None, "bicarbonate_mg_per_l": None, "hardness_mg_per_l_caco3": None,
        "nitrate_nitrogen_mg_per_l": None, "ec_ms_per_cm": None, "temperature_celsius": None,
    }  # fmt: skip
    return known_water(SimpleNamespace(**zeros), catalogue(), Notes())


def target_of(row):
    value = float(row["printed"])
    if row["unit"] == "mg/L":
        return value
    millimoles = value / 1000.0 if row["unit"] == "umol/L" else value
    return millimoles * float(nutrient_row(row["name"]).max()) / _atoms(row["name"])


def _atoms(name):
    # A mole of urea holds two of nitrogen; everything else that is aimed at here holds one.
    component = COMPONENT_NAMES[int(nutrient_row(name).argmax())]
    return 2 if component == "urea" else 1


def item_of(name):
    if name in LABELS:
        return labelled(name, **LABELS[name])
    return bottle("potassium_hydroxide", 100) if name == "potassium_hydroxide" else name


def as_printed(row, amount):
    """Return an amount in g/L in the unit of the row."""
    unit = row["unit"]
    if unit == "mg/L":
        return 1000.0 * amount
    if unit == "mmol/L":
        return 1000.0 * amount / molar_mass(products()[row["name"]].formula)
    if unit == "oz/100 US gal":
        return amount * LITRES_IN_100_GALLONS / GRAMS_IN_AN_OUNCE
    assert unit == "mL of 100 g/L in 10 L"
    return amount * 10.0 / 100.0 * 1000.0


def allowed(row):
    printed = row["printed"]
    if row["allowance_percent"]:
        assert row["allowance_reason"]
        return float(row["allowance_percent"]) / 100.0 * float(printed)
    exponent = Decimal(printed).as_tuple().exponent
    return 0.5 * 10.0 ** min(exponent, 0) * (1.0 + 1e-6)


@pytest.mark.parametrize("name", sorted(RECIPES))
def test_profile_and_salts_give_back_the_published_amounts(name):
    rows = RECIPES[name]
    targets = {row["name"]: target_of(row) for row in rows if row["role"] == "target"}
    printed = [row for row in rows if row["role"] == "amount"]
    problem = asked(targets, *(item_of(row["name"]) for row in printed))
    planned = plan_recipe(replace(problem, water=pure_water()), Notes())
    found = {amount.item.name: amount.per_l for amount in planned.amounts}
    assert planned.feasible
    for row in printed:
        amount = as_printed(row, found[row["name"]])
        compared("recipes", row, float(row["printed"]), amount, allowed(row))
    for target, deviation in planned.deviation_percent.items():
        assert deviation == pytest.approx(0.0, abs=0.11), target
