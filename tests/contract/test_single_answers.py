"""A single answer in every form: whole, in part, one number, a row, XML, other units."""

import csv
import io
from xml.etree import ElementTree

import httpx
import pytest

pytestmark = pytest.mark.anyio

QUERY = {"product": "feed_15_5_15_ca_mg", "volume_l": "10", "water": "soft_tap"}
TOO_STRONG = {**QUERY, "water": "hard_tap", "plants.profile": "disa"}


async def test_text_is_one_bare_number_and_the_same_as_in_the_json(
    client: httpx.AsyncClient,
) -> None:
    whole = (await client.get("/v1/doses", params=QUERY)).json()
    for field in ("product_mass_g", "predicted_ec_ms_per_cm", "elements_mg_per_l.nitrogen"):
        answer = await client.get("/v1/doses.txt", params={**QUERY, "field": field})
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        first, _, last = field.partition(".")
        expected = whole[first][last] if last else whole[first]
        assert answer.text == repr(expected)
        assert len(answer.content) <= 32


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ({**QUERY}, "missing"),
        ({**QUERY, "field": "product_volume_ml"}, "no_value"),
        ({**QUERY, "field": "binding_limit"}, "no_value"),
        ({**QUERY, "field": "product_mas_g"}, "unknown_field"),
        ({**TOO_STRONG, "field": "predicted_ec_ms_per_cm"}, "no_value"),
        ({**TOO_STRONG, "field": "product_mass_g"}, "no_value"),
    ],
)
async def test_text_is_an_error_and_never_a_zero_that_stands_for_nothing(
    client: httpx.AsyncClient, query: dict[str, str], code: str
) -> None:
    answer = await client.get("/v1/doses.txt", params=query)
    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert fault["code"] == code
    assert fault["parameter"] == "field"


async def test_chosen_fields_fit_into_a_kilobyte(client: httpx.AsyncClient) -> None:
    query = {**QUERY, "fields": "product_mass_g,predicted_ph"}
    answer = await client.get("/v1/doses", params=query)
    assert set(answer.json()) == {"status", "product_mass_g", "predicted_ph"}
    assert len(answer.content) < 1_000
    posted = await client.post("/v1/doses?fields=product_mass_g", json={**QUERY, "volume_l": 10})
    assert posted.json()["product_mass_g"] == answer.json()["product_mass_g"]


async def test_unknown_field_is_refused_with_the_nearest(client: httpx.AsyncClient) -> None:
    answer = await client.get("/v1/doses", params={**QUERY, "fields": "status,predicted_phh"})
    assert answer.status_code == 422
    assert "predicted_ph" in answer.json()["errors"][0]["detail"]


async def test_us_units_add_texts_and_leave_the_numbers_metric(client: httpx.AsyncClient) -> None:
    metric = (await client.get("/v1/doses", params=QUERY)).json()
    us = (await client.get("/v1/doses", params={**QUERY, "units": "us"})).json()
    assert metric["display"] == {}
    assert us["product_mass_g"] == metric["product_mass_g"]
    assert us["display"]["volume_l"] == "2.6 US gal"
    assert us["display"]["product_mass_g"].endswith(" oz")
    assert us["display"]["additions.0.mass_g"] == us["display"]["product_mass_g"]
    imperial = (await client.get("/v1/doses", params={**QUERY, "units": "imperial"})).json()
    assert imperial["display"]["volume_l"] == "2.2 imp gal"
    wrong = await client.get("/v1/doses", params={**QUERY, "units": "uk"})
    assert wrong.status_code == 422


async def test_xml_has_one_element_for_each_field(client: httpx.AsyncClient) -> None:
    whole = (await client.get("/v1/doses", params=QUERY)).json()
    answer = await client.get("/v1/doses.xml", params=QUERY)
    assert answer.headers["content-type"].startswith("application/xml")
    root = ElementTree.fromstring(answer.content)
    assert float(root.findtext("product_mass_g")) == whole["product_mass_g"]
    assert root.findtext("product_volume_ml") == ""
    assert len(root.findall("product_mass_g")) == 1
    assert [each.findtext("product") for each in root.find("additions")] == [QUERY["product"]]


async def test_a_row_has_headings_and_the_numbers_of_the_json(client: httpx.AsyncClient) -> None:
    whole = (await client.get("/v1/doses", params=QUERY)).json()
    answer = await client.get("/v1/doses.csv", params=QUERY)
    (row,) = csv.DictReader(io.StringIO(answer.text))
    assert float(row["product_mass_g"]) == whole["product_mass_g"]
    assert float(row["elements_mg_per_l.calcium"]) == whole["elements_mg_per_l"]["calcium"]
    assert row["product_volume_ml"] == ""
    assert row["status"] == "ok"


@pytest.mark.parametrize(
    ("path", "query", "field"),
    [
        ("targets", {"air.humidity_percent": "60", "air.temperature_celsius": "22"}, "meter_ppm"),
        (
            "dilutions",
            {**QUERY, "strength.basis": "product", "strength.g_per_l": "0.5"},
            "product_mass_g",
        ),
        ("solutions", {"water": "hard_tap"}, "ec_ms_per_cm"),
        ("readings", {"ec_ms_per_cm": "0.8"}, "ec_ms_per_cm"),
        (
            "ph-adjustments",
            {
                "water": "moderate_tap",
                "volume_l": "10",
                "target_ph": "6.2",
                "acid.kind": "nitric",
                "acid.percent": "38",
            },
            "acid_volume_ml",
        ),
    ],
)
async def test_every_single_answer_has_every_form(
    client: httpx.AsyncClient, path: str, query: dict[str, str], field: str
) -> None:
    whole = (await client.get(f"/v1/{path}", params=query)).json()
    text = await client.get(f"/v1/{path}.txt", params={**query, "field": field})
    assert text.text == repr(whole[field])
    assert (await client.get(f"/v1/{path}.xml", params=query)).status_code == 200
    assert (await client.get(f"/v1/{path}.csv", params=query)).status_code == 200


async def test_the_address_of_a_cell_stays_short(client: httpx.AsyncClient) -> None:
    request = client.build_request("GET", "/v1/doses.txt", params={**QUERY, "field": "volume_l"})
    assert len(str(request.url)) < 500
    head = await client.head("/v1/doses.txt", params={**QUERY, "field": "volume_l"})
    assert head.status_code == 200
    assert head.content == b""
