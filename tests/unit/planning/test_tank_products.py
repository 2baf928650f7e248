import numpy as np
import pytest

from service.planning.tank_products import acidity, chelates_in, own_pair, verdict
from service.reference.components import COMPONENT_COUNT
from tests.stocking import product, reagent


def kind_of(first: str, second: str) -> str | None:
    said = verdict(product(first), product(second))
    return None if said is None else said.kind


@pytest.mark.parametrize(
    ("key", "classes"),
    [
        ("calcium_nitrate_tetrahydrate", {"calcium", "oxidiser"}),
        ("potassium_chloride", set()),
        ("zinc_sulfate_heptahydrate", {"trace_metal"}),
        ("iron_sulfate_heptahydrate", {"iron_salt"}),
        ("dipotassium_phosphate", {"phosphate", "alkaline"}),
        ("potassium_bicarbonate", {"carbonate", "alkaline", "caustic"}),
        ("urea_phosphate", {"acid", "organic", "phosphate"}),
        ("boric_acid", set()),
        ("sodium_borate_decahydrate", set()),
        ("seaweed_extract", {"seaweed", "organic"}),
        ("iron_eddha", {"chelate", "iron_eddha"}),
    ],
)
def test_classes_follow_from_what_a_product_holds(key: str, classes: set[str]) -> None:
    assert product(key).classes == classes


@pytest.mark.parametrize(
    ("first", "second", "kind"),
    [
        ("calcium_nitrate_tetrahydrate", "ammonium_sulfate", "forbidden"),
        ("magnesium_sulfate_heptahydrate", "calcium_chloride_dihydrate", "forbidden"),
        ("calcium_nitrate_tetrahydrate", "manganese_sulfate_monohydrate", None),
        ("calcium_nitrate_tetrahydrate", "feed_20_20_20", "forbidden"),
        ("calcium_nitrate_tetrahydrate", "seaweed_extract", "forbidden"),
        ("magnesium_sulfate_heptahydrate", "monopotassium_phosphate", "apart"),
        ("magnesium_sulfate_heptahydrate", "diammonium_phosphate", "forbidden"),
        ("iron_sulfate_heptahydrate", "monopotassium_phosphate", "forbidden"),
        ("iron_edta", "monopotassium_phosphate", "apart"),
        ("iron_edta", "potassium_carbonate", "forbidden"),
        ("iron_dtpa", "citric", "forbidden"),
        ("potassium_silicate_solution", "potassium_nitrate", "forbidden"),
        ("potassium_silicate_solution", "potassium_carbonate", None),
        ("potassium_nitrate", "urea", "flagged"),
        ("potassium_carbonate", "ammonium_sulfate", "forbidden"),
        ("potassium_nitrate", "potassium_sulfate", None),
    ],
)
def test_verdict_of_a_pair_is_the_same_both_ways(first: str, second: str, kind: str | None) -> None:
    assert kind_of(first, second) == kind_of(second, first) == kind


@pytest.mark.parametrize("other", ["iron_edta", "potassium_bicarbonate", "seaweed_extract"])
def test_acid_is_kept_from_chelates_bases_and_seaweed(other: str) -> None:
    for kind in ("nitric", "phosphoric", "sulfuric", "citric"):
        said = verdict(reagent(kind, 1.0), product(other))
        assert said is not None
        assert said.kind == "forbidden"


def test_nitric_acid_may_stand_with_calcium_but_phosphoric_and_sulfuric_may_not() -> None:
    calcium = product("calcium_nitrate_tetrahydrate")
    kinds = {
        kind: verdict(calcium, reagent(kind, 1.0)).kind
        for kind in ("nitric", "phosphoric", "sulfuric")
    }
    assert kinds == {"nitric": "apart", "phosphoric": "forbidden", "sulfuric": "forbidden"}


@pytest.mark.parametrize(
    ("key", "pair"),
    [
        ("calcium_sulfate_dihydrate", ("calcium", "sulfate")),
        ("feed_13_3_15_ca_mg", ("calcium", "phosphate")),
    ],
)
def test_product_that_carries_a_forbidden_pair_is_known(key: str, pair: tuple[str, str]) -> None:
    rule = own_pair(product(key))[0]
    assert (rule.first, rule.second) == pair


def test_plain_salts_carry_no_pair() -> None:
    for key in ("calcium_nitrate_tetrahydrate", "magnesium_sulfate_heptahydrate", "feed_20_20_20"):
        assert own_pair(product(key)) == ()


def test_acid_and_base_cancel() -> None:
    acid, base = np.zeros(COMPONENT_COUNT), np.zeros(COMPONENT_COUNT)
    acid += reagent("nitric", 2.0).added_mmol_per_l
    base += reagent("potassium_hydroxide", 2.0).added_mmol_per_l
    assert acidity(acid) == pytest.approx(2.0)
    assert acidity(base) == pytest.approx(-2.0)
    assert acidity(acid + base) == pytest.approx(0.0)


def test_chelate_of_a_feed_counts_as_the_weakest() -> None:
    assert chelates_in([product("iron_eddha"), product("potassium_nitrate")]) == ("iron_eddha",)
    assert "iron_edta" in chelates_in([product("feed_20_20_20")])


def test_shares_of_a_product_add_up_to_it() -> None:
    whole = product("potassium_nitrate", 0.6)
    half = whole.shared(0.5)
    assert half.amount == pytest.approx(0.3)
    assert half.mass_g_per_l == pytest.approx(0.3)
    assert half.added_mmol_per_l == pytest.approx(0.5 * whole.added_mmol_per_l)


def test_liquid_is_weighed_by_its_density_or_by_what_it_holds() -> None:
    stated = reagent("nitric", 6.04, 38.0)
    assert stated.liquid
    assert stated.mass_g_per_l == pytest.approx(stated.amount * 1.233, rel=2e-3)
    silent = product("seaweed_extract", 2.0)
    if silent.density_kg_per_l is None:
        assert 2.0 < silent.mass_g_per_l < 3.0


def test_acid_of_full_strength_is_weighed() -> None:
    citric = reagent("citric", 1.0, 100.0)
    assert not citric.liquid
    assert citric.amount == pytest.approx(0.19212, rel=1e-3)
