"""The table of products that kernels read."""

import numpy as np
import pytest

from service.planning import products
from service.planning.catalogue import catalogue
from service.planning.products import labelled_row
from service.reference.components import CALCIUM, NITRATE
from service.reference.labels import LabelError
from service.reference.loader import products as packaged_products


def value(key, column):
    known = catalogue()
    return float(known.product_table[known.product_positions[key], column])


def test_solids_are_counted_in_grams_and_liquids_in_millilitres():
    assert value("potassium_nitrate", NITRATE) == pytest.approx(1000 / 101.10, rel=1e-4)
    assert value("potassium_nitrate", products.IS_LIQUID) == 0.0
    assert value("feed_liquid_4_3_6", products.IS_LIQUID) == 1.0
    assert value("feed_liquid_4_3_6", products.DENSITY) > 1.0


def test_conductivity_of_a_salt_is_that_of_the_salt():
    # 0.5 g/L of potassium nitrate is 4.95 mmol/L; about 0.68 mS/cm by its limiting conductivities.
    assert 0.5 * value("potassium_nitrate", products.CONDUCTIVITY_SLOPE) == pytest.approx(
        0.68, abs=0.02
    )


def test_label_that_states_a_conductivity_sets_slope_and_blindness():
    row = labelled_row(
        "own",
        "solid",
        None,
        {"nitrate_n_percent": 10.0, "k2o_percent": 10.0, "ec_ms_per_cm_at_100_mg_per_l_n": 0.62},
    ).values
    assert row[products.LABEL_CONDUCTIVITY] == pytest.approx(0.62)
    assert row[products.CONDUCTIVITY_PER_100_NITROGEN] == pytest.approx(0.62)


def test_urea_shows_nothing_on_a_meter_and_a_salt_without_nitrogen_is_not_blind():
    assert value("urea", products.CONDUCTIVITY_PER_100_NITROGEN) < 0.01
    assert value("magnesium_sulfate_heptahydrate", products.CONDUCTIVITY_PER_100_NITROGEN) == -1.0
    assert 0.3 < value("feed_20_20_20", products.CONDUCTIVITY_PER_100_NITROGEN) < 0.6
    assert value("feed_30_10_10", products.CONDUCTIVITY_PER_100_NITROGEN) < 0.3


def test_kind_decides_on_ceilings_and_rates():
    assert value("seaweed_extract", products.IS_STIMULANT) == 1.0
    assert value("seaweed_extract", products.RATE_CAP) > 0.0
    assert value("seaweed_extract", products.SUPPLEMENT_METER_PPM) == 200.0
    assert value("calcium_magnesium_supplement", products.IS_SUPPLEMENT) == 1.0
    supplement = value("calcium_magnesium_supplement", products.RATE_CAP)
    assert supplement > value("seaweed_extract", products.RATE_CAP)
    assert value("potassium_nitrate", products.IS_SUPPLEMENT) == 0.0


def test_sparingly_soluble_products_have_weaker_pre_stocks():
    assert value("calcium_sulfate_dihydrate", products.STRONGEST_PRE_STOCK) == 1.0
    assert value("boric_acid", products.STRONGEST_PRE_STOCK) == 10.0
    assert value("potassium_nitrate", products.STRONGEST_PRE_STOCK) == 50.0
    for key in products.SPARINGLY_SOLUBLE:
        assert key in catalogue().product_positions


def test_row_is_read_only_and_finite_but_for_densities_that_are_not_known():
    row = labelled_row("own", "solid", None, {"nitrate_n_percent": 10.0})
    assert not row.values.flags.writeable
    assert np.isnan(row.values[products.DENSITY])
    others = np.delete(row.values, products.DENSITY)
    assert np.isfinite(others).all()
    assert row.renamed("own", 2).key == "own 2"


def test_label_of_total_nitrogen_alone_is_marked():
    row = labelled_row("own", "solid", None, {"total_n_percent": 10.0}).values
    assert row[products.FORMS_UNKNOWN] == 1.0
    assert row[products.IS_LABEL] == 1.0
    assert value("potassium_nitrate", products.IS_LABEL) == 0.0


