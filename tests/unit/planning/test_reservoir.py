"""Reservoirs: portions, waits, bounds of pumps, and readings that are refused."""

import pytest

from service.planning.notes import RefusalError
from tests.reservoirs import NITRIC, STOCKS, corrected, line

RISES = [{"ec_rise_ms_per_cm": 0.12}, {"ec_rise_ms_per_cm": 0.08}]
PUMPS = {"stock_a": line(), "stock_b": line(), "acid": line()}
NEW = {"none": True}
DOSED = {
    "minutes_since": 30,
    "stock_a_ml": 50,
    "stock_b_ml": 50,
    "earlier_ec_ms_per_cm": 0.5,
    "today_stock_a_ml": 50,
    "today_stock_b_ml": 50,
    "today_water_l": 0,
    "today_acid_volume_ml": 0,
}
ACID = {"target": {"ec_ms_per_cm": 0.9, "ph": 6.0}, "acid": NITRIC}


def read(ec: float = 0.9, **more: object) -> dict:
    return {"ec_ms_per_cm": ec, "compensated": True, "age_minutes": 0, **more}


def refusal(**given: object) -> str:
    with pytest.raises(RefusalError) as caught:
        corrected(**given)
    assert "{" not in str(caught.value).replace('{"none": true}', "")
    return caught.value.notice.code


def test_half_of_the_missing_stock_by_hand() -> None:
    # By hand: 0.9 - 0.5 = 0.4 mS/cm are missing; A and B add 0.12 + 0.08 = 0.2 for 1 mL/L of each,
    # so 2 mL/L of each in 80 L are 160 mL, and half of that is 80 mL. It then reads 0.7 mS/cm.
    answer = corrected(reading=read(0.5, level_percent=80), stocks=RISES, last_dose=NEW)
    fields = answer.fields
    assert answer.plan.correction == "feed"
    assert fields["needed_stock_ml"] == pytest.approx(160.0)
    assert fields["stock_a_ml"] == fields["stock_b_ml"] == pytest.approx(80.0)
    assert fields["expected_ec_ms_per_cm"] == pytest.approx(0.7)
    assert fields["pump_seconds"] == {}
    units = [each["unit"] for each in answer.steps]
    assert units == ["mL", "min", "mL", "min", None]
    assert fields["remeasure_after_minutes"] == 15.0


def test_half_of_the_water_that_dilutes() -> None:
    # 50 L of 1.2 mS/cm to 0.9 with water of 0.12: 50 x 0.3 / 0.78 = 19.23 L, half 9.61 L.
    answer = corrected(reading=read(1.2, level_percent=50), last_dose=NEW, stocks=RISES)
    assert answer.fields["needed_water_l"] == pytest.approx(19.23, abs=0.05)
    assert answer.fields["water_l"] == pytest.approx(9.61, abs=0.03)
    assert answer.fields["stock_a_ml"] == 0.0
    assert answer.fields["drain_l"] == 0.0


def test_a_full_reservoir_is_drained_by_hand_and_never_pumped_over() -> None:
    # 100 L of 1.2 to 0.9: 0.78 / 1.08 of the old solution stays, 27.8 L leave, half of it now.
    hand = corrected(reading=read(1.2), last_dose=NEW)
    assert hand.fields["drain_l"] == pytest.approx(13.9, abs=0.1)
    assert hand.fields["water_l"] == pytest.approx(13.9, abs=0.1)
    assert "reservoir_has_no_room" in hand.cautions
    pumped = corrected(reading=read(1.2), last_dose=NEW, pump={"water": line(10)})
    assert pumped.fields["water_l"] == 0.0
    assert pumped.fields["pump_seconds"] == {"water": 0.0}
    assert pumped.plan.correction == "withheld"


