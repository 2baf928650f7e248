import os
from pathlib import Path

import pytest

from service.chemistry.product import product_catalogue, product_compositions
from service.reference.house_catalogue import HOUSE_SOURCE, MAXIMUM_FILE_BYTES, house_products
from service.reference.sources import sources
from service.reference.tables import ReferenceDataError

EXAMPLE = Path(__file__).resolve().parents[3] / "examples" / "shelf.toml"

GOOD = """
[products.my_feed]
name = "Feed"
kind = "feed"
form = "solid"
[products.my_feed.label]
nitrate_n_percent = 10
k2o_percent = 30
"""


def problem(tmp_path: Path, text: str) -> ReferenceDataError:
    path = tmp_path / "house.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ReferenceDataError) as caught:
        house_products(path)
    return caught.value


def test_example_is_read() -> None:
    entries = house_products(EXAMPLE)
    assert list(entries) == ["shelf_feed", "shelf_liquid", "shelf_kelp"]
    liquid = entries["shelf_liquid"]
    assert liquid.form == "liquid"
    assert liquid.density_kg_per_l == 1.12
    assert liquid.label_ec_ms_per_cm_at_100_mg_per_l_n is None
    assert entries["shelf_feed"].label_ec_ms_per_cm_at_100_mg_per_l_n == 0.7
    assert entries["shelf_kelp"].closure_rule == "unmeasured"
    assert HOUSE_SOURCE in sources()


def test_house_products_join_the_catalogue_with_compositions() -> None:
    compositions = product_compositions(EXAMPLE)
    assert "potassium_nitrate" in compositions
    assert compositions["shelf_feed"].sum() > 0.0
    assert product_catalogue(EXAMPLE)["shelf_liquid"].composition_mmol_per_ml is not None


def test_file_without_products_adds_none(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text("", encoding="utf-8")
    assert dict(house_products(path)) == {}


@pytest.mark.parametrize(
    ("old", "new", "field", "phrase"),
    [
        (
            "k2o_percent = 30",
            "p2o5_percent = 120",
            "products.my_feed.label.p2o5_percent",
            "must be between 0 and 100, got 120",
        ),
        (
            "k2o_percent = 30",
            "p205_percent = 12",
            "products.my_feed.label.p205_percent",
            "did you mean p2o5_percent",
        ),
        (
            "k2o_percent = 30",
            "k2o_percent = true",
            "products.my_feed.label.k2o_percent",
            "must be a number",
        ),
        (
            "k2o_percent = 30",
            "k2o_percent = nan",
            "products.my_feed.label.k2o_percent",
            "must be a number",
        ),
        ('kind = "feed"', 'kind = "salt"', "products.my_feed.kind", "must be one of"),
        ('kind = "feed"', "", "products.my_feed.kind", "is missing"),
        ('form = "solid"', 'form = "gas"', "products.my_feed.form", "solid, liquid"),
        ('form = "solid"', 'form = ["solid"]', "products.my_feed.form", "solid, liquid"),
        (
            'form = "solid"',
            'form = "liquid"',
            "products.my_feed.density_kg_per_l",
            "is needed",
        ),
        (
            'form = "solid"',
            'form = "solid"\ndensity_kg_per_l = "heavy"',
            "products.my_feed.density_kg_per_l",
            "must be a number",
        ),
        ('name = "Feed"', 'name = " "', "products.my_feed.name", "1 to 200 characters"),
        ('name = "Feed"', "name = 5", "products.my_feed.name", "1 to 200 characters"),
        (
            'name = "Feed"',
            'name = "Feed"\nflavour = "mint"',
            "products.my_feed.flavour",
            "is not a field",
        ),
        (
            'name = "Feed"',
            'name = "Feed"\noxidizer = true',
            "products.my_feed.oxidizer",
            "did you mean oxidiser",
        ),
        (
            'name = "Feed"',
            'name = "Feed"\noxidiser = "no"',
            "products.my_feed.oxidiser",
            "true or false",
        ),
        (
            'name = "Feed"',
            'name = "Feed"\nclosure = "iodide"',
            "products.my_feed.closure",
            "must be one of",
        ),
        ("products.my_feed", "products.My-feed", "products.My-feed", "lower case"),
        ("products.my_feed", "products.urea", "products.urea", "already in the packaged"),
        ("products.my_feed", "product.my_feed", "product", "did you mean products"),
        ("[products.my_feed.label]", "[products.my_feed.notes]", None, "is not a field"),
    ],
)
def test_error_names_the_product_and_the_field(
    tmp_path: Path, old: str, new: str, field: str | None, phrase: str
) -> None:
    text = GOOD.replace(old, new)
    assert text != GOOD
    error = problem(tmp_path, text)
    assert field is None or error.field == field
    assert phrase in str(error)


@pytest.mark.parametrize(
    ("text", "field", "phrase"),
    [
        ("products = 3", "products", "must be a table"),
        ("products.a = 3", "products.a", "must be a table"),
        ('[products.a]\nname = "A"', "products.a.label", "is required"),
        ("products = [", "house.toml", "not valid TOML"),
        ("#" * (MAXIMUM_FILE_BYTES + 1), "house.toml", "larger than"),
    ],
)
def test_unusable_file_is_named(tmp_path: Path, text: str, field: str, phrase: str) -> None:
    error = problem(tmp_path, text)
    assert error.field == field
    assert phrase in error.detail


def test_file_that_is_not_text_is_named(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ReferenceDataError, match="UTF-8"):
        house_products(path)


def test_missing_file_is_named_without_its_folder(tmp_path: Path) -> None:
    with pytest.raises(ReferenceDataError, match=r"^absent\.toml: cannot be read") as caught:
        house_products(tmp_path / "absent.toml")
    assert os.sep not in str(caught.value)
