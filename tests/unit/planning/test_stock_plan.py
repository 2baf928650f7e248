"""Stock plans end to end in planning: limits, cautions, waters, and what is weighed."""

from types import SimpleNamespace

import numpy as np
import pytest

from service.chemistry.equilibrium import CLOSED
from service.chemistry.saturation import (
    SOLID_COUNT,
    SOLID_NAMES,
    fill_saturation_constants,
    saturation_indices,
)
from service.planning.catalogue import catalogue
from service.planning.concentrate import solid_states
from service.planning.known_water import known_water
from service.planning.notes import Notes, RefusalError
from service.planning.solution import speciated
from service.planning.stock_plan import limit_in_words, rounded_down
from service.planning.stock_plan_request import StockTerms, plan_stock
from service.planning.stock_recipe import StockRecipe, stated_recipe
from service.planning.tank_acidity import tank_ph
from service.planning.tank_chemistry import (
    HIGHEST_FACTOR,
    MODEL,
    RANGE,
    ROOM,
    SOLID,
    TankLimit,
    tank_limit,
    tank_litre,
    temperatures_between,
)
from service.reference.components import COMPONENT_COUNT
from tests.stocking import COMPLETE, TRACES, part, planned, product, reagent, recipe, tank_water

TERMS = {
    "concentration_factor": 100.0,
    "injector_ratio": None,
    "injector_counts": None,
    "tank_volume_l": 10.0,
    "tank_count": None,
    "coldest_celsius": 15.0,
    "warmest_celsius": 25.0,
    "daily_use_l": None,
    "balance_resolution_g": 0.01,
}
WEAK = {key: 0.3 * amount for key, amount in COMPLETE.items()}


def stock(amounts, water="reverse_osmosis", tank_water=None, reagents=(), **terms):
    """Return the answer of a stock plan and its notes."""
    notes = Notes()
    parts = tuple(part(key, amount) for key, amount in amounts.items())
    brought = sum(each.added_mmol_per_l for each in reagents) if reagents else None
    known = known_water(water, catalogue(), Notes())
    filling = None if tank_water is None else known_water(tank_water, catalogue(), Notes())
    asked = StockTerms.of(SimpleNamespace(**{**TERMS, **terms}), notes)
    made = StockRecipe(parts, tuple(reagents), brought)
    return plan_stock(made, known, filling, asked, catalogue(), notes), notes


def codes(notes):
    return {each["code"] for each in notes.cautions}


def test_complete_feed_stands_in_two_tanks_with_calcium_in_the_first() -> None:
    answer, notes = stock({**WEAK, **TRACES})
    assert answer.plan.feasible
    first, second = answer.fields["tanks"]
    assert "calcium_nitrate_tetrahydrate" in {each["product"] for each in first["additions"]}
    held = {each["product"] for each in second["additions"]}
    assert {"monopotassium_phosphate", "magnesium_sulfate_heptahydrate"} <= held
    assert {"tanks_never_meet", "better_apart", "weigh_traces_finer"} <= codes(notes)


def test_water_and_products_weigh_what_the_tank_weighs() -> None:
    answer, _ = stock(WEAK, balance_resolution_g=None)
    for tank in answer.fields["tanks"]:
        weighed = sum(each["mass_g"] for each in tank["additions"])
        assert tank["water_kg"] + 0.001 * weighed == pytest.approx(tank["mass_kg"])
        assert tank["mass_kg"] == pytest.approx(10.0 * tank["density_kg_per_l"])
        # Three quarters of it, at the density of water of 25 °C.
        assert tank["water_to_start_l"] == pytest.approx(
            0.75 * tank["water_kg"] / 0.99705, rel=1e-4
        )


def test_crystal_water_is_not_poured() -> None:
    heptahydrate = {"magnesium_sulfate_heptahydrate": 1.0}
    anhydrous = {"magnesium_sulfate_anhydrous": 120.366 / 246.474}
    poured = [stock(each)[0].fields["tanks"][0]["water_kg"] for each in (heptahydrate, anhydrous)]
    crystals = 1.0 * 100.0 * 10.0 * (1.0 - 120.366 / 246.474) / 1000.0
    assert poured[1] - poured[0] == pytest.approx(crystals, rel=1e-3)