def test_water_saltier_than_the_target_is_infeasible() -> None:
    target = {"ec_ms_per_cm": 0.3}
    answer = corrected(reading=read(0.8), target=target, water="hard_tap", last_dose=NEW)
    assert answer.fields["status"] == "infeasible"
    assert answer.fields["water_l"] is None
    assert answer.conflicts[0]["limit"] == "water.ec_ms_per_cm"
    mended = corrected(reading=read(0.8), target=target, last_dose=NEW, **(answer.nearest or {}))
    assert mended.fields["status"] == "ok"


def test_acid_comes_alone_and_only_at_the_right_conductivity() -> None:
    low = corrected(reading=read(0.6, ph=7.4), stocks=STOCKS, last_dose=NEW, **ACID)
    assert low.plan.correction == "feed"
    assert low.fields["acid_volume_ml"] == 0.0
    high = corrected(reading=read(1.1, ph=7.4, level_percent=60), last_dose=NEW, **ACID)
    assert high.plan.correction == "water"
    right = corrected(reading=read(0.9, ph=6.9), stocks=STOCKS, last_dose=NEW, **ACID)
    assert right.plan.correction == "acid"
    assert right.fields["stock_a_ml"] == right.fields["water_l"] == 0.0
    assert 6.0 < right.fields["lowest_expected_ph"] < 6.9
    assert "alkalinity_from_ph" in right.cautions
    fields = right.fields
    assert fields["alkalinity_low_mg_per_l_caco3"] < fields["alkalinity_high_mg_per_l_caco3"]
    assert fields["acid_mmol_per_l"] == pytest.approx(
        0.25 * fields["acid_low_mmol_per_l"], rel=1e-3
    )


def test_acid_of_a_measured_alkalinity_is_what_arithmetic_says() -> None:
    # 50 mg/L CaCO3 are 1.0 meq/L; down to 20 takes 0.6. A drop test is 5 % off: 0.95 - 0.4 = 0.55
    # at least, of which a quarter is given: 0.137 mmol/L, in 100 L 13.7 mmol. Nitric acid of 10 %
    # weighs 1.054 kg/L at 20 degrees and holds 1.67 mol/L: 8.2 mL.
    answer = corrected(
        reading=read(0.9, ph=7.4, alkalinity_mg_per_l_caco3=50.04),
        target={"ec_ms_per_cm": 0.9, "alkalinity_mg_per_l_caco3": 20.016},
        acid=NITRIC,
        last_dose=NEW,
    )
    assert answer.fields["acid_low_mmol_per_l"] == pytest.approx(0.55, abs=0.002)
    assert answer.fields["acid_mmol_per_l"] == pytest.approx(0.1375, abs=0.0005)
    assert answer.fields["acid_volume_ml"] == pytest.approx(8.2, abs=0.1)
    assert answer.fields["acid_volume_ml"] <= 8.25
    assert answer.fields["alkalinity_low_mg_per_l_caco3"] == pytest.approx(50.04)


def test_measured_alkalinity_stands_in_for_that_of_the_water() -> None:
    asked = {**ACID, "water": None, "last_dose": NEW}
    assert refusal(reading=read(0.9, ph=7.0), **asked) == "acid_alkalinity_unknown"
    measured = read(0.9, ph=7.0, alkalinity_mg_per_l_caco3=60)
    assert corrected(reading=measured, **asked).plan.correction == "acid"


def test_ph_within_the_error_of_the_probe_is_left_alone() -> None:
    near = corrected(reading=read(0.9, ph=6.1), last_dose=NEW, **ACID)
    assert near.plan.correction == "none"
    assert near.fields["remeasure_after_minutes"] == 60.0
    below = corrected(reading=read(0.9, ph=5.4), last_dose=NEW, **ACID)
    assert below.plan.correction == "none"
    assert "wrong_side_of_ph" in below.cautions


def test_base_raises_a_ph_and_is_weighed() -> None:
    asked = {**ACID, "acid": {"kind": "potassium_bicarbonate"}, "last_dose": NEW}
    answer = corrected(reading=read(0.9, ph=5.2), stocks=STOCKS, **asked)
    assert answer.plan.correction == "acid"
    assert answer.fields["acid_volume_ml"] is None
    assert answer.fields["acid_mass_g"] > 0.0
    assert "base_handling" in answer.cautions


