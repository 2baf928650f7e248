"""One batch in every format in and out: the same rows, the same results, the caller's own kept."""

import csv
import datetime
import io
import json
from typing import Any

import httpx
import pytest
import python_calamine

from service.api.table_sources import RESULT_COLUMNS
from tests.books import HEADINGS, ROW, XLSX, book, cells_of

PATH = "/v1/doses/batch"
CSV, NDJSON, JSON = "text/csv", "application/x-ndjson", "application/json"
GIVEN: list[dict[str, Any]] = [
    {
        "id": "a",
        "plants": {"size": "large"},
        "air": {"humidity_percent": 60},
        "product": "feed_13_3_15_ca_mg",
        "water": "rain",
        "volume_l": 10,
    },
    {"id": "=b", "product": "feed_20_20_20", "water": "hard_tap", "volume_l": 3.5},
    {"id": "c", "product": "feed_20_20_20", "volume_l": "1,5"},
]
CELLS: list[list[Any]] = [
    list(ROW),
    ["=b", None, None, "feed_20_20_20", "hard_tap", 3.5],
    ["c", None, None, "feed_20_20_20", None, "1,5"],
]


def csv_of(rows: list[list[Any]], headings: tuple[str, ...] = HEADINGS) -> bytes:
    stream = io.StringIO(newline="")
    csv.writer(stream).writerows([headings, *rows])
    return stream.getvalue().encode()


def lines_of(values: list[Any]) -> bytes:
    return "".join(json.dumps(value) + "\n" for value in values).encode()


def body_of(kind: str, count: int) -> tuple[bytes, str]:
    if kind == "json":
        return json.dumps({"rows": GIVEN[:count]}).encode(), JSON
    if kind == "ndjson":
        return lines_of(GIVEN[:count]), NDJSON
    if kind == "csv":
        return csv_of(CELLS[:count]), CSV
    return book([HEADINGS, *CELLS[:count]]), XLSX


async def post(
    client: httpx.AsyncClient, body: bytes, media_type: str, **query: str
) -> httpx.Response:
    headers = {"Content-Type": media_type}
    return await client.post(PATH, content=body, headers=headers, params=query)


def rows_of(response: httpx.Response) -> list[dict[str, Any]]:
    """Return the rows of an answer in any format, empty cells as None."""
    kind = response.headers["content-type"].partition(";")[0]
    if kind == JSON:
        return list(response.json()["rows"])
    if kind == NDJSON:
        return [json.loads(line) for line in response.text.splitlines()[:-1]]
    if kind == CSV:
        found = list(csv.DictReader(io.StringIO(response.text)))
    else:
        headings, *cells = cells_of(response.content)
        found = [dict(zip(headings, row, strict=True)) for row in cells]
    return [{name: None if cell == "" else cell for name, cell in row.items()} for row in found]


def same(found: Any, expected: Any) -> bool:
    if isinstance(expected, int | float):
        return float(found) == expected
    return bool(found == expected)


@pytest.mark.anyio
@pytest.mark.parametrize("kind", ["json", "ndjson", "csv", "xlsx"])
@pytest.mark.parametrize("wanted", ["json", "ndjson", "csv", "xlsx"])
@pytest.mark.parametrize("count", [0, 1, 3])
async def test_every_format_answers_every_format_with_the_same_results(
    client: httpx.AsyncClient, kind: str, wanted: str, count: int
) -> None:
    plain = await post(client, *body_of("json", count), format="json")
    response = await post(client, *body_of(kind, count), format=wanted)
    assert response.status_code == 200, response.text
    found = rows_of(response)
    assert len(found) == count
    for row, expected in zip(found, plain.json()["rows"], strict=True):
        for name in ("status", "product_mass_g", "predicted_ph", "nitrogen_mg_per_l"):
            assert same(row[name], expected[name]), name
        volume = row.get("solution_volume_l", row.get("volume_l"))
        assert same(volume, expected["volume_l"])


