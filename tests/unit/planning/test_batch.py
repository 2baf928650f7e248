"""Columns in, columns out: the same numbers as rows, and refusals that stay in their row."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.planning import rows
from service.planning.batch import plan_columns
from service.planning.catalogue import catalogue
from service.planning.compact import binding_limits, compact_numbers
from service.planning.doses import plan
from service.planning.request_columns import COLUMNS, ColumnError, requests_of
from tests.mixing import filled
from tests.properties import strategies

DOSE = {
    "plants.size": "large",
    "air.humidity_percent": 60.0,
    "air.temperature_celsius": 22.0,
    "product": "feed_13_3_15_ca_mg",
    "water": "rain",
    "volume_l": np.array([10.0, 4.0]),
}


def flat(request: dict, prefix: str = "") -> dict:
    """Dotted names of a nested request."""
    listed = {}
    for name, value in request.items():
        if isinstance(value, dict):
            listed |= flat(value, f"{prefix}{name}.")
        elif value is not None:
            listed[prefix + name] = value
    return listed


def columns_of(requests: list[dict]) -> dict[str, np.ndarray]:
    flattened = [flat(request) for request in requests]
    names = {name for each in flattened for name in each}
    return {name: np.array([each.get(name) for each in flattened], dtype=object) for name in names}


@settings(max_examples=60, deadline=None)
@given(st.lists(strategies.doses(), min_size=1, max_size=6))
def test_columns_fill_the_same_rows_as_requests(requests: list[dict]) -> None:
    read = requests_of(columns_of(requests), catalogue())
    asked, results = filled(requests, catalogue(), True)
    assert read.refused.tolist() == [""] * len(requests)
    assert np.array_equal(read.results["assumptions"], results["assumptions"])
    assert np.array_equal(read.results["cautions"], results["cautions"])
    plan(asked, results, catalogue())
    answered = plan_columns(columns_of(requests))
    for name, numbers in compact_numbers(asked, results, catalogue()).items():
        assert np.array_equal(answered[name], numbers, equal_nan=True), name
    assert answered["binding_limit"].tolist() == binding_limits(results)
    assert answered["status"].tolist() == [rows.STATUSES[each] for each in results["status"]]


def test_a_single_value_stands_for_every_row() -> None:
    answered = plan_columns(DOSE | {"id": ["a", "b"]})
    assert answered["id"].tolist() == ["a", "b"]
    assert answered["status"].tolist() == ["ok", "ok"]
    assert answered["product_mass_g"][0] == pytest.approx(2.5 * answered["product_mass_g"][1], 0.1)
    assert set(answered["problem"]) == {""}
    assert "calcium_missing" not in answered["cautions"][0].split()


@pytest.mark.parametrize(
    ("column", "values", "problem"),
    [
        ("plants.size", ["huge", "large"], "not_allowed"),
        ("product", ["feed_20_20_2", "feed_20_20_20"], "unknown_key"),
        ("water", ["well", "rain"], "unknown_key"),
        ("water.ph", [7.0, None], "contradiction"),
        ("volume_per_plant_ml", [50.0, np.nan], "contradiction"),
        ("volume_l", ["10", 10.0], "not_a_number"),
        ("volume_l", [True, 10.0], "not_a_number"),
        ("volume_l", [np.inf, 10.0], "not_finite"),
        ("strength.g_per_l", [0.5, None], "contradiction"),
        ("air.temperature_celsius", [5.0, 22.0], "air_out_of_range"),
        ("volume_l", [None, 10.0], "volume_unknown"),
    ],
)
def test_a_row_that_cannot_be_read_is_rejected_alone(
    column: str, values: list, problem: str
) -> None:
    answered = plan_columns(DOSE | {column: np.array(values, dtype=object)})
    alone = plan_columns(
        {name: value for name, value in DOSE.items() if name != "volume_l"} | {"volume_l": [10.0]}
    )
    assert answered["status"][0] == "rejected"
    assert answered["problem"][0] == problem
    assert answered["cautions"][0] == ""
    assert np.isnan(answered["product_mass_g"][0])
    assert answered["status"][1] == "ok"
    assert alone["status"][0] == "ok"


def test_two_values_of_one_strength_contradict() -> None:
    both = {"strength.basis": "product", "strength.g_per_l": 0.5, "strength.ml_per_l": 0.5}
    assert set(plan_columns(DOSE | both)["problem"]) == {"contradiction"}


def test_unknown_column_is_refused_as_a_whole() -> None:
    with pytest.raises(ColumnError, match=r"plants.sise"):
        plan_columns(DOSE | {"plants.sise": "large"})


def test_columns_of_different_lengths_are_refused() -> None:
    with pytest.raises(ColumnError, match="lengths"):
        plan_columns(DOSE | {"interval_days": [7.0, 7.0, 7.0]})


def test_no_columns_are_no_rows() -> None:
    assert plan_columns({})["status"].tolist() == []


def test_every_column_is_a_field_of_a_dose() -> None:
    from service.api.table_sources import FIELDS

    assert set(FIELDS) >= COLUMNS


def test_a_strength_by_volume_is_that_of_the_first_product() -> None:
    names = ("strength.g_per_l", "strength.ml_per_l")
    read = requests_of(
        {
            "product": np.array(["urea", "feed_liquid_4_3_6"]),
            "strength.basis": np.array(["product", "product"]),
            names[0]: np.array([0.5, np.nan]),
            names[1]: np.array([np.nan, 1.5]),
        },
        catalogue(),
    )
    assert read.refused.tolist() == ["", ""]
    assert read.requests["strength_value"][:, 0].tolist() == [0.5, 1.5]
    assert read.requests["strength_by_volume"][:, 0].tolist() == [0, 1]
    assert (read.requests["strength_by_volume"][:, 1:] == rows.ABSENT).all()
    assert read.requests["product_count"].tolist() == [1, 1]