def test_pumps_never_run_without_the_last_dose() -> None:
    # The schema asks for it; whoever calls the planner alone meets the same refusal.
    assert refusal(reading=read(0.5), stocks=RISES, pump=PUMPS) == "last_dose_needed"
    hand = corrected(reading=read(0.5), stocks=RISES)
    assert "nothing_dosed_before" in hand.assumptions


def test_nothing_is_given_until_the_last_dose_has_mixed() -> None:
    early = corrected(
        reading=read(0.6), stocks=RISES, pump=PUMPS, last_dose={**DOSED, "minutes_since": 4}
    )
    assert early.plan.correction == "wait"
    assert early.fields["not_before_minutes"] == 11.0
    assert set(early.fields["pump_seconds"].values()) == {0.0}
    slow = {**PUMPS, "interval_minutes": 45}
    later = corrected(reading=read(0.6), stocks=RISES, pump=slow, last_dose=DOSED)
    assert later.fields["not_before_minutes"] == 15.0


def test_pump_runs_to_its_bounds_and_no_further() -> None:
    short = {"stock_a": line(2.0, 10), "stock_b": line(1.0, 600)}
    answer = corrected(reading=read(0.5), stocks=RISES, pump=short, last_dose=NEW)
    assert answer.fields["pump_seconds"] == {"stock_a": 10.0, "stock_b": 20.0}
    assert answer.fields["stock_a_ml"] == answer.fields["stock_b_ml"] == 20.0
    assert "run_cut_short" in answer.cautions
    day = {"stock_a": line(day=60), "stock_b": line(day=500)}
    capped = corrected(reading=read(0.6), stocks=RISES, pump=day, last_dose=DOSED)
    assert capped.fields["stock_a_ml"] == capped.fields["stock_b_ml"] == 10.0
    assert "daily_total_reached" in capped.cautions
    silent = {**DOSED, "today_stock_b_ml": None}
    none = corrected(reading=read(0.6), stocks=RISES, pump=day, last_dose=silent)
    assert none.fields["stock_a_ml"] == none.fields["stock_b_ml"] == 0.0
    assert none.plan.correction == "withheld"
    assert "daily_total_unknown" in none.cautions


def test_acid_pump_keeps_its_bounds_and_needs_the_bottle() -> None:
    reading = read(0.9, ph=7.4, alkalinity_mg_per_l_caco3=80)
    bound = {"acid": line(0.5, 3, 100)}
    cut = corrected(reading=reading, pump=bound, last_dose=NEW, **ACID)
    assert cut.fields["pump_seconds"] == {"acid": 3.0}
    assert cut.fields["acid_volume_ml"] == pytest.approx(1.5)
    assert cut.fields["acid_mmol_per_l"] < 0.25 * cut.fields["acid_low_mmol_per_l"]
    assert "run_cut_short" in cut.cautions
    spent = {**DOSED, "earlier_ec_ms_per_cm": None, "today_acid_volume_ml": 100}
    none = corrected(reading=reading, pump=bound, last_dose=spent, **ACID)
    assert none.fields["acid_volume_ml"] == 0.0
    assert {"daily_total_reached", "earlier_reading_missing"} <= none.cautions
    unnamed = {**ACID, "acid": {"kind": "nitric"}}
    blind = corrected(reading=reading, pump=bound, last_dose=NEW, **unnamed)
    assert blind.fields["pump_seconds"] == {"acid": 0.0}
    assert "bottle_of_pump_unknown" in blind.cautions
    tiny = corrected(reading=reading, pump={"acid": line(50)}, last_dose=NEW, **ACID)
    assert "run_very_short" in tiny.cautions


def test_a_line_without_a_pump_is_measured_by_hand() -> None:
    answer = corrected(reading=read(0.5), stocks=RISES, pump={"stock_a": line()}, last_dose=NEW)
    assert set(answer.fields["pump_seconds"]) == {"stock_a"}
    assert answer.fields["stock_b_ml"] == answer.fields["stock_a_ml"] > 0.0
    assert "line_without_pump" in answer.cautions


