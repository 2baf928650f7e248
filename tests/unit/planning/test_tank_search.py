"""The search, with a chemistry that is made up: what clouds, alone and together, is given."""

from collections.abc import Mapping
from itertools import product as choices

import pytest

from service.planning import tank_search
from service.planning.tank_chemistry import SOLID, TankLimit
from service.planning.tank_search import TankPlan, best_plans, merged
from tests.stocking import forbidden_pairs, product, recipe, tank_water

SALTS = (
    "potassium_nitrate",
    "ammonium_sulfate",
    "potassium_chloride",
    "magnesium_nitrate_hexahydrate",
)


class Chemistry:
    """Limits of salts alone, for a gram to a litre, and of sets of salts together."""

    def __init__(self, alone: Mapping[str, float], together: Mapping[frozenset[str], float]):
        self.alone, self.together = alone, together
        self.looked_at = 0

    def limit(self, products, water):
        self.looked_at += 1
        held = {}
        for each in products:
            held[each.key] = held.get(each.key, 0.0) + each.amount
        limits = [(self.alone.get(key, 1e6) / amount, key) for key, amount in held.items()]
        limits += [
            (most, "+".join(sorted(pair)))
            for pair, most in self.together.items()
            if pair <= set(held)
        ]
        factor, solid = min(limits)
        return TankLimit(min(factor, 1000.0), SOLID, solid, 10.0)

    def is_clear(self, products, water, factor):
        return self.limit(products, water).highest_factor >= factor


@pytest.fixture
def chemistry(monkeypatch):
    def made(alone=None, together=None):
        found = Chemistry(alone or {}, {frozenset(k): v for k, v in (together or {}).items()})
        monkeypatch.setattr(tank_search, "tank_limit", found.limit)
        monkeypatch.setattr(tank_search, "is_clear", found.is_clear)
        return found

    return made


def keys(plan: TankPlan):
    return sorted(sorted(each.key for each in tank) for tank in plan.tanks)


def planned(amounts, factor=100.0, most=4):
    return best_plans(recipe(amounts), tank_water(), factor, most)


def test_set_that_clouds_together_is_parted(chemistry) -> None:
    chemistry(together={("potassium_nitrate", "ammonium_sulfate"): 50.0})
    plans = planned({"potassium_nitrate": 1.0, "ammonium_sulfate": 1.0})
    assert plans[1].highest_factor == 50.0
    assert keys(plans[2]) == [["ammonium_sulfate"], ["potassium_nitrate"]]


def test_three_that_cloud_only_together_are_parted_by_two_tanks(chemistry) -> None:
    chemistry(together={SALTS[:3]: 20.0})
    plans = planned(dict.fromkeys(SALTS, 1.0))
    assert plans[2].highest_factor >= 100.0
    assert all(not set(SALTS[:3]) <= set(tank) for tank in keys(plans[2]))


def test_salt_too_much_for_one_tank_is_divided(chemistry) -> None:
    chemistry(alone={"potassium_nitrate": 60.0})
    plans = planned({"potassium_nitrate": 1.0, "potassium_chloride": 0.2})
    assert plans[1].highest_factor == 60.0
    assert plans[2].highest_factor >= 100.0
    held = [each for tank in plans[2].tanks for each in tank if each.key == "potassium_nitrate"]
    assert len(held) == 2
    assert sum(each.amount for each in held) == pytest.approx(1.0)


def test_no_more_is_computed_than_is_asked_for(chemistry) -> None:
    found = chemistry()
    planned(dict.fromkeys(SALTS, 1.0), most=1)
    assert found.looked_at <= 2


def test_tank_more_never_carries_less(chemistry) -> None:
    chemistry(
        alone={"potassium_nitrate": 90.0, "ammonium_sulfate": 70.0},
        together={SALTS[:2]: 40.0, SALTS[1:3]: 30.0, SALTS[2:]: 65.0},
    )
    for factor in (20.0, 60.0, 100.0, 500.0):
        plans = planned(dict.fromkeys(SALTS, 1.0), factor)
        reached = [plans[count].highest_factor for count in sorted(plans)]
        assert reached == sorted(reached)


def test_best_of_two_tanks_is_that_of_every_assignment(chemistry) -> None:
    found = chemistry(
        alone={"potassium_nitrate": 90.0},
        together={SALTS[:2]: 40.0, SALTS[1:3]: 30.0, SALTS[2:]: 65.0, (SALTS[0], SALTS[3]): 45.0},
    )
    products = recipe(dict.fromkeys(SALTS, 1.0))
    best = 0.0
    for places in choices((0, 1), repeat=4):
        tanks = [
            [p for p, at in zip(products, places, strict=True) if at == tank] for tank in (0, 1)
        ]
        best = max(best, min(found.limit(t, None).highest_factor for t in tanks if t))
    plan = best_plans(products, tank_water(), best, 2)[2]
    assert plan.highest_factor >= best


def test_pairs_hold_in_every_number_of_tanks(chemistry) -> None:
    chemistry()
    amounts = {
        "calcium_nitrate_tetrahydrate": 1.0,
        "monopotassium_phosphate": 0.2,
        "potassium_silicate_solution": 0.1,
        "iron_edta": 0.01,
    }
    plans = planned(amounts)
    assert min(plans) == 3
    for plan in plans.values():
        assert all(forbidden_pairs(tank) == [] for tank in plan.tanks)


def test_parts_of_a_product_come_together_again() -> None:
    whole = product("potassium_nitrate", 1.0)
    (one,) = merged([whole.shared(0.25), whole.shared(0.5)])
    assert one.amount == pytest.approx(0.75)
    assert one.added_mmol_per_l == pytest.approx(0.75 * whole.added_mmol_per_l)
