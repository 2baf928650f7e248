"""Steps at the bench of a can whose numbers are set by hand, each with its quantity and unit."""

from typing import Any

import numpy as np
import pytest

from service.planning import reagents, rows
from service.planning.card import DEFAULT_ACID, acid_portion, additions
from service.planning.instruments import TRUSTED_STEPS
from service.planning.ph_adjustment_rows import empty_ph_requests, empty_ph_results
from service.planning.pre_dilution import (
    BATCHES_ML,
    HAZARD_WORDS,
    SHELF_NOTES,
    batch_to_make,
    pre_dilution,
)
from service.planning.steps import mixing_steps
from tests.mixing import Can, dose

GRAM = {"basis": "product", "g_per_l": 1.0}
PROTECT = "Eye and hand protection on."
NITRIC = {"acid_kind": 0, "acid_percent": 38.0, "syringe_resolution_ml": 0.1,
          "balance_resolution_g": 0.1}  # fmt: skip
CITRIC = {**NITRIC, "acid_kind": rows.ACID_KINDS.index("citric"), "acid_percent": 100.0}
WHOLE = {"acid_mmol_per_l": 1.0, "acid_dilution_factor": 1.0, "acid_mass_g": 5.0}


def can(row: dict[str, Any] | None = None, result: dict[str, Any] | None = None) -> Can:
    """Return a can of 10 L with one solid, changed by hand."""
    made = dose(
        product="potassium_nitrate", strength={"basis": "product", "g_per_l": 0.2}, volume_l=10,
        water="rain", plants={"size": "large", "setup": "wet_dry_pot"},
        air={"humidity_percent": 70, "temperature_celsius": 22},
        instruments={"balance_resolution_g": 0.1, "syringe_resolution_ml": 0.1},
    )  # fmt: skip
    assert made.status == "ok"
    for name, value in (row or {}).items():
        made.row[name] = value
    for name, value in (result or {}).items():
        made.result[name] = value
    return made


def steps(*changed: dict[str, Any] | None) -> list[tuple[str, float | None, str | None]]:
    made = can(*changed)
    found = mixing_steps(made.row, made.result, made.catalogue)
    assert [each["order"] for each in found] == list(range(1, len(found) + 1))
    return [(each["instruction"], each["quantity"], each["unit"]) for each in found]


START = ("Fill the can with part of the water.", 8.0, "L")
FEED = ("Add Potassium nitrate and stir until it is clear.", 2.0, "g")
END = [
    ("Top up with water to the full volume and stir.", 10.0, "L"),
    ("Measure conductivity and pH, and compare with the predicted figures before use.", None, None),
]


def test_water_salt_water_and_the_meters() -> None:
    assert steps() == [START, FEED, *END]


def test_what_rounds_to_nothing_is_no_step() -> None:
    amount = np.zeros(rows.MAXIMUM_PRODUCTS)
    assert steps(None, {"amount": amount}) == [START, *END]


def test_a_pre_stock_is_made_first_and_then_measured() -> None:
    strength, portion = np.zeros((2, rows.MAXIMUM_PRODUCTS))
    strength[0], portion[0] = 20.0, 12.5
    assert steps(None, {"pre_stock_g_per_l": strength, "pre_stock_ml": portion}) == [
        START,
        (
            "Make the pre-stock: 20 g of Potassium nitrate, made up to 1 L with pure water. Label "
            "it; it serves for later cans too.",
            20.0,
            "g",
        ),
        ("Add pre-stock of Potassium nitrate and stir.", 12.5, "mL"),
        *END,
    ]


def test_acid_goes_in_by_halves() -> None:
    assert steps(NITRIC, {**WHOLE, "acid_volume_ml": 3.04})[2:] == [
        (f"{PROTECT} Add the first half of the nitric acid 38 % and stir.", 1.5, "mL"),
        ("Wait 15 minutes and measure the pH.", 15.0, "min"),
        ("Add as much of the rest of the nitric acid 38 % as the pH still needs.", 1.5, "mL"),
        *END,
    ]


