import pytest

from service.reference import compatibility
from service.reference.catalogue import products
from service.reference.compatibility import (
    chelate_limits,
    class_rules,
    dissolving_ranks,
    pair_rules,
)
from service.reference.tables import ReferenceDataError, read_table


def test_every_class_of_a_pair_is_given_by_something() -> None:
    named = {rule.name for rule in class_rules()}
    assert {rule.first for rule in pair_rules()} <= named
    assert {rule.second for rule in pair_rules()} - {"others"} <= named


def test_products_and_chelates_of_the_tables_are_in_the_catalogue() -> None:
    keys = {rule.subject for rule in class_rules() if rule.given_by == "product"}
    keys |= {rank.subject for rank in dissolving_ranks() if rank.group == "product"}
    assert keys | set(chelate_limits()) <= set(products())


def test_calcium_is_forbidden_with_all_that_it_comes_out_with() -> None:
    enemies = {
        rule.second
        for rule in pair_rules()
        if rule.first == "calcium" and rule.verdict == "forbidden"
    }
    assert enemies >= {"phosphate", "sulfate", "carbonate", "silicate", "seaweed"}


def test_chelates_keep_in_a_range_that_grows_with_their_strength() -> None:
    limits = chelate_limits()
    upper = [limits[key].upper_ph for key in ("iron_edta", "iron_dtpa", "iron_eddha")]
    assert upper == [6.0, 6.5, 9.0]
    assert limits["iron_eddha"].lower_ph == 4.0


def test_acid_is_dissolved_first_and_chelates_after_the_salts() -> None:
    ranks = {rank.group: rank.rank for rank in dissolving_ranks()}
    assert ranks["acid"] == min(ranks.values())
    assert ranks["salt"] < ranks["trace_metal"] < ranks["chelate"] < ranks["seaweed"]


@pytest.mark.parametrize(
    ("table", "reader", "column", "value", "phrase"),
    [
        ("compatibility_classes", "class_rules", "given_by", "colour", "unknown given_by"),
        ("compatibility_classes", "class_rules", "name", "gold", "unknown component"),
        ("compatibility_classes", "class_rules", "source", "rumour", "unknown source"),
        ("compatibility_classes", "class_rules", "least_mmol_per_g", "x", "must be a number"),
        ("compatibility_pairs", "pair_rules", "verdict", "maybe", "unknown verdict"),
        ("compatibility_pairs", "pair_rules", "second", "gold", "unknown class"),
        ("chelate_ph_limits", "chelate_limits", "quantity", "colour", "unknown quantity"),
        ("dissolving_order", "dissolving_ranks", "rank", "first", "must be a number"),
    ],
)
def test_wrong_row_is_an_error(
    monkeypatch: pytest.MonkeyPatch,
    table: str,
    reader: str,
    column: str,
    value: str,
    phrase: str,
) -> None:
    class_rules()
    original = read_table

    def changed(name: str, required: tuple[str, ...]) -> tuple[dict[str, str], ...]:
        first, *others = original(name, required)
        return ({**first, column: value}, *others) if name == table else (first, *others)

    monkeypatch.setattr(compatibility, "read_table", changed)
    with pytest.raises(ReferenceDataError, match=phrase):
        getattr(compatibility, reader).__wrapped__()
