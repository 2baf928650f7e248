"""Rows that share a can: who shares, how the cans are made, what each row gets."""

import numpy as np
import pytest

from service.planning import rows
from service.planning.mix_cans import WATER_ASSUMED
from service.planning.mix_card import acid_to_add, mix_fields, row_columns
from service.planning.mix_dilution import dilutions
from service.planning.mix_grouping import LEFT_OUT, MOST_MIXES
from service.planning.mix_kinds import kinds
from service.planning.mix_summary import noted, summary_fields
from service.planning.mixes import Mixes
from service.planning.notes import Notes
from tests.sharing import Shared, bench

pytestmark = pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
"""Digests of kinds wrap around; without compiling numpy says so."""

NITRIC = {"kind": "nitric", "percent": 38.0}


def reasons(mixes: Mixes) -> list[str]:
    return [mix.reason for mix in mixes.mixes]


def words(shared: Shared, mixes: Mixes) -> list[str]:
    names = [None] * shared.requests.size
    waters = ["water"] * shared.requests.size
    return [each["explanation"] for each in mix_fields(mixes, names, waters, shared.catalogue)]


def test_invented_nursery_worked_by_hand() -> None:
    # Three benches ask for 0.6, 0.4 and 0.3 g/L of one feed in rain water, and bear it:
    # north 30 L, middle 20 L, south 10 L. At most two cans.
    #   {0.3} and {0.4, 0.6}: north gets 0.4, a third less:   30 L x 1/3   = 10 L missing
    #   {0.3, 0.4} and {0.6}: middle gets 0.3, a quarter less: 20 L x 1/4   =  5 L missing
    # so that middle and south share a can of 0.3 g/L.
    # No reserve. The weak can of 30 L at 0.3 g/L is half as strong as the strong one: 15 L of the
    # strong mix and 15 L of rain. So 30 + 15 = 45 L of the strong mix, 45 x 0.6 = 27.0 g.
    # On average 60 L lack 5 L x 1, that is 100 x 5 / 60 = 8.33 %.
    shared = Shared([bench(0.6, 30), bench(0.4, 20), bench(0.3, 10)])
    assert shared.own == pytest.approx([0.6, 0.4, 0.3])
    mixes = shared.mixes(max_count=2)
    assert shared.members(mixes) == [[0], [1, 2]]
    strong, weak = mixes.mixes
    assert (strong.needed_l, strong.made_l, strong.drawn_l) == pytest.approx((30, 45, 15))
    assert strong.fillings[0].result["amount"][0] == pytest.approx(27.0)
    assert (weak.source, weak.reason, weak.needed_l, weak.made_l) == (0, "diluted", 30, 30)
    assert weak.fillings[0].portion_l == pytest.approx(15.0)
    assert weak.fillings[0].result["amount"][0] == pytest.approx(30 * 0.3)
    assert mixes.below_own_percent == pytest.approx([0, 25, 0], abs=1e-6)
    assert mixes.mean_below_own_percent == pytest.approx(100 * 5 / 60)
    # With a tolerance of 25 % the same two cans are the fewest; with 24 % each has its own.
    assert shared.members(shared.mixes(tolerance_percent=25)) == [[0], [1, 2]]
    assert shared.members(shared.mixes(tolerance_percent=24)) == [[0], [1], [2]]


def test_a_thinned_can_is_the_can_that_would_be_weighed() -> None:
    shared = Shared([bench(0.6, 30), bench(0.3, 10)])
    poured = shared.mixes(max_count=2).mixes[1].fillings[0].result
    weighed = Shared([bench(0.3, 10)]).results[0]
    for name in ("predicted_ec_ms_per_cm", "predicted_ph", "predicted_ph_open"):
        assert poured[name] == pytest.approx(weighed[name], rel=1e-6)
    assert poured["saturation"] == pytest.approx(weighed["saturation"], rel=1e-6)


