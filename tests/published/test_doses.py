"""
Printed amounts, conductivities and strengths, reached through the planners.

Rows of basis `informal` and `memory` are notes and practice, held as plausible only. Rows about
plants are ranges: a large plant in humid air may be fed as the trial was, and no ceiling lets a can
reach what did harm.
"""

import csv
import json
from pathlib import Path

import pytest

from service.planning import rows
from service.reference.components import COMPONENT_NAMES
from service.reference.formula import molar_mass
from tests.comparisons import compared, compared_with_range
from tests.mixing import by_element, dilution, dose, known_to

HERE = Path(__file__).parent
PURE = {"ph": 7.0, "alkalinity_mg_per_l_caco3": 0.5}
FINE = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}
HUMID = {"humidity_percent": 90, "temperature_celsius": 24}
LARGE = {"size": "large", "setup": "wet_dry_pot"}
NITRATE_FEED = "feed_13_3_15_ca_mg"


def printed(name, *checks):
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return [
            pytest.param(row, id=row["id"])
            for row in csv.DictReader(lines)
            if row["check"] in checks
        ]


def half_step(text: str) -> float:
    """Half a unit in the last printed digit."""
    digits = len(text.partition(".")[2])
    return 0.5 * 10.0**-digits


def allowed(row) -> float:
    share = float(row.get("allowance_percent") or 0.0) / 100.0
    return half_step(row["value"]) * (1 + 1e-9) + share * float(row["value"])


@pytest.mark.parametrize(
    "row",
    printed("label_and_dilution_amounts.csv", "label_amount")
    + printed("stock_compositions.csv", "label_amount"),
)
def test_amount_of_a_labelled_product_is_the_printed_one(row):
    given = json.loads(row["inputs"])
    known = known_to({"own": {"form": "solid", "label": given["label"]}})
    can = dilution(
        known,
        product="own",
        strength=by_element(given["element"], 50.0),
        water=PURE,
        volume_l=given["mg"] / 50.0,
    )
    assert can.status == "ok"
    ours = can.exact() / given["unit_g"]
    compared("mixing_amounts", row, float(row["value"]), ours, allowed(row))


@pytest.mark.parametrize("row", printed("label_and_dilution_amounts.csv", "not_reproduced_amount"))
def test_printed_slip_is_not_repeated(row):
    given = json.loads(row["inputs"])
    known = known_to({"own": {"form": "solid", "label": given["label"]}})
    can = dilution(
        known,
        product="own",
        strength=by_element(given["element"], 50.0),
        water=PURE,
        volume_l=given["mg"] / 50.0,
    )
    ounces = can.exact() / given["unit_g"]
    assert ounces == pytest.approx(given["correct"], rel=2e-3)
    assert abs(ounces - float(row["value"])) > 0.1 * ounces


@pytest.mark.parametrize(
    "row", printed("stock_compositions.csv", "element_mg_per_l", "component_umol_per_l")
)
def test_nutrient_solution_of_salts_holds_what_is_printed(row):
    given = json.loads(row["inputs"])
    if "mmol_per_l" not in given:
        amounts = {key: value * given["factor"] for key, value in given["g_per_l"].items()}
    else:
        formulas = {
            "calcium_nitrate_tetrahydrate": "Ca(NO3)2.4H2O",
            "magnesium_sulfate_heptahydrate": "MgSO4.7H2O",
            "monopotassium_phosphate": "KH2PO4",
            "monoammonium_phosphate": "NH4H2PO4",
            "potassium_nitrate": "KNO3",
        }
        amounts = {
            key: value * given["factor"] * molar_mass(formulas[key]) / 1000.0
            for key, value in given["mmol_per_l"].items()
        }
    can = dilution(
        products=[
            {"product": key, "strength": {"basis": "product", "g_per_l": amount}}
            for key, amount in amounts.items()
        ],
        water=PURE,
        volume_l=1000,
        instruments=FINE,
    )
    assert can.status == "ok"
    if row["check"] == "element_mg_per_l":
        held = can.element(given["element"])
    else:
        place = COMPONENT_NAMES.index(given["component"])
        held = 1000.0 * float(can.result["composition_mmol_per_l"][place])
    value = float(row["value"])
    compared("nutrient_solutions", row, value, held, max(allowed(row), 1e-3 * value))


def test_nutrient_solution_asked_for_by_element_takes_the_printed_salts():
    # STK-HOA-001 to 006: calcium 200, potassium 235, magnesium 48.6, phosphorus 31 mg/L.
    can = dilution(
        products=[
            {"product": "calcium_nitrate_tetrahydrate", "strength": by_element("calcium", 200.4)},
            {"product": "monopotassium_phosphate", "strength": by_element("phosphorus", 30.97)},
            {
                "product": "magnesium_sulfate_heptahydrate",
                "strength": by_element("magnesium", 48.6),
            },
            {"product": "potassium_nitrate", "strength": by_element("potassium", 195.5)},
        ],
        water=PURE,
        volume_l=1000,
    )
    assert can.element("nitrogen") == pytest.approx(210.0, abs=0.5)
    assert can.element("sulfur") == pytest.approx(64.0, abs=0.5)
    assert can.exact(3) / 1000 == pytest.approx(5 * 0.101103, rel=1e-3)


