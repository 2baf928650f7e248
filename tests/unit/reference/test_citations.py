"""Which rows of the tables and profiles rest on a source."""

import csv

import pytest

from service.reference.citations import SOURCE_COLUMNS, citations, table_names, table_sources
from service.reference.sources import sources
from service.reference.tables import TABLE_FOLDER


def test_every_row_with_a_source_is_found_once_under_each_of_its_sources() -> None:
    found = citations()
    assert set(found) <= set(sources())
    for table in table_names():
        with (TABLE_FOLDER / f"{table}.csv").open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines))
        cited = [{row[name] for name in SOURCE_COLUMNS if row.get(name)} for row in rows]
        of_table = [each.table for listed in found.values() for each in listed]
        assert of_table.count(table) == sum(map(len, cited)), table
        assert table_sources(table) == frozenset().union(*cited)


def test_a_value_keeps_its_numbers_as_the_table_has_them() -> None:
    (row,) = [
        each
        for each in citations()["iupac-red-book-2005"]
        if each.table == "ions" and each.values["key"] == "calcium"
    ]
    assert row.values == {
        "key": "calcium",
        "formula": "Ca",
        "charge_number": "2",
        "component": "calcium",
    }
    assert row.locator == "Table IX"
    assert row.basis == ""


def test_a_source_of_temperature_is_a_source_of_the_row() -> None:
    hydrogen = next(
        each for each in citations()["harned-owen-1958"] if each.values["species"] == "H+"
    )
    assert hydrogen.table == "ionic_conductivity"


@pytest.mark.parametrize("key", ["wang-2008", "common-practice"])
def test_limits_of_plants_are_cited_with_their_place(key: str) -> None:
    limits = [each for each in citations()[key] if each.table == "plants"]
    assert limits
    assert all(each.values["limit"].startswith(("defaults.", "profiles.")) for each in limits)
    assert any(each.note for each in limits)
