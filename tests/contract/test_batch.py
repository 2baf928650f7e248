"""Batches: rows in order, ids kept, one bad row never sinks the rest."""

import csv
import io

import httpx
import pytest

PATH = "/v1/doses/batch"
DEFAULTS = {
    "plants": {"size": "large"},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "product": "feed_13_3_15_ca_mg",
    "water": "rain",
}
TABLE = {"Content-Type": "text/csv"}


async def answered(client: httpx.AsyncClient, rows: list[object], **more: object) -> dict:
    response = await client.post(PATH, json={"defaults": DEFAULTS, "rows": rows, **more})
    assert response.status_code == 200, response.text
    return response.json()


@pytest.mark.anyio
async def test_rows_come_back_in_order_with_their_ids(client: httpx.AsyncClient) -> None:
    given = [{"id": f"row {n}", "volume_l": n + 1} for n in range(25)]
    answer = await answered(client, given)
    assert [row["id"] for row in answer["rows"]] == [row["id"] for row in given]
    assert answer["summary"] == {"total": 25, "ok": 25, "infeasible": 0, "rejected": 0}


@pytest.mark.anyio
async def test_base_named_as_a_product_is_told_where_it_goes(client: httpx.AsyncClient) -> None:
    listed = (await client.get("/v1/products/potassium_hydroxide")).json()
    assert listed["kind"] == "base"
    answer = await answered(client, [{"product": "potassium_hydroxide", "volume_l": 5}])
    (problem,) = answer["rows"][0]["problems"]
    assert (problem["pointer"], problem["code"]) == ("#/product", "unknown_key")
    assert "in `acid`" in problem["detail"]


@pytest.mark.anyio
async def test_no_rows_give_the_same_shape(client: httpx.AsyncClient) -> None:
    empty = await answered(client, [])
    one = await answered(client, [{"volume_l": 1}])
    assert empty.keys() == one.keys()
    assert empty["rows"] == []
    assert empty["summary"] == {"total": 0, "ok": 0, "infeasible": 0, "rejected": 0}


@pytest.mark.anyio
async def test_bad_rows_are_rejected_alone_with_their_place(client: httpx.AsyncClient) -> None:
    rows = [
        {"id": "good", "volume_l": 10},
        {"id": "comma", "volume_l": "1,5"},
        {"id": "typo", "volum_l": 5},
        {"id": "product", "product": "feed_20_20_2", "volume_l": 5},
        {"id": "cold", "air": {"humidity_percent": 60, "temperature_celsius": 5}, "volume_l": 5},
        17,
        {"id": "good too", "volume_l": 10},
    ]
    answer = await answered(client, rows)
    status = [row["status"] for row in answer["rows"]]
    assert status == ["ok", "rejected", "rejected", "rejected", "rejected", "rejected", "ok"]
    faults = [
        [(each["pointer"], each["code"]) for each in row["problems"]] for row in answer["rows"]
    ]
    assert faults[1] == [("#/volume_l", "decimal_comma")]
    assert ("#/volum_l", "unknown_field") in faults[2]
    assert faults[3] == [("#/product", "unknown_key")]
    assert faults[4] == [("#/air/temperature_celsius", "air_out_of_range")]
    assert faults[5] == [("#", "not_an_object")]
    assert answer["rows"][0] | {"id": ""} == answer["rows"][6] | {"id": ""}
    assert answer["rows"][1]["product_mass_g"] is None


@pytest.mark.anyio
async def test_row_in_a_batch_equals_the_single_answer(client: httpx.AsyncClient) -> None:
    asked = DEFAULTS | {"id": "a", "volume_l": 7.5}
    single = (await client.post("/v1/doses", json=asked)).json()
    row = (await answered(client, [{"id": "a", "volume_l": 7.5}]))["rows"][0]
    for name in ("product_mass_g", "predicted_ph", "predicted_ec_ms_per_cm", "binding_limit"):
        assert row[name] == single[name]
    assert row["cautions"] == [each["code"] for each in single["cautions"]]


