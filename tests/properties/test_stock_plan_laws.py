"""Laws of stock plans, whatever is in the recipe."""

from itertools import pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from service.planning.stock_plan_card import Bench, named_tanks, tank_additions
from service.planning.tank_chemistry import is_clear, tank_litre, tank_solids
from tests.stocking import forbidden_pairs, planned, product, reagent, tank_water

PRODUCTS = (
    "calcium_nitrate_tetrahydrate",
    "calcium_ammonium_nitrate_decahydrate",
    "calcium_chloride_dihydrate",
    "potassium_nitrate",
    "magnesium_nitrate_hexahydrate",
    "magnesium_sulfate_heptahydrate",
    "potassium_sulfate",
    "ammonium_sulfate",
    "monopotassium_phosphate",
    "monoammonium_phosphate",
    "diammonium_phosphate",
    "potassium_chloride",
    "urea",
    "feed_20_20_20",
    "feed_15_0_15",
    "iron_edta",
    "manganese_sulfate_monohydrate",
    "zinc_sulfate_heptahydrate",
    "seaweed_extract",
    "potassium_silicate_solution",
)
TRACES = {"iron_edta", "manganese_sulfate_monohydrate", "zinc_sulfate_heptahydrate"}
amounts = st.floats(0.02, 1.0)
acids = st.none() | st.tuples(st.sampled_from(["nitric", "phosphoric"]), st.floats(0.1, 1.5))
factors = st.sampled_from([5.0, 20.0, 50.0, 100.0, 200.0, 400.0])
few = settings(
    max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


@st.composite
def recipes(draw):
    keys = draw(st.lists(st.sampled_from(PRODUCTS), min_size=1, max_size=7, unique=True))
    listed = [product(key, draw(amounts) * (0.02 if key in TRACES else 1.0)) for key in keys]
    acid = draw(acids)
    if acid is not None:
        listed.append(reagent(*acid, 38.0 if acid[0] == "nitric" else 75.0))
    return tuple(listed)


@few
@given(recipes(), factors, st.none() | st.integers(1, 4))
def test_no_plan_puts_a_forbidden_pair_together(recipe, factor, tank_count):
    found = planned(recipe, factor, tank_count)
    assume(found.plan is not None)
    assert [forbidden_pairs(tank) for tank in found.plan.tanks] == [[]] * len(found.plan.tanks)


@few
@given(recipes(), factors, st.floats(0.0, 20.0))
def test_every_tank_is_clear_by_its_margin_at_every_temperature(recipe, factor, coldest):
    water = tank_water("rain", coldest)
    found = planned(recipe, factor, None, water)
    assume(found.plan is not None and found.factor is not None)
    for tank in found.plan.tanks:
        solids = tank_solids(tank_litre(tank, water.composition_mol_per_kg, found.factor), water)
        assert solids is not None
        assert all(solid.guarded_index < 0.0 for solid in solids.values())
        assert is_clear(tank, water, 0.7 * found.factor)


@few
@given(recipes(), factors, st.floats(0.5, 50.0))
def test_amounts_of_the_tanks_add_up_to_the_recipe(recipe, factor, volume):
    water = tank_water()
    found = planned(recipe, factor, None, water)
    assume(found.plan is not None and found.factor is not None)
    bench = Bench(volume, 10.0, None)
    poured = dict.fromkeys((each.key for each in recipe), 0.0)
    for tank in named_tanks(found, water):
        for row in tank_additions(tank, found.factor, bench):
            poured[row["product"]] += row["volume_ml"] or row["mass_g"]
    for each in recipe:
        expected = each.amount * found.factor * volume
        assert poured[each.key] == pytest.approx(expected, rel=1e-9)


@few
@given(recipes(), factors)
def test_more_tanks_never_carry_less(recipe, factor):
    reached = []
    for tank_count in (1, 2, 3, 4):
        found = planned(recipe, factor, tank_count)
        if found.feasible:
            reached.append(found.plan.highest_factor)
        else:
            assert not reached or reached[-1] < factor
    assert all(more >= less * (1.0 - 1e-3) for less, more in pairwise(reached))


@few
@given(recipes(), st.floats(0.0, 25.0), st.floats(0.0, 10.0))
def test_colder_never_carries_more(recipe, coldest, degrees):
    colder = max(coldest - degrees, 0.0)
    for tank in ([each] for each in recipe):
        warm = planned(tuple(tank), 20.0, 1, tank_water(coldest=coldest))
        cold = planned(tuple(tank), 20.0, 1, tank_water(coldest=colder))
        assert cold.one_tank.highest_factor <= warm.one_tank.highest_factor * (1.0 + 1e-3)
    warm = planned(recipe, 20.0, None, tank_water(coldest=coldest))
    cold = planned(recipe, 20.0, None, tank_water(coldest=colder))
    assert cold.one_tank.highest_factor <= warm.one_tank.highest_factor * (1.0 + 1e-3)
    assert warm.feasible or not cold.feasible


@few
@given(recipes(), factors)
def test_nearest_plan_is_a_plan(recipe, factor):
    found = planned(recipe, factor, 2)
    assume(not found.feasible and found.nearest is not None)
    again = planned(
        recipe, found.nearest.get("concentration_factor", factor), found.nearest["tank_count"]
    )
    assert again.feasible
    assert again.factor == found.factor
