"""
Printed figures of concentrates: who may share a tank, ranges of chelates, injector charts, limits.

* Compatibility lists (COMP) are published: what may not share a tank shares none in any plan.
  Ammonium sulfate with potassium nitrate or chloride is not forbidden as a pair, since weak stocks
  of it are clear: the potassium sulfate that comes out of strong ones is found by chemistry.
* Ranges of chelates (CHEL) differ between sources; those that we warn by are printed in one of
  them, the others are shown to lie around ours.
* Injector charts (INJ) print ounces to a US gallon of concentrate, rounded up by 0.7 to 1.2 % and
  then to the digits shown (0.68 is half of 1.35): held within 1.5 % and half of the last digit.
* ONE rows are computed by PHREEQC, which is not valid for strong concentrates but is near these:
  gypsum within 20 % of 8 times without its margin. Brushite at 3.7 times is that at pH 5.5; the mix
  itself has a lower pH, at which brushite saturates later: shown at that pH with the model of weak
  solutions.
* SUL-001 is recalled: plausibility only, within a factor of two.
* ERR-001 is a printed recipe that puts all four salts into one concentrate; no plan does.
"""

import csv
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from service.chemistry.equilibrium import CLOSED, speciate
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.saturation import (
    BRUSHITE,
    SOLID_COUNT,
    fill_saturation_constants,
    saturation_indices,
)
from service.chemistry.workspace import workspace
from service.planning.catalogue import catalogue
from service.planning.injector import PARTS_IN, factor_of_ratio
from service.planning.known_water import known_water
from service.planning.notes import Notes
from service.planning.rows import WATER_FIELDS
from service.planning.stock_plan_card import Bench, NamedTank, tank_additions
from service.planning.stock_plan_notes import note_tanks
from service.planning.tank_chemistry import RANGE, TankLimit, tank_limit, tank_litre, tank_solids
from service.reference.compatibility import chelate_limits
from service.reference.components import COMPONENT_COUNT
from tests.comparisons import compared
from tests.stocking import COMPLETE, forbidden_pairs, planned, product, recipe, tank_water

OUNCE_G = 28.349523125
US_GALLON_L = 3.785411784
FOLDER = Path(__file__).parent


def printed(check: str) -> list[dict[str, str]]:
    with (FOLDER / "stock_plans.csv").open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["check"] == check]
    assert rows
    return rows


PAIRS = {
    "STK-COMP-001": ("calcium_nitrate_tetrahydrate", "ammonium_sulfate"),
    "STK-COMP-005": ("monopotassium_phosphate", "iron_sulfate_heptahydrate"),
}


@pytest.mark.parametrize("row", printed("pair"), ids=lambda row: row["id"])
def test_pair_of_the_list_shares_no_tank(row: dict[str, str]) -> None:
    products = recipe(dict.fromkeys(PAIRS[row["id"]], 0.2))
    assert forbidden_pairs(products)
    found = planned(products, 50.0)
    assert found.plan is not None
    compared("compatibility", row, 2.0, len(found.plan.tanks), 0.0)
    assert planned(products, 2.0, 1).feasible is False


@pytest.mark.parametrize("row", printed("exchange"), ids=lambda row: row["id"])
@pytest.mark.parametrize("potassium", ["potassium_nitrate", "potassium_chloride"])
def test_exchange_of_the_list_is_found_by_chemistry(row: dict[str, str], potassium: str) -> None:
    assert "K2SO4" in row["quantity"]
    water = tank_water(coldest=10.0, warmest=20.0)
    both = recipe({"ammonium_sulfate": 1.0, potassium: 1.0})
    limit = tank_limit(both, water)
    assert limit.solid == "potassium_sulfate"
    alone = min(tank_limit([each], water).highest_factor for each in both)
    assert limit.highest_factor < 0.9 * alone


@pytest.mark.parametrize("row", printed("hard_water"), ids=lambda row: row["id"])
def test_hard_water_of_the_list_is_cautioned(row: dict[str, str]) -> None:
    calcium, magnesium, bicarbonate = (
        float(each) for each in re.findall(r"> ([0-9]+)", row["conditions"])
    )
    codes = {}
    for factor in (0.9, 1.1):
        given = {
            "calcium_mg_per_l": factor * calcium,
            "magnesium_mg_per_l": factor * magnesium,
            "bicarbonate_mg_per_l": factor * bicarbonate,
        }
        stated = SimpleNamespace(**{**dict.fromkeys(WATER_FIELDS), **given})
        water = known_water(stated, catalogue(), Notes())
        notes = Notes()
        found = planned(recipe({"potassium_nitrate": 0.3}), 20.0)
        note_tanks(found, [], water, 10.0, None, notes)
        codes[factor] = {each["code"] for each in notes.cautions}
    assert "hard_water_in_tanks" not in codes[0.9]
    assert "hard_water_in_tanks" in codes[1.1]


CHELATE = {"EDTA": "iron_edta", "DTPA": "iron_dtpa", "EDDHA": "iron_eddha"}


def named(row: dict[str, str]) -> str:
    return next(key for name, key in CHELATE.items() if name in row["quantity"])


@pytest.mark.parametrize("row", printed("chelate_upper"), ids=lambda row: row["id"])
def test_chelate_is_warned_of_above_the_printed_ph(row: dict[str, str]) -> None:
    ours = chelate_limits()[named(row)].upper_ph
    compared("chelate_limits", row, float(row["printed"]), ours, 0.0)


