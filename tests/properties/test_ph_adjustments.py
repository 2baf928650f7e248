"""Laws of pH adjustments, whatever the water, the feed and the bottle."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.planning.reagents import IS_BASE, KINDS
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ as CACO3
from tests.adjusting import Adjusted, acid, adjusted, bicarbonate_water
from tests.mixing import dilution

ACIDS = [kind for number, kind in enumerate(KINDS) if not IS_BASE[number]]
UNLIMITED = {"acid_phosphorus_mg_per_l": 1000.0}

alkalinities = st.floats(0.3, 8.0)
starts = st.floats(6.9, 8.6)
targets = st.floats(5.5, 6.7)
kinds = st.sampled_from(ACIDS)
strengths = st.floats(5.0, 60.0)
volumes = st.floats(0.5, 2000.0)
feeds = st.one_of(
    st.none(),
    st.tuples(
        st.sampled_from(["feed_20_20_20", "feed_15_5_15_ca_mg", "monopotassium_phosphate", "urea"]),
        st.floats(0.05, 0.6),
    ).map(lambda pair: [{"product": pair[0], "g_per_l": pair[1]}]),
)


def dosed(water, target, kind, percent, volume=100.0, feed=None, **more) -> Adjusted:
    return adjusted(
        water=water,
        volume_l=volume,
        target_ph=target,
        acid=acid(kind, percent),
        additions=feed,
        limits=UNLIMITED,
        **more,
    )


@settings(max_examples=60)
@given(alkalinities, starts, targets, kinds, strengths, feeds)
def test_dose_for_a_ph_gives_that_ph_and_that_ph_gives_that_dose(
    meq, start, target, kind, percent, feed
):
    water = bicarbonate_water(meq, start)
    can = dosed(water, target, kind, percent, feed=feed)
    assume(can.problem == "none")
    if can["acid_mmol_per_l"] == 0.0:
        assert can["starting_ph"] <= target
        assert can["predicted_ph"] == pytest.approx(can["starting_ph"], abs=1e-6)
        return
    assert can["predicted_ph"] == pytest.approx(target, abs=1e-5)
    back = dosed(water, can["predicted_ph"], kind, percent, feed=feed)
    # A solution known to a millionth of a pH gives a dose known to the buffer times that.
    assert back["acid_mmol_per_l"] == pytest.approx(can["acid_mmol_per_l"], rel=1e-4, abs=1e-5)


@settings(max_examples=60)
@given(alkalinities, starts, targets, st.floats(0.02, 0.5), kinds, strengths, feeds)
def test_a_lower_target_and_a_more_alkaline_water_take_more_acid(
    meq, start, target, step, kind, percent, feed
):
    first = dosed(bicarbonate_water(meq, start), target, kind, percent, feed=feed)
    lower = dosed(bicarbonate_water(meq, start), target - step, kind, percent, feed=feed)
    harder = dosed(bicarbonate_water(meq * (1.0 + step), start), target, kind, percent, feed=feed)
    if first.problem == lower.problem == "none":
        assert lower["acid_mmol_per_l"] >= first["acid_mmol_per_l"]
    if first.problem == harder.problem == "none" and first["acid_mmol_per_l"] > 0.0:
        assert harder["acid_mmol_per_l"] > first["acid_mmol_per_l"]


@settings(max_examples=40)
@given(alkalinities, targets, kinds, strengths, volumes, feeds)
def test_the_dose_scales_with_the_volume(meq, target, kind, percent, volume, feed):
    # Both cans are measured from the bottle: a pre-dilution displaces more water.
    tool = {"syringe_resolution_ml": 1e-6, "balance_resolution_g": 1e-6}
    water = bicarbonate_water(meq, 7.8)
    one = dosed(water, target, kind, percent, 1.0, feed, instruments=tool)
    many = dosed(water, target, kind, percent, volume, feed, instruments=tool)
    assume(one.problem == "none")
    assert many["acid_mmol_per_l"] == pytest.approx(one["acid_mmol_per_l"], rel=1e-12)
    assert many["acid_mass_g"] == pytest.approx(volume * one["acid_mass_g"], rel=1e-12)


@settings(max_examples=60)
@given(alkalinities, starts, st.floats(0.11, 0.99), st.sampled_from(ACIDS[:3]), strengths, volumes)
def test_the_dose_for_an_alkalinity_leaves_exactly_that(meq, start, share, kind, percent, volume):
    wanted = share * meq * CACO3
    can = adjusted(
        water=bicarbonate_water(meq, start),
        volume_l=volume,
        target_alkalinity_mg_per_l_caco3=wanted,
        acid=acid(kind, percent),
        limits=UNLIMITED,
    )
    assume(can.problem == "none")
    residual = can.fields["residual_alkalinity_mg_per_l_caco3"]
    assert residual == pytest.approx(wanted, rel=1e-9)
    equivalents = 2.0 if kind == "sulfuric" else 1.0
    taken = equivalents * can["acid_mmol_per_l"]
    displaced = can["acid_volume_ml"] * can["acid_dilution_factor"] / 1000.0 / volume
    assert taken == pytest.approx((1.0 - displaced) * meq - wanted / CACO3, rel=1e-9, abs=1e-12)


@settings(max_examples=60)
@given(alkalinities, targets, kinds, strengths, feeds)
def test_the_dose_lies_inside_its_bounds_and_the_ph_inside_its_own(
    meq, target, kind, percent, feed
):
    can = dosed(bicarbonate_water(meq, 7.6), target, kind, percent, feed=feed)
    assume(can.problem == "none")
    assert can["acid_low_mmol_per_l"] <= can["acid_mmol_per_l"] <= can["acid_high_mmol_per_l"]
    assert can["predicted_ph_low"] <= can["predicted_ph"] <= can["predicted_ph_high"]
    if can["acid_mmol_per_l"] > 0.0:
        assert can["acid_low_mmol_per_l"] < can["acid_high_mmol_per_l"]
        assert can["dose_volume_ml"] <= can["acid_volume_ml"] * can["acid_dilution_factor"] + 1e-9


@settings(max_examples=60)
@given(alkalinities, starts, targets, kinds, feeds, st.booleans())
def test_nothing_is_answered_that_must_be_refused(meq, start, target, kind, feed, air):
    can = dosed(
        bicarbonate_water(meq, start),
        target - 0.8,
        kind,
        None,
        feed=feed,
        carbon_dioxide="open" if air else None,
    )
    if can.problem != "none":
        assert can.problem in {
            "acid_target_too_low",
            "acid_neutralises_too_much",
            "acid_cannot_reach",
        }
        return
    assert target - 0.8 >= 5.0
    if can["acid_mmol_per_l"] > 0.0:
        assert can["neutralised_percent"] <= 90.0 + 1e-6
        assert can["predicted_ph"] >= 4.99


@settings(max_examples=40)
@given(
    alkalinities, starts, targets, kinds, st.floats(20.0, 60.0), st.floats(0.1, 0.6), st.booleans()
)
def test_the_acid_of_a_dose_is_the_same_as_ours(meq, start, target, kind, percent, grams, citric):
    # A dose leaves out the water that the acid displaces: that share is all that may differ.
    product = "feed_15_5_15_ca_mg" if citric else "potassium_nitrate"
    water = bicarbonate_water(meq, start)
    # A balance this fine weighs what was asked for.
    tool = {"balance_resolution_g": 1e-6, "syringe_resolution_ml": 1e-6}
    mixed = dilution(
        product=product,
        strength={"basis": "product", "g_per_l": grams},
        water=water,
        volume_l=100,
        target_ph=target,
        acid=acid(kind, percent),
        instruments=tool,
    )
    ours = dosed(
        water,
        target,
        kind,
        percent,
        feed=[{"product": product, "g_per_l": grams}],
        instruments=tool,
    )
    assume(ours.problem == mixed.problem == "none")
    displaced = ours["acid_volume_ml"] / 1000.0 / 100.0
    theirs = mixed["acid_mmol_per_l"]
    # Water at the target is itself above it for a dose of almost nothing: compare to 1e-5 mmol/L.
    assert ours["acid_mmol_per_l"] <= theirs + 1e-5
    largest = displaced * (1.0 + meq / max(theirs, 1e-9)) * theirs
    assert theirs - ours["acid_mmol_per_l"] <= largest + 1e-5


INTERPRETED = """
import json, sys
from service.units.canonical import CALCIUM_CARBONATE_MG_PER_MEQ as CACO3
from tests.adjusting import adjusted
from tests.properties.test_ph_adjustments import CASES, NUMBERS
print(json.dumps([[can.problem] + [can[name] for name in NUMBERS]
                  for can in (adjusted(**each) for each in CASES)]))
"""
NUMBERS = ("acid_mmol_per_l", "acid_low_mmol_per_l", "predicted_ph", "predicted_ph_open")
CASES = (
    {"target_ph": 5.8, "acid": acid("nitric", 38)},
    {"water": "rain", "target_ph": 6.0, "acid": acid("potassium_bicarbonate")},
    {"water": "hard_tap", "target_alkalinity_mg_per_l_caco3": 40, "acid": acid("sulfuric", 35)},
    {"water": "hard_tap", "target_ph": 5.2, "acid": acid("citric")},
)


def test_interpreted_and_compiled_plans_are_the_same():
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1"}
    said = subprocess.run(
        [sys.executable, "-c", INTERPRETED],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    for case, (problem, *numbers) in zip(CASES, json.loads(said.stdout), strict=True):
        can = adjusted(**case)
        assert can.problem == problem
        expected = np.array([can[name] for name in NUMBERS])
        assert np.array(numbers, dtype=float) == pytest.approx(expected, rel=1e-9, nan_ok=True)