def test_an_odd_number_of_steps_is_shared_without_loss() -> None:
    halves = steps(NITRIC, {**WHOLE, "acid_volume_ml": 0.7})[2:5]
    assert halves[0][1] in (0.3, 0.4)
    assert halves[0][1] + halves[2][1] == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("volume", "expected"),
    [
        (0.1, (f"{PROTECT} Add the nitric acid 38 % and stir.", 0.1, "mL")),
        (
            0.04,
            (
                "Leave the nitric acid 38 % out: what this can needs is less than half a step of "
                "the syringe. Take a finer syringe or mix a larger can to reach the pH.",
                None,
                None,
            ),
        ),
    ],
)
def test_a_single_step_of_the_syringe_is_not_halved(volume: float, expected: Any) -> None:
    assert steps(NITRIC, {**WHOLE, "acid_volume_ml": volume})[2:] == [expected, *END]


def test_a_diluted_bottle_is_made_labelled_and_measured() -> None:
    # 0.42 mL of the bottle, 1 in 10: 4.2 mL, of which 100 mL hold 10 mL of the bottle.
    made = {**WHOLE, "acid_volume_ml": 0.42, "acid_dilution_factor": 10.0}
    assert steps(NITRIC, made)[2:6] == [
        (f"{PROTECT} Put pure, cold water into a measuring bottle.", 90.0, "mL"),
        (
            "Pour the nitric acid 38 % into that water, slowly, never the reverse.",
            10.0,
            "mL",
        ),
        (
            "Label it: nitric acid 38 %, 1 in 10, for pH only. Corrosive acid. Made on ________ "
            "Keeps a year, closed, cool and dark, apart from anything that burns.",
            None,
            None,
        ),
        (f"{PROTECT} Add the first half of the 1-in-10 nitric acid 38 % and stir.", 2.1, "mL"),
    ]


def test_crystals_are_weighed_by_halves() -> None:
    assert steps(CITRIC, {**WHOLE, "acid_mass_g": 3.27, "acid_volume_ml": np.nan})[2:5] == [
        (f"{PROTECT} Add the first half of the citric acid 100 % and stir.", 1.6, "g"),
        ("Wait 15 minutes and measure the pH.", 15.0, "min"),
        ("Add as much of the rest of the citric acid 100 % as the pH still needs.", 1.6, "g"),
    ]


def test_few_crystals_are_measured_as_a_solution() -> None:
    # 0.3 g are three steps of the balance: too few to be trusted.
    made = can(CITRIC, {**WHOLE, "acid_mass_g": 0.3, "acid_volume_ml": np.nan})
    portion = acid_portion(made.row, made.result)
    assert portion is not None
    strength = portion["weaker_g_per_l"]
    assert strength > 0.0
    assert portion["unit"] == "mL"
    assert portion["amount"] * strength / 1000.0 == pytest.approx(0.3, abs=0.1 * strength / 1000.0)
    assert portion["name"] == f"{strength:g} g/L citric acid 100 %"
    listed = mixing_steps(made.row, made.result, made.catalogue)
    start = next(
        place for place, each in enumerate(listed) if "measuring bottle" in each["instruction"]
    )
    batch = listed[start + 2]["quantity"]
    assert batch in BATCHES_ML
    assert listed[start]["quantity"] == pytest.approx(0.9 * batch)
    assert (listed[start + 1]["quantity"], listed[start + 1]["unit"]) == (
        pytest.approx(strength * batch / 1000.0),
        "g",
    )
    assert listed[start + 2]["instruction"] == "Make it up with water to the mark."
    label = listed[start + 3]["instruction"]
    assert label.startswith(f"Label it: citric acid 100 %, {strength:g} g/L, for pH only. Acid, ")


def test_a_can_that_no_water_allows_is_not_mixed() -> None:
    infeasible = {"status": rows.STATUSES.index("infeasible"), "binding_limit": 2}
    (only,) = steps(None, {**infeasible, "feasible_water_share_percent": 41.666})
    assert only[0].startswith("Do not mix: this water alone is too strong")
    assert only[1:] == (41.67, "%")
    place = rows.BINDING_LIMITS.index("acid_phosphorus")
    (only,) = steps(None, {**infeasible, "binding_limit": place})
    assert only[0].startswith("Do not mix: this much phosphoric acid")
    assert only[1:] == (None, None)


