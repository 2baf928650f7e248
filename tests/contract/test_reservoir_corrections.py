"""Reservoir corrections over HTTP: one answer for one request, pumps at rest, and refusals."""

import copy
from typing import Any

import httpx
import pytest

from service.api.schemas.reservoir_answers import RESERVOIR_EXAMPLES

ADDRESS = "/v1/reservoir-corrections"
ASKED = RESERVOIR_EXAMPLES["metric"][1]


def changed(path: str, value: object) -> dict[str, Any]:
    """Return the request with one field set, or left out where the value is None."""
    body = copy.deepcopy(ASKED)
    *parents, last = path.split(".")
    here: Any = body
    for each in parents:
        here = here[int(each)] if each.isdigit() else here[each]
    if value is None:
        del here[last]
    else:
        here[last] = value
    return body


@pytest.mark.anyio
async def test_the_same_request_gets_the_same_answer(client: httpx.AsyncClient) -> None:
    first = await client.post(ADDRESS, json=ASKED)
    again = await client.post(ADDRESS, json=ASKED)
    assert first.status_code == 200, first.text
    assert first.json() == again.json()
    answer = first.json()
    assert answer["correction"] == "feed"
    assert answer["stock_a_ml"] == answer["stock_b_ml"] > 0.0
    assert answer["acid_volume_ml"] == answer["water_l"] == 0.0
    assert set(answer["pump_seconds"]) == {"stock_a", "stock_b", "acid"}


@pytest.mark.anyio
async def test_a_poll_after_the_dose_runs_no_pump(client: httpx.AsyncClient) -> None:
    given = (await client.post(ADDRESS, json=ASKED)).json()
    dose = {name: given[name] for name in ("stock_a_ml", "stock_b_ml")}
    record = {
        **dose,
        "minutes_since": 0.5,
        "earlier_ec_ms_per_cm": given["ec_ms_per_cm"],
        **{f"today_{name}": amount for name, amount in dose.items()},
    }
    answer = (await client.post(ADDRESS, json=changed("last_dose", record))).json()
    assert answer["correction"] == "wait"
    assert answer["not_before_minutes"] == answer["remeasure_after_minutes"] == 14.5
    assert set(answer["pump_seconds"].values()) == {0.0}


