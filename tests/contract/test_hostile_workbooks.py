"""Workbooks made in haste or in bad faith: refused by name, or answered; never a failure."""

import io
import zipfile
from typing import Any

import httpx
import pytest

from tests.books import HEADINGS, ROW, SHEET, XLSX, book, changed, with_rows

PATH = "/v1/doses/batch"


async def refused(client: httpx.AsyncClient, content: bytes, **query: str) -> dict[str, Any]:
    response = await client.post(
        PATH, content=content, headers={"Content-Type": XLSX}, params=query
    )
    assert response.status_code in (400, 413, 422), response.text
    return {"status": response.status_code, **response.json()["errors"][0]}


async def rows(client: httpx.AsyncClient, content: bytes, **query: str) -> list[dict[str, Any]]:
    query = {"format": "json", **query}
    headers = {"Content-Type": XLSX}
    response = await client.post(PATH, content=content, headers=headers, params=query)
    assert response.status_code == 200, response.text
    return list(response.json()["rows"])


def packed(parts: dict[str, bytes], **more: Any) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content, **more)
    return stream.getvalue()


OLD = bytes.fromhex("d0cf11e0a1b11ae1")


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("content", "code", "phrase"),
    [
        (b"", "not_a_workbook", "archive"),
        (b"id,volume_l\na,1\n", "not_a_workbook", "archive"),
        (OLD + bytes(4_000), "not_a_workbook", ".xls"),
        (OLD + bytes(1_000) + "EncryptedPackage".encode("utf-16-le"), "encrypted", "password"),
        (b"PK\x03\x04" + bytes(500), "not_a_workbook", "damaged"),
        (packed({"a.txt": b"a"}), "not_a_workbook", "not that of a workbook"),
        (
            packed({"mimetype": b"x", "content.xml": b"x"}),
            "not_a_workbook",
            "OpenDocument",
        ),
        (packed({"xl/workbook.bin": b"x"}), "not_a_workbook", ".xlsb"),
        (book([HEADINGS, ROW])[:-200], "not_a_workbook", "damaged"),
        (changed(book([HEADINGS, ROW]), {"xl/vbaProject.bin": lambda _: b"x"}), "macros", "macros"),
        (changed(book([HEADINGS, ROW]), {SHEET: lambda part: part[:-50]}), "not_a_workbook", "XML"),
        (
            changed(
                book([HEADINGS, ROW]),
                {SHEET: lambda part: b'<!DOCTYPE a [<!ENTITY b "c">]>' + part.split(b"?>", 1)[1]},
            ),
            "not_a_workbook",
            "document type",
        ),
    ],
)
async def test_what_is_no_workbook_is_refused_for_what_it_is(
    client: httpx.AsyncClient, content: bytes, code: str, phrase: str
) -> None:
    fault = await refused(client, content)
    assert (fault["status"], fault["code"]) == (400, code)
    assert phrase in fault["detail"]


@pytest.mark.anyio
async def test_archive_that_unpacks_to_very_much_is_refused_unread(
    client: httpx.AsyncClient,
) -> None:
    bomb = changed(book([HEADINGS, ROW]), {"xl/media/a.bin": lambda _: bytes(50_000_000)})
    fault = await refused(client, bomb)
    assert (fault["status"], fault["code"]) == (413, "too_many")
    assert "200 times" in fault["allowed"]
    parts = changed(book([HEADINGS]), {f"a/{n}": lambda _: b"" for n in range(1_001)})
    assert "1000 parts" in (await refused(client, parts))["allowed"]


@pytest.mark.anyio
async def test_archive_whose_directory_lies_is_refused(client: httpx.AsyncClient) -> None:
    """The directory promises few bytes, and the part unpacks to many."""
    honest = changed(
        book([HEADINGS, ROW]), {SHEET: lambda part: part.replace(b"</sheetData>", b" " * 300_000)}
    )
    with zipfile.ZipFile(io.BytesIO(honest)) as archive:
        size = archive.getinfo(SHEET).file_size
    lying = honest.replace(size.to_bytes(4, "little"), (2_000).to_bytes(4, "little"))
    assert lying != honest
    fault = await refused(client, lying)
    assert fault["code"] == "not_a_workbook"
    assert "directory" in fault["detail"]


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("cells", "phrase"),
    [
        (("A1", "XFD1"), "XFD1"),
        (("A1", "A999999"), "A999999"),
        (("OA190000", "A1"), "too large"),
    ],
)
async def test_stray_cell_far_away_takes_no_memory(
    client: httpx.AsyncClient, cells: tuple[str, ...], phrase: str
) -> None:
    filled = "".join(f'<row><c r="{name}"><v>1</v></c></row>' for name in cells)
    fault = await refused(client, with_rows(filled))
    assert fault["status"] == 413
    assert phrase in fault["detail"]


@pytest.mark.anyio
async def test_very_many_columns_are_refused_by_the_limit(client: httpx.AsyncClient) -> None:
    fault = await refused(client, book([[f"c{number}" for number in range(16_000)]]))
    assert fault["status"] == 413
    assert fault["allowed"] == "at most 400 columns"


@pytest.mark.anyio
async def test_shared_text_that_many_cells_name_is_refused(client: httpx.AsyncClient) -> None:
    def grown(part: bytes) -> bytes:
        noise = bytes(97 + number * 7919 % 26 for number in range(200_000))
        return part.replace(b"<t>large</t>", b"<t>" + noise + b"</t>")

    content = changed(book([HEADINGS, *[ROW] * 50]), {"xl/sharedStrings.xml": grown})
    fault = await refused(client, content)
    assert (fault["status"], fault["allowed"]) == (413, "at most 32767 letters")