def test_plain_water_is_one_step() -> None:
    made = dose(application="flush", volume_l=7.5, water="rain")
    (only,) = mixing_steps(made.row, made.result, made.catalogue)
    assert (only["instruction"], only["quantity"], only["unit"]) == (
        "Use plain water, no product.",
        7.5,
        "L",
    )


@pytest.mark.parametrize(
    ("row", "result", "amount", "first", "text"),
    [
        (NITRIC, {"acid_volume_ml": 3.04}, 3.0, 1.5, "3 mL"),
        (NITRIC, {"acid_volume_ml": 0.42, "acid_dilution_factor": 10.0}, 4.2, 2.1, "4.2 mL"),
        ({**NITRIC, "syringe_resolution_ml": 0.5}, {"acid_volume_ml": 3.3}, 3.5, 2.0, "3.5 mL"),
        (CITRIC, {"acid_mass_g": 12.38, "acid_volume_ml": np.nan}, 12.3, 6.1, "12.3 g"),
    ],
)
def test_what_of_an_acid_is_measured(
    row: dict[str, Any], result: dict[str, Any], amount: float, first: float, text: str
) -> None:
    made = can(row, {**WHOLE, **result})
    portion = acid_portion(made.row, made.result)
    assert portion is not None
    assert (portion["amount"], portion["first"]) == pytest.approx((amount, first))
    assert portion["amount_text"] == text
    assert portion["weaker_g_per_l"] == 0.0


def test_without_acid_there_is_no_portion_and_an_unnamed_one_is_nitric() -> None:
    none = can(NITRIC, {"acid_mmol_per_l": 0.0})
    assert acid_portion(none.row, none.result) is None
    unnamed = can({**NITRIC, "acid_kind": rows.ABSENT, "acid_percent": np.nan},
                  {**WHOLE, "acid_volume_ml": 1.0})  # fmt: skip
    portion = acid_portion(unnamed.row, unnamed.result)
    assert portion is not None
    assert portion["name"] == f"{rows.ACID_KINDS[DEFAULT_ACID]} acid"


def test_bases_are_named_without_the_word_acid() -> None:
    kind = len(rows.ACID_KINDS) + rows.BASE_KINDS.index("potassium_hydroxide")
    made = can({**NITRIC, "acid_kind": kind, "acid_percent": 45.0},
               {**WHOLE, "acid_volume_ml": 1.0})  # fmt: skip
    portion = acid_portion(made.row, made.result)
    assert portion is not None
    assert portion["name"] == "potassium hydroxide 45 %"


def test_additions_are_told_with_mass_or_pre_stock() -> None:
    made = can()
    (added,) = additions(made.row, made.result, made.catalogue)
    assert (added["product"], added["mass_g"], added["volume_ml"]) == (
        "potassium_nitrate", pytest.approx(2.0), None,
    )  # fmt: skip
    assert added["pre_stock"] is None


@pytest.mark.parametrize(
    ("dosed", "share", "step", "largest", "batch"),
    [
        # The smallest vessel that holds the dose and twenty steps of what goes into it.
        (50.0, 0.1, 0.1, 10_000.0, 100.0),
        (100.0, 0.1, 0.1, 10_000.0, 100.0),
        (100.1, 0.1, 0.1, 10_000.0, 250.0),
        (3_000.0, 0.5, 0.1, 10_000.0, 5_000.0),
        (50.0, 0.1, 0.1, 100.0, 100.0),
        (20_000.0, 0.1, 0.1, 10_000.0, 20_000.0),
        (20.0, 0.001, 0.1, 500.0, 500.0),
    ],
)
def test_a_weaker_solution_fills_the_least_vessel_that_serves(
    dosed: float, share: float, step: float, largest: float, batch: float
) -> None:
    assert batch_to_make(dosed, share, step, largest) == batch


def test_a_vessel_is_large_enough_to_measure_what_goes_into_it() -> None:
    for place, batch in enumerate(BATCHES_ML):
        share = TRUSTED_STEPS * 0.1 / batch
        assert batch_to_make(1.0, share, 0.1, 10_000.0) == batch
        following = BATCHES_ML[min(place + 1, len(BATCHES_ML) - 1)]
        assert batch_to_make(1.0, 0.999 * share, 0.1, 10_000.0) == following


