"""Workings in the making: formulas, names, and what one working takes from another."""

import pytest

from service.chemistry.species import SPECIES_COUNT, SPECIES_NAMES
from service.planning.explain.formula import evaluated, names_in, significant
from service.planning.explain.species_names import gamma_name, species_name
from service.planning.explain.working import Working, signed_sum, signed_term, unit_of


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("2 + 3 * a", 14.0),
        ("-(a - 6) ** 2", -4.0),
        ("10 ** log10(a) / max(a, b, 1)", 1.0),
        ("exp(log(a))", 4.0),
        ("-floor(-(a / 3 - 1e-9))", 2.0),
        ("nearest(2.5) + nearest(3.5)", 6.0),
        ("significant(a / 3, 3)", 1.33),
        ("min(a, b)", 0.5),
    ],
)
def test_formula_is_arithmetic_on_named_numbers(formula: str, value: float) -> None:
    assert evaluated(formula, {"a": 4.0, "b": 0.5}) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "formula",
    ["", "sin(1)", "__import__('os')", "a.b", "[1]", "1 if a else 2", "max(a, key=1)", "a % 2",
     "'a'", "True", "lambda: 1", "a and 2", "1j"],
)  # fmt: skip
def test_what_is_no_arithmetic_is_no_formula(formula: str) -> None:
    with pytest.raises((ValueError, SyntaxError)):
        evaluated(formula, {"a": 1.0})


def test_names_of_a_formula_stand_once_and_functions_are_none() -> None:
    assert names_in("max(b, a) * b / significant(c, 4)") == ("b", "a", "c")


def test_answers_have_no_negative_zero() -> None:
    assert str(significant(-0.0, 4)) == "0.0"


def test_a_quantity_stands_in_a_working_once() -> None:
    working = Working()
    working.given("volume_l", 10.0)
    with pytest.raises(ValueError, match="volume_l"):
        working.given("volume_l", 10.0)


def test_a_formula_rests_on_earlier_lines_and_its_own_constants_alone() -> None:
    working = Working()
    working.given("volume_l", 10.0)
    working.computed("mass_g", "volume_l * content", where={"content": 3.0})
    assert working.lines[-1].inputs == {"volume_l": 10.0, "content": 3.0}
    assert working.value("mass_g") == 30.0
    with pytest.raises(KeyError):
        working.computed("other_g", "volume_l * content")


def test_an_answer_is_rounded_and_no_later_formula_takes_it() -> None:
    working = Working()
    working.given("mass_g", 1.23456)
    working.answer("additions.0.mass_g", "mass_g", 4)
    line = working.lines[-1]
    assert (line.value, line.unit, line.field) == (1.235, "g", "additions.0.mass_g")
    assert not working.knows("additions.0.mass_g")


def test_units_follow_from_the_ends_of_names() -> None:
    assert unit_of("share_of_requested") == "1"
    assert unit_of("needed_water_l") == "L"
    assert unit_of("elements_mg_per_l.nitrogen") == "mg/L"


def test_lines_of_another_working_get_names_of_their_own_and_no_answers() -> None:
    other = Working()
    other.part("amounts")
    other.given("volume_l", 4.0)
    other.computed("mass_g", "volume_l * max_content", where={"max_content": 2.0})
    other.answer("mass_g", "mass_g", 4)
    working = Working()
    working.take(other, "can_1_", "can 1")
    assert [line.quantity for line in working.lines] == ["can_1_volume_l", "can_1_mass_g"]
    taken = working.lines[-1]
    assert taken.formula == "can_1_volume_l * max_content"
    assert taken.inputs == {"can_1_volume_l": 4.0, "max_content": 2.0}
    assert taken.part == "can 1: amounts"
    assert working.value("can_1_mass_g") == 8.0


def test_a_sum_begins_with_its_own_sign() -> None:
    assert signed_sum([signed_term(-2, "a"), signed_term(1, "b")]) == "- 2 * a + b"
    assert signed_sum([signed_term(1, "a"), signed_term(-0.5, "b")]) == "a - 0.5 * b"
    assert signed_sum([]) == ""


def test_every_species_and_coefficient_has_a_name_that_formulas_can_use() -> None:
    names = [species_name(index) for index in range(SPECIES_COUNT)]
    assert len(set(names)) == SPECIES_COUNT
    assert all(name.isidentifier() for name in names)
    assert species_name(SPECIES_NAMES.index("HPO4-2")) == "HPO4_2minus"
    assert all(gamma_name(index, "open_").isidentifier() for index in range(SPECIES_COUNT))
