"""
Mixes as a grower asks for them (analysis, grams, millimoles of acid) against PHREEQC.

The engine is given the amounts per kilogram of water, which follow here from the reported density
and the weighed grams: what a litre weighs, less what is dissolved in it, is water.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from service.chemistry.equilibrium import CLOSED
from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.known_water import known_water
from service.planning.mix_parts import acid_part, mix_part
from service.planning.notes import Notes, RefusalError
from service.planning.solution import mixture
from service.planning.water_pair import WaterPair
from service.reference.components import COMPONENT_COUNT, COPPER, FLUORIDE, ZINC
from tests.comparisons import PHREEQC, all_compared, compared, computed_by, note
from tests.reference_engines.phreeqc_engine import Phreeqc
from tests.reference_engines.random_solutions import ACIDS, SALTS, vector

pytestmark = pytest.mark.engine

SEED = 20250311
MIXES = 200

PRODUCTS = {
    # Product: the salt without its crystal water, molar mass with and without it [g/mol].
    "calcium_nitrate_tetrahydrate": ("calcium nitrate", 236.146, 164.086),
    "potassium_nitrate": ("potassium nitrate", 101.102, 101.102),
    "magnesium_sulfate_heptahydrate": ("magnesium sulfate", 246.466, 120.361),
    "magnesium_nitrate_hexahydrate": ("magnesium nitrate", 256.403, 148.313),
    "monopotassium_phosphate": ("monopotassium phosphate", 136.084, 136.084),
    "monoammonium_phosphate": ("monoammonium phosphate", 115.025, 115.025),
    "potassium_sulfate": ("potassium sulfate", 174.252, 174.252),
    "ammonium_sulfate": ("ammonium sulfate", 132.134, 132.134),
    "ammonium_nitrate": ("ammonium nitrate", 80.043, 80.043),
    "calcium_chloride_dihydrate": ("calcium chloride", 147.008, 110.978),
}
ACID_MASSES = {"nitric": 63.012, "phosphoric": 97.994, "sulfuric": 98.072, "citric": 192.123}
ION_MASSES = np.zeros(COMPONENT_COUNT)
"""Mass of the components of a water, carbonate as bicarbonate [g/mol]."""
ION_MASSES[:12] = (
    40.078, 24.305, 39.098, 22.990, 18.039, 62.004, 35.45, 96.056, 96.986, 61.016, 61.83, 192.12,
)  # fmt: skip


class Mix:
    """One random mix, its answer at 25 degrees Celsius and at its own temperature."""

    def __init__(self, random: np.random.Generator, strength: float) -> None:
        hard = random.choice([0.0, 0.2, 1.0])
        values = {
            "ph": random.uniform(7.0, 8.2),
            "calcium_mg_per_l": hard * random.uniform(5, 120),
            "magnesium_mg_per_l": hard * random.uniform(0, 30),
            "potassium_mg_per_l": hard * random.uniform(0, 5),
            "sodium_mg_per_l": hard * random.uniform(0, 60) + 0.5,
            "chloride_mg_per_l": hard * random.uniform(0, 60),
            "sulfate_mg_per_l": hard * random.uniform(0, 60),
            "alkalinity_mg_per_l_caco3": hard * random.uniform(10, 250) + 1.0,
        }
        analysis = SimpleNamespace(**{**dict.fromkeys(rows.WATER_FIELDS), **values})
        notes = Notes()
        self.water = known_water(analysis, catalogue(), notes)
        chosen = random.choice(list(PRODUCTS), random.integers(1, 6), replace=False)
        self.grams = {str(key): strength * random.uniform(0.05, 1.0) for key in chosen}
        known = catalogue()
        self.parts = [
            mix_part(
                known.product_rows[known.product_positions[key]], grams, None, None, "0", notes
            )
            for key, grams in self.grams.items()
        ]
        self.acid = str(random.choice(list(ACIDS))) if random.random() < 0.4 else None
        self.acid_amount = random.uniform(0.0, 0.9) * values["alkalinity_mg_per_l_caco3"] / 100.0
        added = None
        if self.acid is not None:
            asked = {"kind": self.acid, "mmol_per_l": self.acid_amount, "percent": 50.0}
            added = acid_part(SimpleNamespace(**asked, g_per_l=None, ml_per_l=None), notes)
        self.celsius = random.uniform(5.0, 35.0)
        self.at_25 = mixture(self.water, self.parts, added, 25.0, CLOSED)
        self.answer = mixture(self.water, self.parts, added, self.celsius, CLOSED)

    def molal(self) -> np.ndarray:
        """Return the components per kilogram of water, by weight [mol/kg]."""
        water = self.water.composition_mol_per_kg
        dissolved = 0.0
        moles = np.zeros(COMPONENT_COUNT)
        for key, grams in self.grams.items():
            salt, mass, dry = PRODUCTS[key]
            moles += grams / mass * vector(SALTS[salt])
            dissolved += grams * dry / mass
        if self.acid is not None:
            moles += 0.001 * self.acid_amount * vector(ACIDS[self.acid])
            dissolved += 0.001 * self.acid_amount * ACID_MASSES[self.acid]
        litre = 1000.0 * self.at_25.density_kg_per_l
        kilograms = (litre - dissolved) / (1000.0 + water @ ION_MASSES)
        return water + moles / kilograms


@pytest.fixture(scope="module")
def mixes() -> list[Mix]:
    random = np.random.default_rng(SEED)
    made = []
    while len(made) < MIXES:
        try:
            made.append(Mix(random, 8.0 if len(made) % 5 == 0 else 1.0))
        except RefusalError:
            continue
    return made


@pytest.fixture(scope="module")
def engine() -> Phreeqc:
    return Phreeqc()


SOLIDS = {"gypsum": "Gypsum", "calcite": "Calcite", "brushite": "Brushite", "struvite": "Struvite"}
PROTONS = {"gypsum": 0, "calcite": 2, "brushite": 1, "struvite": 2}
LEFT = {"gypsum": 0.005, "calcite": 0.005, "brushite": 0.015, "struvite": 0.06}


def test_ph_ionic_strength_and_saturation_of_mixes_agree(engine, mixes):
    compositions = np.array([mix.molal() for mix in mixes])
    compositions[:, [COPPER, ZINC, FLUORIDE]] = 0.0
    kelvin = np.array([273.15 + mix.celsius for mix in mixes])
    theirs = engine.solve(compositions, kelvin, solids=tuple(SOLIDS.values()))
    ours = np.array([mix.answer.ph for mix in mixes])
    ph = ours - theirs[:, 0]
    all_compared("ph", computed_by(PHREEQC, "mix", "5 to 35 degC"), theirs[:, 0], ours, 0.03)
    strength = np.array([mix.answer.ionic_strength_mol_per_kg for mix in mixes])
    assert strength == pytest.approx(theirs[:, 1], rel=0.005)
    assert strength.max() > 0.2
    for place, solid in enumerate(SOLIDS):
        ours = np.array([mix.answer.saturation.get(solid, np.nan) for mix in mixes])
        present = np.isfinite(ours)
        assert present.sum() > 40, solid
        difference = np.abs(ours - theirs[:, 2 + place]) - PROTONS[solid] * np.abs(ph)
        assert difference[present].max() < LEFT[solid], solid


NITRATE_THAT_CONDUCTS = """
SOLUTION_SPECIES
Nit- = Nit-
 -gamma 3.0 0.0
 -dw 1.9e-9
 -Vm 6.32 6.78 0 -3.06 0.346 0 0.93 0 -0.012 1