@pytest.mark.anyio
@pytest.mark.parametrize("name", sorted(RESERVOIR_EXAMPLES))
async def test_examples_are_answered_with_sources_and_words(
    client: httpx.AsyncClient, name: str
) -> None:
    answer = (await client.post(ADDRESS, json=RESERVOIR_EXAMPLES[name][1])).json()
    assert answer["status"] == "ok"
    assert answer["steps"]
    assert answer["reasons"]
    for key in (*answer["models"], *answer["sources"]):
        assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key
    for note in (*answer["cautions"], *answer["assumptions"]):
        assert "{" not in note["message"]
        assert "nan" not in note["message"].lower().split()


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("path", "value", "pointer", "code"),
    [
        ("reading.ec_ms_per_cm", "unavailable", "#/reading/ec_ms_per_cm", "value_unavailable"),
        ("reading.ec_ms_per_cm", "unknown", "#/reading/ec_ms_per_cm", "value_unavailable"),
        ("reading.ph", "unavailable", "#/reading/ph", "value_unavailable"),
        ("reading.ph", "", "#/reading/ph", "value_unavailable"),
        (
            "reading.temperature_celsius",
            "none",
            "#/reading/temperature_celsius",
            "value_unavailable",
        ),
        ("reading.level_percent", "Unknown", "#/reading/level_percent", "value_unavailable"),
        ("reading.ph", "6,6", "#/reading/ph", "decimal_comma"),
        ("reading.ph", True, "#/reading/ph", "boolean"),
        ("reading.ec_ms_per_cm", "NaN", "#/reading/ec_ms_per_cm", "not_finite"),
        ("reading.ec_ms_per_cm", -0.1, "#/reading/ec_ms_per_cm", "out_of_range"),
        ("reading.ec_ms_per_cm", None, "#/reading/ec_ms_per_cm", "missing"),
        ("reading.ppm", 300, "#/reading/ppm", "contradiction"),
        ("reading.ph", 1.0, "#/reading/ph", "ph_cannot_be_true"),
        (
            "reading.temperature_celsius",
            85,
            "#/reading/temperature_celsius",
            "temperature_of_a_fault",
        ),
        (
            "reading.temperature_celsius",
            0,
            "#/reading/temperature_celsius",
            "temperature_of_a_fault",
        ),
        ("reading.level_percent", 101, "#/reading/level_percent", "level_cannot_be_true"),
        ("reading.age_minutes", 16, "#/reading/age_minutes", "reading_too_old"),
        ("reading.ec_ms_per_cm", 0.05, "#/reading", "reading_below_water"),
        ("target.ph", 4.9, "#/target/ph", "acid_target_too_low"),
        ("target.alkalinity_mg_per_l_caco3", 40, "#/target/ph", "contradiction"),
        ("water", {"ph": 7}, "#/water/alkalinity_mg_per_l_caco3", "acid_alkalinity_unknown"),
        ("last_dose", None, "#/last_dose", "last_dose_needed"),
        ("last_dose", {}, "#/last_dose/none", "missing"),
        ("last_dose", {"none": False}, "#/last_dose/none", "not_allowed"),
        ("last_dose", {"none": True, "water_l": 1}, "#/last_dose/water_l", "contradiction"),
        ("pump.interval_minutes", 5, "#/pump/interval_minutes", "out_of_range"),
        ("pump.acid.largest_seconds", None, "#/pump/acid/largest_seconds", "missing"),
        ("pump.acid.ml_per_second", 0, "#/pump/acid/ml_per_second", "out_of_range"),
        ("stocks.0", {}, "#/stocks/0/products", "missing"),
        ("stocks.0", {"ec_rise_ms_per_cm": 0.1}, "#/stocks", "contradiction"),
        (
            "stocks.1.products.0.product",
            "potassium_nitrat",
            "#/stocks/1/products/0/product",
            "unknown_key",
        ),
        ("stocks.0.name", "a", "#/stocks/0/name", "unknown_field"),
        ("level", 3, "#/level", "unknown_field"),
    ],
)
async def test_wrong_requests_are_refused_at_their_place(
    client: httpx.AsyncClient, path: str, value: object, pointer: str, code: str
) -> None:
    if path == "stocks.0":
        body = copy.deepcopy(ASKED)
        body["stocks"][0] = value
    else:
        body = changed(path, value)
    response = await client.post(ADDRESS, json=body)
    assert response.status_code == 422, response.text
    assert (pointer, code) in [
        (each.get("pointer"), each["code"]) for each in response.json()["errors"]
    ]
    assert (await client.get(f"/problems/{code}")).status_code == 200


@pytest.mark.anyio
async def test_a_stuck_probe_is_refused_with_what_to_check(client: httpx.AsyncClient) -> None:
    record = {
        "minutes_since": 20,
        "stock_a_ml": 400,
        "stock_b_ml": 400,
        "earlier_ec_ms_per_cm": 0.58,
    }
    response = await client.post(ADDRESS, json=changed("last_dose", record))
    (error,) = response.json()["errors"]
    assert error["code"] == "reading_contradicts_dose"
    assert "Check" in error["detail"]
    problem = await client.get("/problems/last_dose_needed")
    assert "{{" not in problem.text


@pytest.mark.anyio
async def test_numbers_may_come_as_texts(client: httpx.AsyncClient) -> None:
    texts = copy.deepcopy(ASKED)
    texts["reading"] = {name: str(value).lower() for name, value in ASKED["reading"].items()}
    texts["last_dose"] = {"none": "true"}
    plain = (await client.post(ADDRESS, json=ASKED)).json()
    assert (await client.post(ADDRESS, json=texts)).json() == plain


@pytest.mark.anyio
async def test_there_is_no_get_because_stocks_are_a_list(client: httpx.AsyncClient) -> None:
    response = await client.get(ADDRESS)
    assert response.status_code == 405
    assert "POST" in response.headers["allow"]
