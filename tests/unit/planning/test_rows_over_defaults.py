"""Columns over the defaults of a batch: what a row says, what it leaves to them, what it takes."""

from typing import Any

import numpy as np
import pytest

from service.planning import rows
from service.planning.catalogue import catalogue
from service.planning.requests import PROFILE_ASSUMED, UNKNOWN_PLANT, WATER_ASSUMED
from service.planning.rows_over_defaults import (
    NUMBERS,
    UNREADABLE,
    WATER_NUMBERS,
    WORDS,
    Defaults,
    clear_strength,
    fill_columns,
    fill_strengths,
    product_codes,
)
from service.planning.water_columns import SOFTENED_WATER
from tests.mixing import filled

KNOWN = catalogue()


def written(
    columns: dict[str, list[Any]], defaults: Defaults | None = None
) -> tuple[np.ndarray, np.ndarray, list[bool]]:
    count = len(next(iter(columns.values())))
    requests, results = rows.empty_requests(count), rows.empty_results(count)
    readable = fill_columns(requests, results, columns, KNOWN, defaults)
    return requests, results, readable.tolist()


def defaults_of(own_water: bool = False, **request: Any) -> Defaults:
    requests, results = filled([request], KNOWN, True)
    return Defaults(requests[0], results[0], own_water)


def test_silent_rows_are_those_of_a_silent_caller() -> None:
    requests, results, readable = written({"volume_l": [np.nan, 4.0]})
    asked, told = filled([{}, {"volume_l": 4.0}], KNOWN, True)
    assert readable == [True, True]
    assert requests.tolist().__repr__() == asked.tolist().__repr__()
    assert results["assumptions"].tolist() == told["assumptions"].tolist()
    none = Defaults.none(KNOWN)
    assert none.request["limited"] == 1
    assert int(none.result["assumptions"]) == int(PROFILE_ASSUMED | WATER_ASSUMED)


@pytest.mark.parametrize("name", NUMBERS)
def test_each_number_has_its_field_and_silence_leaves_the_default(name: str) -> None:
    requests, _, _ = written({name: [7.0, np.nan]})
    assert requests[NUMBERS[name]][0] == 7.0
    assert np.isnan(requests[NUMBERS[name]][1])
    under = Defaults.none(KNOWN)
    under.request[NUMBERS[name]] = 3.0
    requests, _, _ = written({name: [7.0, np.nan]}, under)
    assert requests[NUMBERS[name]].tolist() == [7.0, 3.0]


@pytest.mark.parametrize(
    ("name", "word", "code"),
    [
        ("plants.size", "medium", rows.SIZES.index("medium")),
        ("plants.setup", "mount", rows.SETUPS.index("mount")),
        ("plants.growth", "resting", rows.GROWTHS.index("resting")),
        ("plants.refill", "topped_up", rows.REFILLS.index("topped_up")),
        ("plants.medium", "pumice", rows.MEDIA.index("pumice")),
        ("application", "supplement", rows.APPLICATIONS.index("supplement")),
        ("acid.kind", "citric", rows.ACID_KINDS.index("citric")),
        ("acid.kind", "potassium_carbonate", len(rows.ACID_KINDS) + 2),
    ],
)
def test_each_word_has_its_code_and_an_unknown_one_is_unreadable(
    name: str, word: str, code: int
) -> None:
    under = Defaults.none(KNOWN)
    under.request[WORDS[name]] = 0
    requests, _, readable = written({name: [word, None, "nonsense", word]}, under)
    assert requests[WORDS[name]].tolist()[:2] == [code, 0]
    assert requests[WORDS[name]][3] == code
    assert readable == [True, True, False, True]


