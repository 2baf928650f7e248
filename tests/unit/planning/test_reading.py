"""What a reading means, and what is said about how it was taken."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from service.planning.catalogue import catalogue
from service.planning.notes import Notes, RefusalError
from service.planning.reading import (
    Judge,
    band_of,
    drainage_bands,
    feed_bands,
    judge_of,
    reading_fields,
    water_bands,
)

NAMES = (
    "ec_ms_per_cm", "ppm", "scale", "temperature_celsius", "compensated", "kind",
    "feed_ec_ms_per_cm",
)  # fmt: skip


def read(profile="moth_orchid", size="large", **given):
    notes = Notes()
    asked = SimpleNamespace(**{**dict.fromkeys(NAMES), **given})
    position = catalogue().profile_positions[profile]
    judge = judge_of(position, size, catalogue(), notes)
    return reading_fields(asked, judge, notes), notes


def codes(notes):
    return {each["code"] for each in notes.cautions + notes.assumptions}


def test_unstated_scale_makes_the_most_of_a_reading_and_is_said():
    answer, notes = read(ppm=600)
    assert answer["ec_ms_per_cm"] == pytest.approx(1.2)
    assert "reading_scale_assumed" in codes(notes)
    stated, notes = read(ppm=600, scale="700")
    assert stated["ec_ms_per_cm"] == pytest.approx(600 / 700)
    assert "reading_scale_assumed" not in codes(notes)


def test_uncompensated_reading_is_referred_to_25_degrees_and_warned_of():
    answer, notes = read(ec_ms_per_cm=0.8, temperature_celsius=15, compensated=False)
    assert answer["ec_ms_per_cm"] == pytest.approx(0.8 * 1.256)
    assert answer["compensation_factor"] == 1.256
    warning = next(each for each in notes.cautions if each["code"] == "reading_compensated_here")
    assert warning["severity"] == "warning"


def test_uncompensated_reading_without_a_temperature_is_warned_of():
    answer, notes = read(ec_ms_per_cm=0.8, compensated=False)
    assert answer["ec_ms_per_cm"] == 0.8
    assert "reading_not_compensated" in codes(notes)


def test_compensated_reading_is_not_compensated_twice():
    answer, notes = read(ec_ms_per_cm=0.8, temperature_celsius=15, compensated=True)
    assert answer["ec_ms_per_cm"] == 0.8
    assert answer["compensation_factor"] == 1.0
    assert "reading_compensated_already" in codes(notes)
    assert "+26 %" in next(
        each["message"] for each in notes.cautions if each["code"] == "reading_compensated_already"
    )


def test_reading_of_which_nothing_is_said_is_taken_as_compensated_with_a_warning():
    answer, notes = read(ec_ms_per_cm=0.8, temperature_celsius=15)
    assert answer["ec_ms_per_cm"] == 0.8
    assert {"compensation_assumed", "reading_perhaps_not_compensated"} <= codes(notes)


def test_reading_at_25_degrees_needs_no_word_on_compensation():
    for compensated in (True, False):
        _, notes = read(ec_ms_per_cm=0.8, temperature_celsius=25, compensated=compensated)
        assert not any("compensated" in code for code in codes(notes))


def test_uncompensated_reading_above_the_table_of_temperatures_is_refused():
    with pytest.raises(RefusalError) as refusal:
        read(ec_ms_per_cm=0.8, temperature_celsius=40, compensated=False)
    assert refusal.value.notice.code == "reading_too_warm"
    answer, _ = read(ec_ms_per_cm=0.8, temperature_celsius=40, compensated=True)
    assert answer["ec_ms_per_cm"] == 0.8


def test_table_scales_end_at_their_table():
    answer, _ = read(ec_ms_per_cm=70, temperature_celsius=0, compensated=False)
    assert answer["meter_ppm_500"] == pytest.approx(70 * 1.918 * 500)
    assert answer["meter_ppm_kcl"] is None


@pytest.mark.parametrize(
    ("conductivity", "band"),
    [(0.0, "below_range"), (0.79, "below_range"), (0.8, "below_range"), (0.81, "in_range"),
     (1.14, "in_range"), (1.15, "over_ceiling")],
)  # fmt: skip
def test_feed_of_large_moth_orchids_is_judged_by_range_and_ceiling(conductivity, band):
    answer, notes = read(ec_ms_per_cm=conductivity, kind="feed")
    assert answer["salinity_band"] == band
    assert ("reading_over_ceiling" in codes(notes)) == (band == "over_ceiling")


def test_small_plants_bear_less_than_the_published_range():
    answer, _ = read(ec_ms_per_cm=0.5, size="mini")
    assert answer["salinity_band"] == "over_ceiling"
    assert answer["salinity_bands"][0]["ec_to_ms_per_cm"] == pytest.approx(300 / 700)


def test_plant_between_its_published_range_and_its_ceiling():
    answer, _ = read("cattleya", "large", ec_ms_per_cm=0.6)
    assert answer["salinity_band"] == "above_range"


def test_plant_without_a_published_range_is_judged_by_its_ceiling():
    answer, notes = read("vanda", None, ec_ms_per_cm=0.9)
    assert answer["salinity_band"] == "within_ceiling"
    assert "size_not_judged" in codes(notes)


@pytest.mark.parametrize(
    ("conductivity", "band"), [(0.3, "leaves_room"), (0.6, "little_room"), (1.3, "over_ceiling")]
)
def test_water_is_judged_by_the_room_that_it_leaves(conductivity, band):
    answer, notes = read(size=None, ec_ms_per_cm=conductivity, kind="water")
    assert answer["salinity_band"] == band
    assert "reading_blind_to_urea" not in codes(notes)


@pytest.mark.parametrize(
    ("conductivity", "band"), [(0.9, "steady"), (0.96, "steady"), (1.2, "rising"), (1.7, "flush")]
)
def test_drainage_is_judged_by_its_feed(conductivity, band):
    answer, notes = read(ec_ms_per_cm=conductivity, kind="drainage", feed_ec_ms_per_cm=0.8)
    assert answer["salinity_band"] == band
    assert answer["feed_ratio"] == pytest.approx(conductivity / 0.8)
    assert ("drainage_calls_for_flush" in codes(notes)) == (band == "flush")


def test_drainage_without_a_feed_is_held_against_the_weakest_published_one():
    answer, notes = read(ec_ms_per_cm=1.7, kind="drainage")
    assert answer["feed_ec_ms_per_cm"] == 0.8
    assert "feed_conductivity_assumed" in codes(notes)
    answer, _ = read("vanda", None, ec_ms_per_cm=1.7, kind="drainage")
    assert answer["feed_ec_ms_per_cm"] == 0.5


@pytest.mark.parametrize(
    "judge", [Judge("x", 1.2, 0.8, 1.2, ()), Judge("x", 0.8, 0.2, 0.4, ()),
              Judge("x", 1.0, None, None, ()), Judge("x", 0.1, 0.2, 0.4, ())],
)  # fmt: skip
def test_bands_follow_each_other_without_a_gap(judge):
    for bands in (feed_bands(judge), water_bands(judge), drainage_bands(judge.ceiling)):
        assert bands[0].low == 0.0
        assert bands[-1].high == np.inf
        for band, following in pairwise(bands):
            assert band.high == following.low
            assert band.high > band.low
            assert band_of(band.high, bands) is band
