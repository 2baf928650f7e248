"""Every caution of an adjustment, on this side of its limit and on the other."""

import math
from typing import Any

import numpy as np
import pytest

from service.planning import ph_adjustment_rows, products, profiles, reagents, rows
from service.planning.catalogue import catalogue
from service.planning.cautions import CAUTIONS, notices
from service.planning.ph_adjustment import _cautions
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results

PRODUCT = catalogue().product_positions["feed_15_5_15_ca_mg"]
CASE = dict[str, Any]
ACID = {"acid_handling", "acid_storage"}
CITRIC = reagents.KINDS.index("citric")
HYDROXIDE = reagents.KINDS.index("potassium_hydroxide")
BEFORE = ph_adjustment_rows.ACID_PLACES.index("before_feed")


def said(
    row: CASE | None = None,
    result: CASE | None = None,
    *,
    water: CASE | None = None,
    forms_unknown: bool = False,
) -> tuple[set[str], str]:
    """Return what is said of a can of 10 L to which nothing is added, and its status."""
    asked, found = empty_ph_requests(1), empty_ph_results(1)
    plain = {
        "acid_kind": 0, "acid_percent": 1.0, "volume_l": 10.0, "reservoir": 0, "acid_goes": 0,
        "acid_phosphorus_mg_per_l": 30.0, "product_count": 0,
    }  # fmt: skip
    computed = {
        "acid_mmol_per_l": 1.0, "acid_dilution_factor": 1.0, "pre_solution_g_per_l": 0.0,
        "dose_volume_ml": 2.0, "dose_mass_g": math.nan, "acid_volume_ml": 2.0,
        "acid_phosphorus_brought_mg_per_l": 0.0, "predicted_ph": 6.0, "predicted_ph_open": 6.0,
        "ph_spread": 0.1, "saturation": -1.0, "saturation_open": -1.0,
    }  # fmt: skip
    for record, values in (
        (asked, {**plain, **(row or {})}),
        (found, {**computed, **(result or {})}),
    ):
        for name, value in values.items():
            record[name] = value
    for name, value in (water or {}).items():
        asked["water"][:, rows.WATER_FIELDS.index(name)] = value
    asked["product"][:, 0] = PRODUCT
    profile = catalogue().profile_table[catalogue().default_profile].copy()
    profile[profiles.PH_LOW], profile[profiles.PH_HIGH] = 5.5, 6.5
    table = catalogue().product_table.copy()
    table[PRODUCT, products.FORMS_UNKNOWN] = 1.0 if forms_unknown else 0.0
    _cautions(asked[0], table, profile, found[0])
    own = int(found["own_cautions"][0])
    codes = {code for place, code in enumerate(ph_adjustment_rows.CAUTIONS) if own >> place & 1}
    codes |= {each.code for each in notices(int(found["cautions"][0]), CAUTIONS)}
    return codes, rows.STATUSES[int(found["status"][0])]


def test_an_acid_is_handled_and_stored_with_care_and_nothing_else_is_said() -> None:
    assert said() == (ACID, "ok")


def test_where_none_is_needed_only_that_is_said() -> None:
    assert said(result={"acid_mmol_per_l": 0.0}) == ({"no_acid_needed"}, "ok")


def test_a_base_is_caustic() -> None:
    assert said({"acid_kind": HYDROXIDE})[0] == {"base_handling", "base_is_caustic", "acid_storage"}


@pytest.mark.parametrize("kind", range(len(reagents.KINDS)))
def test_strong_reagents_are_restricted(kind: int) -> None:
    above = float(reagents.RESTRICTED_ABOVE[kind])
    if math.isinf(above):
        assert "acid_restricted" not in said({"acid_kind": kind, "acid_percent": 100.0})[0]
    else:
        assert "acid_restricted" not in said({"acid_kind": kind, "acid_percent": above})[0]
        assert "acid_restricted" in said({"acid_kind": kind, "acid_percent": above + 0.1})[0]


def test_the_law_names_nitric_above_3_and_sulfuric_above_15_percent() -> None:
    # Regulation (EU) 2019/1148, Annex I.
    limits = dict(zip(reagents.KINDS, reagents.RESTRICTED_ABOVE.tolist(), strict=True))
    assert limits["nitric"] == 3.0
    assert limits["sulfuric"] == 15.0
    assert math.isinf(limits["citric"])


