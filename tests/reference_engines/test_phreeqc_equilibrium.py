"""Do we find what PHREEQC finds? Its differences from us are explained in differences.md."""

from collections.abc import Iterator

import numpy as np
import pytest

from service.chemistry.acidification import reagent_for_ph
from service.chemistry.equilibrium import CLOSED, OK
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.ph import ATMOSPHERIC_CARBON_DIOXIDE, ph_rows, speciate_closed
from service.chemistry.saturation import (
    SOLID_COUNT,
    SOLID_NAMES,
    fill_saturation_constants,
    saturation_indices,
)
from service.chemistry.workspace import PH, workspace
from service.reference.components import COMPONENT_COUNT, COPPER, FLUORIDE, ZINC
from tests.comparisons import PHREEQC, all_compared, compared, computed_by, note
from tests.reference_engines.phreeqc_engine import Phreeqc
from tests.reference_engines.random_solutions import (
    ACIDS,
    BASES,
    acidified,
    feeds,
    temperatures,
    vector,
    waters,
)

pytestmark = pytest.mark.engine

SEED = 20240607
FORMULAS = {
    "nitric": "HNit",
    "phosphoric": "H3PO4",
    "sulfuric": "H2SO4",
    "citric": "H3Cit",
    "potassium hydroxide": "KOH",
    "potassium bicarbonate": "KHCO3",
    "potassium carbonate": "K2CO3",
}


def our_ph(compositions: np.ndarray, kelvin: np.ndarray, pressure: float) -> np.ndarray:
    count = len(compositions)
    ph = np.zeros(count)
    status = np.zeros(count, np.int64)
    ph_rows(compositions, kelvin, np.full(count, pressure), ph, status)
    assert (status == OK).all()
    return ph


@pytest.fixture(scope="module")
def engine() -> Phreeqc:
    return Phreeqc()


@pytest.fixture(scope="module")
def engine_with_our_constants() -> Phreeqc:
    return Phreeqc(our_constants=True)


@pytest.fixture(scope="module")
def cases() -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(SEED)
    rows = [make(random, 800) for make in (waters, feeds, acidified)]
    compositions = np.concatenate(rows)
    return compositions, temperatures(random, len(compositions))


def test_closed_ph_agrees_for_realistic_waters_feeds_and_acidified_feeds(engine, cases):
    compositions, kelvin = cases
    ours, theirs = our_ph(compositions, kelvin, CLOSED), engine.solve(compositions, kelvin)[:, 0]
    assert len(ours) >= 2000
    assert np.percentile(np.abs(ours - theirs), 99) < 0.03
    row = computed_by(PHREEQC, "closed", "5 to 35 degC")
    all_compared("ph", row, theirs, ours, 0.1)


def test_closed_ph_agrees_at_the_ends_of_the_temperature_range(engine, cases):
    compositions = cases[0][::8]
    for celsius in (0.5, 39.5):
        kelvin = np.full(len(compositions), 273.15 + celsius)
        theirs = engine.solve(compositions, kelvin)[:, 0]
        ours = our_ph(compositions, kelvin, CLOSED)
        assert np.percentile(np.abs(ours - theirs), 99) < 0.03
        row = computed_by(PHREEQC, f"closed-{celsius:g}", f"{celsius:g} degC")
        all_compared("ph", row, theirs, ours, 0.1)


def test_open_ph_agrees(engine, cases):
    compositions, kelvin = cases[0][::4], cases[1][::4]
    theirs = engine.solve(compositions, kelvin, ATMOSPHERIC_CARBON_DIOXIDE)[:, 0]
    ours = our_ph(compositions, kelvin, ATMOSPHERIC_CARBON_DIOXIDE)
    assert np.percentile(np.abs(ours - theirs), 99) < 0.03
    all_compared("ph_open", computed_by(PHREEQC, "open", "5 to 35 degC"), theirs, ours, 0.1)


@pytest.mark.parametrize("pressure", [None, ATMOSPHERIC_CARBON_DIOXIDE])
def test_ph_is_the_same_with_the_same_constants(engine_with_our_constants, cases, pressure):
    # The engine knows fluoride complexes, zinc and copper hydrolysis that are not ours to redefine.
    compositions, kelvin = cases[0][::40].copy(), cases[1][::40]
    compositions[:, [FLUORIDE, ZINC, COPPER]] = 0.0
    theirs = engine_with_our_constants.solve(compositions, kelvin, pressure)[:, 0]
    ours = our_ph(compositions, kelvin, CLOSED if pressure is None else pressure)
    assert ours == pytest.approx(theirs, abs=2e-4)


def dose_cases() -> Iterator[tuple[str, np.ndarray, float, float, float]]:
    """Reagent, composition, temperature, start and target pH of doses that growers give."""
    random = np.random.default_rng(SEED + 1)
    rows = np.concatenate([waters(random, 60), feeds(random, 60)])
    kelvin = temperatures(random, len(rows))
    start = our_ph(rows, kelvin, CLOSED)
    for row, temperature, ph in zip(rows, kelvin, start, strict=True):
        for acid in ACIDS:
            if ph > 5.5:
                yield acid, row, temperature, ph, random.uniform(5.0, ph - 0.5)
        for base in BASES:
            highest = 7.5 if base == "potassium bicarbonate" else 9.0
            if ph < highest - 0.6:
                yield base, row, temperature, ph, random.uniform(ph + 0.5, highest)


