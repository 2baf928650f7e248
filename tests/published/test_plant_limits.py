"""
Plant limits against the rows they were taken from; each row names its source.

The limits are transcriptions, so they must equal the printed value exactly. Rows of basis
`informal` are notes of growers, and the limit that rests on one says so too.
"""

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from service.reference.plants import Limit, Range, plants
from tests.comparisons import compared

TABLE = Path(__file__).with_name("plant_limits.csv")


def rows() -> list[Any]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return [
            pytest.param(row, id=f"{row['id']}-{row['profile']}") for row in csv.DictReader(stream)
        ]


def limit_of(row: Mapping[str, str]) -> Limit | Range:
    name, _, item = row["limit"].partition(".")
    found = getattr(plants()[row["profile"]], name)
    if item:
        found = found[item]
    assert isinstance(found, Limit | Range)
    return found


@pytest.mark.parametrize("row", rows())
def test_limit_is_the_printed_value(row: Mapping[str, str]) -> None:
    limit = limit_of(row)
    reading, _, divisor = row["reading"].partition("/")
    scale = float(divisor or 1)
    printed = [float(text) / scale for text in row["value"].lstrip("<").split("-")]
    if reading == "range":
        assert isinstance(limit, Range)
        for place, (low, ours) in enumerate(zip(printed, (limit.low, limit.high), strict=True)):
            compared("plant_limits", {**row, "id": f"{row['id']}-{place}"}, low, ours, 1e-6 * low)
    elif reading == "low":
        assert isinstance(limit, Range)
        compared("plant_limits", row, printed[0], limit.low, 1e-6 * printed[0])
    else:
        assert isinstance(limit, Limit)
        share = {"nitrate_percent": 1.0 - printed[0] / 100.0, "percent": printed[0] / 100.0}
        expected = share.get(reading, printed[0])
        compared("plant_limits", row, expected, limit.value, 1e-6 * expected)


@pytest.mark.parametrize("row", rows())
def test_limit_names_the_same_source_and_no_better_basis(row: Mapping[str, str]) -> None:
    provenance = limit_of(row).provenance
    assert provenance.source == row["source_key"]
    assert provenance.basis == row["basis"]