def test_products_that_fill_the_tank_leave_no_room() -> None:
    urea = recipe({"urea": 5.0})
    litre = tank_litre(urea, np.zeros(COMPONENT_COUNT), 400.0)
    assert litre is None
    found = planned(urea, 900.0)
    assert not found.feasible
    assert found.nearest is not None


def test_liquid_that_is_more_than_the_tank_has_no_plan() -> None:
    answer, _ = stock({"calcium_magnesium_supplement": 15.0}, tank_count=1)
    assert answer.fields["status"] == "infeasible"
    (conflict,) = answer.conflicts
    assert conflict["allowed"] == 64.8
    assert "no room for water" in conflict["message"]
    assert answer.plan.nearest == {"tank_count": 2}


def test_feed_that_carries_calcium_and_phosphate_is_told() -> None:
    answer, notes = stock({"feed_13_3_15_ca_mg": 0.2}, concentration_factor=2.0)
    assert "product_carries_its_own_pair" in codes(notes)
    assert answer.fields["one_tank"]["allowed"]


def test_gypsum_alone_is_clear_to_what_dissolves_of_it() -> None:
    limit = tank_limit(recipe({"calcium_sulfate_dihydrate": 0.1}), tank_water())
    assert limit.solid == "gypsum"
    assert 15.0 < limit.highest_factor < 27.0


def test_chelate_at_a_wrong_ph_is_warned_of() -> None:
    _, notes = stock({"iron_edta": 0.01}, water="rain", tank_water="moderate_tap")
    assert "chelate_outside_its_ph" in codes(notes)
    _, notes = stock({"iron_eddha": 0.01, "monopotassium_phosphate": 0.1})
    assert "chelate_outside_its_ph" not in codes(notes)


def test_water_that_scales_by_itself_is_told_and_forbids_no_tank() -> None:
    answer, notes = stock({"potassium_nitrate": 0.2}, water="rain", tank_water="hard_tap")
    assert answer.plan.feasible
    assert "tank_water_saturated" in codes(notes)
    calcium, _ = stock({"calcium_nitrate_tetrahydrate": 1.0}, water="rain", tank_water="hard_tap")
    assert not calcium.plan.feasible
    assert calcium.fields["limiting_solid"] in ("calcite", "aragonite")


def test_acid_stands_in_the_tank_without_calcium_and_chelates() -> None:
    answer, notes = stock({**WEAK, "iron_dtpa": 0.01}, reagents=[reagent("nitric", 0.5, 38.0)])
    placed = {
        tank["name"]: {each["product"] for each in tank["additions"]}
        for tank in answer.fields["tanks"]
    }
    (name,) = (name for name, held in placed.items() if "nitric_38_percent" in held)
    assert not placed[name] & {"calcium_nitrate_tetrahydrate", "iron_dtpa"}
    assert answer.fields["tanks"][-1]["additions"][0]["product"] == "nitric_38_percent"
    assert "acid_in_tank" in codes(notes)


def test_strong_acid_in_a_tank_is_called_corrosive() -> None:
    _, notes = stock({"potassium_nitrate": 0.2}, reagents=[reagent("nitric", 2.0, 38.0)])
    assert "tank_corrosive" in codes(notes)


def test_acid_feed_is_corrosive_but_no_bottle_of_acid() -> None:
    _, notes = stock({"feed_15_5_15_ca_mg": 0.3})
    assert "tank_corrosive" in codes(notes)
    assert "acid_in_tank" not in codes(notes)


def test_dry_oxidiser_is_kept_from_organic_matter() -> None:
    _, notes = stock({"potassium_nitrate": 0.2, "urea": 0.1})
    assert {"oxidiser_and_organic", "nitrates_and_acids_regulated"} <= codes(notes)
    _, notes = stock({"potassium_chloride": 0.2})
    assert not codes(notes) & {"oxidiser_and_organic", "nitrates_and_acids_regulated"}


def test_single_tank_is_told_to_be_strong() -> None:
    _, notes = stock({"potassium_nitrate": 0.2})
    assert "tank_is_strong" in codes(notes)
    assert "tanks_never_meet" not in codes(notes)


