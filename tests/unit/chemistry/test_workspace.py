"""The parts of a workspace follow each other without a gap and without sharing a place."""

import itertools

import numpy as np

from service.chemistry import workspace as layout
from service.chemistry.activity import CLASS_COUNT
from service.chemistry.equilibrium_constants import (
    CENTRAL_COUNT,
    CENTRAL_IONS,
    CENTRAL_OF,
    LIGAND_COUNT,
    LIGAND_OF,
    PROTON_POWER,
    REACTING_COUNT,
)
from service.chemistry.species import SPECIES_COUNT
from service.chemistry.species_groups import (
    CENTRAL_START,
    GROUP_COUNT,
    GROUP_LIGAND,
    GROUP_START,
    UNPAIRED_GROUPS,
)

CENTRALS, LIGANDS, CLASSES = CENTRAL_COUNT + 1, LIGAND_COUNT + 1, CLASS_COUNT + 1
UNKNOWNS = LIGAND_COUNT + 1
COMPONENTS = CENTRAL_COUNT + LIGAND_COUNT
POWERS = int(PROTON_POWER.max() - PROTON_POWER.min()) + 1
SIZES = {
    "PH": 1,
    "IONIC_STRENGTH": 1,
    "WATER_ACTIVITY": 1,
    "CHARGE_IMBALANCE": 1,
    "TOTAL_CARBONATE": 1,
    "ITERATIONS": 1,
    "AMOUNT": 1,
    "AMOUNT_SLOPE": 1,
    "MOLALITY": SPECIES_COUNT,
    "ACTIVITY_COEFFICIENT": SPECIES_COUNT,
    "CONDITIONAL": REACTING_COUNT,
    "DRIFT": REACTING_COUNT,
    "CLASS_COEFFICIENT": CLASSES,
    "CLASS_INVERSE": CLASSES,
    "CLASS_DRIFT": CLASSES,
    "CLASS_PRESENT": CLASSES,
    "GROUP_PRESENT": GROUP_COUNT,
    "UNKNOWN": UNKNOWNS,
    "TOTAL": COMPONENTS,
    "BEFORE_REAGENT": COMPONENTS,
    "REAGENT": COMPONENTS,
    "GROUP_SUMS": 8 * GROUP_COUNT,
    "CENTRAL_FREE": CENTRALS,
    "LIGAND_FREE": LIGANDS,
    "POWER": POWERS,
    "CENTRAL_PROTON": CENTRALS,
    "CENTRAL_SQUARE": CENTRALS,
    "PAIR": CENTRALS * LIGANDS,
    "LIGAND_SUM": LIGANDS,
    "LIGAND_PROTON": LIGANDS,
    "LIGAND_SQUARE": LIGANDS,
    "MATRIX": UNKNOWNS * UNKNOWNS,
    "INVERSE_PIVOT": UNKNOWNS,
    "RESIDUAL": UNKNOWNS,
    "STRENGTH_COLUMN": UNKNOWNS,
    "AMOUNT_COLUMN": UNKNOWNS,
    "STRENGTH_ROW": UNKNOWNS,
    "CHARGE_ROW": UNKNOWNS,
    "SOLUTE_SUM": 1,
    "FORMAL_SQUARE": 1,
    "FORMAL_SUM": 1,
}
"""Numbers that each part holds, in order."""


def test_parts_follow_each_other() -> None:
    ends = list(itertools.accumulate(SIZES.values()))
    assert [getattr(layout, name) for name in SIZES] == [0, *ends[:-1]]
    assert ends[-1] == layout.WORKSPACE_SIZE
    assert layout.RESULT_SIZE == layout.CONDITIONAL
    assert (layout.HYDROGEN_UNKNOWN, layout.UNKNOWN_COUNT) == (LIGAND_COUNT, UNKNOWNS)
    assert layout.GROUP_SUM_COUNT == 8
    assert layout.workspace().tolist() == [0.0] * ends[-1]


def test_groups_hold_the_reacting_species_of_one_pair_each() -> None:
    pairs = list(zip(CENTRAL_OF.tolist(), LIGAND_OF.tolist(), strict=True))
    starts = GROUP_START.tolist()
    assert (starts[0], starts[-1], len(starts)) == (0, REACTING_COUNT, GROUP_COUNT + 1)
    groups = [pairs[begin:end] for begin, end in itertools.pairwise(starts)]
    assert all(len(set(group)) == 1 for group in groups)
    assert len({group[0] for group in groups}) == GROUP_COUNT
    assert GROUP_LIGAND.tolist() == [group[0][1] for group in groups]
    assert len(CENTRAL_IONS) == CENTRAL_COUNT
    firsts = CENTRAL_START.tolist()
    assert (firsts[0], firsts[-1], len(firsts)) == (0, GROUP_COUNT, CENTRAL_COUNT + 2)
    for central, (begin, end) in enumerate(itertools.pairwise(firsts)):
        assert {groups[place][0][0] for place in range(begin, end)} == {central}
    unpaired = [
        place
        for place, group in enumerate(groups)
        if group[0][0] == CENTRAL_COUNT or group[0][1] == LIGAND_COUNT
    ]
    assert UNPAIRED_GROUPS.tolist() == unpaired
    assert np.all(np.diff(CENTRAL_OF.astype(int)) >= 0)
