"""Reactions as printed become formations from master species."""

import math

import numpy as np
import pytest

from service.chemistry.equilibrium_constants import (
    CENTRAL_COUNT,
    CENTRAL_IONS,
    CENTRAL_OF,
    CONSTANT_COUNT,
    FORMATIONS,
    LIGAND_COUNT,
    LIGAND_OF,
    LIGANDS,
    PROTON_POWER,
    REACTING,
    WATER_POWER,
    constants_array,
    fill_constants,
    formation_from_masters,
    log10_equilibrium_constant,
    reaction_side,
    temperature_function,
)
from service.chemistry.species import (
    SPECIES_CHARGES,
    SPECIES_COMPOSITION,
    SPECIES_HYDROGEN,
    SPECIES_NAMES,
)
from service.reference.equilibrium_tables import ReactionRow, load_equilibrium_constants


def reaction(text: str, log10_k: float = math.nan, enthalpy: float = 0.0) -> ReactionRow:
    return ReactionRow("X", text, log10_k, (0.0,) * 6, enthalpy, 0.0, "source", "locator")


def test_reactions_balance_charge():
    charges = dict(zip(SPECIES_NAMES, SPECIES_CHARGES, strict=True)) | {"H2O": 0, "CO2(g)": 0}
    for row in load_equilibrium_constants():
        left, right = (reaction_side(side) for side in row.reaction.split(" = "))
        total = sum(n * charges[s] for s, n in left.items())
        assert total == sum(n * charges[s] for s, n in right.items()), row.reaction


def test_formations_agree_with_the_composition_of_species():
    members = [SPECIES_NAMES[i] for i in (*CENTRAL_IONS, *LIGANDS)]
    for name, formation in FORMATIONS.items():
        index = SPECIES_NAMES.index(name)
        composition = sum(
            (
                power * SPECIES_COMPOSITION[SPECIES_NAMES.index(master)]
                for master, power in formation.powers.items()
                if master in members
            ),
            np.zeros(SPECIES_COMPOSITION.shape[1]),
        )
        hydrogen = sum(
            power * (1 if master == "H+" else SPECIES_HYDROGEN[SPECIES_NAMES.index(master)])
            for master, power in formation.powers.items()
            if master != "H2O"
        )
        assert composition.tolist() == SPECIES_COMPOSITION[index].tolist(), name
        assert hydrogen == SPECIES_HYDROGEN[index], name


def test_no_species_holds_two_central_ions_or_two_ligands():
    for formation in FORMATIONS.values():
        for members in (CENTRAL_IONS, LIGANDS):
            powers = [formation.powers.get(SPECIES_NAMES[i], 0) for i in members]
            assert sorted(powers)[:-1] == [0] * (len(members) - 1)
            assert max(powers) <= 1


def test_tables_of_the_solver_have_one_entry_per_reacting_species():
    count = len(REACTING)
    for array in (CENTRAL_OF, LIGAND_OF, PROTON_POWER, WATER_POWER):
        assert len(array) == count
        assert not array.flags.writeable
    assert CENTRAL_OF.max() == CENTRAL_COUNT
    assert LIGAND_OF.max() == LIGAND_COUNT


def test_a_reaction_can_be_turned_either_way_round():
    forward = formation_from_masters(reaction("H+ + F- = HF", 3.0, 5.0), "HF", {})
    backward = formation_from_masters(reaction("HF = H+ + F-", -3.0, -5.0), "HF", {})
    assert forward.powers == backward.powers == {"H+": 1, "F-": 1}
    assert forward.coefficients == pytest.approx(backward.coefficients)


def test_coefficients_reproduce_constant_and_enthalpy_at_25_degrees():
    coefficients = temperature_function(reaction("A = B", 2.0, 20.0))
    assert log10_equilibrium_constant(*coefficients, 298.15) == pytest.approx(2.0, abs=1e-12)
    step = 1e-3
    rise = log10_equilibrium_constant(*coefficients, 298.15 + step) - 2.0
    expected = 20000.0 / (8.314462618 * math.log(10.0)) * step / 298.15**2
    assert rise == pytest.approx(expected, rel=1e-4)


def test_unreadable_terms_are_refused():
    with pytest.raises(ValueError, match="cannot read"):
        reaction_side("2 H+ 3")


def test_constants_without_a_temperature_are_nan():
    assert math.isnan(log10_equilibrium_constant(1.0, 0.0, 0.0, 0.0, 0.0, 0.0, math.nan))
    assert math.isnan(log10_equilibrium_constant(1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    constants = constants_array()
    fill_constants(math.nan, constants)
    assert np.isnan(constants[SPECIES_NAMES.index("OH-")])
    fill_constants(298.15, constants)
    assert constants.shape == (CONSTANT_COUNT,)
    assert np.isfinite(constants).all()


@pytest.mark.parametrize("temperature", [1.0, 20.0, 1000.0])
def test_temperature_far_outside_gives_no_exception_without_compiling_either(temperature):
    for fill in (fill_constants, getattr(fill_constants, "py_func", fill_constants)):
        constants = constants_array()
        with np.errstate(all="ignore"):
            fill(temperature, constants)
        assert constants.size == CONSTANT_COUNT
