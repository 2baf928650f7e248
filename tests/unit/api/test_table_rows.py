"""Headings and cells: what each column means, and what a row of cells says."""

import pytest

from service.api.formats.cells import DateCell, FaultCell, PercentCell, cell_name, plain_number
from service.api.formats.headings import Column, Kind, columns_of, read_meanings
from service.api.formats.table_rows import RowReader, with_decimal_point
from service.api.problems import ProblemError
from service.api.validation import FieldError

FIELDS: dict[str, Kind] = {
    "id": "text",
    "plants.size": "text",
    "air.humidity_percent": "number",
    "water": "text",
    "water.ph": "number",
    "product": "text",
    "volume_l": "number",
}
RESULTS = ("status",)


def reader(*fields: str, decimal: str = "point", units: dict[str, str] | None = None) -> RowReader:
    columns = [
        Column(name, name, FIELDS[name], (units or {}).get(name, ""))
        if name in FIELDS
        else Column(name)
        for name in fields
    ]
    return RowReader(columns, decimal, lambda row, at: cell_name(row, at + 1))  # type: ignore[arg-type]


def refused(headings: list[str], columns: str | None = None) -> FieldError:
    with pytest.raises(ProblemError) as problem:
        columns_of(headings, FIELDS, read_meanings(columns, FIELDS), RESULTS)
    return problem.value.errors[0]


def own(headings: list[str], columns: str | None = None) -> list[str]:
    found = columns_of(headings, FIELDS, read_meanings(columns, FIELDS), RESULTS)
    return [column.heading for column in found if not column.field]


def test_growers_own_columns_are_told_from_misspelt_fields() -> None:
    assert own(["id", "bench", "note"]) == ["bench", "note"]
    for heading in ("plants.sise", "air.humidty_percent", "volume_L", "prodct"):
        fault = refused(["id", heading])
        assert fault.received == heading
        assert "Did you mean" in fault.detail


def test_column_with_the_name_of_a_result_is_refused() -> None:
    assert "result column" in refused(["id", "status"]).detail


def test_table_without_any_field_is_refused() -> None:
    assert "No heading" in refused(["bench", "note"]).detail


def test_other_headings_are_given_a_meaning() -> None:
    text = 'Liter:volume_l,"Wasser, Art":water, size:-'
    columns = columns_of(
        ["Liter", "Wasser, Art", "size", "id"], FIELDS, read_meanings(text, FIELDS), RESULTS
    )
    assert [(each.field, each.kind) for each in columns] == [
        ("volume_l", "number"),
        ("water", "text"),
        ("", "own"),
        ("id", "text"),
    ]


def test_heading_with_a_colon_keeps_it() -> None:
    assert read_meanings("a: b:volume_l US gal", FIELDS)["a: b"].unit == "US gal"


@pytest.mark.parametrize(
    ("columns", "code", "phrase"),
    [
        ("Liter", "malformed", "heading:field"),
        (":volume_l", "malformed", "heading:field"),
        ("Liter:", "malformed", "heading:field"),
        ('"Liter:volume_l', "malformed", "quote"),
        ("Liter:volum_l", "unknown_column", "Did you mean `volume_l`"),
        ("Liter:volume_l,Liter:id", "repeated_column", "twice"),
        ("Liter:product gal", "not_allowed", "no unit"),
        ("Litre:volume_l", "unknown_column", "Did you mean `Liter`"),
        ("Liter:id", "repeated_column", "both `id`"),
        (",".join(f"c{n}:id" for n in range(401)), "too_many", "401"),
    ],
)
def test_meaning_that_cannot_be_is_refused(columns: str, code: str, phrase: str) -> None:
    fault = refused(["id", "Liter"], columns)
    assert fault.code == code
    assert phrase in fault.detail


def test_dotted_headings_nest_and_empty_cells_say_nothing() -> None:
    given = reader("id", "bench", "plants.size", "water.ph", "volume_l").read(
        2, ["a", "n", "mini", "", " 5 gal "]
    )
    assert given.value == {"id": "a", "plants": {"size": "mini"}, "volume_l": "5 gal"}


def test_preset_beside_its_parts_is_left_for_validation_to_refuse() -> None:
    expected = {"water": {"": "rain", "ph": 7}}
    assert reader("water", "water.ph").read(2, ["rain", "7"]).value == expected
    assert reader("water.ph", "water").read(2, ["7", "rain"]).value == expected