@pytest.mark.parametrize("row", printed("doses.csv", "added_conductivity"))
def test_conductivity_that_a_feed_adds_is_the_printed_one(row):
    strength = by_element("nitrogen", float(row["nitrogen_mg_per_l"]))
    can = dilution(product=row["subject"], strength=strength, water=PURE, volume_l=100)
    ours = can["predicted_ec_ms_per_cm"]
    compared("conductivity_labels", row, float(row["value"]), ours, allowed(row))


@pytest.mark.parametrize("row", printed("doses.csv", "meter_ppm_in_air"))
def test_strength_in_air_is_what_practice_gives(row):
    low, _, high = row["value"].partition("-")
    air = {"humidity_percent": float(row["subject"]), "temperature_celsius": 22}
    can = dose(product=NITRATE_FEED, plants=LARGE, air=air, water=PURE, volume_l=10)
    share = float(row["allowance_percent"]) / 100.0
    nearest = min(max(can["meter_ppm"], float(low)), float(high or low))
    compared("strength_in_air", row, nearest, can["meter_ppm"], share * nearest)


def fed(row, product=NITRATE_FEED, **request):
    plants = {**LARGE, "profile": row["subject"]}
    more = {"air": HUMID, "water": PURE, "volume_l": 100, **request}
    return dose(product=product, plants=plants, **more)


@pytest.mark.parametrize(
    "row",
    printed(
        "doses.csv",
        "conductivity_range",
        "conductivity_reached",
        "nitrogen_mmol_not_reached",
        "nitrogen_not_passed",
        "nitrogen_given",
        "dilution_given",
        "reduced_share_not_passed",
        "nitrate_share_kept",
        "us_per_cm_not_passed",
        "us_per_cm_reached",
        "ph_reached",
    ),
)
def test_feed_of_a_large_plant_in_humid_air_agrees_with_trials(row):
    check, value = row["check"], row["value"]
    can = fed(row)
    conductivity = can["predicted_ec_ms_per_cm"]
    low, _, high = value.strip("<>").partition("-")
    if check == "conductivity_range":
        compared_with_range("strength_of_trials", row, float(low), float(high), conductivity)
    elif check == "conductivity_reached":
        compared(
            "strength_of_trials",
            row,
            float(value),
            min(conductivity, float(value)),
            0.01 * float(value),
        )
    elif check == "us_per_cm_not_passed":
        assert 1000.0 * conductivity <= float(low)
    elif check == "us_per_cm_reached":
        assert 1000.0 * conductivity >= 0.95 * float(low)
    elif check == "nitrogen_mmol_not_reached":
        for product in ("urea", "ammonium_nitrate", "feed_30_10_10", "potassium_nitrate"):
            strongest = fed(row, product, strength=by_element("nitrogen", 500))
            assert strongest.element("nitrogen") / 14.007 < float(value)
    elif check == "nitrogen_not_passed":
        strongest = fed(row, "feed_20_5_19", strength=by_element("nitrogen", 500))
        assert strongest.element("nitrogen") <= float(value)
    elif check == "nitrogen_given":
        given = fed(row, strength=by_element("nitrogen", float(value)))
        assert given.binding == "requested_strength"
        ours = given.element("nitrogen")
        compared("strength_of_trials", row, float(value), ours, 0.01 * float(value))
    elif check == "dilution_given":
        strength = {"basis": "product", "g_per_l": 1000.0 / float(value)}
        given = fed(row, "feed_20_20_20", strength=strength)
        # A quarter of a gram of it brings 50 mg/L nitrogen, 35 of them urea and ammonium.
        assert given.element("nitrogen") == pytest.approx(50.0, rel=0.02)
        assert given.binding == "requested_strength"
    elif check == "ph_reached":
        target = {"target_ph": float(high), "acid": {"kind": "nitric"}}
        given = fed(row, water="soft_tap", **target)
        assert given["predicted_ph"] == pytest.approx(float(high), abs=0.01)
    else:
        reduced = fed(row, "ammonium_nitrate", strength=by_element("nitrogen", 500))
        ceiling = reduced["nitrogen_ceiling_mg_per_l"]
        share = 100.0 * reduced["ammonium_ceiling_mg_per_l"] / ceiling
        limit = float(low)
        assert share <= (limit if check == "reduced_share_not_passed" else 100.0 - limit)


def test_every_printed_row_is_used():
    with (HERE / "doses.csv").open(encoding="utf-8", newline="") as lines:
        listed = list(csv.DictReader(lines))
    assert all(row["source"] and row["locator"] for row in listed)
    assert {row["basis"] for row in listed} <= {"published", "informal", "memory"}
    assert rows.STATUSES[0] == "ok"
