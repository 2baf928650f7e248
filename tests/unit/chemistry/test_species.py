"""Species are made of components."""

import re

import numpy as np

from service.chemistry.species import (
    FIRST_ION_PAIR,
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_COUNT,
    SPECIES_HYDROGEN,
    SPECIES_NAMES,
)
from service.reference.components import COMPONENT_COUNT, NOMINAL_CHARGE


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
