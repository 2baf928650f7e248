"""The limits of spreadsheets that cannot run here: what their formulas and queries really send."""

import csv
import io
import re
from pathlib import Path
from urllib.parse import quote

import httpx
import pytest

pytestmark = pytest.mark.anyio

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "examples/spreadsheet"
ROUND = ROOT / "examples/glasshouse_round.csv"
ADDRESS = "http://velamen.test"
# Excel's WEBSERVICE takes no longer address and no longer answer.
ADDRESS_LETTERS = 2048
ANSWER_LETTERS = 32_767

CELLS = {"B4": "feed_15_5_15_ca_mg", "C4": "soft_tap", "D4": "12,5", "E4": "62", "F4": "22,5"}
STRONG = {**CELLS, "C4": "softened_tap"}


def formulas() -> list[str]:
    lines = (FOLDER / "excel_formulas.txt").read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.startswith("=")]


def address_of(formula: str, cells: dict[str, str]) -> str:
    """Return what a formula of the folder asks for, its cells filled in, as Excel would."""
    asked = re.search(r"WEBSERVICE\((.*?)\),\"", formula)
    assert asked
    built = ""
    for part in re.findall(r'SUBSTITUTE\(\w+,",","\."\)|ENCODEURL\(\w+\)|\$B\$1|"[^"]*"', asked[1]):
        if part.startswith("SUBSTITUTE"):
            built += cells[part[11:13]].replace(",", ".")
        elif part.startswith("ENCODEURL"):
            built += quote(cells[part[10:12]], safe="")
        else:
            built += ADDRESS if part == "$B$1" else part.strip('"')
    return built


@pytest.mark.parametrize("formula", formulas())
async def test_formula_gets_one_short_plain_value_without_any_header(
    client: httpx.AsyncClient, formula: str
) -> None:
    address = address_of(formula, CELLS)
    assert len(address) < 500, "room for twice the parameters, and more"
    client.headers.clear()
    answer = await client.get(address)
    assert answer.status_code == 200, answer.text
    assert len(answer.text) <= ANSWER_LETTERS
    if ".txt" in address:
        assert re.fullmatch(r"\d+(\.\d+)?", answer.text), "a number with a point, nothing around it"
        assert float(answer.text) > 0
    else:
        assert answer.text.count("<status>ok</status>") == 1


async def test_formula_for_grams_meets_an_error_and_no_number_when_nothing_may_be_mixed(
    client: httpx.AsyncClient,
) -> None:
    grams, _, status = (address_of(formula, STRONG) for formula in formulas())
    refused = await client.get(grams)
    assert refused.status_code == 422
    assert "<status>infeasible</status>" in (await client.get(status)).text


async def test_every_row_of_the_round_fits_an_address_and_is_answered(
    client: httpx.AsyncClient,
) -> None:
    rows = list(csv.DictReader(ROUND.read_text(encoding="utf-8").splitlines()))
    for row in rows:
        asked = {name: cell for name, cell in row.items() if cell and name not in ("bench", "note")}
        answer = await client.get(f"{ADDRESS}/v1/doses", params=asked)
        assert len(str(answer.request.url)) < ADDRESS_LETTERS
        assert answer.status_code == 200, answer.text
        assert answer.json()["id"] == row["id"]


async def test_whole_answer_as_xml_fits_a_cell(client: httpx.AsyncClient) -> None:
    query = {
        "product": CELLS["B4"],
        "water": "moderate_tap",
        "volume_l": "10",
        "target_ph": "5.8",
        "acid.kind": "nitric",
        "acid.percent": "38",
    }
    answer = await client.get("/v1/doses.xml", params=query)
    assert answer.status_code == 200
    assert len(answer.text) <= ANSWER_LETTERS


async def test_power_query_posts_its_table_and_reads_numbers_in_english(
    client: httpx.AsyncClient,
) -> None:
    text = (FOLDER / "doses.pq").read_text(encoding="utf-8")
    path = re.search(r'RelativePath = "([^"]*)"', text)
    headers = dict(re.findall(r'#"([\w-]+)" = "([^"]*)"', text))
    typed = re.findall(r'\{"(\w+)", type number\}', text)
    assert path
    assert headers
    assert typed
    assert '"en-US"' in text
    # All cells in quotes, line feeds alone, no mark at the start: as the query writes them.
    table = io.StringIO()
    lines = csv.reader(ROUND.read_text(encoding="utf-8").splitlines())
    csv.writer(table, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(lines)
    answer = await client.post(
        f"/{path[1]}", content=table.getvalue().rstrip("\n").encode(), headers=headers
    )
    assert answer.status_code == 200
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert len(rows) == len(ROUND.read_text(encoding="utf-8").splitlines()) - 1
    for name in typed:
        assert all(re.fullmatch(r"-?\d+(\.\d+)?|", row[name]) for row in rows)
        assert any(row[name] for row in rows)


@pytest.mark.parametrize("path", ["/v1/doses/", "/v1/doses/batch/"])
async def test_no_address_redirects_since_a_redirected_post_loses_its_body(
    client: httpx.AsyncClient, path: str
) -> None:
    answer = await client.post(path, json={})
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