@pytest.mark.parametrize(
    ("reading", "code"),
    [
        (read(ph=2.9), "ph_cannot_be_true"),
        (read(ph=10.1), "ph_cannot_be_true"),
        (read(temperature_celsius=0), "temperature_of_a_fault"),
        (read(temperature_celsius=85), "temperature_of_a_fault"),
        (read(temperature_celsius=-1), "temperature_cannot_be_true"),
        (read(temperature_celsius=45.5), "temperature_cannot_be_true"),
        (read(level_percent=100.5), "level_cannot_be_true"),
        (read(level_percent=0), "reservoir_empty"),
        (read(age_minutes=15.5), "reading_too_old"),
        (read(0.0), "conductivity_cannot_be_zero"),
        (read(0.1), "reading_below_water"),
    ],
)
def test_reading_that_cannot_be_true_is_refused(reading: dict, code: str) -> None:
    assert refusal(reading=reading, stocks=RISES, last_dose=DOSED) == code


def test_zero_is_true_of_pure_water_that_was_never_fed() -> None:
    answer = corrected(reading=read(0.0), water="rain", stocks=RISES, last_dose=NEW)
    assert answer.plan.correction == "feed"


def test_reading_that_contradicts_the_dose_is_refused() -> None:
    # 150 mL of each in 100 L add 1.5 x 0.2 = 0.3 mS/cm to 0.5.
    dosed = {**DOSED, "stock_a_ml": 150, "stock_b_ml": 150}
    for stuck in (0.5, 0.52, 1.3):
        assert refusal(reading=read(stuck), stocks=RISES, last_dose=dosed) == (
            "reading_contradicts_dose"
        )
    for borne_out in (0.7, 0.8, 0.85):
        assert corrected(reading=read(borne_out), stocks=RISES, last_dose=dosed).plan
    diluted = {**DOSED, "stock_a_ml": 0, "stock_b_ml": 0, "water_l": 50, "earlier_ec_ms_per_cm": 2}
    assert refusal(reading=read(2.0), last_dose=diluted) == "reading_contradicts_dose"
    long_ago = {**dosed, "minutes_since": 500}
    assert corrected(reading=read(0.5), stocks=RISES, last_dose=long_ago).plan


def test_reading_that_is_the_same_to_the_digit_is_said() -> None:
    small = {**DOSED, "stock_a_ml": 5, "stock_b_ml": 5}
    assert (
        "reading_unchanged" in corrected(reading=read(0.5), stocks=RISES, last_dose=small).cautions
    )
    acid = {"minutes_since": 30, "acid_volume_ml": 2, "earlier_ph": 7.0}
    again = corrected(reading=read(0.9, ph=7.0), last_dose=acid, **ACID)
    assert "reading_unchanged" in again.cautions
    assert again.plan.correction == "acid"


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"target": {"ec_ms_per_cm": 0.9, "ph": 4.9}}, "acid_target_too_low"),
        ({"stocks": [{"products": [{"product": "urea", "g_per_l": 100}]}]}, "stocks_blind_to_urea"),
        ({"stocks": [{"ec_rise_ms_per_cm": 0.001}], "reading": read(0.5)}, "stocks_too_weak"),
        (
            {"stocks": [{"products": [{"product": "urea", "g_per_l": 0.001}]}]},
            "stocks_blind_to_urea",
        ),
        (
            {
                "stocks": [{"products": [{"product": "boric_acid", "g_per_l": 0.1}]}],
                "reading": read(0.5),
            },
            "stocks_add_no_conductivity",
        ),
        (
            {**ACID, "target": {"ec_ms_per_cm": 0.9, "ph": 5.2}, "reading": read(ph=6.6)},
            "reservoir_buffer_too_small",
        ),
        (
            {
                **ACID,
                "target": {"ec_ms_per_cm": 0.9, "ph": 5.1},
                "reading": read(ph=7.5, alkalinity_mg_per_l_caco3=50),
            },
            "acid_neutralises_too_much",
        ),
    ],
)
def test_what_may_not_be_aimed_at_is_refused(given: dict, code: str) -> None:
    assert refusal(**{"last_dose": NEW, **given}) == code


