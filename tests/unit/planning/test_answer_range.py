"""Between which bounds an answer lies where the water or a label is open."""

import numpy as np
import pytest

from service.planning import rows
from service.planning.answer_range import range_fields
from service.planning.catalogue import catalogue
from service.planning.cautions import assumption_bit
from service.planning.doses import plan
from service.planning.products import labelled_row

NITRIC = rows.ACID_KINDS.index("nitric")


def planned(product="potassium_nitrate", *, preset=None, ph=None, known=None, acid=False, **water):
    known = known or catalogue()
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    row = requests[0]
    row["limited"] = 1
    row["size"] = rows.SIZES.index("large")
    row["profile"] = known.default_profile
    row["humidity_percent"], row["temperature_celsius"] = 60.0, 22.0
    row["volume_l"] = 10.0
    row["product_count"] = 1
    row["product"][0] = known.product_positions[product]
    if preset is not None:
        row["water"] = known.water_rows[preset]
    for name, value in water.items():
        row["water"][rows.WATER_FIELDS.index(name)] = value
    if ph is not None:
        row["water"][rows.WATER_FIELDS.index("ph")] = ph
    if acid:
        row["target_ph"], row["acid_kind"], row["acid_percent"] = 6.0, NITRIC, 38.0
    asked = row.copy()
    plan(requests, results, known)
    assert results[0]["problem"] == 0
    return asked, results[0], known


def test_a_complete_analysis_and_a_pure_salt_have_no_range():
    assert range_fields(*planned(preset="moderate_tap")) is None


def test_ph_and_alkalinity_alone_bound_the_dose_of_acid():
    asked, result, known = planned(ph=7.5, alkalinity_mg_per_l_caco3=120.0, acid=True)
    found = range_fields(asked, result, known)
    assert found["acid_volume_low_ml"] < result["acid_volume_ml"] < found["acid_volume_high_ml"]
    # The error of the alkalinity alone, 5 %, moves nitric acid by about as much.
    assert found["acid_volume_high_ml"] > 1.04 * result["acid_volume_ml"]
    assert found["acid_volume_low_ml"] < 0.96 * result["acid_volume_ml"]
    assert any("within 5 %" in reason for reason in found["reasons"])


def test_salt_that_an_analysis_leaves_out_lowers_the_least_amount():
    asked, result, known = planned(ph=7.5, alkalinity_mg_per_l_caco3=120.0)
    found = range_fields(asked, result, known)
    # Sodium chloride of 2.4 mmol/L conducts about 0.29 mS/cm (126.4 S cm2/mol, less at strength).
    assert found["product_mass_low_g"] < result["amount"][0]
    assert found["product_mass_high_g"] >= result["amount"][0]


def test_conductivity_alone_leaves_the_ph_open_from_none_to_all_of_it_as_alkalinity():
    asked, result, known = planned(ec_ms_per_cm=0.4)
    found = range_fields(asked, result, known)
    assert np.isnan(result["predicted_ph"])
    assert found["predicted_ph_low"] < 6.5 < found["predicted_ph_high"]
    assert found["predicted_ec_high_ms_per_cm"] >= found["predicted_ec_low_ms_per_cm"]


def test_a_water_that_nobody_named_lies_between_pure_and_hard():
    known = catalogue()
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    asked, _, _ = planned(preset="moderate_tap")
    requests[0] = asked
    results[0]["assumptions"] = assumption_bit("water_assumed")
    plan(requests, results, known)
    found = range_fields(asked, results[0], known)
    pure = planned(preset="reverse_osmosis")[1]["amount"][0]
    hard = planned(preset="hard_tap")[1]["amount"][0]
    assert found["product_mass_high_g"] == pytest.approx(pure)
    assert found["product_mass_low_g"] == pytest.approx(hard)


def test_an_analysis_of_many_makers_has_a_range_of_about_an_eighth():
    asked, result, known = planned("feed_13_3_15_ca_mg", preset="reverse_osmosis")
    found = range_fields(asked, result, known)
    assert found["product_mass_low_g"] <= result["amount"][0] / 1.10
    assert found["product_mass_high_g"] >= result["amount"][0] * 1.10


def test_a_label_with_its_makers_own_conductivity_is_not_open():
    label = {
        "nitrate_n_percent": 12.0,
        "ammonium_n_percent": 1.0,
        "p2o5_percent": 3.0,
        "k2o_percent": 15.0,
        "ca_percent": 8.0,
        "mg_percent": 2.0,
        "ec_ms_per_cm_at_100_mg_per_l_n": 0.78,
    }
    stated = catalogue().with_products([labelled_row("ours", "solid", None, label)])
    assert range_fields(*planned("ours", preset="moderate_tap", known=stated)) is None
    del label["ec_ms_per_cm_at_100_mg_per_l_n"]
    silent = catalogue().with_products([labelled_row("ours", "solid", None, label)])
    assert range_fields(*planned("ours", preset="moderate_tap", known=silent)) is not None
