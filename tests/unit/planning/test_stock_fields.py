"""Tanks and their working solution in numbers: what is poured, weighed, listed and said."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from service.planning.catalogue import catalogue
from service.planning.known_water import KnownWater, known_water
from service.planning.notes import Notes
from service.planning.stock_plan_card import stock_steps
from service.planning.stock_plan_notes import _note_pairs
from service.planning.stock_working import working_water
from tests.stocking import product


def water(preset: str) -> KnownWater:
    return known_water(preset, catalogue(), Notes())


def named(name: str, *keys: str) -> Any:
    """Return a tank of which only name and products matter."""
    return SimpleNamespace(name=name, products=tuple(product(key) for key in keys))


def test_the_working_solution_holds_the_water_of_the_tanks_by_its_share() -> None:
    # Two tanks that bring 0.9 and 0.8 kg of water in a litre each, thinned a hundredfold: 1.7 %.
    thin, tank = water("hard_tap"), water("rain")
    thin = replace(thin, unexplained_ec_ms_per_cm=0.3)
    tank = replace(tank, unexplained_ec_ms_per_cm=0.1)
    tanks: Any = [
        SimpleNamespace(litre=SimpleNamespace(water_kg_per_l=each)) for each in (0.9, 0.8)
    ]
    mixed = working_water(thin, tank, tanks, 100.0)
    np.testing.assert_allclose(
        mixed.composition_mol_per_kg,
        0.983 * thin.composition_mol_per_kg + 0.017 * tank.composition_mol_per_kg,
    )
    assert mixed.unexplained_ec_ms_per_cm == pytest.approx(0.983 * 0.3 + 0.017 * 0.1)
    assert mixed.alkalinity_known
    unknown = replace(tank, alkalinity_known=False)
    assert not working_water(thin, unknown, tanks, 100.0).alkalinity_known
    # At a factor of one the tanks are all the water that there is.
    whole = working_water(thin, tank, tanks, 1.0)
    np.testing.assert_allclose(whole.composition_mol_per_kg, tank.composition_mol_per_kg)


def test_without_tanks_of_another_water_the_water_stays() -> None:
    thin, tank = water("hard_tap"), water("rain")
    tanks: Any = [SimpleNamespace(litre=SimpleNamespace(water_kg_per_l=0.9))]
    assert working_water(thin, tank, tanks, None) is thin
    assert working_water(thin, thin, tanks, 100.0) is thin
    assert working_water(thin, tank, [], 100.0) is thin


@pytest.mark.parametrize(
    ("keys", "pairs"),
    [
        (("potassium_nitrate", "magnesium_sulfate_heptahydrate"), []),
        (("iron_edta", "potassium_nitrate", "monopotassium_phosphate"), [(0, 2)]),
        (("potassium_nitrate", "iron_edta", "monopotassium_phosphate"), [(1, 2)]),
        (("iron_edta", "monopotassium_phosphate"), [(0, 1)]),
        (
            ("potassium_nitrate", "potassium_sulfate", "iron_edta", "monopotassium_phosphate"),
            [(2, 3)],
        ),
    ],
)
def test_every_pair_that_is_better_apart_is_named_once(
    keys: tuple[str, ...], pairs: list[tuple[int, int]]
) -> None:
    notes = Notes()
    _note_pairs([named("A", *keys)], notes)
    apart = [each["message"] for each in notes.cautions if each["code"] == "better_apart"]
    assert len(apart) == len(pairs)
    for message, (first, second) in zip(apart, pairs, strict=True):
        assert keys[first] in message
        assert keys[second] in message
        assert "A" in message


def test_products_of_different_tanks_are_no_pair() -> None:
    notes = Notes()
    _note_pairs([named("A", "iron_edta"), named("B", "monopotassium_phosphate")], notes)
    assert [each["code"] for each in notes.cautions] == []


def test_steps_of_two_tanks_by_hand() -> None:
    def tank(name: str, key: str, grams: float | None, millilitres: float | None) -> dict[str, Any]:
        return {
            "name": name, "water_to_start_l": 6.12345, "volume_l": 10.0,
            "additions": [{"product": key, "mass_g": grams, "volume_ml": millilitres}],
        }  # fmt: skip

    steps = stock_steps(
        [tank("A", "x", 1180.0, None), tank("B", "y", None, 250.0)], {"x": "Salt", "y": "Acid"},
        100.0,
    )  # fmt: skip
    assert [(each["quantity"], each["unit"]) for each in steps] == [
        (6.123, "L"), (1180.0, "g"), (10.0, "L"),
        (6.123, "L"), (250.0, "mL"), (10.0, "L"),
        (10.0, "mL"),
    ]  # fmt: skip
    assert [each["order"] for each in steps] == [1, 2, 3, 4, 5, 6, 7]
    assert steps[0]["instruction"] == "Tank A: start with warm water, about 30 °C."
    assert steps[1]["instruction"] == "Tank A: weigh in Salt and stir until it is clear."
    assert steps[4]["instruction"] == "Tank B: pour in Acid and stir until it is clear."
    assert steps[6]["instruction"] == (
        "To use: into the water for each litre stir this much of tank A, then as much of tank B;"
        " never one concentrate into another. Check the conductivity."
    )
    assert stock_steps([], {}, 100.0) == []
    # A litre thinned two hundredfold holds 5 mL.
    assert stock_steps([tank("A", "x", 1.0, None)], {"x": "Salt"}, 200.0)[-1]["quantity"] == 5.0