def test_unstated_scale_makes_the_most_of_a_reading() -> None:
    ppm = {"ppm": 350, "compensated": True, "age_minutes": 0}
    answer = corrected(reading=ppm, stocks=RISES, last_dose=NEW)
    assert answer.fields["ec_ms_per_cm"] == pytest.approx(0.7)
    assert "reading_scale_assumed" in answer.assumptions


def test_ph_that_nothing_explains_gets_no_acid() -> None:
    reading = read(0.9, ph=7.0, alkalinity_mg_per_l_caco3=0)
    answer = corrected(reading=reading, stocks=STOCKS, last_dose=NEW, **ACID)
    assert answer.plan.correction == "withheld"
    assert "ph_not_explained" in answer.cautions


def test_phosphoric_acid_that_brings_too_much_phosphorus_is_infeasible() -> None:
    answer = corrected(
        reading=read(0.9, ph=7.8, alkalinity_mg_per_l_caco3=200),
        target={"ec_ms_per_cm": 0.9, "ph": 5.9},
        acid={"kind": "phosphoric", "percent": 85},
        last_dose=NEW,
    )
    assert answer.fields["status"] == "infeasible"
    assert answer.fields["acid_volume_ml"] is None
    assert answer.conflicts[0]["limit"] == "acid_phosphorus_mg_per_l"
    assert "acid_phosphorus_high" in answer.cautions
    assert answer.nearest is not None
    assert answer.nearest["acid"]["kind"] == "nitric"


def test_weak_stocks_that_would_overflow_are_said() -> None:
    weak = [{"ec_rise_ms_per_cm": 0.005}, {"ec_rise_ms_per_cm": 0.005}]
    answer = corrected(reading=read(0.5), stocks=weak, last_dose=NEW)
    assert "reservoir_would_overflow" in answer.cautions


def test_a_stock_too_strong_for_the_syringe_is_said() -> None:
    strong = [{"ec_rise_ms_per_cm": 10}]
    answer = corrected(volume_l=1, reading=read(0.85), stocks=strong, last_dose=NEW)
    assert answer.fields["stock_a_ml"] == 0.0
    assert answer.fields["stock_b_ml"] is None
    assert {"nothing_to_measure", "reading_blind_to_urea"} <= answer.cautions


def test_what_a_reading_leaves_out_is_said() -> None:
    answer = corrected(
        reading={"ec_ms_per_cm": 0.9, "level_percent": None, "temperature_celsius": None},
        last_dose=NEW,
    )
    assert {
        "reservoir_full_assumed",
        "reading_fresh_assumed",
        "mix_temperature_assumed",
        "reading_compensated_assumed",
    } <= answer.assumptions
    assert answer.fields["present_volume_l"] == 100.0
    assert answer.plan.reading.temperature_celsius == 25.0


def test_steps_come_in_order_and_acid_stands_alone() -> None:
    fed = corrected(reading=read(0.5), stocks=STOCKS, pump=PUMPS, last_dose=NEW)
    words = [each["instruction"] for each in fed.steps]
    assert [each["order"] for each in fed.steps] == list(range(1, len(words) + 1))
    assert "stock A" in words[0]
    assert "wait" in words[1]
    assert "stock B" in words[2]
    assert [each["unit"] for each in fed.steps] == ["s", "min", "s", "min", None]
    acid = corrected(reading=read(0.9, ph=6.9), stocks=STOCKS, last_dose=NEW, **ACID)
    assert "goggles" in acid.steps[0]["instruction"]
    assert not any("stock" in each["instruction"] for each in acid.steps)
    idle = corrected(reading=read(0.9), last_dose=NEW)
    assert idle.steps[0]["instruction"] == "Add nothing."
