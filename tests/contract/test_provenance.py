"""Every key that an answer rests on leads to its source."""

import httpx
import pytest

DOSE = {
    "plants": {"profile": "moth_orchid", "size": "large", "count": 3},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "product": "feed_15_5_15_ca_mg",
    "water": "moderate_tap",
    "volume_l": 5,
    "target_ph": 6.2,
    "acid": {"kind": "phosphoric", "percent": 85},
}


@pytest.mark.anyio
async def test_keys_of_a_dose_resolve(client: httpx.AsyncClient) -> None:
    answer = (await client.post("/v1/doses", json=DOSE)).json()
    keys = [*answer["models"], *answer["sources"]]
    assert keys
    for key in keys:
        found = await client.get(f"/v1/sources/{key}")
        assert found.status_code == 200, key
        assert found.json()["citation"]


@pytest.mark.anyio
async def test_answers_name_both_releases(client: httpx.AsyncClient) -> None:
    response = await client.post("/v1/doses", json=DOSE)
    version = response.json()["version"]
    assert response.headers["X-Service-Version"] == version["service"]
    assert response.headers["X-Data-Version"] == version["data"]
