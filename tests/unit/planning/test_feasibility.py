"""Cans that cannot be mixed: what stands in the way, and what would do instead."""

from typing import Any

import numpy as np
import pytest

from service.planning import rows
from service.planning.feasibility import conflicts, nearest_feasible
from service.planning.water_columns import stated_values
from service.planning.words import BINDING_WORDS
from tests.mixing import Can, dose, filled

SALTY = {"ph": 7.4, "alkalinity_mg_per_l_caco3": 100.0, "sodium_mg_per_l": 400.0,
         "chloride_mg_per_l": 550.0, "temperature_celsius": 18.0}  # fmt: skip
NITRATE = {"ph": 7.0, "alkalinity_mg_per_l_caco3": 30.0, "nitrate_mg_per_l": 300.0,
           "sodium_mg_per_l": 120.0, "potassium_mg_per_l": 20.0}  # fmt: skip
HARD = {"ph": 7.6, "alkalinity_mg_per_l_caco3": 300.0, "calcium_mg_per_l": 110.0,
        "magnesium_mg_per_l": 8.0}  # fmt: skip


def can(**request: Any) -> Can:
    usual = {
        "plants": {"size": "mini", "setup": "wet_dry_pot"},
        "air": {"humidity_percent": 70, "temperature_celsius": 22},
        "product": "feed_13_3_15_ca_mg",
        "volume_l": 8.0,
    }
    return dose(**{**usual, **request})


def found(made: Can) -> tuple[list[dict[str, Any]], dict[str, Any] | None]:
    return conflicts(made.row, made.result), nearest_feasible(made.row, made.result, made.catalogue)


def test_a_can_that_can_be_mixed_has_nothing_in_its_way() -> None:
    made = can(water="rain")
    assert made.status == "ok"
    assert found(made) == ([], None)


def test_a_water_that_conducts_too_well_is_told_with_both_numbers() -> None:
    made = can(water=SALTY)
    assert made.status == "infeasible"
    ((conflict,), _) = found(made)
    assert conflict["limit"] == made.binding == "conductivity"
    assert conflict["needed"] == made["water_ec_ms_per_cm"]
    # A miniature takes 300 meter ppm: 0.43 mS/cm.
    assert conflict["allowed"] == pytest.approx(300.0 / 700.0)
    assert conflict["message"] == "The water alone is above the ceiling of conductivity."


def test_a_water_with_too_much_nitrate_is_told_by_its_nitrogen() -> None:
    made = can(water=NITRATE, plants={"size": "mini", "setup": "mount"}, interval_days=1)
    assert made.status == "infeasible"
    made.result["binding_limit"] = rows.BINDING_LIMITS.index("total_nitrogen")
    ((conflict,), _) = found(made)
    assert conflict["needed"] == pytest.approx(300.0 * 14.0067 / 62.0049, rel=1e-4)
    assert conflict["allowed"] == made["nitrogen_ceiling_mg_per_l"]
    assert "The water alone is above the ceiling of" in conflict["message"]


def test_other_limits_are_named_without_numbers() -> None:
    made = can(water=SALTY)
    others = set(BINDING_WORDS) - {"conductivity", "total_nitrogen", "acid_phosphorus"}
    assert others
    for limit in others & set(rows.BINDING_LIMITS):
        made.result["binding_limit"] = rows.BINDING_LIMITS.index(limit)
        ((conflict,), _) = found(made)
        assert conflict == {
            "limit": limit,
            "needed": None,
            "allowed": None,
            "message": f"The water alone is above the ceiling of {BINDING_WORDS[limit]}.",
        }


def test_the_blend_is_this_water_thinned_and_does() -> None:
    made = can(water=SALTY)
    _, nearest = found(made)
    assert nearest is not None
    share = made["feasible_water_share_percent"] / 100.0
    assert 0.0 < share < 1.0
    assert nearest["this_water_l"] == pytest.approx(8.0 * share, rel=1e-3)
    assert nearest["this_water_l"] + nearest["pure_water_l"] == pytest.approx(8.0, rel=1e-3)
    for name, value in SALTY.items():
        kept = name in ("ph", "temperature_celsius")
        assert nearest["water"][name] == pytest.approx(value * (1.0 if kept else share), rel=1e-3)
    assert set(nearest["water"]) == set(stated_values(made.row["water"])) == set(SALTY)
    again = can(water=nearest["water"])
    assert again.status == "ok"
    # This water may take half of the ceiling, so that something is left for the feed.
    assert again["water_ec_ms_per_cm"] == pytest.approx(
        0.5 * again["ec_ceiling_ms_per_cm"], rel=0.05
    )


@pytest.mark.parametrize("percent", [0.0, 100.0, np.nan])
def test_where_no_blend_helps_none_is_given(percent: float) -> None:
    made = can(water=SALTY)
    made.result["feasible_water_share_percent"] = percent
    assert found(made)[1] is None


PHOSPHORIC = {"kind": "phosphoric", "percent": 85.0}


def asked_and_planned() -> tuple[Any, Can]:
    request = {
        "plants": {"size": "large", "setup": "wet_dry_pot"},
        "air": {"humidity_percent": 70, "temperature_celsius": 22},
        "product": "feed_13_3_15_ca_mg", "volume_l": 8.0, "water": HARD, "target_ph": 5.8,
        "acid": PHOSPHORIC,
    }  # fmt: skip
    made = dose(**request)
    asked, _ = filled([request], made.catalogue, True)
    return asked[0], made


def test_phosphoric_acid_that_feeds_too_much_is_told_with_its_phosphorus() -> None:
    _, made = asked_and_planned()
    assert (made.status, made.binding) == ("infeasible", "acid_phosphorus")
    ((conflict,), _) = found(made)
    phosphorus = 30.973762 * made["acid_mmol_per_l"]
    assert conflict["needed"] == pytest.approx(phosphorus, rel=1e-4)
    assert conflict["allowed"] == 30.0
    assert conflict["message"] == (
        f"{phosphorus:.0f} mg/L phosphorus would come from the acid alone; at most 30 mg/L may. "
        "Take another acid, or rain or reverse osmosis water in the blend."
    )


def test_the_mildest_other_acid_that_does_is_named_with_its_amounts() -> None:
    asked, made = asked_and_planned()
    nearest = nearest_feasible(made.row, made.result, made.catalogue, asked)
    assert nearest is not None
    kind = nearest["acid"]["kind"]
    assert kind in ("citric", "nitric", "sulfuric")
    request = {
        "plants": {"size": "large", "setup": "wet_dry_pot"},
        "air": {"humidity_percent": 70, "temperature_celsius": 22},
        "product": "feed_13_3_15_ca_mg", "volume_l": 8.0, "water": HARD, "target_ph": 5.8,
    }  # fmt: skip
    for other in ("citric", "nitric", "sulfuric"):
        again = dose(**request, acid={"kind": other, "percent": None})
        if again.status == "ok":
            break
    assert other == kind
    assert nearest["acid"]["percent"] == again.row["acid_percent"]
    assert nearest["product_mass_g"] == pytest.approx(again.amount())
    assert nearest["product_volume_ml"] is None
    assert nearest["acid_mass_g"] == pytest.approx(again["acid_mass_g"], rel=1e-3)
    assert nearest["predicted_ph"] == pytest.approx(again["predicted_ph"], rel=1e-3)
    assert nearest["acid_mass_g"] == float(f"{again['acid_mass_g']:.4g}")
