"""Tables of reactions and activity parameters."""

import math

import pytest

from service.chemistry.saturation import SOLID_NAMES
from service.reference import equilibrium_tables
from service.reference.equilibrium_tables import (
    load_activity_parameters,
    load_equilibrium_constants,
    load_reactions,
    load_saturation_constants,
)
from service.reference.sources import sources


def test_every_row_has_a_known_source_and_a_locator():
    rows = [
        *load_equilibrium_constants(),
        *load_saturation_constants(),
        *load_activity_parameters(),
    ]
    for row in rows:
        assert row.source in sources(), row
        assert row.locator, row


def test_each_reaction_appears_once_and_gives_one_function():
    for rows in (load_equilibrium_constants(), load_saturation_constants()):
        assert len({row.name for row in rows}) == len(rows)
        for row in rows:
            assert row.analytic == math.isnan(row.log10_k_25_celsius)
            assert row.analytic == any(row.coefficients)


def test_saturation_rows_stand_in_the_order_of_the_index_array():
    assert tuple(row.name for row in load_saturation_constants()) == SOLID_NAMES


@pytest.mark.parametrize("values", ["1.5,2.0", ","])
def test_a_row_with_both_or_neither_function_is_refused(tmp_path, monkeypatch, values):
    head = "species,reaction,log10_k_25_celsius,a1,a2,a3,a4,a5,a6,"
    head += "enthalpy_kj_per_mol,heat_capacity_j_per_mol_k,source,locator"
    (tmp_path / "wrong.csv").write_text(f"{head}\nHF,H+ + F- = HF,{values},,,,,,,,here,there\n")
    monkeypatch.setattr(equilibrium_tables, "TABLES_FOLDER", tmp_path)
    with pytest.raises(ValueError, match="HF needs either"):
        load_reactions("wrong.csv", "species")
