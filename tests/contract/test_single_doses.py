"""A single dose over HTTP: bounds, published ranges, what is due today."""

import httpx
import pytest

pytestmark = pytest.mark.anyio

DOSE = {
    "plants": {"profile": "moth_orchid", "size": "large", "growth": "active"},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "volume_l": 10,
}
SHELF = [
    {"product": "feed_15_5_15_ca_mg", "strength": {"basis": "product", "g_per_l": 0.5}},
    {"product": "calcium_nitrate_tetrahydrate", "strength": {"basis": "product", "g_per_l": 0.3}},
]


async def test_missing_analysis_gives_bounds_and_their_reasons(client: httpx.AsyncClient) -> None:
    body = {
        **DOSE,
        "product": "potassium_nitrate",
        "water": {"ph": 7.6, "alkalinity_mg_per_l_caco3": 90},
        "target_ph": 6.2,
        "acid": {"kind": "nitric", "percent": 38},
    }
    answer = (await client.post("/v1/doses", json=body)).json()
    bounds = answer["range"]
    assert bounds["acid_volume_low_ml"] < answer["acid_volume_ml"] < bounds["acid_volume_high_ml"]
    assert bounds["reasons"]


async def test_a_dose_says_where_it_lies_in_what_is_published(client: httpx.AsyncClient) -> None:
    body = {**DOSE, "product": "feed_15_5_15_ca_mg", "water": "rain"}
    answer = (await client.post("/v1/doses", json=body)).json()
    by_name = {each["quantity"]: each for each in answer["published_ranges"]}
    assert by_name["nitrogen_mg_per_l"]["value"] == float(f"{answer['nitrogen_mg_per_l']:.3g}")
    assert 0 < by_name["nitrate_share"]["value"] < 1
    assert by_name["ec_ms_per_cm"]["value"] == answer["predicted_ec_ms_per_cm"]


async def test_what_was_given_last_decides_an_open_application(client: httpx.AsyncClient) -> None:
    body = {
        **DOSE,
        "application": "auto",
        "products": SHELF,
        "water": "soft_tap",
        "today": "2027-05-28",
        "hemisphere": "north",
        "last_applied": {"feed": "2027-05-21", "supplement": "2027-04-20", "flush": "2027-05-15"},
    }
    answer = (await client.post("/v1/doses", json=body)).json()
    assert answer["due"]["application"] == "supplement"
    assert [each["product"] for each in answer["additions"]] == ["calcium_nitrate_tetrahydrate"]
    assert answer["inputs"]["application"] == "supplement"
    soon = {**body, "last_applied": {"feed": "2027-05-27", "flush": "2027-05-15"}}
    answer = (await client.post("/v1/doses", json=soon)).json()
    assert answer["due"]["application"] == "water"
    assert answer["additions"] == []


async def test_a_record_without_its_day_is_refused(client: httpx.AsyncClient) -> None:
    body = {**DOSE, "product": "potassium_nitrate", "last_applied": {"feed": "2027-05-21"}}
    answer = await client.post("/v1/doses", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/today"


async def test_the_twin_takes_the_record_as_a_query(client: httpx.AsyncClient) -> None:
    query = {
        "product": "feed_15_5_15_ca_mg",
        "volume_l": "10",
        "water": "rain",
        "application": "auto",
        "today": "2027-05-28",
        "last_applied.feed": "2027-05-27",
        "last_applied.flush": "2027-05-15",
    }
    answer = (await client.get("/v1/doses", params=query)).json()
    assert answer["due"]["application"] == "water"


async def test_acid_that_brings_too_much_phosphorus_is_not_poured(
    client: httpx.AsyncClient,
) -> None:
    body = {
        **DOSE,
        "product": "potassium_nitrate",
        "water": "moderate_tap",
        "strength": {"basis": "product", "g_per_l": 0.05},
        "target_ph": 6.0,
        "acid": {"kind": "phosphoric", "percent": 85},
    }
    answer = (await client.post("/v1/doses", json=body)).json()
    assert answer["status"] == "infeasible"
    assert answer["binding_limit"] == "acid_phosphorus"
    assert answer["acid_volume_ml"] is None
    assert answer["additions"] == []
    (conflict,) = answer["conflicts"]
    assert conflict["needed"] > conflict["allowed"] == 30
    assert answer["nearest"]["acid"]["kind"] in ("citric", "nitric", "sulfuric")
    again = {**body, "acid": answer["nearest"]["acid"]}
    assert (await client.post("/v1/doses", json=again)).json()["status"] == "ok"
