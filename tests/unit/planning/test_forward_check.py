"""A can that is not what it was planned to be is not given."""

import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.doses import plan
from service.planning.forward_check import can_is_as_planned
from service.reference.components import NITRATE
from tests.mixing import by_element, dilution, dose, filled

FED = {
    "plants": {"size": "large", "setup": "wet_dry_pot"},
    "air": {"humidity_percent": 80, "temperature_celsius": 22},
    "water": "reverse_osmosis",
    "volume_l": 100,
}


def holds(can):
    profile = can.catalogue.profile_table[can.row["profile"]]
    return can_is_as_planned(can.row, can.catalogue.product_table, profile, can.result)


def fed():
    can = dose(**FED, product="feed_20_5_19", strength=by_element("nitrogen", 90))
    assert can.status == "ok"
    assert holds(can)
    return can


@pytest.mark.parametrize(
    ("field", "factor"),
    [
        ("predicted_ec_ms_per_cm", float("nan")),
        ("predicted_ec_ms_per_cm", 3.0),
        ("amount", 1.3),
        ("amount", -1.0),
        ("elements_mg_per_l", 1.1),
        ("elements_mg_per_l", 0.9),
        ("nitrogen_ceiling_mg_per_l", 0.3),
        ("ammonium_ceiling_mg_per_l", 0.2),
        ("ec_ceiling_ms_per_cm", 0.3),
        ("share_of_requested", 0.5),
        ("composition_mmol_per_l", 10.0),
    ],
)
def test_can_that_was_changed_after_planning_is_noticed(field, factor):
    can = fed()
    can.result[field] = can.result[field] * factor
    assert not holds(can)


def test_every_micronutrient_is_looked_at():
    for element in ("boron", "copper", "zinc", "manganese", "iron", "molybdenum"):
        product = {
            "boron": "boric_acid",
            "copper": "copper_sulfate_pentahydrate",
            "zinc": "zinc_sulfate_heptahydrate",
            "manganese": "manganese_sulfate_monohydrate",
            "iron": "iron_dtpa",
            "molybdenum": "sodium_molybdate_dihydrate",
        }[element]
        can = dose(**FED, product=product)
        assert holds(can)
        can.result["composition_mmol_per_l"] = 1.1 * can.result["composition_mmol_per_l"]
        assert not holds(can)


@pytest.mark.parametrize(
    "strength",
    [{"basis": "conductivity", "ec_ms_per_cm": 0.6}, {"basis": "meter_ppm", "ppm": 300}],
)
def test_conductivity_that_is_missed_is_noticed(strength):
    can = dilution(product="potassium_nitrate", strength=strength, water="rain", volume_l=100)
    assert holds(can)
    can.result["predicted_ec_ms_per_cm"] *= 1.05
    assert not holds(can)


def test_product_table_that_changes_under_a_plan_is_noticed():
    known = catalogue()
    asked, results = filled(
        [{**FED, "product": "potassium_nitrate", "strength": by_element("nitrogen", 90)}],
        known,
        True,
    )
    plan(asked, results, known)
    table = known.product_table.copy()
    table[asked[0]["product"][0], NITRATE] *= 1.5
    profile = known.profile_table[asked[0]["profile"]]
    assert can_is_as_planned(asked[0], known.product_table, profile, results[0])
    assert not can_is_as_planned(asked[0], table, profile, results[0])


def test_infeasible_row_is_not_held_against_the_ceilings_that_it_names():
    can = dose(**{**FED, "plants": {"size": "mini"}, "water": "hard_tap"}, product="urea")
    assert rows.STATUSES[can.result["status"]] == "infeasible"
    assert holds(can)


@pytest.mark.parametrize(
    ("product", "microsiemens", "water", "litres"),
    [
        ("calcium_sulfate_dihydrate", 20.0, "reverse_osmosis", 155.2),
        ("calcium_sulfate_dihydrate", 21.5, "rain", 30.97),
        ("magnesium_sulfate_heptahydrate", 18.0, "reverse_osmosis", 160.0),
        ("potassium_nitrate", 18.0, "reverse_osmosis", 160.0),
    ],
)
def test_step_of_a_balance_in_almost_pure_water_is_allowed_what_it_brings_there(
    product, microsiemens, water, litres
):
    can = dose(
        product=product,
        strength={"basis": "conductivity", "ec_ms_per_cm": microsiemens / 1000.0},
        water=water,
        volume_l=litres,
        air={"humidity_percent": 70, "temperature_celsius": 22},
    )
    assert can.status == "ok"