def test_water_that_thins_an_acidified_mix_gets_the_rest_of_the_acid() -> None:
    more = {"water": "moderate_tap", "target_ph": 5.8, "acid": NITRIC}
    shared = Shared([bench(0.4, 30, **more), bench(0.2, 10, **more)])
    mixes = shared.mixes(max_count=2)
    strong, weak = mixes.mixes
    assert weak.reason == "diluted"
    can = weak.fillings[0]
    # What the portion brings along and what is added is the acid of the can weighed in.
    brought = strong.fillings[0].acid.mass_g * can.portion_l / strong.fillings[0].volume_l
    assert can.acid.mass_g + brought == pytest.approx(can.result["acid_mass_g"])
    assert can.result["predicted_ph"] == pytest.approx(5.8, abs=0.02)
    assert can.acid.mass_g > 0.4 * can.result["acid_mass_g"]
    portion = acid_to_add(can)
    assert portion is not None
    diluted = can.acid.volume_ml * can.acid.dilution_factor
    assert portion["amount"] == pytest.approx(diluted, abs=0.05)
    assert "water that got its acid first" in words(shared, mixes)[1]


def test_little_acid_is_measured_from_a_diluted_bottle_and_said() -> None:
    more = {"water": "soft_tap", "target_ph": 6.0, "acid": NITRIC}
    shared = Shared([bench(0.4, 30, **more), bench(0.2, 4, **more)])
    weak = shared.mixes(max_count=2).mixes[1]
    assert weak.reason == "diluted"
    assert weak.fillings[0].acid.dilution_factor > 1.0
    fields = mix_fields(shared.mixes(max_count=2), [None] * 2, ["w"] * 2, shared.catalogue)[1]
    assert "acid_pre_dilution" in fields["cautions"]


@pytest.mark.parametrize(
    ("more", "volume", "cans", "reason", "said"),
    [
        ({"water": "moderate_tap"}, 10, (), "alkaline_water", "alkaline (120 mg/L"),
        ({"water": {"ph": 7.0}}, 10, (), "alkalinity_unknown", "was not said"),
        ({}, 0.5, (), "small_portion", "too little for a jug"),
        ({}, 9, (20.0,), "no_weighing_saved", "as many more fillings"),
    ],
)
def test_a_weaker_mix_is_weighed_where_pouring_does_not_serve(
    more: dict, volume: float, cans: tuple[float, ...], reason: str, said: str
) -> None:
    shared = Shared([bench(0.4, 20, **more), bench(0.2, volume, **more)])
    mixes = shared.mixes(max_count=2, can_volumes_l=cans)
    assert reasons(mixes) == ["strongest", reason]
    assert mixes.mixes[1].fillings[0].portion_l == 0.0
    assert said in words(shared, mixes)[1]


def test_a_mix_that_would_bring_too_much_acid_along_is_weighed() -> None:
    # As if the feed itself were alkaline, so that half of it needs less than half of the acid.
    more = {"water": "moderate_tap", "target_ph": 6.0, "acid": NITRIC}
    shared = Shared([bench(0.6, 20, **more), bench(0.3, 10, **more)])
    planned = shared.results.copy()
    planned["acid_mmol_per_l"] = (3.0, 1.0)
    kind, strength = np.zeros(2, dtype=np.int64), np.array([0.6, 0.3])
    how, made = dilutions(kind, strength, planned, np.array([20.0, 10.0]), ())
    assert how[1].reason == "acid_brought_along"
    assert made.tolist() == [20.0, 10.0]


def test_cans_on_hand_are_filled_with_rounded_amounts_each() -> None:
    shared = Shared([bench(0.5, 24)])
    mix = shared.mixes(max_count=1, can_volumes_l=(10.0, 4.0)).mixes[0]
    assert [(each.volume_l, each.times) for each in mix.fillings] == [(10.0, 2), (4.0, 1)]
    assert [each.result["amount"][0] for each in mix.fillings] == pytest.approx([5.0, 2.0])


def test_the_reserve_is_mixed_on_top() -> None:
    shared = Shared([bench(0.5, 20)])
    assert shared.mixes(max_count=1, reserve_percent=10).mixes[0].made_l == pytest.approx(22.0)


@pytest.mark.parametrize(
    "other",
    [
        {"product": "feed_15_5_15_ca_mg"},
        {"water": "soft_tap"},
        {"application": "supplement"},
        {"water": "rain", "target_ph": 6.0, "acid": NITRIC},
    ],
)
def test_different_solutions_do_not_share_a_can(other: dict) -> None:
    shared = Shared([bench(0.3, 10), bench(0.3, 10, **other)])
    mixes = shared.mixes(max_count=1)
    assert mixes.kind_count == 2
    assert shared.members(mixes) == [[0], [1]]
    assert not mixes.feasible
    (conflict,) = summary_fields(mixes, ["a", "b"])["conflicts"]
    assert (conflict["limit"], conflict["needed"], conflict["allowed"]) == (
        "mixes.max_count",
        2.0,
        1.0,
    )