def test_a_plant_of_a_row_replaces_that_of_the_defaults_and_what_was_said_of_it() -> None:
    unknown = defaults_of(plants={"profile": "no such plant"})
    assert unknown.result["cautions"] & UNKNOWN_PLANT
    columns = {"plants.profile": [None, "disa", "no such plant", "moth_orchid"]}
    requests, results, readable = written(columns, unknown)
    assert readable == [True] * 4
    assert requests["profile"].tolist() == [
        int(unknown.request["profile"]),
        KNOWN.profile_positions["disa"],
        KNOWN.weakest_profile,
        KNOWN.profile_positions["moth_orchid"],
    ]
    told = (results["cautions"] & UNKNOWN_PLANT) != 0
    assert told.tolist() == [True, False, True, False]
    _, plain, _ = written(columns)
    assumed = (plain["assumptions"] & PROFILE_ASSUMED) != 0
    assert assumed.tolist() == [True, False, False, False]


def place(name: str) -> int:
    return rows.WATER_FIELDS.index(name)


def test_a_water_is_a_preset_or_an_analysis() -> None:
    requests, results, readable = written({
        "water": ["hard_tap", None, "softened_tap", None, "no such water", "rain"],
        "water.sodium_mg_per_l": [np.nan, 12.0, np.nan, np.nan, np.nan, 5.0],
    })  # fmt: skip
    assert readable == [True, True, True, True, False, False]
    np.testing.assert_array_equal(requests["water"][0], KNOWN.water_rows["hard_tap"])
    analysis = np.full(len(rows.WATER_FIELDS), np.nan)
    analysis[place("sodium_mg_per_l")] = 12.0
    np.testing.assert_array_equal(requests["water"][1], analysis)
    np.testing.assert_array_equal(requests["water"][3], KNOWN.water_rows["moderate_tap"])
    soft = (results["cautions"] & SOFTENED_WATER) != 0
    assert soft.tolist()[:4] == [False, False, True, False]
    assumed = (results["assumptions"] & WATER_ASSUMED) != 0
    assert assumed.tolist()[:4] == [False, False, False, True]


@pytest.mark.parametrize("own", [True, False])
def test_an_analysis_adds_to_one_of_the_defaults_and_to_nothing_else(own: bool) -> None:
    water: Any = {"ph": 7.0, "sodium_mg_per_l": 3.0} if own else "softened_tap"
    under = defaults_of(own, water=water)
    requests, results, _ = written({"water.sodium_mg_per_l": [9.0, np.nan]}, under)
    expected = np.full(len(rows.WATER_FIELDS), np.nan)
    expected[place("sodium_mg_per_l")] = 9.0
    if own:
        expected[place("ph")] = 7.0
    np.testing.assert_array_equal(requests["water"][0], expected)
    np.testing.assert_array_equal(requests["water"][1], under.request["water"])
    soft = (results["cautions"] & SOFTENED_WATER) != 0
    assert soft.tolist() == [False, not own]


def test_every_value_of_an_analysis_has_its_place() -> None:
    assert list(WATER_NUMBERS) == [f"water.{name}" for name in rows.WATER_FIELDS]
    for name, where in WATER_NUMBERS.items():
        requests, _, _ = written({name: [1.5]})
        assert requests["water"][0, where] == 1.5
        assert np.isnan(np.delete(requests["water"][0], where)).all()


def test_a_product_is_found_by_its_key() -> None:
    keys = ["urea", None, "no such product", "feed_20_20_20", "urea"]
    codes = product_codes(keys, KNOWN)
    urea, feed = (KNOWN.product_positions[each] for each in ("urea", "feed_20_20_20"))
    assert codes.tolist() == [urea, rows.ABSENT, UNREADABLE, feed, urea]
    requests, _, readable = written({"product": keys})
    assert readable == [True, True, False, True, True]
    assert requests["product"][[0, 3], 0].tolist() == [urea, feed]
    assert requests["product_count"].tolist()[:2] == [1, 0]
    under = defaults_of(product="feed_20_20_20")
    requests, _, _ = written({"product": ["urea", None]}, under)
    assert requests["product"][:, 0].tolist() == [urea, feed]
    assert requests["product_count"].tolist() == [1, 1]