def card(row: dict[str, Any], result: dict[str, Any]) -> dict[str, Any] | None:
    asked, found = empty_ph_requests(1), empty_ph_results(1)
    plain = {"acid_kind": 0, "acid_percent": 38.0, "volume_l": 10.0, "syringe_resolution_ml": 0.1,
             "balance_resolution_g": 0.1}  # fmt: skip
    for name, value in {**plain, **row}.items():
        asked[name] = value
    nothing = {"acid_dilution_factor": 1.0, "pre_solution_g_per_l": 0.0}
    for name, value in {**nothing, **result}.items():
        found[name] = value
    return pre_dilution(asked[0], found[0])


def test_the_card_of_a_diluted_bottle_by_hand() -> None:
    # 10 L of 0.3 mmol/L are 3 mmol in 0.4 mL of the bottle, 1 in 10: 4 mL of 0.75 mol/L.
    found = card({}, {"acid_mmol_per_l": 0.3, "acid_volume_ml": 0.4, "acid_dilution_factor": 10.0,
                      "dose_volume_ml": 4.0})  # fmt: skip
    assert found == {
        "acid_volume_ml": pytest.approx(10.0),
        "acid_mass_g": None,
        "water_ml": pytest.approx(90.0),
        "batch_volume_ml": 100.0,
        "dilution_factor": 10.0,
        "g_per_l": None,
        "acid_mmol_per_l": pytest.approx(750.0),
        "dose_ml": 4.0,
        "label": "Nitric acid 38 %, 1 in 10 (0.75 mol/L), for pH only. Corrosive acid. Made on "
        "________",
        "shelf_note": SHELF_NOTES["nitric"],
    }


def test_the_card_of_dissolved_crystals_by_hand() -> None:
    # 10 L of 0.2 mmol/L are 2 mmol in 0.4 g; 50 g/L: 8 mL of 0.25 mol/L, of which 100 mL hold 5 g.
    kind = rows.ACID_KINDS.index("citric")
    found = card({"acid_kind": kind, "acid_percent": 100.0},
                 {"acid_mmol_per_l": 0.2, "acid_mass_g": 0.4, "pre_solution_g_per_l": 50.0,
                  "dose_volume_ml": 8.0})  # fmt: skip
    assert found is not None
    assert found["acid_volume_ml"] is None
    assert found["acid_mass_g"] == pytest.approx(5.0)
    assert (found["water_ml"], found["batch_volume_ml"]) == (100.0, 100.0)
    assert (found["dilution_factor"], found["g_per_l"]) == (None, 50.0)
    assert found["acid_mmol_per_l"] == pytest.approx(250.0)
    assert found["label"] == (
        "Citric acid 100 %, 50 g/L (0.25 mol/L), for pH only. Acid, irritates eyes. Made on "
        "________"
    )
    assert found["shelf_note"] == SHELF_NOTES["citric"]


def test_where_the_bottle_itself_is_measured_there_is_no_card() -> None:
    bottle = {"acid_mmol_per_l": 0.3, "acid_volume_ml": 4.0, "dose_volume_ml": 4.0}
    assert card({}, bottle) is None
    assert card({}, {**bottle, "acid_dilution_factor": 10.0, "acid_mmol_per_l": 0.0}) is None


def test_the_largest_can_bounds_the_vessel() -> None:
    made = {"acid_mmol_per_l": 0.3, "acid_volume_ml": 0.4, "acid_dilution_factor": 100.0,
            "dose_volume_ml": 40.0}  # fmt: skip
    free, bound = card({}, made), card({"largest_can_l": 0.1}, made)
    assert free is not None
    assert bound is not None
    assert bound["batch_volume_ml"] == 100.0 <= free["batch_volume_ml"]
    assert bound["acid_volume_ml"] == pytest.approx(1.0)


def test_every_reagent_has_a_hazard_and_a_shelf_life() -> None:
    assert set(HAZARD_WORDS) == set(SHELF_NOTES) == set(reagents.KINDS)