@pytest.mark.anyio
async def test_defaults_merge_by_object_and_rows_win(client: httpx.AsyncClient) -> None:
    rows = [{"volume_l": 10}, {"volume_l": 10, "plants": {"growth": "resting"}}]
    strong, weak = (await answered(client, rows))["rows"]
    assert weak["predicted_ec_ms_per_cm"] < 0.5 * strong["predicted_ec_ms_per_cm"]
    rows = [{"volume_l": 10, "water": {"ph": 7, "alkalinity_mg_per_l_caco3": 50}}]
    assert (await answered(client, rows))["rows"][0]["status"] == "ok"


@pytest.mark.anyio
async def test_every_caution_code_of_a_row_has_its_text_once(client: httpx.AsyncClient) -> None:
    answer = await answered(client, [{"volume_l": 10}, {"volume_l": 10, "water": "hard_tap"}])
    used = {code for row in answer["rows"] for code in row["cautions"]}
    texts = [each["code"] for each in answer["cautions"]]
    assert used == set(texts)
    assert len(texts) == len(set(texts))
    assert not any("{" in each["message"] for each in answer["cautions"] + answer["assumptions"])


@pytest.mark.anyio
async def test_table_keeps_the_callers_columns_and_order(client: httpx.AsyncClient) -> None:
    table = (
        "bench;id;volume_l;product;water;plants.size\n"
        "north;=1+1;2 gal;feed_13_3_15_ca_mg;rain;large\n"
        "south;b;;feed_13_3_15_ca_mg;rain;large\n"
    )
    response = await client.post(PATH + "?format=csv", content=table.encode(), headers=TABLE)
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(response.text), delimiter=";"))
    assert [row["bench"] for row in rows] == ["north", "south"]
    assert rows[0]["id"] == "'=1+1"
    assert rows[0]["status"] == "ok"
    assert float(rows[0]["solution_volume_l"]) == pytest.approx(7.5708, rel=1e-4)
    assert rows[1]["status"] == "rejected"
    assert "volume_l" in rows[1]["problems"]
    assert list(rows[0])[:6] == ["bench", "id", "volume_l", "product", "water", "plants.size"]


@pytest.mark.anyio
async def test_preset_and_analysis_in_one_row_are_refused(client: httpx.AsyncClient) -> None:
    table = "id,volume_l,product,water,water.ph\na,1,feed_13_3_15_ca_mg,rain,7\n"
    response = await client.post(PATH + "?format=json", content=table.encode(), headers=TABLE)
    row = response.json()["rows"][0]
    assert row["status"] == "rejected"
    assert row["problems"]


@pytest.mark.anyio
async def test_decimal_commas_are_read_only_when_declared(client: httpx.AsyncClient) -> None:
    table = b"id;volume_l;product;water\na;1,5;feed_13_3_15_ca_mg;rain\n"
    plain = await client.post(PATH + "?format=json", content=table, headers=TABLE)
    assert plain.json()["rows"][0]["problems"][0]["code"] == "decimal_comma"
    declared = await client.post(PATH + "?format=csv&decimal=comma", content=table, headers=TABLE)
    row = next(csv.DictReader(io.StringIO(declared.text), delimiter=";"))
    assert row["status"] == "ok"
    assert row["solution_volume_l"] == "1,5"


@pytest.mark.anyio
async def test_sheet_to_read_names_every_row(client: httpx.AsyncClient) -> None:
    rows = [{"id": "north bench", "volume_l": 10}, {"id": "x", "volume_l": "1,5"}]
    response = await client.post(PATH + "?format=txt", json={"defaults": DEFAULTS, "rows": rows})
    assert response.headers["content-type"].startswith("text/plain")
    assert "north bench" in response.text
    assert "NOT READ" in response.text
    assert max(map(len, response.text.splitlines())) <= 118


@pytest.mark.anyio
async def test_wrong_envelope_is_a_problem_of_the_whole_request(client: httpx.AsyncClient) -> None:
    for body, code in (
        ({"row": []}, "unknown_field"),
        ({}, "missing"),
        ({"rows": 5}, "not_a_list"),
        ({"rows": [], "defaults": {"volum_l": 3}}, "unknown_field"),
        ([], "not_an_object"),
    ):
        response = await client.post(PATH, json=body)
        assert response.status_code == 422, body
        assert code in [each["code"] for each in response.json()["errors"]], response.text
    response = await client.post(PATH + "?delimiter=pipe", json={"rows": []})
    assert response.status_code == 422