END
"""
"""The inert nitrate of the adapter with the diffusion and the volume of the database's nitrate."""


def _conductivity_and_density(engine: Phreeqc, composition: np.ndarray) -> tuple[float, float]:
    lines = ["SELECTED_OUTPUT 1", " -reset false", " -state true", "USER_PUNCH 1"]
    lines += [" -headings sc rho", " -start", " 10 PUNCH SC / 1000, RHO", " -end"]
    lines += engine._solution(1, composition, 25.0, "7.0 charge")
    engine.run("\n".join([*lines, "END"]) + "\n")
    row = engine.program.get_selected_output_array()[-1]
    return float(row[1]), float(row[2])


@pytest.fixture(scope="module")
def conducting(mixes) -> list[tuple[Mix, float, float, float]]:
    """Mixes in pure water: ours, then conductivity and density of the engine."""
    engine = Phreeqc()
    engine.run(NITRATE_THAT_CONDUCTS)
    pure = known_water(None, catalogue(), Notes())
    compared = []
    for mix in mixes:
        ours = mixture(pure, mix.parts, None, 25.0, CLOSED)
        plain = SimpleNamespace(water=pure, grams=mix.grams, acid=None, at_25=ours)
        theirs, density = _conductivity_and_density(engine, Mix.molal(plain))
        compared.append((mix, ours, theirs, density))
    return compared