@pytest.mark.parametrize("row", printed("chelate_lower"), ids=lambda row: row["id"])
def test_chelate_is_warned_of_below_the_printed_ph(row: dict[str, str]) -> None:
    ours = chelate_limits()[named(row)].lower_ph
    compared("chelate_limits", row, float(row["printed"]), ours, 0.0)


@pytest.mark.parametrize("row", printed("chelate_spread"), ids=lambda row: row["id"])
def test_other_printed_limits_lie_around_ours(row: dict[str, str]) -> None:
    ours = chelate_limits()[named(row)].upper_ph
    compared("chelate_limits", row, float(row["printed"]), ours, 1.0)


@pytest.mark.parametrize("row", printed("injector"), ids=lambda row: row["id"])
def test_injector_chart_gives_the_same_mass(row: dict[str, str]) -> None:
    percent, target = (
        float(re.search(pattern, row["conditions"])[1])
        for pattern in (r"([0-9.]+) % N", r"([0-9.]+) mg/L N")
    )
    ratio = float(re.search(r"1:([0-9]+)", row["conditions"])[1])
    gallons = float((re.search(r"([0-9]+) US gal$", row["conditions"]) or [0, 1])[1])
    feed = product("feed_20_20_20", target / (10.0 * percent))
    factor = factor_of_ratio(ratio, PARTS_IN)
    litre = tank_litre([feed], np.zeros(COMPONENT_COUNT), 1.0)
    assert litre is not None
    tank = NamedTank("A", (feed,), TankLimit(1000.0, RANGE, None, None), litre, None)
    (row_of_tank,) = tank_additions(tank, factor, Bench(gallons * US_GALLON_L, 10.0, None))
    ounces = row_of_tank["mass_g"] / OUNCE_G
    value = float(row["printed"])
    digits = len(row["printed"].partition(".")[2])
    compared("mixing_amounts", row, value, ounces, 0.015 * value + 0.5 * 10.0**-digits)


GYPSUM, BRUSHITE_ROW = printed("one_tank")


def test_one_tank_for_everything_clouds_with_gypsum_where_printed() -> None:
    water, products = tank_water(coldest=25.0, warmest=25.0), recipe(COMPLETE)
    indices = {}
    for share in (0.8, 1.2):
        litre = tank_litre(products, water.composition_mol_per_kg, share * float(GYPSUM["printed"]))
        assert litre is not None
        solids = tank_solids(litre, water)
        assert solids is not None
        indices[share] = solids["gypsum"].state.saturation_index
    assert indices[0.8] < 0.0 < indices[1.2]


def test_one_tank_for_everything_is_limited_before_that() -> None:
    limit = tank_limit(recipe(COMPLETE), tank_water(coldest=25.0, warmest=25.0))
    assert limit.solid in ("gypsum", "brushite")
    assert 1.0 < limit.highest_factor < float(GYPSUM["printed"])


def test_brushite_limits_one_tank_at_ph_of_five_and_a_half() -> None:
    added = sum(each.added_mmol_per_l for each in recipe(COMPLETE))
    indices = {}
    for factor in (0.8, 1.25):
        composition = np.zeros(COMPONENT_COUNT)
        times = factor * float(BRUSHITE_ROW["printed"])
        prepared_litre(np.zeros(COMPONENT_COUNT), times * added, 298.15, composition)
        constants, work = constants_array(), workspace()
        fill_constants(298.15, constants)
        speciate(composition, constants, CLOSED, 5.5, False, work)
        solids, found = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
        fill_saturation_constants(298.15, solids)
        saturation_indices(work, solids, found)
        indices[factor] = found[BRUSHITE]
    assert indices[0.8] < 0.0 < indices[1.25]


@pytest.mark.parametrize("row", printed("sulfate_with_calcium"), ids=lambda row: row["id"])
def test_sulfate_beside_calcium_is_of_the_recalled_size(row: dict[str, str]) -> None:
    calcium = product("calcium_nitrate_tetrahydrate", 100.0 * 236.15 / 164.09)
    sulfate = product("manganese_sulfate_monohydrate", 1.0)
    water = tank_water(coldest=25.0, warmest=25.0)
    per_gram = 0.09606 / 0.16902
    dissolved = 0.0
    for grams in np.linspace(0.05, 3.0, 60):
        held = [calcium, sulfate.shared(float(grams))]
        litre = tank_litre(held, water.composition_mol_per_kg, 1.0)
        assert litre is not None
        solids = tank_solids(litre, water)
        assert solids is not None
        if solids["gypsum"].guarded_index >= 0.0:
            break
        dissolved = grams * per_gram
    assert 0.5 < dissolved / float(row["printed"]) < 2.0


@pytest.mark.parametrize("row", printed("refused"), ids=lambda row: row["id"])
def test_recipe_that_turns_cloudy_is_not_repeated(row: dict[str, str]) -> None:
    assert row["basis"] == "erroneous"
    grams = {
        "potassium_nitrate": 1.0,
        "magnesium_sulfate_heptahydrate": 1.0,
        "dipotassium_phosphate": 1.0,
        "calcium_nitrate_tetrahydrate": 3.0,
    }
    products = recipe({key: amount / 6.0 for key, amount in grams.items()})
    assert not planned(products, 6.0, 1).feasible
    found = planned(products, 6.0)
    assert found.plan is not None
    assert all(forbidden_pairs(tank) == [] for tank in found.plan.tanks)