@pytest.mark.parametrize(
    ("result", "code"),
    [
        ({"acid_dilution_factor": 10.0}, "acid_pre_dilution"),
        ({"pre_solution_g_per_l": 50.0}, "pre_stock"),
        ({"dose_volume_ml": 0.0}, "nothing_to_measure"),
        ({"dose_volume_ml": math.nan, "dose_mass_g": 0.0}, "nothing_to_measure"),
        ({"predicted_ph_open": 6.51}, "ph_drifts_in_air"),
        ({"predicted_ph_open": 5.49}, "ph_drifts_in_air"),
        ({"ph_spread": 0.51}, "ph_uncertain"),
        ({"acid_volume_ml": 100.1}, "acid_share_large"),
        ({"predicted_ph": 6.5002, "predicted_ph_open": 6.5002}, "ph_at_edge_of_window"),
        ({"predicted_ph": 5.4998, "predicted_ph_open": 5.4998}, "ph_at_edge_of_window"),
        ({"predicted_ph": 7.01, "predicted_ph_open": 7.01}, "ph_outside_window"),
        ({"predicted_ph": 4.99, "predicted_ph_open": 4.99}, "ph_outside_window"),
    ],
)
def test_beyond_a_limit_it_is_said(result: CASE, code: str) -> None:
    assert said(result=result)[0] == ACID | {code}


@pytest.mark.parametrize(
    "result",
    [
        {"dose_volume_ml": math.nan, "dose_mass_g": 1.0},
        {"predicted_ph_open": 6.49},
        {"predicted_ph_open": 5.51},
        {"ph_spread": 0.5},
        {"acid_volume_ml": 100.0},
        {"predicted_ph": 6.50005, "predicted_ph_open": 6.5},
        {"predicted_ph": 5.49995, "predicted_ph_open": 5.5},
    ],
)
def test_up_to_a_limit_it_is_not(result: CASE) -> None:
    assert said(result=result)[0] == ACID


def test_too_much_phosphorus_is_not_poured_and_not_measured() -> None:
    measured = {"acid_dilution_factor": 10.0, "pre_solution_g_per_l": 5.0, "dose_volume_ml": 0.0}
    codes, status = said(result={**measured, "acid_phosphorus_brought_mg_per_l": 30.1})
    assert (codes, status) == (ACID | {"acid_phosphorus_high"}, "infeasible")
    assert said(result={"acid_phosphorus_brought_mg_per_l": 30.0}) == (ACID, "ok")


def test_citric_acid_fades_in_a_reservoir_alone() -> None:
    reservoir = {"reservoir": 1, "target_alkalinity_mg_per_l_caco3": 40.0}
    assert said({**reservoir, "acid_kind": CITRIC})[0] == ACID | {"citric_does_not_last"}
    assert said({"acid_kind": CITRIC})[0] == ACID
    assert said(reservoir)[0] == ACID
    assert said({"reservoir": 1})[0] == ACID | {"reservoir_by_alkalinity"}


def test_acid_before_a_feed_is_said_where_there_is_one() -> None:
    assert said({"acid_goes": BEFORE, "product_count": 1})[0] == ACID | {"acid_before_feed"}
    assert said({"acid_goes": BEFORE})[0] == said({"product_count": 1})[0] == ACID
    assert said({"product_count": 1}, forms_unknown=True)[0] == ACID | {"forms_of_nitrogen_unknown"}


@pytest.mark.parametrize("place", range(len(rows.SOLIDS_IN_ANSWERS)))
def test_each_solid_is_named_once(place: int) -> None:
    solid = rows.SOLIDS_IN_ANSWERS[place]
    closed, in_air = np.full((2, len(rows.SOLIDS_IN_ANSWERS)), -0.001)
    in_air[place] = 0.001
    both = {"saturation": closed, "saturation_open": in_air}
    assert said(result=both)[0] == ACID | {f"{solid}_may_form_open"}
    closed[place] = 0.001
    assert said(result=both)[0] == ACID | {f"{solid}_may_form"}
    closed[place] = in_air[place] = 0.0
    assert said(result=both)[0] == ACID


def test_an_alkalinity_that_may_be_degrees_needs_all_three_signs() -> None:
    water = {"alkalinity_mg_per_l_caco3": 35.0}
    odd = {"water_charge_error_percent": 25.1, "water_ec_ms_per_cm": 0.31}
    assert said(result=odd, water=water)[0] == ACID | {"alkalinity_may_be_degrees"}
    assert said(result=odd, water={"alkalinity_mg_per_l_caco3": 35.1})[0] == ACID
    for name, usual in (("water_charge_error_percent", 25.0), ("water_ec_ms_per_cm", 0.3)):
        assert said(result={**odd, name: usual}, water=water)[0] == ACID
