"""Tables: read without guessing, written back without surprises."""

import csv
import io

import pytest

from service.api.formats.csv_table import (
    check_headings,
    nested,
    read_csv,
    safe_text,
    with_decimal_points,
    write_csv,
)
from service.api.problems import ProblemError

FIELDS = ["id", "plants.size", "air.humidity_percent", "water", "water.ph", "product", "volume_l"]


def test_headings_and_cells_come_as_they_stand() -> None:
    table = read_csv(b'id,bench\r\na,north\r\nb,"north, left"\r\n')
    assert table.headings == ("id", "bench")
    assert table.records == [["a", "north"], ["b", "north, left"]]
    assert table.lines == [2, 3]


@pytest.mark.parametrize(
    ("body", "delimiter"),
    [(b"id;bench\na;n\n", ";"), (b"id\tbench\na\tn\n", "\t"), (b"id,bench\na,n\n", ",")],
)
def test_delimiter_is_that_of_the_heading_line(body: bytes, delimiter: str) -> None:
    table = read_csv(body)
    assert table.delimiter == delimiter
    assert table.records == [["a", "n"]]


def test_byte_order_mark_and_blank_lines_are_no_data() -> None:
    table = read_csv(b"\xef\xbb\xbfid,bench\n\n , \na,n\n")
    assert table.headings == ("id", "bench")
    assert table.records == [["a", "n"]]


def test_short_rows_are_filled_and_empty_surplus_is_dropped() -> None:
    table = read_csv(b"id,bench,note\na\nb,n,,,\n")
    assert table.records == [["a", "", ""], ["b", "n", ""]]


@pytest.mark.parametrize(
    ("body", "code", "phrase"),
    [
        (b"\xff\xfe\x00", "encoding", "UTF-8"),
        (b"", "missing", "heading"),
        (b"id,id\na,b\n", "repeated_column", "twice"),
        (b"id,,x\na,b,c\n", "missing", "no heading"),
        (b"id,volume_l\na,1,5\n", "malformed", "decimal comma"),
        (b'id\n"a\n', "malformed", "well-formed"),
        (",".join(f"c{n}" for n in range(20_000)).encode(), "too_many", "columns"),
    ],
)
def test_table_that_cannot_be_read_is_refused_with_a_hint(
    body: bytes, code: str, phrase: str
) -> None:
    with pytest.raises(ProblemError) as refused:
        read_csv(body)
    assert refused.value.errors[0].code == code
    assert phrase in refused.value.errors[0].detail


def test_rows_beyond_the_limit_are_refused() -> None:
    with pytest.raises(ProblemError) as refused:
        read_csv(b"id\n" + b"a\n" * 11, most_rows=10)
    assert refused.value.status_code == 413


def test_growers_own_columns_are_told_from_misspelt_fields() -> None:
    assert check_headings(["id", "bench", "note"], FIELDS, ["status"]) == ["bench", "note"]
    for heading in ("plants.sise", "air.humidty_percent", "volume_L", "prodct"):
        with pytest.raises(ProblemError) as refused:
            check_headings(["id", heading], FIELDS, ["status"])
        assert refused.value.errors[0].received == heading
        assert "Did you mean" in refused.value.errors[0].detail


def test_column_with_the_name_of_a_result_is_refused() -> None:
    with pytest.raises(ProblemError, match="result column"):
        check_headings(["id", "status"], FIELDS, ["status"])


def test_table_without_any_field_is_refused() -> None:
    with pytest.raises(ProblemError, match="No heading"):
        check_headings(["bench", "note"], FIELDS, ["status"])


def test_dotted_headings_nest_and_empty_cells_say_nothing() -> None:
    row = nested(
        ["id", "bench", "plants.size", "water.ph", "volume_l"],
        ["a", "n", "mini", "", " 5 gal "],
        set(FIELDS),
    )
    assert row == {"id": "a", "plants": {"size": "mini"}, "volume_l": "5 gal"}


def test_preset_beside_its_parts_is_left_for_validation_to_refuse() -> None:
    row = nested(["water", "water.ph"], ["rain", "7"], set(FIELDS))
    assert row == {"water": {"": "rain", "ph": "7"}}
    row = nested(["water.ph", "water"], ["7", "rain"], set(FIELDS))
    assert row == {"water": {"": "rain", "ph": "7"}}


def test_declared_decimal_commas_become_points() -> None:
    assert with_decimal_points(["1,5", "a, b", "12,5 L", "2"]) == ["1.5", "a, b", "12.5 L", "2"]


def test_point_under_declared_decimal_commas_is_left_for_validation_to_refuse() -> None:
    assert with_decimal_points(["1.000", "1.000,5", "feed_1.2"]) == ["1_000", "1_000.5", "feed_1.2"]


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-cmd", "@sum", "\tx", "\rx"])
def test_text_that_would_run_as_a_formula_is_defused(text: str) -> None:
    assert safe_text(text) == "'" + text


@pytest.mark.parametrize("text", ["-1.5", "+3", "north", "", "1e-3"])
def test_numbers_and_plain_text_stay_as_they_are(text: str) -> None:
    assert safe_text(text) == text


def test_written_table_is_read_back_the_same() -> None:
    written = write_csv(["id", "x"], [["a, b", 1.25], ['say "hi"', None], ["=x", 3]])
    rows = list(csv.reader(io.StringIO(written.decode())))
    assert rows == [["id", "x"], ["a, b", "1.25"], ['say "hi"', ""], ["'=x", "3"]]
    assert written.count(b"\r\n") == 4


def test_decimal_commas_are_written_when_asked_for() -> None:
    assert write_csv(["x"], [[1.25]], ";", "comma") == b"x\r\n1,25\r\n"
