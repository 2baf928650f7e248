"""Shared mixes in fields, sentences and steps, for a nursery worked by hand."""

from typing import Any

import numpy as np
import pytest

from service.planning.mix_card import (
    acid_to_add,
    caution_bits,
    mix_fields,
    row_columns,
)
from service.planning.mix_dilution import JUG_STEP, LEAST_PORTION, portion
from service.planning.mix_summary import NAMED, noted, summary_fields
from service.planning.mixes import Mixes
from service.planning.notes import Notes
from tests.sharing import Shared, bench

pytestmark = pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
"""Digests of kinds wrap around; without compiling numpy says so."""

NITRIC = {"kind": "nitric", "percent": 38.0}
PURE = "Measure conductivity and pH, and compare with the predicted figures before use."
NAMES = ["north", "middle", "south"]


def told(shared: Shared, mixes: Mixes) -> list[dict[str, Any]]:
    count = shared.requests.size
    return mix_fields(mixes, NAMES[:count], [f"w{each}" for each in range(count)], shared.catalogue)


@pytest.fixture(scope="module")
def nursery() -> tuple[Shared, Mixes]:
    # 0.6, 0.4 and 0.3 g/L for 30, 20 and 10 L in rain; two cans: see test_mixes.
    shared = Shared([bench(0.6, 30), bench(0.4, 20), bench(0.3, 10)])
    return shared, shared.mixes(max_count=2, reserve_percent=20)


def test_mixes_are_told_with_rows_volumes_and_amounts(nursery: tuple[Shared, Mixes]) -> None:
    # With a fifth in reserve: 36 L of 0.6 g/L and 36 L of 0.3 g/L, of which 18 L are poured:
    # 54 L of the strong mix, 32.4 g.
    strong, weak = told(*nursery)
    assert (strong["mix"], weak["mix"]) == (1, 2)
    assert (strong["row_indices"], strong["row_ids"]) == ([0], ["north"])
    assert (weak["row_indices"], weak["row_ids"]) == ([1, 2], ["middle", "south"])
    assert (strong["water"], weak["water"]) == ("w0", "w1")
    assert (strong["made_by"], strong["from_mix"]) == ("weighing", None)
    assert (weak["made_by"], weak["from_mix"]) == ("dilution", 1)
    volumes = ("needed_volume_l", "volume_l", "drawn_volume_l")
    assert [strong[each] for each in volumes] == pytest.approx([30.0, 54.0, 18.0])
    assert [weak[each] for each in volumes] == pytest.approx([30.0, 36.0, 0.0])
    assert strong["product_mass_g"] == pytest.approx(32.4)
    assert strong["product_volume_ml"] is None
    assert weak["product_mass_g"] is weak["product_volume_ml"] is None
    assert (strong["below_own_percent"], weak["below_own_percent"]) == pytest.approx(
        (0.0, 25.0), abs=1e-6
    )
    assert strong["application"] == "feed"
    assert strong["target_ph"] is strong["acid"] is strong["acid_percent"] is None
    # 13 % nitrogen.
    assert strong["nitrogen_mg_per_l"] == pytest.approx(78.0, rel=0.02)
    assert weak["nitrogen_mg_per_l"] == pytest.approx(39.0, rel=0.02)
    assert [each["solid"] for each in strong["saturation"]] == [
        "gypsum", "calcite", "brushite", "struvite",
    ]  # fmt: skip
    assert strong["explanation"]
    assert "18" in weak["explanation"]