def together(first: float, second: float, **more: object) -> dict:
    request = bench(None, 10, **more)
    del request["product"]
    request["products"] = [
        {"product": name, "strength": {"basis": "product", "g_per_l": amount}}
        for name, amount in (
            ("calcium_nitrate_tetrahydrate", first),
            ("magnesium_sulfate_heptahydrate", second),
        )
    ]
    return request


def test_products_share_a_can_only_in_the_same_proportion() -> None:
    turned = together(0.2, 0.1)
    turned["products"] = turned["products"][::-1]
    shared = Shared([together(0.2, 0.1), together(0.1, 0.05), together(0.2, 0.05), turned])
    mixes = shared.mixes(tolerance_percent=100)
    assert sorted(shared.members(mixes)) == [[0, 1, 3], [2]]
    (joint,) = (mix for mix in mixes.mixes if mix.rows.size == 3)
    held = joint.fillings[0].result["amount"][:2] / joint.fillings[0].volume_l
    assert sorted(held) == pytest.approx([0.05, 0.1], rel=0.02)


def test_the_size_of_the_plants_and_the_air_may_differ_within_a_can() -> None:
    mini = bench(None, 5, plants={"size": "mini", "setup": "wet_dry_pot", "growth": "active"})
    dry = bench(None, 5, air={"humidity_percent": 35, "temperature_celsius": 24})
    shared = Shared([bench(None, 20), mini, dry])
    mixes = shared.mixes(max_count=1)
    assert shared.members(mixes) == [[0, 1, 2]]
    weakest = int(np.argmin(shared.own))
    assert mixes.below_own_percent[weakest] == pytest.approx(0.0, abs=2.0)


def test_rows_that_take_no_feed_are_left_out_and_said() -> None:
    wrong = bench(0.3, 10, product="urea", strength={"basis": "meter_ppm", "ppm": 400})
    too_hard = bench(None, 10, water="hard_tap")
    too_hard["plants"] = {"size": "mini", "setup": "wet_dry_pot", "growth": "resting"}
    flush = bench(None, 10, application="flush")
    shared = Shared([bench(0.3, 10), wrong, too_hard, flush])
    mixes = shared.mixes(max_count=3)
    assert [LEFT_OUT[each] for each in mixes.left_out] == [
        "",
        "rejected",
        "infeasible",
        "plain_water",
    ]
    summary = summary_fields(mixes, ["a", "b", "c", None])
    assert {each["reason"]: each["row_ids"] for each in summary["left_out"]} == {
        "rejected": ["b"],
        "infeasible": ["c"],
        "plain_water": [None],
    }
    assert row_columns(mixes)["mix"] == [1, None, None, None]
    assert mixes.feasible


def test_a_batch_without_a_dose_has_no_mix() -> None:
    shared = Shared([bench(None, 10, application="flush")])
    for mixes in (shared.mixes(max_count=1), shared.mixes(tolerance_percent=5)):
        assert mixes.mixes == []
        summary = summary_fields(mixes, [None])
        assert (summary["mix_count"], summary["below_own_percent"]) == (0, None)
    assert Shared([]).mixes(max_count=1).mixes == []


def test_too_few_cans_for_the_tolerance_name_the_rows_outside() -> None:
    shared = Shared([bench(0.6, 30), bench(0.4, 20), bench(0.3, 10)])
    mixes = shared.mixes(max_count=2, tolerance_percent=10)
    assert len(mixes.mixes) == 2
    assert not mixes.feasible
    assert mixes.fewest_count == 3
    summary = summary_fields(mixes, ["north", "middle", "south"])
    assert summary["status"] == "infeasible"
    assert summary["outside_tolerance"] == {"row_indices": [1], "row_ids": ["middle"]}
    (conflict,) = summary["conflicts"]
    assert conflict["limit"] == "mixes.tolerance_percent"
    assert "3 cans" in conflict["message"]


def test_nothing_asked_is_a_tolerance_of_ten_percent() -> None:
    shared = Shared([bench(0.5, 10), bench(0.455, 10), bench(0.4, 10)])
    assert shared.members(shared.mixes()) == [[0, 1], [2]]


