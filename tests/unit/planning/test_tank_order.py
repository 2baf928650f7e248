from service.planning.tank_label import tank_label
from service.planning.tank_order import dissolving_order
from tests.stocking import TRACES, product, reagent, recipe


def keys_in_order(products):
    return [each.key for each, _ in dissolving_order(products)]


def test_acid_stands_first_and_traces_last() -> None:
    products = [
        *recipe({"monopotassium_phosphate": 0.1, "magnesium_sulfate_heptahydrate": 0.5}),
        product("manganese_sulfate_monohydrate", 0.001),
        product("boric_acid", 0.003),
        reagent("nitric", 0.5, 38.0),
    ]
    assert keys_in_order(products) == [
        "nitric_38_percent",
        "boric_acid",
        "magnesium_sulfate_heptahydrate",
        "monopotassium_phosphate",
        "manganese_sulfate_monohydrate",
    ]


def test_potassium_sulfate_goes_before_what_dissolves_easily() -> None:
    products = recipe({"potassium_nitrate": 1.0, "potassium_sulfate": 0.2})
    assert keys_in_order(products) == ["potassium_sulfate", "potassium_nitrate"]


def test_chelate_and_seaweed_close_the_order() -> None:
    products = [product("seaweed_extract"), product("iron_edta"), product("feed_20_20_20")]
    assert keys_in_order(products) == ["feed_20_20_20", "iron_edta", "seaweed_extract"]


def test_every_place_has_a_reason() -> None:
    assert all(reason for _, reason in dissolving_order(recipe(TRACES)))


def label(*products, others=("B",)):
    return tank_label(
        "A",
        [(each.name, 12.3456, "g") for each in products],
        products,
        factor=100.0,
        volume_l=10.0,
        others=others,
        coldest_celsius=10.0,
    )


def test_label_names_contents_factor_and_leaves_room_for_dates() -> None:
    lines = label(product("calcium_nitrate_tetrahydrate"))
    assert lines[0] == "TANK A: stock solution, 100 times strength"
    assert "  Calcium nitrate tetrahydrate: 12.35 g" in lines
    assert any("10 mL in a litre" in line and "tank B" in line for line in lines)
    assert any("10 °C" in line for line in lines)
    assert lines[-1].startswith("Made on: ____")


def test_label_warns_of_what_is_in_the_tank() -> None:
    acid = " ".join(label(reagent("nitric", 1.0), others=()))
    assert "goggles" in acid
    assert "with as much" not in acid
    assert "feed a fire" in " ".join(label(product("potassium_nitrate")))
    assert "few days" in " ".join(label(product("seaweed_extract")))
