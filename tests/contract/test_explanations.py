"""The working of every calculation: what it is, and that it ends in the plain answer."""

import csv
import io
import re
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from service.reference.sources import sources
from tests.contract.probe import probe_app
from tests.explanations import CALCULATIONS
from tests.following import faults_of, fields_of, numbers_of

pytestmark = pytest.mark.anyio

NOT_EXPLAINED = (
    # Places, counts and choices, in which nothing is computed.
    r".*\.order$|.*_count$|.*\.shelf_place$|.*meter_scale$|weeks\.\d+\.week$",
    r"what_keeps_it_under\.\d+\.(every_weeks|feed_number|weaker_percent)$",
    r"flush\.within_days$",
    # Ranges as published, each with the number that is explained.
    r"published_ranges\..*",
    # Bounds: the same working for other readings of water and label; ask with those.
    r"range\..*",
    # Another acid, a strong feed that is flushed out: plans of their own, to be asked for.
    r"alternative\..*|dry_air_alternative\..*",
)
"""Numbers of answers that no line explains."""

EXAMPLES = [(name, example) for name in CALCULATIONS for example in ("metric", "us", "caution")]
DOSE = {
    "product": "feed_15_5_15_ca_mg",
    "strength": {"basis": "element", "element": "nitrogen", "mg_per_l": 100},
    "volume_l": 10,
    "water": "hard_tap",
    "target_ph": 6.0,
    "acid": {"kind": "nitric", "percent": 38},
}


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return probe_app().openapi()


def example_of(document: dict[str, Any], name: str, example: str) -> dict[str, Any]:
    body = document["paths"][f"/v1/{name}/explain"]["post"]["requestBody"]
    return dict(body["content"]["application/json"]["examples"][example]["value"])


def test_every_calculation_has_a_working_and_takes_the_same_body(document: dict[str, Any]) -> None:
    paths = document["paths"]
    named = {path.split("/")[2] for path in paths if path.endswith("/explain")}
    assert named == set(CALCULATIONS)
    computing = {
        path.split("/")[2] for path, item in paths.items()
        if "post" in item and path.startswith("/v1/") and path.count("/") == 2
    }  # fmt: skip
    assert computing == named
    for name in named:
        plain, working = paths[f"/v1/{name}"], paths[f"/v1/{name}/explain"]
        assert plain["post"]["requestBody"] == working["post"]["requestBody"]
        assert ("get" in plain) == ("get" in working)


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
async def test_example_can_be_followed_and_ends_in_the_plain_answer(
    client: httpx.AsyncClient, document: dict[str, Any], name: str, example: str
) -> None:
    body = example_of(document, name, example)
    plain = (await client.post(f"/v1/{name}", json=body)).json()
    answer = await client.post(f"/v1/{name}/explain", json=body)
    assert answer.status_code == 200
    working = answer.json()
    assert faults_of(working) == []
    numbers = dict(numbers_of(plain))
    fields = fields_of(working)
    assert {field: numbers.get(field) for field in fields} == fields
    unexplained = [
        number
        for number in numbers
        if number not in fields
        and not any(re.fullmatch(pattern, number) for pattern in NOT_EXPLAINED)
    ]
    assert unexplained == []
    for around in (
        "status",
        "conflicts",
        "nearest",
        "inputs",
        "assumptions",
        "cautions",
        "sources",
    ):
        assert working[around] == plain[around]


@pytest.mark.parametrize("name", CALCULATIONS)
async def test_every_source_of_a_line_is_known(
    client: httpx.AsyncClient, document: dict[str, Any], name: str
) -> None:
    answer = await client.post(f"/v1/{name}/explain", json=example_of(document, name, "metric"))
    named = {step["source"] for step in answer.json()["steps"]} - {None}
    assert named <= set(sources())
    assert named


async def test_a_can_that_cannot_be_mixed_says_so_and_names_no_amount(
    client: httpx.AsyncClient,
) -> None:
    body = {"product": "feed_20_20_20", "volume_l": 5, "water": "hard_tap"}
    body["plants"] = {"profile": "disa"}  # type: ignore[assignment]
    working = (await client.post("/v1/doses/explain", json=body)).json()
    assert working["status"] == "infeasible"
    assert working["conflicts"]
    fields = fields_of(working)
    assert "feasible_water_share_percent" in fields
    assert not [field for field in fields if field.startswith(("product_", "additions", "acid"))]


async def test_what_the_calculation_refuses_its_working_refuses_alike(
    client: httpx.AsyncClient,
) -> None:
    body = {**DOSE, "target_ph": 4.0}
    plain = await client.post("/v1/doses", json=body)
    working = await client.post("/v1/doses/explain", json=body)
    assert plain.status_code == working.status_code == 422
    assert plain.json()["errors"] == working.json()["errors"]


async def test_working_as_text_has_numbers_in_the_place_of_names(
    client: httpx.AsyncClient,
) -> None:
    answer = await client.post("/v1/doses/explain.txt", json=DOSE)
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert "bottle_mass_g = " in answer.text
    assert "molar_mass / 1000 / (acid_percent / 100)" in answer.text
    assert "* 63.012 / 1000 / (38 / 100)" in answer.text


async def test_working_as_a_page_links_its_sources_and_escapes_names(
    client: httpx.AsyncClient,
) -> None:
    product = {
        "name": "<script>alert(1)</script>",
        "form": "solid",
        "label": {"basis": "mass", "nitrate_n_percent": 10, "k2o_percent": 30},
    }
    body = {**DOSE, "product": product}
    answer = await client.post("/v1/doses/explain.html", json=body)
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert '<a class="soft" href="/v1/sources/wagner-pruss-2002">' in answer.text
    assert "<script" not in answer.text


async def test_working_as_a_table_has_a_row_for_each_line(client: httpx.AsyncClient) -> None:
    whole = (await client.post("/v1/doses/explain", json=DOSE)).json()
    answer = await client.post("/v1/doses/explain.csv", json=DOSE)
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [int(row["order"]) for row in rows] == list(range(1, len(whole["steps"]) + 1))
    assert float(rows[-1]["value"]) == whole["steps"][-1]["value"]


async def test_get_gives_the_working_of_the_post(client: httpx.AsyncClient) -> None:
    query = {
        "product": "feed_15_5_15_ca_mg",
        "strength.basis": "element",
        "strength.element": "nitrogen",
        "strength.mg_per_l": "100",
        "volume_l": "10",
        "water": "hard_tap",
        "target_ph": "6",
        "acid.kind": "nitric",
        "acid.percent": "38",
    }
    answer = await client.get("/v1/doses/explain", params=query)
    posted = await client.post("/v1/doses/explain", json=DOSE)
    assert answer.json()["steps"] == posted.json()["steps"]


async def test_other_formats_of_a_working_are_refused(
    app: FastAPI, client: httpx.AsyncClient
) -> None:
    answer = await client.post("/v1/doses/explain.svg", json=DOSE)
    assert answer.status_code == 406


async def test_mixing_card_links_its_working(client: httpx.AsyncClient) -> None:
    card = await client.get(
        "/v1/doses.html",
        params={"product": "feed_15_5_15_ca_mg", "volume_l": "10", "water": "rain", "units": "us"},
    )
    (address,) = re.findall(r'href="(/v1/doses/explain[^"]*)"', card.text)
    page = await client.get(address.replace("&amp;", "&"))
    assert page.status_code == 200
    assert "product_mass_g" in page.text.replace("<wbr>", "")