def test_numbers_are_numbers_and_texts_are_texts_whatever_the_cell_is() -> None:
    columns = ("id", "volume_l")
    for cells in (["17", "2.5"], [17.0, 2.5], [17, 2.5]):
        assert reader(*columns).read(2, cells).value == {"id": "17", "volume_l": 2.5}
    assert reader(*columns).read(2, ["007", "1e3"]).value == {"id": "007", "volume_l": "1e3"}
    assert reader(*columns).read(2, ["a", True]).value == {"id": "a", "volume_l": True}


def test_unit_of_a_column_is_that_of_its_bare_numbers() -> None:
    gallons = reader("volume_l", units={"volume_l": "US gal"})
    values = [gallons.read(2, [cell]).value for cell in ("5", 5.0, 2.5, "5 L", "x")]
    assert [value["volume_l"] for value in values] == [  # type: ignore[index]
        "5 US gal",
        "5 US gal",
        "2.5 US gal",
        "5 L",
        "x",
    ]


def test_percentage_counts_as_it_is_shown() -> None:
    given = reader("air.humidity_percent").read(2, [PercentCell(0.6)])
    assert given.value == {"air": {"humidity_percent": "60 %"}}


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        (DateCell("2025-05-01"), "date_cell"),
        (FaultCell("error_cell", "#DIV/0!"), "error_cell"),
        (FaultCell("formula_without_value"), "formula_without_value"),
        (FaultCell("merged_cells", "C3:C4"), "merged_cells"),
    ],
)
def test_cell_without_a_value_rejects_its_row_by_name(
    cell: DateCell | FaultCell, code: str
) -> None:
    given = reader("id", "volume_l").read(7, ["a", cell])
    (fault,) = given.problems
    assert (fault.code, fault.row, fault.column, fault.cell) == (code, 7, "volume_l", "C7")
    assert fault.pointer == "#/volume_l"
    assert given.name == "a"


def test_cells_of_own_columns_have_no_faults() -> None:
    given = reader("id", "bench").read(3, ["a", FaultCell("error_cell", "#N/A")])
    assert (given.value, given.problems) == ({"id": "a"}, [])


def test_short_rows_are_filled_and_empty_surplus_is_dropped() -> None:
    assert reader("id", "bench", "volume_l").read(2, ["a"]).value == {"id": "a"}
    assert reader("id", "bench").read(2, ["b", "n", "", " "]).cells == ["b", "n"]


def test_surplus_cell_rejects_its_row_with_a_hint() -> None:
    (fault,) = reader("id", "volume_l").read(4, ["a", "1", "5"]).problems
    assert (fault.code, fault.row, fault.cell) == ("malformed", 4, "D4")
    lines = RowReader([Column("id", "id", "text"), Column("volume_l", "volume_l", "number")])
    given = lines.read(4, ["a", "1", "5"])
    assert "decimal comma" in given.problems[0].detail
    assert given.name == "a"


def test_blank_row_is_no_row() -> None:
    assert reader("id", "bench").read(4, []).blank
    assert reader("id", "bench").read(4, [" ", None]).blank


def test_fault_of_a_field_is_placed_in_its_column() -> None:
    table = reader("id", "water.ph")
    given = table.read(5, ["a", "x"])
    fault = FieldError(pointer="#/water/ph", code="not_a_number", detail="…")
    placed = table.placed(fault, given)
    assert (placed.row, placed.column, placed.cell) == (5, "water.ph", "C5")
    elsewhere = table.placed(FieldError(pointer="#", code="missing", detail="…"), given)
    assert (elsewhere.row, elsewhere.column) == (5, None)


def test_declared_decimal_commas_become_points_in_numbers_alone() -> None:
    table = reader("id", "volume_l", decimal="comma")
    assert table.read(2, ["1,5", "1,5"]).value == {"id": "1,5", "volume_l": 1.5}
    assert [with_decimal_point(text) for text in ("12,5 L", "2")] == ["12.5 L", "2"]


def test_point_under_declared_decimal_commas_is_left_for_validation_to_refuse() -> None:
    assert [with_decimal_point(text) for text in ("1.000", "1.000,5")] == ["1_000", "1_000.5"]


def test_only_plain_digits_are_read_as_a_number_here() -> None:
    assert [plain_number(text) for text in ("5", "-2.50", "0.1")] == [5, -2.5, 0.1]
    for text in ("", "1e3", "1_000", "NaN", "٣", "5 L", ".5", "1" * 16):
        assert plain_number(text) is None


def test_cells_are_named_as_spreadsheets_do() -> None:
    assert [cell_name(7, column) for column in (0, 25, 26, 701, 702)] == [
        "A7",
        "Z7",
        "AA7",
        "ZZ7",
        "AAA7",
    ]
