"""Batches sent in bad faith or in haste: refused or answered, never a failure, never a flood."""

import csv
import io
import json

import httpx
import pytest
from fastapi import FastAPI
from starlette.types import Message

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


def cells(response: httpx.Response) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(response.text)))


@pytest.mark.anyio
async def test_acid_of_unknown_density_is_given_in_grams_wherever_a_row_stands(
    client: httpx.AsyncClient,
) -> None:
    row = {**GOOD, "water": "moderate_tap", "target_ph": 5.8, "volume_l": 100}
    row["acid"] = {"kind": "nitric", "percent": 90}
    body = {"rows": [row]}
    (answered,) = (await client.post(PATH, json=body)).json()["rows"]
    assert answered["acid_volume_ml"] is None
    assert answered["acid_mass_g"] > 0.5
    (line,) = cells(await client.post(f"{PATH}.csv", json=body))
    assert float(line["acid_mass_g"]) == answered["acid_mass_g"]
    sheet = (await client.post(f"{PATH}.txt", json=body)).text
    assert f"{answered['acid_mass_g']:g} g nitric acid" in sheet


@pytest.mark.anyio
async def test_sheet_shows_no_amount_as_nothing(client: httpx.AsyncClient) -> None:
    row = {**GOOD, "volume_l": 0.04, "instruments": {"balance_resolution_g": 0.0001}}
    row["strength"] = {"basis": "product", "g_per_l": 0.05}
    row["instruments"]["balance_minimum_g"] = 0.0005
    sheet = (await client.post(f"{PATH}.txt", json={"rows": [row]})).text
    assert "0.002 g Water-soluble feed" in sheet
    assert " 0.040 " in sheet


@pytest.mark.anyio
async def test_sheet_keeps_a_row_on_its_line_and_a_terminal_calm(
    client: httpx.AsyncClient,
) -> None:
    row = {**GOOD, "id": "a\n\x1b[31m9 kg"}
    sheet = (await client.post(f"{PATH}.txt", json={"rows": [row]})).text
    assert "\x1b" not in sheet
    assert "a  [31m9 kg" in sheet


@pytest.mark.anyio
async def test_numbers_of_a_table_have_the_digits_of_json(client: httpx.AsyncClient) -> None:
    body = {"rows": [{**GOOD, "id": "a"}]}
    (answered,) = (await client.post(PATH, json=body)).json()["rows"]
    (line,) = cells(await client.post(f"{PATH}.csv", json=body))
    for name in ("predicted_ph", "predicted_ec_ms_per_cm", "nitrogen_mg_per_l"):
        assert line[name] == f"{answered[name]:g}"


@pytest.mark.anyio
async def test_preset_beside_its_parts_is_called_a_contradiction(
    client: httpx.AsyncClient,
) -> None:
    table = "product,water,water.ph,volume_l\nfeed_13_3_15_ca_mg,rain,7,1\n"
    response = await client.post(PATH, content=table, headers=TABLE)
    (line,) = cells(response)
    assert line["status"] == "rejected"
    assert "as a whole and in part" in line["problems"]


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("heading", "meant"),
    [
        ("target", "target_ph"),
        ("humidity", "air.humidity_percent"),
        ("size", "plants.size"),
        ("Count", "plants.count"),
    ],
)
async def test_heading_that_names_a_field_in_part_is_not_passed_over(
    client: httpx.AsyncClient, heading: str, meant: str
) -> None:
    table = f"product,{heading},volume_l\nfeed_13_3_15_ca_mg,30,1\n"
    response = await client.post(PATH, content=table, headers=TABLE)
    assert response.status_code == 422
    assert response.json()["errors"][0]["allowed"][0] == meant


@pytest.mark.anyio
async def test_grouping_point_under_decimal_commas_is_refused_and_ids_keep_their_commas(
    client: httpx.AsyncClient,
) -> None:
    table = "id;product;volume_l\n1,5;feed_13_3_15_ca_mg;1.000\n2;feed_13_3_15_ca_mg;1,5\n"
    response = await client.post(
        PATH, params={"decimal": "comma", "format": "json"}, content=table, headers=TABLE
    )
    grouped, plain = response.json()["rows"]
    assert (grouped["id"], grouped["status"]) == ("1,5", "rejected")
    assert grouped["problems"][0]["code"] == "digit_grouping"
    assert plain["volume_l"] == 1.5


@pytest.mark.anyio
async def test_formula_behind_blanks_is_made_text(client: httpx.AsyncClient) -> None:
    table = "id,product,volume_l\n \t=1+1,feed_13_3_15_ca_mg,1\n"
    (line,) = cells(await client.post(PATH, content=table, headers=TABLE))
    assert line["id"].startswith("'")


@pytest.mark.anyio
@pytest.mark.parametrize("media_type", ["application/xml", "multipart/form-data", "text/plain"])
async def test_media_type_that_is_not_read_is_refused_as_such(
    client: httpx.AsyncClient, media_type: str
) -> None:
    response = await client.post(PATH, content=b"{}\n{}\n", headers={"Content-Type": media_type})
    assert response.status_code == 415


@pytest.mark.anyio
async def test_fault_of_a_listed_product_points_at_it(client: httpx.AsyncClient) -> None:
    strength = {"basis": "product", "g_per_l": 0.1}
    empty = {"name": "x", "form": "solid", "label": {}}
    products = [{"product": "urea", "strength": strength}, {"product": empty, "strength": strength}]
    response = await client.post("/v1/doses", json={"products": products, "volume_l": 1})
    assert response.json()["errors"][0]["pointer"] == "#/products/1/product/label"


@pytest.mark.anyio
async def test_fault_that_planning_finds_names_the_parameter_of_a_get(
    client: httpx.AsyncClient,
) -> None:
    response = await client.get("/v1/doses", params={"product": "feed_99", "volume_l": 1})
    (fault,) = response.json()["errors"]
    assert fault["parameter"] == "product"
    assert "pointer" not in fault


@pytest.mark.anyio
async def test_heading_that_names_a_group_lists_its_columns(client: httpx.AsyncClient) -> None:
    table = "product,strength,volume_l\nfeed_13_3_15_ca_mg,30,1\n"
    response = await client.post(PATH, content=table, headers=TABLE)
    assert response.status_code == 422
    allowed = response.json()["errors"][0]["allowed"]
    assert {"strength.basis", "strength.g_per_l", "strength.mg_per_l"} <= set(allowed)


def chunks(count: int) -> list[bytes]:
    return [b" " * 65_536] * count


@pytest.mark.anyio
@pytest.mark.parametrize("announced", [True, False])
async def test_body_above_the_limit_is_taken_in_before_it_is_refused(
    app: FastAPI, announced: bool
) -> None:
    """A client that still sends when the connection closes sees it broken, and no answer."""
    pieces = chunks(100)
    given = len(pieces)
    length = str(sum(map(len, pieces))).encode()
    headers = [(b"content-type", b"application/json")]
    headers += [(b"content-length", length)] if announced else [(b"transfer-encoding", b"chunked")]
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/doses",
        "raw_path": b"/v1/doses",
        "query_string": b"",
        "headers": headers,
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 2),
    }
    statuses: list[int] = []

    async def receive() -> Message:
        piece = pieces.pop()
        return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

    async def send(message: Message) -> None:
        if message["type"] == "http.response.start":
            assert not pieces, f"{len(pieces)} of {given} pieces were left unread"
            statuses.append(message["status"])

    await app(scope, receive, send)
    assert statuses == [413]
