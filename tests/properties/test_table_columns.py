"""Rows of tables read as columns and rows read one by one take, refuse and mean the same."""

from types import MappingProxyType

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api.batch_rows import planned
from service.api.formats.cells import DateCell, FaultCell, PercentCell
from service.api.formats.headings import Column, columns_of
from service.api.formats.table_rows import GivenRow, RowReader
from service.api.table_sources import FIELDS
from service.planning.catalogue import catalogue

HEADINGS = (
    "id",
    "plants.profile",
    "plants.size",
    "plants.count",
    "plants.pot_diameter_cm",
    "air.humidity_percent",
    "air.temperature_celsius",
    "product",
    "strength.basis",
    "strength.element",
    "strength.mg_per_l",
    "strength.ec_ms_per_cm",
    "strength.ppm",
    "strength.scale",
    "water",
    "water.ph",
    "water.alkalinity_mg_per_l_caco3",
    "volume_l",
    "target_ph",
    "acid.kind",
    "acid.percent",
    "instruments.balance_minimum_g",
    "plants.profile.ec_ceiling_ms_per_cm",
    "bench",
)
ODD = [
    "",
    " ",
    "x",
    "1,5",
    "12",
    "5 gal",
    "nan",
    "-1",
    "1e3",
    "1_0",
    "٣",
    "=1+1",
    "'",
    "500",
    "\n1",
]
MORE = [
    None,
    12,
    12.0,
    0.5,
    True,
    DateCell("2027-01-01"),
    PercentCell(0.6),
    FaultCell("error_cell"),
]
USUAL = {
    "id": ["a", " b ", "x" * 130],
    "plants.profile": ["moth_orchid", "Vanda", "unheard of"],
    "plants.size": ["mini", "large", "Mini"],
    "plants.count": ["3", "3.0", "1.5"],
    "plants.pot_diameter_cm": ["12", "12.5"],
    "air.humidity_percent": ["60", "+55.5", "101"],
    "air.temperature_celsius": ["22", "21.5"],
    "product": ["feed_20_20_20", "urea", "no such", "feed_liquid_4_3_6"],
    "strength.basis": ["element", "conductivity", "meter_ppm", "Element"],
    "strength.element": ["nitrogen", "N"],
    "strength.mg_per_l": ["80", "0"],
    "strength.ec_ms_per_cm": ["0.8"],
    "strength.ppm": ["300"],
    "strength.scale": ["500", "700", "501", "700.0"],
    "water": ["rain", "hard_tap", "softened_tap", "well"],
    "water.ph": ["7", "7.25"],
    "water.alkalinity_mg_per_l_caco3": ["80", "0"],
    "volume_l": ["10", "2.5"],
    "target_ph": ["5.8"],
    "acid.kind": ["citric", "vinegar"],
    "acid.percent": ["50"],
    "instruments.balance_minimum_g": ["0.5", "-1"],
    "plants.profile.ec_ceiling_ms_per_cm": ["1"],
    "bench": ["3", "=1"],
}
ALWAYS = {"product": "feed_13_3_15_ca_mg", "volume_l": "10"}


class Sheet:
    """Rows of a table, without a file."""

    defaults = MappingProxyType({})
    mixes = None

    def __init__(self, rows, columns, decimal) -> None:
        self.given = rows
        self.reader = RowReader(columns, decimal)

    def rows(self, *, together: bool) -> list[GivenRow]:
        take = self.reader.begun if together else self.reader.read
        return [take(place, cells) for place, cells in enumerate(self.given, start=2)]

    def read(self, row):
        return self.reader.read(row.place, row.cells)

    def together(self, rows):
        return self.reader.together(rows)

    def placed(self, fault, row):
        return self.reader.placed(fault, row)


def cell_of(heading: str) -> st.SearchStrategy:
    usual = st.sampled_from(USUAL[heading])
    kept = st.just(ALWAYS[heading]) if heading in ALWAYS else st.just("")
    return st.integers(0, 29).flatmap(
        lambda drawn: st.sampled_from(ODD + MORE) if drawn == 0 else usual if drawn < 9 else kept
    )


rows_of_a_table = st.lists(
    st.tuples(*map(cell_of, HEADINGS)).flatmap(
        lambda row: st.sampled_from([row] * 9 + [row[:-3], (*row, ""), (*row, "surplus")])
    ),
    min_size=1,
    max_size=6,
)
FIELD_COLUMNS = columns_of(HEADINGS, FIELDS, {}, ())
IN_GALLONS = tuple(
    Column(each.heading, each.field, each.kind, "gal") if each.field == "volume_l" else each
    for each in FIELD_COLUMNS
)


@settings(max_examples=400, deadline=None)
@given(rows_of_a_table, st.sampled_from(["point", "comma"]), st.booleans())
def test_columns_are_read_as_single_rows_are(given_rows, decimal, gallons):
    sheet = Sheet(given_rows, IN_GALLONS if gallons else FIELD_COLUMNS, decimal)
    fast = planned(sheet.rows(together=True), sheet, catalogue())
    slow = planned(sheet.rows(together=False), sheet, catalogue())
    assert [each.problems for each in fast.outcomes] == [each.problems for each in slow.outcomes]
    for name in ("id", "water"):
        ours = [getattr(each, name) for each in fast.outcomes if not each.problems]
        assert ours == [getattr(each, name) for each in slow.outcomes if not each.problems]
    good = fast.results["status"] != 2
    np.testing.assert_array_equal(fast.results["status"], slow.results["status"])
    for name in ("requests", "results"):
        ours, theirs = getattr(fast, name)[good], getattr(slow, name)[good]
        for field in ours.dtype.names:
            np.testing.assert_array_equal(ours[field], theirs[field], err_msg=field)
    assert fast.assumptions() == slow.assumptions()


def test_plain_rows_of_a_table_are_not_read_one_by_one():
    plain = tuple(ALWAYS.get(heading, "") for heading in HEADINGS)
    reader = RowReader(FIELD_COLUMNS)
    columns = reader.together([reader.begun(2, plain), reader.begun(3, plain)])
    assert columns.good.all()
    assert columns.found["volume_l"].tolist() == [10.0, 10.0]
    comma = RowReader(FIELD_COLUMNS, "comma")
    mine = {**ALWAYS, "volume_l": "2,5"}
    row = comma.begun(2, tuple(mine.get(heading, "") for heading in HEADINGS))
    assert comma.together([row]).found["volume_l"].tolist() == [2.5]
