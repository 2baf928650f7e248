"""Species are made of components."""

import re

import numpy as np

from service.chemistry import species
from service.chemistry.species import (
    FIRST_ION_PAIR,
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    SPECIES_HYDROGEN,
    SPECIES_NAMES,
)
from service.reference import components
from service.reference.components import COMPONENT_COUNT, NOMINAL_CHARGE

PARTS = {
    "FeChelate": components.IRON_CHELATE,
    "Unmeasured": components.UNMEASURED,
    "Urea": components.UREA,
    "Cit": components.CITRATE,
    "NO3": components.NITRATE,
    "NH4": components.AMMONIUM,
    "NH3": components.AMMONIUM,
    "SO4": components.SULFATE,
    "PO4": components.PHOSPHATE,
    "CO3": components.CARBONATE,
    "CO2": components.CARBONATE,
    "SiO4": components.SILICATE,
    "MoO4": components.MOLYBDATE,
    "B(OH)": components.BORATE,
    "Ca": components.CALCIUM,
    "Mg": components.MAGNESIUM,
    "Mn": components.MANGANESE,
    "Zn": components.ZINC,
    "Cu": components.COPPER,
    "Fe": components.IRON,
    "Na": components.SODIUM,
    "Cl": components.CHLORIDE,
    "K": components.POTASSIUM,
    "F": components.FLUORIDE,
}
"""Parts of the identifiers of species, those that hold others first."""

OTHER_NAMES = {"COMPONENT_COUNT", "FIRST_ION_PAIR", "SPECIES_COUNT"}


def test_charge_follows_from_components_and_hydrogen():
    charges = SPECIES_COMPOSITION @ np.array(NOMINAL_CHARGE) + np.array(SPECIES_HYDROGEN)
    assert charges.tolist() == list(SPECIES_CHARGES)


def test_charge_in_the_name_is_the_charge():
    for name, charge in zip(SPECIES_NAMES, SPECIES_CHARGES, strict=True):
        found = re.search(r"([+-])(\d?)$", name)
        printed = int(found[1] + (found[2] or "1")) if found else 0
        assert printed == charge, name


def test_every_component_has_a_species_and_names_are_unique():
    assert (np.abs(SPECIES_COMPOSITION).sum(axis=0) > 0).all()
    assert SPECIES_COMPOSITION.shape == (SPECIES_COUNT, COMPONENT_COUNT)
    assert len(set(SPECIES_NAMES)) == SPECIES_COUNT
    assert not SPECIES_COMPOSITION.flags.writeable


def test_ion_pairs_hold_a_metal_and_come_last():
    metals = SPECIES_COMPOSITION[:, :5].sum(axis=1)
    assert (metals[FIRST_ION_PAIR:] == 1).all()
    assert SPECIES_NAMES[FIRST_ION_PAIR] == "CaOH+"


def test_components_of_a_species_are_those_of_its_name():
    for name, numbers in zip(SPECIES_NAMES, SPECIES_COMPOSITION, strict=True):
        expected = np.zeros(COMPONENT_COUNT)
        rest = re.sub(r"[+-]\d?$", "", name)
        for part, component in PARTS.items():
            expected[component] += rest.count(part)
            rest = rest.replace(part, " ")
        # What is left are hydrogen, hydroxide and their numbers.
        assert re.fullmatch(r"[HO\d ]*", rest), name
        if name == "Unmeasured-":
            expected *= -1.0
        assert numbers.tolist() == expected.tolist(), name


def test_hydrogen_is_counted_from_the_fully_protonated_acid():
    counted = dict(zip(SPECIES_NAMES, SPECIES_HYDROGEN, strict=True))
    assert (counted["H+"], counted["OH-"], counted["NH3"], counted["NH4+"]) == (1, -1, -1, 0)
    assert (counted["HSO4-"], counted["HF"], counted["B(OH)4-"]) == (1, 1, -1)
    for acid, protons in (("PO4", 3), ("CO3", 2), ("Cit", 3), ("SiO4", 4)):
        for name, hydrogen in counted.items():
            found = re.search(rf"(H(\d?))?{acid}", name)
            if found:
                held = 0 if found[1] is None else int(found[2] or 1)
                assert hydrogen == held - protons, name


def test_every_species_has_one_name_and_every_name_a_species():
    named = {
        name: position
        for name, position in vars(species).items()
        if name.isupper() and isinstance(position, int) and name not in OTHER_NAMES
    }
    assert sorted(named.values()) == list(range(SPECIES_COUNT))
    assert SPECIES_NAMES[named["CALCIUM_HYDROXIDE"]] == "CaOH+"
    assert SPECIES_NAMES[named["ZINC_ION"]] == "Zn+2"
    assert SPECIES_NAMES[named["MAGNESIUM_CARBONATE"]] == "MgCO3"
    assert named["CALCIUM_HYDROXIDE"] == FIRST_ION_PAIR
