import numpy as np
import pytest

from service.reference import catalogue
from service.reference.catalogue import CLOSURES, PRODUCT_KINDS, products
from service.reference.components import COMPONENT_COUNT, COMPONENT_NAMES, NOMINAL_CHARGE
from service.reference.labels import check_label
from service.reference.sources import sources
from service.reference.tables import ReferenceDataError, read_table

REQUIRED = (
    "calcium_nitrate_tetrahydrate",
    "calcium_ammonium_nitrate_decahydrate",
    "potassium_nitrate",
    "magnesium_sulfate_heptahydrate",
    "magnesium_nitrate_hexahydrate",
    "monopotassium_phosphate",
    "monoammonium_phosphate",
    "potassium_sulfate",
    "ammonium_sulfate",
    "ammonium_nitrate",
    "urea",
    "calcium_chloride_dihydrate",
    "potassium_chloride",
    "boric_acid",
    "sodium_borate_decahydrate",
    "iron_sulfate_heptahydrate",
    "manganese_sulfate_monohydrate",
    "zinc_sulfate_heptahydrate",
    "copper_sulfate_pentahydrate",
    "manganese_chloride_tetrahydrate",
    "sodium_molybdate_dihydrate",
    "iron_edta",
    "iron_dtpa",
    "iron_eddha",
    "potassium_hydroxide",
    "potassium_bicarbonate",
    "potassium_carbonate",
    "feed_20_20_20",
    "feed_15_5_15_ca_mg",
    "feed_13_3_15_ca_mg",
    "feed_20_10_20",
    "feed_30_10_10",
    "feed_10_30_20",
    "feed_15_0_15",
    "feed_20_5_19",
    "feed_13_2_13_ca_mg",
    "calcium_magnesium_supplement",
    "feed_liquid_4_3_6",
    "seaweed_extract",
)


def test_required_products_are_there() -> None:
    assert set(REQUIRED) <= set(products())


@pytest.mark.parametrize("key", list(products()))
def test_product_is_whole(key: str) -> None:
    product = products()[key]
    assert product.key == key
    assert product.kind in PRODUCT_KINDS
    assert product.closure_rule in (None, *CLOSURES)
    assert product.sources
    assert set(product.sources) <= set(sources())
    if product.formula:
        assert product.composition_mmol_per_g is not None
        assert product.composition_mmol_per_g.shape == (COMPONENT_COUNT,)
        assert not product.composition_mmol_per_g.flags.writeable
        assert product.label is None
    else:
        assert product.label is not None
        check_label(product.label, product.form, product.density_kg_per_l)


# Hydrogen or hydroxide ions that one formula unit gives to water besides its components.
ACIDITY = {
    "monopotassium_phosphate": 1,
    "dipotassium_phosphate": 2,
    "monoammonium_phosphate": 1,
    "diammonium_phosphate": 2,
    "sodium_borate_decahydrate": 2,
    "potassium_hydroxide": 1,
    "potassium_bicarbonate": 1,
    "potassium_carbonate": 2,
}


@pytest.mark.parametrize("key", [key for key, product in products().items() if product.formula])
def test_charge_left_to_hydrogen_ions_is_that_of_the_salt(key: str) -> None:
    product = products()[key]
    assert product.composition_mmol_per_g is not None
    assert product.molar_mass_g_per_mol is not None
    charge = float(np.array(NOMINAL_CHARGE) @ product.composition_mmol_per_g)
    per_unit = charge * product.molar_mass_g_per_mol / 1000.0
    assert per_unit == pytest.approx(ACIDITY.get(key, 0), abs=1e-9)


def test_double_salt_is_the_calcium_nitrate_of_the_trade() -> None:
    product = products()["calcium_ammonium_nitrate_decahydrate"]
    assert product.composition_mmol_per_g is not None
    nitrate, ammonium, calcium = (
        product.composition_mmol_per_g[COMPONENT_NAMES.index(name)]
        for name in ("nitrate", "ammonium", "calcium")
    )
    # Trade analysis 14.4 % nitrate N, 1.1 % ammonium N, 19 % Ca, rounded down on the bag.
    assert nitrate * 1.4007 == pytest.approx(14.4, abs=0.3)
    assert ammonium * 1.4007 == pytest.approx(1.1, abs=0.25)
    assert calcium * 4.0078 == pytest.approx(19.0, abs=0.5)


def test_only_nitrates_are_oxidisers() -> None:
    for key, product in products().items():
        if product.oxidiser:
            assert key.split("_")[1] == "nitrate"


def test_formula_and_components_must_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    tampered = [
        {**row, "value": "2"}
        if (row["product"], row["quantity"]) == ("potassium_nitrate", "component.nitrate")
        else row
        for row in read_table("product_values", ())
    ]
    monkeypatch.setattr(
        catalogue,
        "read_table",
        lambda name, columns: tampered if name == "product_values" else read_table(name, columns),
    )
    with pytest.raises(ReferenceDataError, match="disagree on nitrogen"):
        products.__wrapped__()


def test_value_of_an_unknown_product_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def without_first(name: str, columns: tuple[str, ...]) -> tuple[object, ...]:
        rows = read_table(name, columns)
        return rows[1:] if name == "products" else rows

    monkeypatch.setattr(catalogue, "read_table", without_first)
    with pytest.raises(ReferenceDataError, match="calcium_nitrate_tetrahydrate"):
        products.__wrapped__()


@pytest.mark.parametrize(
    ("column", "value", "phrase"),
    [
        ("kind", "powder", "kind must be one of"),
        ("oxidiser", "yes", "oxidiser must be one of"),
        ("closure", "iodide", "closure must be one of"),
    ],
)
def test_wrong_choice_in_the_table_is_an_error(
    monkeypatch: pytest.MonkeyPatch, column: str, value: str, phrase: str
) -> None:
    def tampered(name: str, columns: tuple[str, ...]) -> tuple[object, ...]:
        rows = read_table(name, columns)
        return ({**rows[0], column: value}, *rows[1:]) if name == "products" else rows

    monkeypatch.setattr(catalogue, "read_table", tampered)
    with pytest.raises(ReferenceDataError, match=phrase):
        products.__wrapped__()


def test_published_label_conductivity_is_between_the_makers() -> None:
    stated = products()["feed_20_20_20"].label_ec_ms_per_cm_at_100_mg_per_l_n
    assert stated is not None
    assert 0.41 <= stated <= 0.46