def test_a_can_that_is_poured_has_its_own_steps(nursery: tuple[Shared, Mixes]) -> None:
    strong, weak = told(*nursery)
    (can,) = weak["fillings"]
    assert (can["volume_l"], can["times"], can["from_mix_volume_l"]) == (36.0, 1, 18.0)
    assert can["additions"] == []
    assert can["steps"] == [
        {"order": 1, "instruction": "Fill the can with the water.", "quantity": 18.0, "unit": "L"},
        {
            "order": 2,
            "instruction": "Add mix 1 up to the full volume and stir.",
            "quantity": 18.0,
            "unit": "L",
        },
        {"order": 3, "instruction": PURE, "quantity": None, "unit": None},
    ]
    (weighed,) = strong["fillings"]
    assert weighed["from_mix_volume_l"] is None
    assert [each["mass_g"] for each in weighed["additions"]] == pytest.approx([32.4])
    assert weighed["steps"][1]["quantity"] == pytest.approx(32.4)


def test_rows_are_told_their_mix(nursery: tuple[Shared, Mixes]) -> None:
    shared, mixes = nursery
    columns = row_columns(mixes)
    assert columns["mix"] == [1, 2, 2]
    strong, weak = told(shared, mixes)
    assert columns["mix_ec_ms_per_cm"] == [
        strong["predicted_ec_ms_per_cm"],
        weak["predicted_ec_ms_per_cm"],
        weak["predicted_ec_ms_per_cm"],
    ]
    assert columns["mix_below_own_percent"] == pytest.approx([0.0, 25.0, 0.0], abs=1e-6)


def test_all_mixes_are_summed(nursery: tuple[Shared, Mixes]) -> None:
    summary = summary_fields(nursery[1], NAMES)
    assert summary["status"] == "ok"
    assert (summary["mix_count"], summary["kind_count"], summary["max_count"]) == (2, 1, 2)
    assert summary["needed_volume_l"] == pytest.approx(60.0)
    # What is poured is made once: 54 + 36 litres less the 18 that are drawn.
    assert summary["volume_l"] == pytest.approx(72.0)
    assert summary["mean_below_own_percent"] == pytest.approx(100.0 * 5.0 / 60.0)
    assert summary["below_own_percent"] == pytest.approx(25.0)
    assert summary["reserve_percent"] == 20
    assert summary["conflicts"] == summary["left_out"] == []
    assert summary["outside_tolerance"] == {"row_indices": [], "row_ids": []}


def test_cans_on_hand_are_counted_and_added_up() -> None:
    # 24 L from cans of 10 and 4 L: twice 10 and once 4; 0.5 g/L.
    shared = Shared([bench(0.5, 24)])
    (mix,) = told(shared, shared.mixes(max_count=1, can_volumes_l=(10.0, 4.0)))
    assert [(each["volume_l"], each["times"]) for each in mix["fillings"]] == [(10.0, 2), (4.0, 1)]
    assert mix["product_mass_g"] == pytest.approx(12.0)
    assert mix["volume_l"] == pytest.approx(24.0)


def test_a_liquid_is_added_up_in_millilitres() -> None:
    liquid = bench(None, 20, product="feed_liquid_4_3_6",
                   strength={"basis": "product", "ml_per_l": 1.5})  # fmt: skip
    shared = Shared([liquid])
    (mix,) = told(shared, shared.mixes(max_count=1))
    assert mix["product_mass_g"] is None
    assert mix["product_volume_ml"] == pytest.approx(30.0, abs=0.1)


def test_acid_of_a_poured_can_goes_into_its_water_first() -> None:
    more = {"water": "moderate_tap", "target_ph": 5.8, "acid": NITRIC}
    shared = Shared([bench(0.4, 30, **more), bench(0.2, 10, **more)])
    mixes = shared.mixes(max_count=2)
    strong, weak = told(shared, mixes)
    assert (strong["acid"], strong["acid_percent"], strong["target_ph"]) == ("nitric", 38.0, 5.8)
    filling = mixes.mixes[1].fillings[0]
    acid = acid_to_add(filling)
    assert acid is not None
    water, first, feed, _ = weak["fillings"][0]["steps"]
    assert water["quantity"] + feed["quantity"] == pytest.approx(10.0)
    assert first["instruction"] == (
        f"Eye and hand protection on. Stir the {acid['name']} into this water, before the feed."
    )
    assert (first["quantity"], first["unit"]) == (pytest.approx(acid["amount"]), "mL")
    assert strong["acid_volume_ml"] == pytest.approx(mixes.mixes[0].fillings[0].acid.volume_ml)
    assert weak["acid_mass_g"] == pytest.approx(filling.acid.mass_g)
    assert "acid_handling" in strong["cautions"]
    every = np.bitwise_or.reduce(
        [int(each.result["cautions"]) for mix in mixes.mixes for each in mix.fillings]
    )
    assert caution_bits(mixes) == every != 0