@pytest.mark.anyio
async def test_merged_headings_are_refused_with_their_cells(client: httpx.AsyncClient) -> None:
    def title(_: Any, page: Any) -> None:
        page.merge_range(0, 1, 0, 3, "plants.size")

    fault = await refused(client, book([HEADINGS, ROW], title))
    assert (fault["status"], fault["code"]) == (422, "merged_cells")
    assert "B1:D1" in fault["detail"]


@pytest.mark.anyio
async def test_merged_cells_reject_the_rows_that_have_no_value_of_their_own(
    client: httpx.AsyncClient,
) -> None:
    def more(_: Any, page: Any) -> None:
        page.merge_range(1, 4, 2, 4, "rain")

    first, second, third = await rows(client, book([HEADINGS, ROW, ROW, ROW], more))
    assert [row["status"] for row in (first, second, third)] == ["ok", "rejected", "ok"]
    (fault,) = second["problems"]
    assert (fault["code"], fault["row"], fault["cell"]) == ("merged_cells", 3, "E3")


@pytest.mark.anyio
async def test_formulas_count_with_their_results_and_not_without(
    client: httpx.AsyncClient,
) -> None:
    def more(_: Any, page: Any) -> None:
        page.write_formula(1, 5, "=5*2", None, 10)
        page.write_formula(2, 5, "=5*2", None, "")
        page.write_formula(3, 5, "=1/0", None, "#DIV/0!")
        page.write_formula(4, 5, "=5*2", None, "")

    given = [[*ROW[:5], None]] * 3 + [[None] * 6]
    good, unsaved, error, last = await rows(client, book([HEADINGS, *given], more))
    assert good["volume_l"] == 10
    faults = [
        (each["problems"][0]["code"], each["problems"][0]["cell"]) for each in (unsaved, error)
    ]
    assert faults == [("formula_without_value", "F3"), ("error_cell", "F4")]
    assert "#DIV/0!" in error["problems"][0]["detail"]
    assert last["problems"][0]["cell"] == "F5"
    assert unsaved["id"] == "a"


@pytest.mark.anyio
async def test_number_that_became_a_date_is_not_read_as_one(client: httpx.AsyncClient) -> None:
    def more(made: Any, page: Any) -> None:
        page.write_number(1, 5, 45_778, made.add_format({"num_format": "d mmm"}))
        page.write_number(2, 2, 0.6, made.add_format({"num_format": "0 %"}))

    date, percent = await rows(client, book([HEADINGS, ROW, ROW], more))
    (fault,) = date["problems"]
    assert (fault["code"], fault["column"], fault["cell"]) == ("date_cell", "volume_l", "F2")
    assert "2025-05-01" in fault["detail"]
    plain = await rows(client, book([HEADINGS, ROW]))
    assert percent["product_mass_g"] == plain[0]["product_mass_g"]


@pytest.mark.anyio
async def test_first_visible_sheet_is_read_or_the_one_that_is_named(
    client: httpx.AsyncClient,
) -> None:
    def more(made: Any, page: Any) -> None:
        page.hide()
        for name in ("Second", "Third"):
            other = made.add_worksheet(name)
            other.write_row(0, 0, HEADINGS)
            other.write_row(1, 0, [name, *ROW[1:]])
        made.get_worksheet_by_name("Second").activate()
        made.get_worksheet_by_name("Second").set_first_sheet()

    content = book([HEADINGS, ROW], more)
    assert [row["id"] for row in await rows(client, content)] == ["Second"]
    for name, expected in (("Third", "Third"), ("Beds", "a")):
        assert [row["id"] for row in await rows(client, content, sheet=name)] == [expected]
    fault = await refused(client, content, sheet="third")
    assert (fault["status"], fault["code"], fault["parameter"]) == (422, "unknown_sheet", "sheet")
    assert fault["allowed"] == ["Beds", "Second", "Third"]


@pytest.mark.anyio
async def test_table_may_begin_anywhere_and_cells_keep_their_names(
    client: httpx.AsyncClient,
) -> None:
    shifted = [[], [None, None, *HEADINGS], [], [None, None, *ROW[:5], "x"]]
    (row,) = await rows(client, book(shifted))
    assert (row["problems"][0]["row"], row["problems"][0]["cell"]) == (4, "H4")


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("given", "code", "cell"),
    [
        ([["id", None, "volume_l"]], "missing", "B1"),
        ([["id", "id", "volume_l"]], "repeated_column", "B1"),
        ([], "missing", None),
        ([["bench", "note"]], "unknown_column", None),
    ],
)
async def test_headings_at_fault_are_named_by_their_cell(
    client: httpx.AsyncClient, given: list[list[Any]], code: str, cell: str | None
) -> None:
    fault = await refused(client, book(given))
    assert (fault["status"], fault["code"], fault.get("cell")) == (422, code, cell)


@pytest.mark.anyio
async def test_cell_under_no_heading_rejects_its_row(client: httpx.AsyncClient) -> None:
    good, stray = await rows(client, book([HEADINGS, ROW, [*ROW, None, "look"]]))
    assert good["status"] == "ok"
    assert (stray["status"], stray["problems"][0]["cell"]) == ("rejected", "H3")