def test_product_too_much_for_one_tank_is_divided_and_told() -> None:
    answer, notes = stock({"potassium_sulfate": 1.2}, tank_count=2, concentration_factor=90.0)
    assert answer.plan.feasible
    assert "product_divided" in codes(notes)
    masses = [tank["additions"][0]["mass_g"] for tank in answer.fields["tanks"]]
    assert sum(masses) == pytest.approx(1080.0, abs=0.02)


def test_tank_that_is_no_use_is_left_out_and_told() -> None:
    answer, notes = stock({"potassium_nitrate": 0.1}, tank_count=3)
    assert answer.plan.feasible
    assert answer.fields["tank_count"] <= 3
    if answer.fields["tank_count"] < 3:
        assert "tank_left_out" in codes(notes)


def test_hard_water_is_kept_out_of_the_tanks() -> None:
    answer, notes = stock(WEAK, water="hard_tap")
    assert answer.plan.feasible
    assert "tank_water_pure" in codes(notes)
    assert answer.tank_water.preset == "reverse_osmosis"
    calcium = answer.fields["working_solution"]["elements_mg_per_l"]["calcium"]
    assert calcium > 0.3 * 200.4 + 60.0


def test_chosen_tank_water_is_taken_as_it_is() -> None:
    answer, notes = stock(WEAK, water="rain", tank_water="hard_tap")
    assert "tank_water_pure" not in codes(notes)
    assert answer.tank_water.preset == "hard_tap"


def test_factor_below_the_number_of_tanks_is_more_than_a_litre() -> None:
    answer, _ = stock(WEAK, concentration_factor=1.5)
    assert answer.fields["status"] == "infeasible"
    assert answer.plan.nearest == {"concentration_factor": 2.0, "tank_count": 2}


def test_tanks_last_for_what_they_make() -> None:
    answer, _ = stock(WEAK, daily_use_l=25.0)
    assert answer.fields["working_volume_l"] == 1000.0
    assert answer.fields["lasts_days"] == 40.0


def test_working_solution_is_the_recipe_in_its_water() -> None:
    answer, _ = stock(COMPLETE)
    elements = answer.fields["working_solution"]["elements_mg_per_l"]
    assert elements["nitrogen"] == pytest.approx(210.0, rel=2e-3)
    assert elements["phosphorus"] == pytest.approx(31.0, rel=2e-3)


def test_temperatures_lie_on_one_grid() -> None:
    assert temperatures_between(10.0, 30.0) == (10.0, 15.0, 20.0, 25.0, 30.0)
    assert temperatures_between(8.0, 12.0) == (8.0, 10.0, 12.0)
    assert temperatures_between(10.0, 10.0) == (10.0,)


def test_silent_temperatures_are_assumed_and_a_reversed_pair_is_refused() -> None:
    silent = {"coldest_celsius": None, "warmest_celsius": None}
    notes = Notes()
    terms = StockTerms.of(SimpleNamespace(**{**TERMS, **silent}), notes)
    assert (terms.coldest_celsius, terms.warmest_celsius) == (10.0, 30.0)
    assert [each["code"] for each in notes.assumptions] == ["coldest_assumed"]
    reversed_pair = {"coldest_celsius": 20.0, "warmest_celsius": 10.0}
    with pytest.raises(RefusalError, match="below the coldest"):
        StockTerms.of(SimpleNamespace(**{**TERMS, **reversed_pair}), Notes())


def test_same_product_twice_and_nothing_at_all_are_refused() -> None:
    twice = stated_recipe([part("urea", 0.1), part("urea", 0.2)], None, None)
    with pytest.raises(RefusalError, match="urea more than once"):
        twice.tank_products(Notes())
    with pytest.raises(RefusalError, match="nothing to concentrate"):
        stated_recipe([part("urea", 0.0)], None, None).tank_products(Notes())


@pytest.mark.parametrize(
    ("factor", "expected"), [(105.7, 105.0), (100.0, 100.0), (9.999, 9.99), (1234.0, 1230.0)]
)
def test_factor_is_rounded_down_and_never_up(factor: float, expected: float) -> None:
    assert rounded_down(factor) == expected


