import numpy as np
import pytest

from service.reference import acids as acids_module
from service.reference.acids import acids
from service.reference.components import COMPONENT_NAMES, NOMINAL_CHARGE
from service.reference.tables import ReferenceDataError, read_table

STRONG_CHARGE = {
    "nitric": -1,
    "phosphoric": 0,
    "sulfuric": -2,
    "citric": 0,
    "potassium_hydroxide": 1,
    "potassium_bicarbonate": 1,
    "potassium_carbonate": 2,
}


def test_all_kinds_are_there() -> None:
    assert list(acids()) == list(STRONG_CHARGE)


@pytest.mark.parametrize("key", list(STRONG_CHARGE))
def test_acid_brings_its_charge_and_nothing_can_change_it(key: str) -> None:
    acid = acids()[key]
    charge = np.array(NOMINAL_CHARGE) @ acid.composition_mol_per_mol
    assert charge == STRONG_CHARGE[key]
    assert not acid.composition_mol_per_mol.flags.writeable
    assert acid.default_strength_percent in acid.usual_strengths_percent
    assert max(acid.usual_strengths_percent) <= 100.0


def test_legal_limits_of_the_regulation() -> None:
    limits = {
        key: acid.restricted_above_percent
        for key, acid in acids().items()
        if acid.restricted_above_percent is not None
    }
    assert limits == {"nitric": 3.0, "sulfuric": 15.0}


def test_carbonates_bring_carbonate() -> None:
    carbonate = COMPONENT_NAMES.index("carbonate")
    assert acids()["potassium_carbonate"].composition_mol_per_mol[carbonate] == 1.0
    assert acids()["potassium_hydroxide"].composition_mol_per_mol[carbonate] == 0.0


@pytest.mark.parametrize(
    ("table", "column", "value", "phrase"),
    [
        ("acids", "role", "salt", "role must be"),
        ("acids", "key", "boracic", "no default strength"),
        ("acid_values", "acid", "boracic", "unknown acids"),
        ("acid_values", "quantity", "smell", "unknown quantity"),
        ("acid_values", "quantity", "component.iodide", "unknown component"),
        ("acid_values", "source", "hearsay", "unknown source"),
        ("acid_values", "value", "much", "must be a number"),
        ("acid_values", "note", "", "no default strength"),
    ],
)
def test_wrong_table_is_an_error(
    monkeypatch: pytest.MonkeyPatch, table: str, column: str, value: str, phrase: str
) -> None:
    def tampered(name: str, columns: tuple[str, ...]) -> tuple[object, ...]:
        rows = read_table(name, columns)
        if name != table:
            return rows
        whole = column == "note"
        return tuple(
            {**row, column: value} if whole or number == 0 else row
            for number, row in enumerate(rows)
        )

    monkeypatch.setattr(acids_module, "read_table", tampered)
    with pytest.raises(ReferenceDataError, match=phrase):
        acids.__wrapped__()