def test_without_acid_none_is_added(nursery: tuple[Shared, Mixes]) -> None:
    assert acid_to_add(nursery[1].mixes[1].fillings[0]) is None


@pytest.mark.parametrize(
    ("volume", "ratio", "poured"),
    [
        (10.0, 0.5, 5.0),
        (10.0, 1.0, 10.0),
        (10.0, 1.0 / 3.0, 3.33),
        (7.0, 0.1, 0.7),
        (3.0, 0.0, 0.0),
    ],
)
def test_a_jug_is_filled_to_a_mark_and_never_beyond(
    volume: float, ratio: float, poured: float
) -> None:
    found = portion(volume, ratio)
    assert found == pytest.approx(np.floor(poured / JUG_STEP + 1e-9) * JUG_STEP)
    assert found <= volume * ratio + 1e-9
    assert LEAST_PORTION >= JUG_STEP


def test_kinds_beyond_the_wish_are_told_with_the_cans_given() -> None:
    shared = Shared([bench(0.3, 10), bench(0.3, 10, water="soft_tap"), bench(0.3, 10,
                     water="moderate_tap")])  # fmt: skip
    summary = summary_fields(shared.mixes(max_count=2), NAMES)
    assert summary["status"] == "infeasible"
    (conflict,) = summary["conflicts"]
    assert conflict == {
        "limit": "mixes.max_count",
        "needed": 3.0,
        "allowed": 2.0,
        "message": "Different products, waters, pH targets or applications cannot share a can: "
        "these rows need 3 cans at least, and 3 are given.",
    }


def test_a_tolerance_out_of_reach_is_told_with_what_it_needs() -> None:
    shared = Shared([bench(0.6, 30), bench(0.4, 20), bench(0.3, 10)])
    summary = summary_fields(shared.mixes(max_count=2, tolerance_percent=10), NAMES)
    (conflict,) = summary["conflicts"]
    assert (conflict["needed"], conflict["allowed"]) == (3.0, 2.0)
    assert conflict["message"] == (
        "With 2 cans 1 rows get more than 10 % less than they bear (`outside_tolerance` names "
        "them); 3 cans would keep the tolerance."
    )
    assert summary["outside_tolerance"] == {"row_indices": [1], "row_ids": ["middle"]}


def test_without_a_tolerance_rounding_passes_none(nursery: tuple[Shared, Mixes]) -> None:
    notes = Notes()
    noted(nursery[1], notes)
    assert notes.cautions == []


def test_rows_outside_a_tolerance_are_named_and_not_cautioned_again() -> None:
    shared = Shared([bench(0.6, 30), bench(0.4, 20), bench(0.3, 10)])
    notes = Notes()
    noted(shared.mixes(max_count=2, tolerance_percent=10), notes)
    assert notes.cautions == []


def test_no_more_rows_are_named_than_can_be_read() -> None:
    count = NAMED + 1
    shared = Shared([bench(None, 10, application="flush")])
    shared.requests, shared.results = (
        np.repeat(each, count) for each in (shared.requests, shared.results)
    )
    (left,) = summary_fields(shared.mixes(max_count=1), ["x"] * count)["left_out"]
    assert (left["reason"], left["count"]) == ("plain_water", count)
    assert left["row_indices"] == list(range(NAMED))
    assert left["row_ids"] == ["x"] * NAMED
    assert left["message"] == "Rows of plain water: nothing is mixed for them."