STRENGTHS: list[tuple[dict[str, Any], dict[str, Any]]] = [
    ({"basis": "element", "element": "nitrogen", "mg_per_l": 80.0, "counts": "added"},
     {"strength_element": "nitrogen", "strength_value": 80.0}),
    ({"basis": "product", "g_per_l": 0.4}, {"strength_value": 0.4, "strength_by_volume": 0}),
    ({"basis": "product", "ml_per_l": 1.4}, {"strength_value": 1.4, "strength_by_volume": 1}),
    ({"basis": "conductivity", "ec_ms_per_cm": 0.8}, {"strength_value": 0.8}),
    ({"basis": "meter_ppm", "ppm": 400.0, "scale": 640.0},
     {"strength_value": 400.0, "strength_scale": 640.0}),
]  # fmt: skip


@pytest.mark.parametrize(("strength", "expected"), STRENGTHS)
@pytest.mark.parametrize("slot", [0, 1])
def test_a_strength_replaces_that_of_the_defaults_as_a_whole(
    strength: dict[str, Any], expected: dict[str, Any], slot: int
) -> None:
    requests = rows.empty_requests(3)
    requests["strength_basis"][:, slot] = rows.STRENGTH_BASES.index("element")
    requests["strength_element"][:, slot] = 5
    requests["strength_value"][:, slot] = 33.0
    requests["strength_scale"][:, slot] = 500.0
    requests["strength_counts"][:, slot] = 1
    silent = {name: None if isinstance(value, str) else np.nan for name, value in strength.items()}
    columns = {f"strength.{name}": [value, silent[name], value] for name, value in strength.items()}
    readable = np.ones(3, dtype=bool)
    fill_strengths(requests, slot, columns, readable)
    assert readable.all()
    for row in (0, 2):
        told = {name: requests[name][row, slot] for name in requests.dtype.names
                if name.startswith("strength_")}  # fmt: skip
        assert told["strength_basis"] == rows.STRENGTH_BASES.index(strength["basis"])
        assert told["strength_value"] == expected["strength_value"]
        scale = expected.get("strength_scale", np.nan)
        assert told["strength_scale"] == pytest.approx(scale, nan_ok=True)
        if "element" in strength:
            asked, _ = filled([{"product": "urea", "strength": {**strength}}], KNOWN, True)
            assert told["strength_element"] == asked["strength_element"][0, 0]
            assert told["strength_counts"] == rows.COUNTS.index("added")
        else:
            assert told["strength_element"] == told["strength_counts"] == rows.ABSENT
        if "strength_by_volume" in expected:
            assert told["strength_by_volume"] == expected["strength_by_volume"]
    assert requests["strength_value"][1, slot] == 33.0
    assert requests["strength_element"][1, slot] == 5
    other = 1 - slot
    assert (requests["strength_basis"][:, other] == rows.ABSENT).all()
    assert np.isnan(requests["strength_value"][:, other]).all()


def test_a_strength_of_an_unknown_basis_is_unreadable() -> None:
    _, _, readable = written({"strength.basis": ["element", "guess", None]})
    assert readable == [True, False, True]


def test_a_strength_is_taken_away_where_it_is_asked() -> None:
    requests = rows.empty_requests(2)
    for name in ("strength_basis", "strength_element", "strength_counts", "strength_by_volume"):
        requests[name] = 1
    requests["strength_value"] = requests["strength_scale"] = 2.0
    clear_strength(requests, np.array([True, False]), slot=1)
    for name in ("strength_basis", "strength_element", "strength_counts", "strength_by_volume"):
        assert requests[name][0, :3].tolist() == [1, rows.ABSENT, 1]
        assert requests[name][1].tolist() == [1] * rows.MAXIMUM_PRODUCTS
    for name in ("strength_value", "strength_scale"):
        assert np.isnan(requests[name][0]).tolist()[:3] == [False, True, False]
        assert requests[name][1].tolist() == [2.0] * rows.MAXIMUM_PRODUCTS