def test_label_that_contradicts_itself_is_refused():
    with pytest.raises(LabelError):
        labelled_row("own", "liquid", None, {"basis": "mass", "nitrate_n_percent": 5.0})
    with pytest.raises(LabelError):
        labelled_row("own", "solid", None, {"ca_percent": 5.0, "cao_percent": 7.0})


def test_oxidisers_are_marked():
    assert value("potassium_nitrate", products.IS_OXIDISER) == 1.0
    assert value("urea", products.IS_OXIDISER) == 0.0
    assert value("calcium_chloride_dihydrate", CALCIUM) > 0.0


def stated(value: float, **label: float) -> float:
    given = {"nitrate_n_percent": 10.0, "k2o_percent": 10.0, **label}
    row = labelled_row("own", "solid", None, {**given, "ec_ms_per_cm_at_100_mg_per_l_n": value})
    return float(row.values[products.CONDUCTIVITY_PER_100_NITROGEN])


def test_conductivity_of_a_label_that_its_ions_cannot_have_is_refused():
    computed = labelled_row("own", "solid", None, {"nitrate_n_percent": 10.0, "k2o_percent": 10.0})
    usual = float(computed.values[products.CONDUCTIVITY_PER_100_NITROGEN])
    for factor in (0.55, 0.9, 1.0, 2.9):
        assert stated(factor * usual) == pytest.approx(factor * usual)
    for factor in (0.0, 0.1, 0.45, 3.3, 10.0):
        with pytest.raises(LabelError) as caught:
            stated(factor * usual)
        assert caught.value.code == "conductivity_disagrees"
        assert caught.value.field == "ec_ms_per_cm_at_100_mg_per_l_n"
        assert f"{usual:.2g}" in caught.value.detail


def test_urea_may_state_no_conductivity_at_all():
    row = labelled_row(
        "own", "solid", None, {"urea_n_percent": 46.0, "ec_ms_per_cm_at_100_mg_per_l_n": 0.0}
    )
    assert row.values[products.CONDUCTIVITY_PER_100_NITROGEN] == 0.0


def test_unknown_forms_of_nitrogen_allow_the_conductivity_of_the_saltiest():
    label = {"total_n_percent": 20.0, "p2o5_percent": 20.0, "k2o_percent": 20.0}
    for value in (0.2, 0.65, 1.0):
        labelled_row("own", "solid", None, {**label, "ec_ms_per_cm_at_100_mg_per_l_n": value})
    with pytest.raises(LabelError, match="check the digits"):
        labelled_row("own", "solid", None, {**label, "ec_ms_per_cm_at_100_mg_per_l_n": 6.5})


def test_conductivity_of_a_label_without_nitrogen_is_refused():
    with pytest.raises(LabelError) as caught:
        labelled_row(
            "own", "solid", None, {"k2o_percent": 20.0, "ec_ms_per_cm_at_100_mg_per_l_n": 0.6}
        )
    assert caught.value.code == "conductivity_without_nitrogen"


def test_conductivity_beside_a_trace_of_nitrogen_is_refused():
    with pytest.raises(LabelError) as caught:
        labelled_row(
            "own",
            "solid",
            None,
            {"nitrate_n_percent": 0.01, "k2o_percent": 40.0, "ec_ms_per_cm_at_100_mg_per_l_n": 0.6},
        )
    assert caught.value.code == "conductivity_disagrees"


def test_packaged_feeds_that_state_a_conductivity_would_pass_as_labels():
    checked = 0
    for product in packaged_products().values():
        if product.label is None or product.label_ec_ms_per_cm_at_100_mg_per_l_n is None:
            continue
        label = {
            **product.label,
            "ec_ms_per_cm_at_100_mg_per_l_n": product.label_ec_ms_per_cm_at_100_mg_per_l_n,
        }
        labelled_row("own", product.form, product.density_kg_per_l, label)
        checked += 1
    assert checked >= 1