@pytest.mark.anyio
@pytest.mark.parametrize("kind", ["json", "ndjson", "csv", "xlsx"])
async def test_answer_has_the_format_of_the_body_unless_another_is_asked(
    client: httpx.AsyncClient, kind: str
) -> None:
    body, media_type = body_of(kind, 1)
    assert (await post(client, body, media_type)).headers["content-type"].startswith(media_type)
    for wanted, suffix in ((NDJSON, ".ndjson"), (CSV, ".csv"), (XLSX, ".xlsx")):
        headers = {"Content-Type": media_type, "Accept": wanted}
        by_accept = await client.post(PATH, content=body, headers=headers)
        headers = {"Content-Type": media_type}
        by_suffix = await client.post(PATH + suffix, content=body, headers=headers)
        for response in (by_accept, by_suffix):
            assert response.headers["content-type"].partition(";")[0] == wanted
            named = f'filename="doses{suffix}"'
            assert response.headers["content-disposition"] == f"attachment; {named}"
    headers = {"Content-Type": "application/jsonl"}
    answer = await client.post(PATH, content=lines_of(GIVEN), headers=headers)
    assert answer.headers["content-type"] == NDJSON


@pytest.mark.anyio
async def test_last_line_says_what_stands_once(client: httpx.AsyncClient) -> None:
    plain = (await post(client, *body_of("json", 3), format="json")).json()
    *rows, last = (await post(client, *body_of("ndjson", 3))).text.splitlines()
    closing = json.loads(last)
    for name in ("summary", "cautions", "assumptions", "models", "sources", "version"):
        assert closing[name] == plain[name], name
    assert [json.loads(row)["id"] for row in rows] == ["a", "=b", "c"]
    empty = (await post(client, b"", NDJSON)).text.splitlines()
    assert json.loads(empty[-1]).keys() == closing.keys()
    assert json.loads(empty[-1])["summary"]["total"] == 0


@pytest.mark.anyio
async def test_first_line_may_hold_what_rows_have_in_common(client: httpx.AsyncClient) -> None:
    head = {"defaults": {"product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": 2}}
    body = b"\xef\xbb\xbf" + lines_of([head, {"id": "a"}, {"id": "b", "volume_l": 5}])
    first, second, _ = (await post(client, body, NDJSON)).text.splitlines()
    assert json.loads(first)["volume_l"] == 2
    assert json.loads(second)["volume_l"] == 5
    for wrong, code in (
        ({"defaults": {"volum_l": 1}}, "unknown_field"),
        ({"rows": [{}]}, "not_allowed"),
        ({"defaults": {}, "id": "a"}, "unknown_field"),
    ):
        refused = await post(client, lines_of([wrong]), NDJSON)
        assert refused.status_code == 422
        assert refused.json()["errors"][0]["code"] == code
        assert refused.json()["errors"][0]["row"] == 1
    later = await post(client, lines_of([GIVEN[0], head]), NDJSON)
    assert json.loads(later.text.splitlines()[1])["status"] == "rejected"


@pytest.mark.anyio
async def test_broken_line_rejects_its_row_with_its_number(client: httpx.AsyncClient) -> None:
    good = json.dumps(GIVEN[0]).encode()
    lines = [good, b"{", b"", b"[1]", b'{"id": "\xff"}', b'{"a": ' + b"1" * 1_100_000 + b"}", good]
    answer = (await post(client, b"\n".join(lines), NDJSON)).text.splitlines()
    rows = [json.loads(line) for line in answer[:-1]]
    assert [row["status"] for row in rows] == ["ok", *["rejected"] * 4, "ok"]
    faults = [(row["problems"][0]["row"], row["problems"][0]["code"]) for row in rows[1:5]]
    assert faults == [
        (2, "malformed_json"),
        (4, "not_an_object"),
        (5, "encoding"),
        (6, "too_many"),
    ]
    assert "Line 2 is not well-formed JSON" in rows[1]["problems"][0]["detail"]
    assert json.loads(answer[-1])["summary"] == {
        "total": 6,
        "ok": 2,
        "infeasible": 0,
        "rejected": 4,
    }


@pytest.mark.anyio
async def test_callers_columns_come_back_as_they_were(client: httpx.AsyncClient) -> None:
    headings = ("bench", *HEADINGS, "since", "count of it", "share", "ready")
    day = datetime.date(2025, 5, 1)
    rows = [["=1+1", *ROW, None, 0.1, None, True], ["-3", *ROW, day, 1e-7, None, False]]

    def more(made: Any, page: Any) -> None:
        page.write_datetime(2, 7, day, made.add_format({"num_format": "yyyy-mm-dd"}))
        page.write_number(1, 9, 0.25, made.add_format({"num_format": "0%"}))

    rows[1][7] = None
    content = book([headings, *rows], more)
    answered = await post(client, content, XLSX)
    found = cells_of(answered.content)
    assert found[0] == [*headings, *RESULT_COLUMNS]
    assert found[1][:11] == ["=1+1", *ROW, "", 0.1, 0.25, True]
    assert found[2][:11] == ["-3", *ROW, day, 1e-7, "", False]
    table = await post(client, content, XLSX, format="csv")
    first, second = csv.DictReader(io.StringIO(table.text))
    assert [first[name] for name in ("bench", "count of it", "share", "ready")] == [
        "'=1+1",
        "0.1",
        "25 %",
        "TRUE",
    ]
    assert [second[name] for name in ("bench", "since")] == ["-3", "2025-05-01"]


