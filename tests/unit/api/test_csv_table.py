"""Tables: read without guessing, written back without surprises."""

import csv
import io

import pytest

from service.api.formats.cells import safe_text
from service.api.formats.csv_dialect import Dialect, dialect_of
from service.api.formats.csv_table import CsvTable, write_csv
from service.api.limits import TableLimits
from service.api.problems import ProblemError

KNOWN = ("id", "volume_l", "product")


def table_of(
    body: bytes,
    dialect: Dialect = Dialect(),  # noqa: B008
    *,
    charset: str = "",
    most_rows: int = 1_000,
    limits: TableLimits = TableLimits(),  # noqa: B008
) -> CsvTable:
    return CsvTable(io.BytesIO(body), dialect, charset, KNOWN, limits, most_rows)


def refused(body: bytes, **more: object) -> ProblemError:
    with pytest.raises(ProblemError) as problem:
        table_of(body, **more)  # type: ignore[arg-type]
    return problem.value


def test_headings_and_cells_come_as_they_stand() -> None:
    table = table_of(b'id,bench\r\na,north\r\nb,"north, left"\r\n')
    assert table.headings == ("id", "bench")
    assert list(table.records()) == [(2, ["a", "north"]), (3, ["b", "north, left"])]
    assert list(table.records()) == list(table.records())


@pytest.mark.parametrize(
    ("body", "delimiter"),
    [
        (b"id;bench\na;n\n", ";"),
        (b"id\tbench\na\tn\n", "\t"),
        (b"id,bench\na,n\n", ","),
        (b"id\na\n", ","),
        (b'volume_l;"a, b, c, d";id\n1;2;3\n', ";"),
        (b"\n\n;;\nid;bench\n", ";"),
    ],
)
def test_delimiter_is_the_one_under_which_most_headings_are_known(
    body: bytes, delimiter: str
) -> None:
    assert table_of(body).delimiter == delimiter


def test_delimiter_that_cannot_be_told_is_asked_for() -> None:
    assert refused(b"id,x;id\n1,2;3\n").errors[0].code == "separator_unclear"
    assert table_of(b"id,x;id\n1,2;3\n", Dialect(",")).headings == ("id", "x;id")


def test_blank_rows_between_rows_stay_and_those_at_the_end_do_not() -> None:
    table = table_of(b"\xef\xbb\xbf\nid,bench\n\na,n\n , \nb,n\n\n,\n")
    assert table.headings == ("id", "bench")
    assert table.has_bom
    assert [cells for _, cells in table.records()] == [[], ["a", "n"], [" ", " "], ["b", "n"]]
    assert (table.blank_lines, table.blank_count) == ([3, 5], 2)


def test_quoted_line_breaks_stay_in_their_cell() -> None:
    table = table_of(b'id,bench\r\na,"north\r\nleft"\r\nb,n')
    assert list(table.records()) == [(3, ["a", "north\r\nleft"]), (4, ["b", "n"])]


@pytest.mark.parametrize(
    ("body", "charset"),
    [
        ("id,bench\na,Süd\n".encode("latin-1"), "iso-8859-1"),
        ("id,bench\na,Süd\n".encode("cp1252"), "windows-1252"),
        ("id,bench\na,Süd\n".encode("utf-16"), "utf-16"),
        ("id,bench\na,Süd\n".encode(), "utf-8"),
    ],
)
def test_declared_charset_is_read(body: bytes, charset: str) -> None:
    assert list(table_of(body, charset=charset).records()) == [(2, ["a", "Süd"])]


def test_undeclared_charset_is_named_with_its_line_and_never_guessed() -> None:
    for body, phrase in (
        ("id,bench\nb,n\na,Süd\n".encode("latin-1"), "line 3 (byte 0xFC)"),
        ("id,bench\na,n\n".encode("utf-16"), "charset=utf-16"),
    ):
        problem = refused(body)
        assert problem.status_code == 400
        assert problem.errors[0].code == "encoding"
        assert phrase in problem.errors[0].detail


@pytest.mark.parametrize(
    ("body", "code", "phrase"),
    [
        (b"", "missing", "heading"),
        (b"\n\n", "missing", "heading"),
        (b"id,id\na,b\n", "repeated_column", "columns 1 and 2"),
        (b"id,,x\na,b,c\n", "missing", "no heading"),
        (b'id\n"a\n', "malformed", "well-formed"),
        (b"id\n" + b"a" * 40_000 + b"\n", "too_many", "more than 32767 letters"),
        (b"id\n" + b"a" * 2_000_000 + b"\n", "too_many", "longer than"),
        (",".join(f"c{n}" for n in range(20_000)).encode(), "too_many", "20000 columns"),
        (b"x" * 300 + b",id\n", "too_many", "longer than 200"),
    ],
)
def test_table_that_cannot_be_read_is_refused_with_a_hint(
    body: bytes, code: str, phrase: str
) -> None:
    problem = refused(body)
    assert problem.errors[0].code == code
    assert phrase in problem.errors[0].detail


def test_rows_beyond_the_limit_are_refused_before_the_rest_is_read() -> None:
    problem = refused(b"id\n" + b"a\n" * 11 + b'"', most_rows=10)
    assert problem.status_code == 413
    assert problem.errors[0].allowed == "at most 10 rows"
    assert refused(b"id\n" + b"\n" * 11, most_rows=10).status_code == 413


def test_dialect_is_said_in_one_word_or_piece_by_piece() -> None:
    assert dialect_of({}) == Dialect(None, "point", None)
    assert dialect_of({"dialect": "excel-eu"}) == Dialect(";", "comma", True)
    assert dialect_of({"dialect": "excel-eu", "decimal": "point"}) == Dialect(";", "point", True)
    assert dialect_of({"dialect": "rfc4180", "bom": "true"}) == Dialect(",", "point", True)
    with pytest.raises(ProblemError, match="Did you mean `excel-eu`"):
        dialect_of({"dialect": "excel_eu"})


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-cmd", "@sum", "\tx", "\rx", "-5 °C", " =x"])
def test_text_that_would_run_as_a_formula_is_defused(text: str) -> None:
    assert safe_text(text) == "'" + text


@pytest.mark.parametrize("text", ["-1.5", "-1,5", "+3", "north", "", "-1e-3", "-.5"])
def test_numbers_and_plain_text_stay_as_they_are(text: str) -> None:
    assert safe_text(text) == text


def test_written_table_is_read_back_the_same() -> None:
    written = write_csv(["id", "x"], [["a, b", 1.25], ['say "hi"', None], ["=x", 3]])
    rows = list(csv.reader(io.StringIO(written.decode())))
    assert rows == [["id", "x"], ["a, b", "1.25"], ['say "hi"', ""], ["'=x", "3"]]
    assert written.count(b"\r\n") == 4


def test_decimal_commas_are_written_when_asked_for() -> None:
    assert write_csv(["x"], [[1.25]], ";", "comma") == b"x\r\n1,25\r\n"
