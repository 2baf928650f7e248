from pathlib import Path

import pytest

from service.chemistry.label import LabelError
from service.chemistry.product import (
    completed_product,
    labelled_product,
    product_catalogue,
    product_compositions,
    product_label_composition,
)
from service.reference.catalogue import products
from service.reference.components import COMPONENT_COUNT
from service.reference.tables import ReferenceDataError


def test_every_packaged_product_has_a_composition() -> None:
    assert list(product_compositions()) == list(products())
    for composition in product_compositions().values():
        assert composition.shape == (COMPONENT_COUNT,)
        assert not composition.flags.writeable
        assert (composition[:-1] >= 0.0).all()
        assert composition[:-1].max() > 0.0


def test_every_product_known_by_label_names_its_closure() -> None:
    for product in product_catalogue().values():
        assert (product.closure is None) == (product.label is None)


@pytest.mark.parametrize(
    "key",
    [
        "feed_20_20_20",
        "feed_20_5_19",
        "feed_20_10_20",
        "feed_30_10_10",
        "feed_10_30_20",
        "feed_15_0_15",
        "feed_13_3_15_ca_mg",
        "feed_13_2_13_ca_mg",
        "feed_liquid_4_3_6",
        "calcium_magnesium_supplement",
    ],
)
def test_generic_analysis_is_balanced_by_its_nitrogen_forms(key: str) -> None:
    assert product_catalogue()[key].closure == "balanced"


def test_calcium_phosphate_feed_is_an_acid_phosphate() -> None:
    assert product_catalogue()["feed_15_5_15_ca_mg"].closure == "acid_phosphate"


def test_liquids_are_known_by_volume_too() -> None:
    for product in product_catalogue().values():
        assert (product.composition_mmol_per_ml is None) == (product.form == "solid")


def test_pure_substance_has_no_label_and_stays_as_it_is() -> None:
    salt = products()["urea"]
    assert product_label_composition(salt) is None
    assert completed_product(salt) is salt


def test_completing_twice_changes_nothing() -> None:
    once = completed_product(products()["iron_edta"])
    twice = completed_product(once)
    assert once.closure == twice.closure == "sodium"
    assert once.composition_mmol_per_g == pytest.approx(twice.composition_mmol_per_g)


def test_label_of_a_caller_becomes_a_product() -> None:
    product = labelled_product(
        "Feed", "liquid", {"k_percent": 4.0, "ec_ms_per_cm_at_100_mg_per_l_n": 0.6}, 1.1
    )
    assert product.composition_mmol_per_ml is not None
    assert product.label_ec_ms_per_cm_at_100_mg_per_l_n == 0.6
    assert product.closure == "sulfate"


def test_label_of_a_caller_is_checked() -> None:
    with pytest.raises(LabelError):
        labelled_product("Feed", "liquid", {"k_percent": 4.0})


def test_house_product_without_density_is_left_out_of_the_weighable_ones(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text(
        '[products.drops]\nname = "Drops"\nkind = "feed"\nform = "liquid"\n'
        '[products.drops.label]\nbasis = "volume"\nk_percent = 4.0\n',
        encoding="utf-8",
    )
    assert product_catalogue(path)["drops"].composition_mmol_per_ml is not None
    assert "drops" not in product_compositions(path)


def test_wrong_house_catalogue_is_named(tmp_path: Path) -> None:
    with pytest.raises(ReferenceDataError, match="absent"):
        product_catalogue(tmp_path / "absent.toml")