@pytest.mark.anyio
async def test_blank_rows_stay_where_they_are_and_are_not_counted(
    client: httpx.AsyncClient,
) -> None:
    rows: list[list[Any]] = [list(ROW), [], list(ROW), [], []]
    expected = ["ok", "", "ok"]
    table = await post(client, csv_of(rows), CSV)
    lines = list(csv.reader(io.StringIO(table.text)))
    assert [line[len(HEADINGS)] for line in lines[1:]] == expected
    answered = await post(client, book([HEADINGS, *rows]), XLSX)
    assert [row[len(HEADINGS)] for row in cells_of(answered.content)[1:]] == expected
    for body, media_type in ((csv_of(rows), CSV), (book([HEADINGS, *rows]), XLSX)):
        answer = (await post(client, body, media_type, format="json")).json()
        assert answer["summary"]["total"] == len(answer["rows"]) == 2
        said = [each for each in answer["assumptions"] if each["code"] == "blank_rows_kept"]
        assert said[0]["message"].endswith(": 3.")


@pytest.mark.anyio
async def test_table_with_other_headings_and_decimal_commas(client: httpx.AsyncClient) -> None:
    table = (
        "\ufeffBeet;Dünger;Wasser;Menge\r\n"
        "A;feed_13_3_15_ca_mg;rain;2,5\r\n"
        "B;feed_13_3_15_ca_mg;rain;2.5\r\n"
    )
    columns = "Beet:id,Dünger:product,Wasser:water,Menge:volume_l US gal"
    response = await post(client, table.encode(), CSV, dialect="excel-eu", columns=columns)
    assert response.status_code == 200, response.text
    assert response.content.startswith(b"\xef\xbb\xbf")
    first, second = csv.DictReader(io.StringIO(response.text[1:]), delimiter=";")
    assert list(first)[:4] == ["Beet", "Dünger", "Wasser", "Menge"]
    assert (first["Menge"], first["status"], first["solution_volume_l"]) == ("2,5", "ok", "9,464")
    assert second["status"] == "rejected"
    assert second["problems"].startswith("volume_l in Menge: ")


@pytest.mark.anyio
async def test_charset_is_declared_and_the_answer_is_utf_8(client: httpx.AsyncClient) -> None:
    table = "bench,product,water,volume_l\nSüd,feed_13_3_15_ca_mg,rain,1\n".encode("cp1252")
    refused = await post(client, table, CSV)
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["row"] == 2
    response = await post(client, table, "text/csv; charset=windows-1252")
    assert "Süd,feed" in response.content.decode()
    assert (await post(client, table, "text/csv; charset=koi8-r")).status_code == 415
    assert (await post(client, book([HEADINGS]), XLSX + "; charset=utf-8")).status_code == 415


@pytest.mark.anyio
async def test_parameters_that_say_nothing_of_the_body_are_refused(
    client: httpx.AsyncClient,
) -> None:
    for kind, query in (
        ("json", {"columns": "a:id"}),
        ("ndjson", {"columns": "a:id"}),
        ("csv", {"sheet": "Beds"}),
        ("csv", {"dialect": "word"}),
        ("csv", {"bom": "yes"}),
    ):
        refused = await post(client, *body_of(kind, 1), **query)
        assert refused.status_code == 422
        assert refused.json()["errors"][0]["parameter"] == next(iter(query))


@pytest.mark.anyio
async def test_delimiter_that_was_found_is_said(client: httpx.AsyncClient) -> None:
    table = b"id;product;water;volume_l\na;feed_13_3_15_ca_mg;rain;1\n"
    answer = (await post(client, table, CSV, format="json")).json()
    assert answer["assumptions"][0]["code"] == "delimiter_found"
    answer = (await post(client, table, CSV, format="json", delimiter="semicolon")).json()
    assert answer["assumptions"][0]["code"] != "delimiter_found"


