"""Batches sent in bad faith or in haste: refused or answered, never a failure, never a flood."""

import csv
import io
import json

import httpx
import pytest

PATH = "/v1/doses/batch"
JSON = {"Content-Type": "application/json"}
TABLE = {"Content-Type": "text/csv"}
GOOD = {"product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": 10}


@pytest.mark.anyio
async def test_an_id_that_utf_8_cannot_write_rejects_its_row_alone(
    client: httpx.AsyncClient,
) -> None:
    body = json.dumps({"rows": [{**GOOD, "id": "\ud800"}, {**GOOD, "id": "good"}]})
    response = await client.post(PATH, content=body, headers=JSON)
    assert response.status_code == 200
    assert [row["status"] for row in response.json()["rows"]] == ["rejected", "ok"]
    assert [row["id"] for row in response.json()["rows"]] == ["?", "good"]


@pytest.mark.anyio
@pytest.mark.parametrize("name", [{"a": 1}, [1], ""])
async def test_an_id_that_is_no_text_is_not_made_up(
    client: httpx.AsyncClient, name: object
) -> None:
    response = await client.post(PATH, json={"rows": [{**GOOD, "id": name}]})
    (row,) = response.json()["rows"]
    assert (row["status"], row["id"]) == ("rejected", None)


@pytest.mark.anyio
async def test_an_object_of_very_many_fields_is_refused_at_once(client: httpx.AsyncClient) -> None:
    row = {f"field_{number}": number for number in range(201)}
    response = await client.post(PATH, json={"rows": [row]})
    assert response.status_code == 400
    assert response.json()["errors"][0]["code"] == "too_many"


@pytest.mark.anyio
async def test_the_faults_of_a_row_are_listed_up_to_a_bound(client: httpx.AsyncClient) -> None:
    row = {f"field_{number}": number for number in range(150)}
    response = await client.post(PATH, json={"rows": [row, {**GOOD, "id": "good"}]})
    first, second = response.json()["rows"]
    assert (first["status"], len(first["problems"])) == ("rejected", 10)
    assert second["status"] == "ok"
