from collections.abc import Mapping

import molmass
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reference.catalogue import products
from service.reference.formula import (
    MAXIMUM_LENGTH,
    FormulaError,
    atomic_weights,
    element_counts,
    mass_fraction,
    molar_mass,
)


@pytest.mark.parametrize("symbol", list(atomic_weights()))
def test_atomic_weight_agrees_with_periodictable(symbol: str) -> None:
    theirs = periodictable.elements.symbol(symbol).mass
    # Abridged to five digits: at most half a unit in the fifth, 5e-5 of the value.
    assert atomic_weights()[symbol] == pytest.approx(theirs, rel=2e-4)
    assert len(str(atomic_weights()[symbol]).replace(".", "").lstrip("0")) <= 5


@pytest.mark.parametrize("key", [key for key, product in products().items() if product.formula])
def test_molar_mass_of_every_product_agrees_with_molmass(key: str) -> None:
    formula = products()[key].formula
    assert formula is not None
    theirs = sum(
        int(coefficient or 1) * molmass.Formula(part).mass for coefficient, part in _parts(formula)
    )
    assert molar_mass(formula) == pytest.approx(theirs, rel=1e-4)


def _parts(formula: str) -> list[tuple[str, str]]:
    pairs = []
    for part in formula.split("."):
        body = part.lstrip("0123456789")
        pairs.append((part[: len(part) - len(body)], body))
    return pairs


@pytest.mark.parametrize(
    ("formula", "counts"),
    [
        ("CaSO4.2H2O", {"Ca": 1, "S": 1, "O": 6, "H": 4}),
        ("CaSO4·2H2O", {"Ca": 1, "S": 1, "O": 6, "H": 4}),
        ("CaSO4 * 2 H2O", {"Ca": 1, "S": 1, "O": 6, "H": 4}),
        ("CaSO₄·2H₂O", {"Ca": 1, "S": 1, "O": 6, "H": 4}),
        ("5Ca(NO3)2.NH4NO3.10H2O", {"Ca": 5, "N": 12, "O": 43, "H": 24}),
        ("2H2O", {"H": 4, "O": 2}),
        ("Fe4[Fe(CN)6]3", {"Fe": 7, "C": 18, "N": 18}),
        ("K3[Fe(C2O4)3].3H2O", {"K": 3, "Fe": 1, "C": 6, "O": 15, "H": 6}),
        ("{[(NH4)2SO4]2}2", {"N": 8, "H": 32, "S": 4, "O": 16}),
        ("Co", {"Co": 1}),
        ("CO", {"C": 1, "O": 1}),
    ],
)
def test_atoms_are_counted(formula: str, counts: dict[str, int]) -> None:
    assert dict(element_counts(formula)) == counts


@pytest.mark.parametrize(
    ("formula", "part"),
    [
        ("", ""),
        ("KXo3", "Xo"),
        ("KNo3", "No"),
        ("Ca(NO3", "("),
        ("Ca(NO3))2", "Ca(NO3))2"),
        ("Ca(NO3]2", "Ca(NO3]2"),
        ("Ca()2", "()2"),
        ("Ca0", "Ca0"),
        ("Ca(OH)0", ")0"),
        ("0H2O", "0H2O"),
        ("CaSO4.", "."),
        (".CaO", "."),
        ("CaSO4.2", "2"),
        ("Ca+2", "+"),
        ("caso4", "c"),
        ("H2O" * 100, ("H2O" * 100)[:20]),
    ],
)
def test_error_names_the_bad_part(formula: str, part: str) -> None:
    with pytest.raises(FormulaError) as caught:
        element_counts(formula)
    assert caught.value.part == part
    assert repr(part) in str(caught.value)


def counts_or_none(text: str) -> Mapping[str, float] | None:
    try:
        return element_counts(text)
    except FormulaError:
        return None


@given(st.text(alphabet="CaHNO0123456789()[].·+ ", max_size=40))
def test_any_text_gives_counts_or_a_formula_error(text: str) -> None:
    counts = counts_or_none(text)
    assert counts is None or (counts and min(counts.values()) >= 1)


def test_counts_cannot_be_changed_by_a_caller() -> None:
    with pytest.raises(TypeError):
        element_counts("NaCl")["Na"] = 2.0  # type: ignore[index]


def test_mass_fractions_of_a_formula_add_up_to_one() -> None:
    formula = "5Ca(NO3)2.NH4NO3.10H2O"
    total = sum(mass_fraction(formula, symbol) for symbol in element_counts(formula))
    assert total == pytest.approx(1.0, abs=1e-12)


def test_mass_fraction_of_an_absent_element_is_zero() -> None:
    assert mass_fraction("KNO3", "Ca") == 0.0


def test_mass_fraction_of_an_unknown_element_is_an_error() -> None:
    with pytest.raises(FormulaError, match="Zz"):
        mass_fraction("KNO3", "Zz")


def test_length_limit_is_inclusive() -> None:
    longest = "H2" * (MAXIMUM_LENGTH // 2)
    assert element_counts(longest)["H"] == MAXIMUM_LENGTH