@pytest.mark.anyio
async def test_workbook_says_once_what_codes_mean(client: httpx.AsyncClient) -> None:
    plain = (await post(client, *body_of("json", 3), format="json")).json()
    response = await post(client, *body_of("xlsx", 3))
    assert "content-encoding" not in response.headers
    assert int(response.headers["content-length"]) == len(response.content)
    opened = python_calamine.load_workbook(io.BytesIO(response.content))
    assert opened.sheet_names == ["doses", "cautions", "assumptions", "summary"]
    head, *cautions = cells_of(response.content, "cautions")
    assert [dict(zip(head, row, strict=True)) for row in cautions] == plain["cautions"]
    summary = dict(cells_of(response.content, "summary")[1:])
    assert {name: summary[name] for name in plain["summary"]} == plain["summary"]
    again = await post(client, *body_of("xlsx", 3))
    assert again.content == response.content


@pytest.mark.anyio
async def test_rows_beyond_one_block_keep_their_order_in_every_format(
    client: httpx.AsyncClient,
) -> None:
    count = 4_100
    rows = [[f"r{number}", *ROW[1:5], number % 7 + 1] for number in range(count)]
    names = [f"r{number}" for number in range(count)]
    for body, media_type in ((csv_of(rows), CSV), (book([HEADINGS, *rows]), XLSX)):
        response = await post(client, body, media_type)
        found = rows_of(response)
        assert [row["id"] for row in found] == names
        assert {float(row["volume_l"]) == float(row["solution_volume_l"]) for row in found} == {
            True
        }
    lines = (await post(client, csv_of(rows), CSV, format="ndjson")).text.splitlines()
    assert [json.loads(line)["id"] for line in lines[:-1]] == names
    assert json.loads(lines[-1])["summary"]["ok"] == count


@pytest.mark.anyio
async def test_limits_of_tables_are_published(client: httpx.AsyncClient) -> None:
    limits = (await client.get("/v1/limits")).json()
    assert limits["table_columns"] == 400
    assert limits["workbook_rows"] == limits["batch_rows"]
    assert limits["workbook_bytes"] > limits["batch_bytes"]


MIXED = [
    {"id": "one", "plants": {"size": "large"}, "volume_l": 20},
    {"id": "two", "plants": {"size": "mini"}, "volume_l": 5},
]
SHARED = {"product": "feed_15_5_15_ca_mg", "water": "rain"}


@pytest.mark.anyio
async def test_mixes_are_the_same_in_every_format(client: httpx.AsyncClient) -> None:
    body = {"defaults": SHARED, "rows": MIXED, "mixes": {"max_count": 1}}
    plain = (await client.post(PATH, json=body)).json()
    (mix,) = plain["mixes"]
    head = {"defaults": SHARED, "mixes": {"max_count": 1}}
    *lines, last = (await post(client, lines_of([head, *MIXED]), NDJSON)).text.splitlines()
    assert json.loads(last)["mixes"] == plain["mixes"]
    assert json.loads(last)["mixes_summary"] == plain["mixes_summary"]
    assert [json.loads(line)["mix"] for line in lines] == [1, 1]
    headings = ("id", "plants.size", "product", "water", "volume_l")
    cells = [
        [each["id"], each["plants"]["size"], *SHARED.values(), each["volume_l"]]  # type: ignore[index]
        for each in MIXED
    ]
    table = await post(client, csv_of(cells, headings), CSV, **{"mixes.max_count": "1"})
    assert [row["mix"] for row in rows_of(table)] == ["1", "1"]
    answered = await post(client, book([headings, *cells]), XLSX, **{"mixes.max_count": "1"})
    names, row = cells_of(answered.content, "mixes")
    found = dict(zip(names, row, strict=True))
    assert found["row_ids"] == "one; two"
    assert found["product_mass_g"] == mix["product_mass_g"]
    names, *fillings = cells_of(answered.content, "fillings")
    assert [dict(zip(names, each, strict=True))["volume_l"] for each in fillings] == [
        each["volume_l"] for each in mix["fillings"]
    ]
    refused = await post(client, csv_of(cells, headings), CSV, **{"mixes.max_count": "0"})
    assert refused.json()["errors"][0]["parameter"] == "mixes.max_count"


@pytest.mark.anyio
async def test_a_name_of_any_length_in_a_cell_is_a_fault_of_its_row(
    client: httpx.AsyncClient,
) -> None:
    cells = [list(CELLS[0]), ["long", None, None, "n" * 20_000, "rain", 3.5]]
    response = await post(client, csv_of(cells), CSV, format="json")
    assert response.status_code == 200
    first, second = response.json()["rows"]
    assert first["status"] == "ok"
    assert [each["code"] for each in second["problems"]] == ["too_many"]