def test_conductivity_of_cans_of_salts_agrees_within_4_percent(conducting):
    ratios = [
        ours.ec_ms_per_cm / theirs
        for _, ours, theirs, _ in conducting
        if ours.ionic_strength_mol_per_kg < 0.06
    ]
    for _, ours, theirs, _ in conducting:
        if ours.ionic_strength_mol_per_kg < 0.06:
            row = computed_by(PHREEQC, "can", "25 degC, ionic strength below 0.06 mol/kg")
            note("conductivity_mixtures", row, theirs, ours.ec_ms_per_cm)
    assert len(ratios) > 120
    assert np.median(ratios) == pytest.approx(1.0, abs=0.01)
    assert min(ratios) > 0.96
    assert max(ratios) < 1.04


def test_density_of_mixes_agrees(conducting):
    for _, ours, _, density in conducting:
        row = computed_by(PHREEQC, "mix", "25 degC")
        compared("density", row, density, ours.density_kg_per_l, 3e-4 * density)


def test_conductivity_of_concentrates_differs_as_explained(conducting):
    # The engine's pair of ammonium and sulfate carries no current; see differences.md.
    strong = [entry for entry in conducting if entry[1].ionic_strength_mol_per_kg >= 0.06]
    ratios = [
        ours.ec_ms_per_cm / theirs
        for mix, ours, theirs, _ in strong
        if not (any("ammonium" in key for key in mix.grams) and _holds_sulfate(mix))
    ]
    assert len(ratios) >= 8
    assert min(ratios) > 0.945
    assert max(ratios) < 1.06


def _holds_sulfate(mix: Mix) -> bool:
    return any("sulfate" in key for key in mix.grams)


@pytest.mark.parametrize("share", [1.0, 0.75, 0.5, 0.25, 0.1])
def test_conductivity_of_blends_of_a_hard_water_agrees(share):
    values = {
        "ph": 7.8, "calcium_mg_per_l": 80.16, "magnesium_mg_per_l": 17.01,
        "sodium_mg_per_l": 22.99, "chloride_mg_per_l": 42.54, "sulfate_mg_per_l": 57.64,
        "alkalinity_mg_per_l_caco3": 200.2,
    }  # fmt: skip
    analysis = SimpleNamespace(**{**dict.fromkeys(rows.WATER_FIELDS), **values})
    tap = known_water(analysis, catalogue(), Notes())
    bare = replace(tap, composition_mmol_per_l=np.zeros(COMPONENT_COUNT))
    theirs, _ = _conductivity_and_density(Phreeqc(), share * tap.composition_mol_per_kg)
    row = computed_by(PHREEQC, f"blend-{share:g}", "25 degC")
    ours = WaterPair(tap, bare).conductivity(share)
    compared("conductivity_mixtures", row, theirs, ours, 0.005 * theirs)