def test_doses_agree_within_2_percent_or_10_micromoles(engine):
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    count = 0
    for reagent, row, temperature, _, target in dose_cases():
        fill_constants(temperature, constants)
        parts = vector((ACIDS | BASES)[reagent])
        status, ours = reagent_for_ph(row, parts, target, constants, CLOSED, ws, mixture)
        assert status in (OK, 1), (reagent, target)
        theirs = engine.dose(row, temperature, FORMULAS[reagent], target)
        count += 1
        origin = computed_by(PHREEQC, f"dose-{count}", f"{reagent}, to pH {target:.2f}")
        allowed = max(20.0 * theirs, 0.01)
        compared("acid_doses", origin, 1000.0 * theirs, 1000.0 * ours, allowed)
    assert count > 500


def test_acid_doses_beside_air_agree(engine):
    constants, ws, mixture = constants_array(), workspace(), np.zeros(COMPONENT_COUNT)
    count = 0
    for reagent, row, temperature, start, target in dose_cases():
        if reagent not in ACIDS or target > start - 0.6:
            continue
        fill_constants(temperature, constants)
        parts = vector(ACIDS[reagent])
        pressure = ATMOSPHERIC_CARBON_DIOXIDE
        status, ours = reagent_for_ph(row, parts, target, constants, pressure, ws, mixture)
        assert status == OK
        theirs = engine.dose(row, temperature, FORMULAS[reagent], target, pressure)
        count += 1
        origin = computed_by(
            PHREEQC, f"dose-open-{count}", f"{reagent} beside air, to pH {target:.2f}"
        )
        allowed = max(20.0 * theirs, 0.01)
        compared("acid_doses", origin, 1000.0 * theirs, 1000.0 * ours, allowed)
        if count == 150:
            return


SOLIDS = {
    # Solid, its name in the engine, most hydrogen ions that forming it sets free, and the largest
    # difference left beside that of the pH, from constants over 5 to 35 degrees Celsius.
    "gypsum": ("Gypsum", 0, 0.005),
    "calcite": ("Calcite", 2, 0.005),
    "aragonite": ("Aragonite", 2, 0.005),
    "brushite": ("Brushite", 1, 0.015),
    "hydroxyapatite": ("Hydroxyapatite", 7, 0.04),
    "struvite": ("Struvite", 2, 0.06),
}


def test_saturation_indices_agree(engine, cases):
    compositions, kelvin = cases[0][800::4], cases[1][800::4]
    theirs = engine.solve(
        compositions, kelvin, solids=tuple(name for name, _, _ in SOLIDS.values())
    )
    constants, ws = constants_array(), workspace()
    saturation_constants = np.zeros(SOLID_COUNT)
    ours = np.zeros((len(compositions), SOLID_COUNT))
    ph = np.zeros(len(compositions))
    for row in range(len(compositions)):
        fill_constants(kelvin[row], constants)
        fill_saturation_constants(kelvin[row], saturation_constants)
        speciate_closed(compositions[row], constants, ws)
        saturation_indices(ws, saturation_constants, ours[row])
        ph[row] = ws[PH]
    ph_difference = np.abs(ph - theirs[:, 0])
    for place, (solid, (_, protons, largest)) in enumerate(SOLIDS.items()):
        index = ours[:, SOLID_NAMES.index(solid)]
        present = np.isfinite(index)
        assert present.sum() > 100, solid
        difference = np.abs(index - theirs[:, 2 + place]) - protons * ph_difference
        assert difference[present].max() < largest, (solid, difference[present].max())
        row = computed_by(PHREEQC, solid, "5 to 35 degC")
        for theirs_of_one, ours_of_one in zip(
            theirs[present, 2 + place], index[present], strict=True
        ):
            note("saturation", row, theirs_of_one, ours_of_one)


def test_saturation_indices_are_the_same_with_the_same_constants(engine_with_our_constants, cases):
    compositions, kelvin = cases[0][800::80].copy(), cases[1][800::80]
    compositions[:, [FLUORIDE, ZINC, COPPER]] = 0.0
    names = tuple(name.capitalize() for name in SOLID_NAMES)
    theirs = engine_with_our_constants.solve(compositions, kelvin, solids=names)
    constants, ws = constants_array(), workspace()
    saturation_constants, ours = np.zeros(SOLID_COUNT), np.zeros(SOLID_COUNT)
    for row in range(len(compositions)):
        fill_constants(kelvin[row], constants)
        fill_saturation_constants(kelvin[row], saturation_constants)
        speciate_closed(compositions[row], constants, ws)
        saturation_indices(ws, saturation_constants, ours)
        present = np.isfinite(ours)
        assert present.sum() >= 3
        assert ours[present] == pytest.approx(theirs[row, 2:][present], abs=2e-3)
        assert ws[PH] == pytest.approx(theirs[row, 0], abs=2e-4)