@pytest.mark.parametrize(
    ("limit", "phrase"),
    [
        (TankLimit(50.0, SOLID, "potassium_nitrate", 10.0), "potassium nitrate comes out at 10 °C"),
        (TankLimit(50.0, ROOM, None, None), "no room for water"),
        (TankLimit(50.0, MODEL, None, None), "holds no further"),
        (TankLimit(HIGHEST_FACTOR, RANGE, None, None), "nothing comes out"),
    ],
)
def test_limit_is_put_in_words(limit: TankLimit, phrase: str) -> None:
    assert phrase in limit_in_words(limit)


def test_ph_of_a_tank_is_that_of_its_buffer_and_unknown_for_strong_acid() -> None:
    for key, low, high in (
        ("monopotassium_phosphate", 4.0, 4.9),
        ("dipotassium_phosphate", 8.4, 9.6),
    ):
        litre = tank_litre([product(key, 0.5)], np.zeros(COMPONENT_COUNT), 100.0)
        assert litre is not None
        assert low < tank_ph(litre.composition_mol_per_kg) < high
    acid = tank_litre([reagent("nitric", 5.0)], np.zeros(COMPONENT_COUNT), 100.0)
    assert acid is not None
    assert tank_ph(acid.composition_mol_per_kg) is None


PHOSPHATES = ("brushite", "newberyite", "struvite")


@pytest.mark.parametrize("factor", [5.0, 10.0, 20.0, 40.0])
@pytest.mark.parametrize("phosphate", ["monopotassium_phosphate", "monoammonium_phosphate"])
@pytest.mark.parametrize("salt", ["magnesium_sulfate_heptahydrate", "calcium_nitrate_tetrahydrate"])
def test_pairs_with_phosphate_are_in_both_models(factor: float, phosphate: str, salt: str) -> None:
    # The model of weak solutions counts them one by one; it ends at an ionic strength of 0.5.
    products = recipe({salt: 0.493, phosphate: 0.13})
    litre = tank_litre(products, np.zeros(COMPONENT_COUNT), factor)
    assert litre is not None
    weak = speciated(litre.composition_mol_per_kg, 298.15, CLOSED)
    constants, indices = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    fill_saturation_constants(298.15, constants)
    saturation_indices(weak.work, constants, indices)
    strong = {each.solid: each for each in solid_states(litre.composition_mol_per_kg, 25.0)}
    found = [solid for solid in PHOSPHATES if solid in strong]
    assert found
    for solid in found:
        index = indices[SOLID_NAMES.index(solid)]
        assert -0.1 < strong[solid].saturation_index - index < 0.25
        assert strong[solid].margin > 0.2


def test_sodium_of_a_water_is_told_where_nothing_else_is_known() -> None:
    notes = Notes()
    water = known_water("softened_tap", catalogue(), notes)
    (said,) = [each["message"] for each in notes.cautions if each["code"] == "sodium_high"]
    assert f"brings {water.analysis['sodium_mg_per_l']:.0f} mg/L sodium" in said


def test_factor_that_no_tanks_carry_is_answered_with_the_best_that_four_do() -> None:
    # Calcium needs a tank; the sulfate is divided evenly between the three that are left.
    products = recipe(
        {"potassium_sulfate": 1.2, "calcium_nitrate_tetrahydrate": 0.8, "boric_acid": 0.05}
    )
    water = tank_water(coldest=2.0)
    found = planned(products, 500.0, None, water)
    assert not found.feasible
    assert found.nearest is not None
    assert found.nearest["tank_count"] == 4
    alone = planned(recipe({"potassium_sulfate": 1.2}), 500.0, 1, water).one_tank.highest_factor
    assert found.nearest["concentration_factor"] == pytest.approx(3.0 * alone, rel=0.01)
    assert planned(products, found.nearest["concentration_factor"], 4, water).feasible


def test_usual_feed_stands_a_hundred_times_strong_in_two_tanks() -> None:
    found = planned(recipe({**COMPLETE, **TRACES}), 100.0, 2)
    assert found.feasible