def test_strengths_that_no_balance_tells_apart_are_one() -> None:
    shared = Shared([bench(0.5, 10), bench(0.50002, 10)])
    assert shared.members(shared.mixes(tolerance_percent=0)) == [[0, 1]]


def test_rounding_beyond_the_tolerance_is_said() -> None:
    shared = Shared([bench(0.49, 7.1)])
    mixes = shared.mixes(tolerance_percent=0)
    notes = Notes()
    noted(mixes, notes)
    assert mixes.feasible
    assert [each["code"] for each in notes.cautions] == ["mix_rounded_beyond_tolerance"]
    exact = Notes()
    noted(Shared([bench(0.5, 10)]).mixes(tolerance_percent=0), exact)
    assert exact.cautions == []


def test_a_row_whose_ceilings_a_can_would_not_keep_is_taken_out_of_it() -> None:
    shared = Shared([bench(0.5, 10), bench(0.5, 10), bench(0.5, 10)])
    # As if the acid of the can, or its rounding, had carried it above this row's ceiling.
    shared.results["ec_ceiling_ms_per_cm"][1] = 0.2
    mixes = shared.mixes(max_count=1)
    assert shared.members(mixes) == [[0, 2]]
    assert LEFT_OUT[mixes.left_out[1]] == "no_common_can"
    assert np.isnan(mixes.below_own_percent[1])
    assert not mixes.feasible
    assert summary_fields(mixes, ["a", "b", "c"])["conflicts"][0]["limit"] == "ceilings"


def test_a_can_that_is_refused_serves_nobody_and_nothing_is_poured_from_it() -> None:
    # As if nobody had said which water it is: no acid is given into a water that is not known.
    more = {"water": "moderate_tap", "target_ph": 6.0, "acid": NITRIC}
    shared = Shared([bench(0.4, 30, **more), bench(0.2, 10, **more), bench(0.2, 10)])
    shared.results["assumptions"][0] |= WATER_ASSUMED
    mixes = shared.mixes(max_count=3)
    assert shared.members(mixes) == [[1], [2]]
    assert [LEFT_OUT[each] for each in mixes.left_out] == ["no_common_can", "", ""]
    assert [mix.source for mix in mixes.mixes] == [None, None]


def test_more_kinds_than_can_be_listed_are_left_out() -> None:
    shared = Shared([bench(0.3, 10)])
    count = MOST_MIXES + 1
    shared.requests = np.repeat(shared.requests, count)
    shared.results = np.repeat(shared.results, count)
    shared.requests["water"][:, rows.WATER_FIELDS.index("sodium_mg_per_l")] = np.arange(count)
    mixes = shared.mixes(max_count=5)
    assert mixes.mixes == []
    assert not mixes.feasible
    summary = summary_fields(mixes, [None] * count)
    assert summary["kind_count"] == count
    assert summary["left_out"][0]["count"] == count
    assert len(summary["left_out"][0]["row_indices"]) == 1_000


def test_kinds_are_compared_whole_when_their_digests_collide(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    keys = np.array([[1.0, 2.0], [3.0, 2.0], [1.0, 2.0], [np.nan, 2.0], [np.nan, 2.0]])
    expected = [0, 1, 0, 2, 2]
    assert kinds(keys)[0].tolist() == expected
    monkeypatch.setattr(
        "service.planning.mix_kinds._digests", lambda bits: np.zeros(len(bits), dtype=np.uint64)
    )
    numbers, count = kinds(keys)
    assert (numbers.tolist(), count) == (expected, 3)


def test_mixes_of_a_kind_follow_each_other_the_strongest_first() -> None:
    weak, strong = bench(0.2, 2), bench(0.6, 5)
    tap = {"water": "soft_tap"}
    shared = Shared([weak, {**weak, **tap}, strong, bench(0.4, 5), {**strong, **tap}])
    mixes = shared.mixes(tolerance_percent=1)
    assert shared.members(mixes) == [[2], [3], [0], [4], [1]]
    assert [mix.source for mix in mixes.mixes] == [None, 0, None, None, None]


def test_a_coarse_balance_is_that_of_every_row() -> None:
    coarse = {"balance_resolution_g": 1.0, "syringe_resolution_ml": 0.1}
    shared = Shared([bench(0.55, 50), bench(0.55, 50, instruments=coarse)])
    amount = shared.mixes(max_count=1).mixes[0].fillings[0].result["amount"][0]
    assert amount == float(int(amount)) == 55.0
