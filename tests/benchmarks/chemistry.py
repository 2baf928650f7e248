"""
Time per pH solution, compiled, against PHREEQC in the same process.

Run by hand: ``python -m tests.benchmarks.chemistry``. Only ratios of one run mean anything.
"""

import platform
import time

import numba
import numpy as np

from service.chemistry.acidification import reagent_for_ph
from service.chemistry.equilibrium import CLOSED, speciate
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE
from service.chemistry.workspace import workspace
from service.reference.components import COMPONENT_COUNT, NITRATE
from tests.reference_engines.phreeqc_engine import Phreeqc
from tests.reference_engines.random_solutions import acidified, feeds, temperatures, waters

REPEATS = 20


@numba.njit
def _constants(kelvin, constants, repeats):
    for _ in range(repeats):
        for row in range(len(kelvin)):
            fill_constants(kelvin[row], constants)


@numba.njit
def _solve(rows, constants, pressure, ph, ws, repeats):
    for _ in range(repeats):
        for row in range(len(rows)):
            speciate(rows[row], constants, pressure, ph, False, ws)


@numba.njit
def _dose(rows, reagent, constants, ws, mixture, repeats):
    for _ in range(repeats):
        for row in range(len(rows)):
            reagent_for_ph(rows[row], reagent, 5.5, constants, CLOSED, ws, mixture)


def microseconds(function, count: int, *arguments) -> float:
    function(*arguments, 1)
    best = float("inf")
    for _ in range(5):
        start = time.perf_counter()
        function(*arguments, REPEATS)
        best = min(best, time.perf_counter() - start)
    return best / (REPEATS * count) * 1e6


def main() -> None:
    random = np.random.default_rng(1)
    print(f"{platform.machine()}, numba {numba.__version__}, one core, best of 5")
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    reagent = np.zeros(COMPONENT_COUNT)
    reagent[NITRATE] = 1.0
    engine = Phreeqc()
    kelvin = temperatures(random, 400)
    print(f"constants at a temperature {microseconds(_constants, 400, kelvin, constants):6.2f} us")
    fill_constants(298.15, constants)
    same = np.full(400, 298.15)
    for name, make in (("waters", waters), ("feeds", feeds), ("acidified feeds", acidified)):
        rows = make(random, 400)
        closed = microseconds(_solve, 400, rows, constants, CLOSED, np.nan, ws)
        opened = microseconds(_solve, 400, rows, constants, ATMOSPHERIC_CARBON_DIOXIDE, np.nan, ws)
        held = microseconds(_solve, 400, rows, constants, CLOSED, 5.8, ws)
        dose = microseconds(_dose, 400, rows, reagent, constants, ws, mixture)
        engine.solve(rows[:20], same[:20])
        start = time.perf_counter()
        engine.solve(rows, same)
        theirs = (time.perf_counter() - start) / 400 * 1e6
        print(
            f"{name:16s} closed {closed:6.2f}  open {opened:6.2f}  at a pH {held:6.2f}  "
            f"acid dose {dose:6.2f} us;  PHREEQC {theirs:6.0f} us, ratio {theirs / closed:5.0f}"
        )


if __name__ == "__main__":
    main()
