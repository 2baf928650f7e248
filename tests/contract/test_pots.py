"""Flushes and salt outlooks over HTTP: formats, refusals, twins and codes that are explained."""

import csv
import io
import xml.etree.ElementTree as ElementTree

import httpx
import pytest

from service.api.schemas.flushes import FLUSH_EXAMPLES
from service.api.schemas.salt_outlooks import SALT_OUTLOOK_EXAMPLES
from service.planning.salt_outlook_card import WEEK_COLUMNS

OUTLOOK = SALT_OUTLOOK_EXAMPLES["metric"][1]
FLUSH = FLUSH_EXAMPLES["metric"][1]


@pytest.mark.anyio
async def test_weeks_come_as_a_table(client: httpx.AsyncClient) -> None:
    plain = (await client.post("/v1/salt-outlooks", json=OUTLOOK)).json()
    answer = await client.post("/v1/salt-outlooks.csv", json=OUTLOOK)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert list(rows[0]) == [*WEEK_COLUMNS, "limit_ec_ms_per_cm"]
    assert len(rows) == len(plain["weeks"]) == OUTLOOK["weeks"]
    assert float(rows[-1]["ec_ms_per_cm"]) == plain["weeks"][-1]["ec_ms_per_cm"]


@pytest.mark.anyio
@pytest.mark.parametrize("name", sorted(SALT_OUTLOOK_EXAMPLES))
async def test_weeks_come_as_a_chart(client: httpx.AsyncClient, name: str) -> None:
    body = SALT_OUTLOOK_EXAMPLES[name][1]
    for path, headers in (
        ("/v1/salt-outlooks.svg", {}),
        ("/v1/salt-outlooks?format=svg", {}),
        ("/v1/salt-outlooks", {"Accept": "image/svg+xml"}),
    ):
        answer = await client.post(path, json=body, headers=headers)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/svg+xml; charset=utf-8"
        assert ElementTree.fromstring(answer.text).tag == "{http://www.w3.org/2000/svg}svg"


@pytest.mark.anyio
async def test_format_that_is_not_offered_is_named(client: httpx.AsyncClient) -> None:
    answer = await client.post("/v1/salt-outlooks.xlsx", json=OUTLOOK)
    assert answer.status_code == 406
    assert "svg" in answer.text


@pytest.mark.anyio
async def test_get_of_a_flush_is_its_post(client: httpx.AsyncClient) -> None:
    asked = {
        "container.diameter_cm": "12",
        "container.medium": "bark",
        "container.plant_count": "12",
        "reading.ec_ms_per_cm": "1.7",
        "reading.temperature_celsius": "20",
        "reading.compensated": "true",
        "feed_ec_ms_per_cm": "0.8",
        "water": "rain",
        "plants.profile": "moth_orchid",
        "plants.size": "large",
    }
    twin = await client.get("/v1/flushes", params=asked)
    posted = await client.post("/v1/flushes", json=FLUSH)
    assert twin.json() == posted.json()


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"container": {"diameter_cm": 0}}, "#/container/diameter_cm", "out_of_range"),
        ({"container": {"volume_l": 0}}, "#/container/volume_l", "out_of_range"),
        ({"container": {}}, "#/container", "container_unknown"),
        ({}, "#/container", "missing"),
        (
            {"container": {"diameter_cm": 12, "volume_l": 9}},
            "#/container",
            "container_contradictory",
        ),
        (
            {"container": {"diameter_cm": 12}, "reading": {"ec_ms_per_cm": 90}},
            "#/reading/ec_ms_per_cm",
            "out_of_range",
        ),
        (
            {"container": {"diameter_cm": 12}, "reading": {"ec_ms_per_cm": 1, "ppm": 500}},
            "#/reading/ppm",
            "contradiction",
        ),
        (
            {"container": {"diameter_cm": 12}, "reading": {"kind": "drainage"}},
            "#/reading/ec_ms_per_cm",
            "missing",
        ),
        (
            {
                "container": {"diameter_cm": 12},
                "reading": {"ec_ms_per_cm": 1, "compensated": False},
            },
            "#/reading/temperature_celsius",
            "reading_temperature_out_of_range",
        ),
        ({"container": {"diameter": 12}}, "#/container/diameter", "unknown_field"),
    ],
)
async def test_wrong_flush_is_refused_at_its_place(
    client: httpx.AsyncClient, body: dict, pointer: str, code: str
) -> None:
    answer = await client.post("/v1/flushes", json=body)
    assert answer.status_code == 422
    assert (pointer, code) in [
        (each.get("pointer"), each["code"]) for each in answer.json()["errors"]
    ]
    assert (await client.get(f"/problems/{code}")).status_code == 200


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"schedule": []}, "#/schedule", "too_few"),
        ({"schedule": None}, "#/schedule", "not_a_list"),
        ({"weeks": 105}, "#/weeks", "out_of_range"),
        ({"weeks": 1.5}, "#/weeks", "not_a_whole_number"),
        ({"pot_mass_wet_g": None}, "#/pot_mass_wet_g", "missing"),
        ({"pot_mass_dry_g": 900}, "#/pot_mass_dry_g", "pot_masses_contradictory"),
        ({"schedule": [{"kind": "feed"}]}, "#/schedule", "schedule_strength_missing"),
        ({"schedule": [{"kind": "tea"}]}, "#/schedule/0/kind", "not_allowed"),
        ({"container": {"setup": "mount"}}, "#/container/setup", "mount_keeps_no_salt"),
    ],
)
async def test_wrong_outlook_is_refused_at_its_place(
    client: httpx.AsyncClient, change: dict, pointer: str, code: str
) -> None:
    answer = await client.post("/v1/salt-outlooks", json={**OUTLOOK, **change})
    assert answer.status_code == 422
    assert (pointer, code) in [
        (each.get("pointer"), each["code"]) for each in answer.json()["errors"]
    ]
    assert (await client.get(f"/problems/{code}")).status_code == 200


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("path", "body"),
    [
        *(("/v1/flushes", body) for _, body in FLUSH_EXAMPLES.values()),
        *(("/v1/salt-outlooks", body) for _, body in SALT_OUTLOOK_EXAMPLES.values()),
    ],
)
async def test_keys_resolve_and_nothing_is_a_machine_word(
    client: httpx.AsyncClient, path: str, body: dict
) -> None:
    answer = (await client.post(path, json=body)).json()
    for key in (*answer["models"], *answer["sources"]):
        assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key
    for note in (*answer["cautions"], *answer["assumptions"]):
        assert "{" not in note["message"]
        assert "nan" not in note["message"].lower().split()
    again = (await client.post(path, json={**body, "water": "rain"})).json()
    assert again["version"] == answer["version"]


@pytest.mark.anyio
async def test_infeasible_flush_names_a_request_that_is_feasible(
    client: httpx.AsyncClient,
) -> None:
    body = FLUSH_EXAMPLES["caution"][1]
    answer = (await client.post("/v1/flushes", json=body)).json()
    assert answer["status"] == "infeasible"
    assert answer["conflicts"]
    mended = (await client.post("/v1/flushes", json={**body, **answer["nearest"]})).json()
    assert mended["status"] == "ok"
    assert mended["flush_volume_l"] > 0.0
