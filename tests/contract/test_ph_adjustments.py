"""pH adjustments over HTTP: the flat twin, what is infeasible and what is refused."""

import httpx
import pytest

ASKED = {
    "water": "moderate_tap",
    "volume_l": 10,
    "target_ph": 5.8,
    "acid": {"kind": "nitric", "percent": 38},
}
FLAT = "water=moderate_tap&volume_l=10&target_ph=5.8&acid.kind=nitric&acid.percent=38"
WRONG = {"product": "potassium_nitrat", "g_per_l": 1}
ADDRESS = "/v1/ph-adjustments"


async def refused(client: httpx.AsyncClient, **changed: object) -> tuple[str, str]:
    body = {name: value for name, value in {**ASKED, **changed}.items() if value is not None}
    response = await client.post(ADDRESS, json=body)
    assert response.status_code == 422, response.text
    (error,) = response.json()["errors"]
    return error["pointer"], error["code"]


@pytest.mark.anyio
async def test_post_and_its_flat_twin_give_one_answer(client: httpx.AsyncClient) -> None:
    posted = await client.post(ADDRESS, json=ASKED)
    got = await client.get(f"{ADDRESS}?{FLAT}")
    assert posted.status_code == got.status_code == 200
    answer = posted.json()
    assert answer == got.json()
    assert answer["status"] == "ok"
    assert answer["acid_mmol_per_l"] == pytest.approx(1.817, abs=0.002)
    assert answer["acid_volume_low_ml"] < answer["acid_volume_ml"] < answer["acid_volume_high_ml"]
    assert answer["added_mg_per_l"]["nitrogen"] == pytest.approx(25.45, abs=0.05)
    assert answer["predicted_ph_open"] > answer["predicted_ph"] == 5.8
    assert {"acid_handling", "acid_storage"} <= {each["code"] for each in answer["cautions"]}
    for key in (*answer["models"], *answer["sources"]):
        assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key


@pytest.mark.anyio
async def test_a_reservoir_can_be_said_in_a_query(client: httpx.AsyncClient) -> None:
    address = f"{ADDRESS}?water=hard_tap&volume_l=200&acid.kind=sulfuric&reservoir=true"
    answer = (await client.get(address)).json()
    assert answer["residual_alkalinity_mg_per_l_caco3"] == 40.0
    assert (await client.get(f"{ADDRESS}?{FLAT}&reservoir=perhaps")).status_code == 422


@pytest.mark.anyio
async def test_too_much_phosphorus_is_infeasible_with_an_alternative(
    client: httpx.AsyncClient,
) -> None:
    body = {**ASKED, "water": "hard_tap", "acid": {"kind": "phosphoric"}}
    answer = (await client.post(ADDRESS, json=body)).json()
    assert answer["status"] == "infeasible"
    assert answer["acid_volume_ml"] is None
    assert answer["steps"] == []
    (conflict,) = answer["conflicts"]
    assert conflict["limit"] == "acid_phosphorus_mg_per_l"
    assert conflict["needed"] > conflict["allowed"] == 30.0
    again = {**body, **answer["nearest"]}
    nearest = (await client.post(ADDRESS, json=again)).json()
    assert nearest["status"] == "ok"
    assert nearest["acid_mass_g"] == answer["alternative"]["acid_mass_g"]


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("changed", "pointer", "code"),
    [
        ({"target_ph": 4.9}, "#/target_ph", "acid_target_too_low"),
        ({"target_ph": 5.1}, "#/target_ph", "acid_neutralises_too_much"),
        (
            {"water": {"ph": 7.5}},
            "#/water/alkalinity_mg_per_l_caco3",
            "acid_alkalinity_unknown",
        ),
        ({"water": None}, "#/water", "missing"),
        ({"volume_l": None}, "#/volume_l", "missing"),
        ({"target_alkalinity_mg_per_l_caco3": 40}, "#/target_ph", "contradiction"),
        ({"additions": [{"product": "urea"}]}, "#/additions/0/g_per_l", "missing"),
        ({"additions": [{"product": "urea", "ml_per_l": 1}]}, "#/additions", "volume_of_a_solid"),
        ({"acid_goes": "first"}, "#/acid_goes", "not_allowed"),
        ({"reservoir": 1}, "#/reservoir", "not_allowed"),
        ({"acid": {"kind": "vinegar"}}, "#/acid/kind", "not_allowed"),
        ({"limits": {"phosphorus": 1}}, "#/limits/phosphorus", "unknown_field"),
    ],
)
async def test_refusals_point_at_the_field(
    client: httpx.AsyncClient, changed: dict[str, object], pointer: str, code: str
) -> None:
    assert await refused(client, **changed) == (pointer, code)


@pytest.mark.anyio
async def test_an_unknown_addition_is_named(client: httpx.AsyncClient) -> None:
    body = {**ASKED, "additions": [{"product": "urea", "g_per_l": 1}, WRONG]}
    (error,) = (await client.post(ADDRESS, json=body)).json()["errors"]
    assert error["code"] == "unknown_key"
    assert error["pointer"] == "#/additions/1/product"
    assert "potassium_nitrate" in error["detail"]
