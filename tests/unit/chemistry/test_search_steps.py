"""
Searches start near their end: steps of Newton's method, and first amounts of acid and base.

The steps are a result of a speciation. They are what guesses, derivatives and warm starts are for;
a wrong one costs steps and nothing else, which no other test would see.
"""

import math

import numpy as np
import pytest

from service.chemistry.acidification import _first_amount, reagent_for_ph
from service.chemistry.equilibrium import (
    CLOSED,
    OK,
    buffer_capacity,
    speciate,
    speciate_for_a_reading,
    speciate_with_reagent,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.workspace import ITERATIONS, PH, workspace
from service.reference import components

AIR = ATMOSPHERIC_CARBON_DIOXIDE
CONSTANTS = constants_array()
fill_constants(298.15, CONSTANTS)


def mmol(**amounts: float) -> np.ndarray:
    """Return a composition from amounts in a kilogram of water."""
    composition = np.zeros(components.COMPONENT_COUNT)
    for name, amount in amounts.items():
        composition[components.COMPONENT_NAMES.index(name)] = 1e-3 * amount
    return composition


SOLUTIONS = {
    "pure": mmol(),
    "rain": mmol(sodium=0.05, chloride=0.06, sulfate=0.01, calcium=0.01, carbonate=0.02),
    "tap": mmol(
        calcium=2.0, magnesium=0.5, sodium=0.8, chloride=1.0, sulfate=0.6, carbonate=3.9
    ),
    "feed": mmol(
        calcium=1.5, magnesium=0.5, potassium=2.0, ammonium=0.5, nitrate=5.0, sulfate=0.5,
        phosphate=0.5, borate=0.02, iron_chelate=0.02, manganese=0.01, zinc=0.005,
    ),
    "citrate": mmol(calcium=1.0, potassium=1.0, carbonate=1.2, citrate=0.8, chloride=0.5),
    "silicate": mmol(potassium=2.0, silicate=1.0, fluoride=0.05, carbonate=0.3),
    "strong": mmol(
        calcium=20.0, magnesium=8.0, potassium=30.0, nitrate=55.0, sulfate=8.0, phosphate=6.0,
        ammonium=5.0,
    ),
    "acid": mmol(nitrate=3.0, sodium=1.0, phosphate=1.0),
    "base": mmol(sodium=4.0, carbonate=1.0, borate=0.2),
}  # fmt: skip
REAGENTS = {
    "nitric": mmol(nitrate=1000.0),
    "phosphoric": mmol(phosphate=1000.0),
    "sulfuric": mmol(sulfate=1000.0),
    "hydroxide": mmol(potassium=1000.0),
    "bicarbonate": mmol(potassium=1000.0, carbonate=1000.0),
}


@pytest.mark.parametrize(
    ("name", "closed", "in_air", "reading", "similar", "opened"),
    [
        ("pure", 8, 11, 7, 1, 7),
        ("rain", 3, 3, 3, 4, 4),
        ("tap", 4, 4, 4, 3, 5),
        ("feed", 4, 4, 4, 3, 3),
        ("citrate", 5, 4, 5, 3, 6),
        ("silicate", 4, 4, 3, 3, 14),
        ("strong", 6, 5, 5, 3, 8),
        ("acid", 3, 3, 3, 4, 4),
        ("base", 3, 4, 3, 4, 18),
    ],
)
def test_a_solution_takes_few_steps_from_scratch_and_fewer_from_a_similar_one(
    name: str, closed: int, in_air: int, reading: int, similar: int, opened: int
) -> None:
    solution, cold = SOLUTIONS[name], workspace()

    def steps(*arguments: object) -> int:
        assert speciate(*arguments) == OK  # type: ignore[arg-type]
        return int(cold[ITERATIONS])

    assert steps(solution, CONSTANTS, AIR, math.nan, False, cold) <= in_air
    assert speciate_for_a_reading(solution, CONSTANTS, CLOSED, False, cold) == OK
    assert cold[ITERATIONS] <= reading
    assert steps(solution, CONSTANTS, CLOSED, math.nan, False, cold) <= closed
    assert steps(1.1 * solution, CONSTANTS, CLOSED, math.nan, True, cold) <= similar
    assert steps(solution, CONSTANTS, AIR, math.nan, True, cold) <= opened


@pytest.mark.parametrize(
    ("name", "reagent", "ph", "pressure", "within", "most_steps"),
    [
        ("tap", "nitric", 5.8, CLOSED, 0.03, 4),
        ("tap", "nitric", 5.8, AIR, 0.002, 3),
        ("tap", "nitric", 7.2, CLOSED, 0.45, 4),
        ("tap", "phosphoric", 5.8, CLOSED, 0.035, 5),
        ("tap", "phosphoric", 5.8, AIR, 0.005, 4),
        ("tap", "phosphoric", 7.2, AIR, 0.04, 4),
        ("tap", "sulfuric", 5.8, CLOSED, 0.03, 4),
        ("tap", "sulfuric", 7.2, AIR, 0.035, 3),
        ("base", "nitric", 5.8, CLOSED, 0.005, 4),
        ("base", "nitric", 7.2, CLOSED, 0.005, 4),
        ("base", "phosphoric", 7.2, CLOSED, 0.065, 4),
        ("base", "phosphoric", 7.2, AIR, 0.04, 4),
        ("base", "sulfuric", 5.8, AIR, 0.002, 2),
        ("acid", "hydroxide", 5.8, CLOSED, 0.01, 4),
        ("acid", "hydroxide", 7.2, CLOSED, 0.035, 3),
        ("acid", "hydroxide", 7.2, AIR, 0.002, 3),
        ("acid", "bicarbonate", 5.8, CLOSED, 0.01, 5),
        ("acid", "bicarbonate", 7.2, CLOSED, 0.15, 5),
        ("acid", "bicarbonate", 7.2, AIR, 0.002, 3),
        ("feed", "hydroxide", 5.8, CLOSED, 0.08, 3),
        ("feed", "hydroxide", 7.2, CLOSED, 0.03, 3),
        ("feed", "bicarbonate", 7.2, CLOSED, 0.15, 4),
    ],
)
def test_alkalinity_alone_tells_about_how_much_of_a_reagent_is_needed(
    name: str, reagent: str, ph: float, pressure: float, within: float, most_steps: int
) -> None:
    solution, brought = SOLUTIONS[name], REAGENTS[reagent]
    ws, mixture = workspace(), np.zeros(components.COMPONENT_COUNT)
    status, exact = reagent_for_ph(solution, brought, ph, CONSTANTS, pressure, ws, mixture)
    assert status == OK
    first = _first_amount(solution, brought, ph, pressure)
    assert first == pytest.approx(exact, rel=within)
    assert speciate_with_reagent(solution, brought, first, CONSTANTS, pressure, ph, False, ws) == OK
    assert ws[ITERATIONS] <= most_steps


def test_a_first_amount_is_neither_nothing_nor_beyond_all_use() -> None:
    neutral = mmol(sodium=1.0, chloride=1.0)
    assert _first_amount(neutral, REAGENTS["nitric"], 5.8, CLOSED) == 1e-6
    caustic = mmol(sodium=900.0)
    assert _first_amount(caustic, REAGENTS["nitric"], 5.8, CLOSED) == 0.1
    assert _first_amount(mmol(calcium=1.0), neutral, 5.8, CLOSED) == 1e-4


@pytest.mark.parametrize("name", ["tap", "feed", "citrate", "silicate", "acid", "base", "strong"])
def test_buffer_capacity_is_the_base_that_a_unit_of_ph_takes(name: str) -> None:
    solution, ws = SOLUTIONS[name], workspace()
    assert speciate(solution, CONSTANTS, CLOSED, math.nan, False, ws) == OK
    capacity, ph = buffer_capacity(ws), ws[PH]
    little = 1e-3 * capacity
    assert speciate(
        solution + little * mmol(potassium=1000.0), CONSTANTS, CLOSED, math.nan, True, ws
    ) == OK  # fmt: skip
    assert little / (ws[PH] - ph) == pytest.approx(capacity, rel=0.03)
