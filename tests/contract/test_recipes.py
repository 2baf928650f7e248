"""Recipes over HTTP: shape, refusals with what was meant, infeasible as an answer, forms."""

from typing import Any

import httpx
import pytest

pytestmark = pytest.mark.anyio

BODY: dict[str, Any] = {
    "target_mg_per_l": {"nitrogen": 100, "P": "15 mg/L", "K": 100, "calcium": 60},
    "shelf": [
        "calcium_nitrate_tetrahydrate",
        {"product": "potassium_nitrate", "price": 4},
        "monopotassium_phosphate",
        {
            "name": "own",
            "form": "liquid",
            "density_kg_per_l": 1.2,
            "label": {"nitrate_n_percent": 5, "k2o_percent": 5},
        },
    ],
    "water": "rain",
    "volume_l": 10,
}


async def test_recipe_has_the_shape_of_the_contract(client: httpx.AsyncClient) -> None:
    response = await client.post("/v1/recipes", json=BODY)
    assert response.status_code == 200, response.text
    answer = response.json()
    assert answer["status"] == "ok"
    assert set(answer["deviation_percent"]) == {"nitrogen", "phosphorus", "potassium", "calcium"}
    assert answer["achieved_mg_per_l"]["nitrogen"] == pytest.approx(100, rel=0.02)
    orders = [amount["order"] for amount in answer["amounts"]]
    assert orders == list(range(1, len(orders) + 1))
    for key in answer["models"] + answer["sources"]:
        assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key


async def test_recipe_is_a_table_and_one_number_too(client: httpx.AsyncClient) -> None:
    table = await client.post("/v1/recipes.csv", json=BODY)
    assert table.text.startswith("order,product,percent,g_per_l")
    number = await client.post("/v1/recipes.txt?field=achieved_mg_per_l.nitrogen", json=BODY)
    assert float(number.text) == pytest.approx(100, rel=0.02)


async def test_recipe_that_cannot_be_is_an_answer(client: httpx.AsyncClient) -> None:
    body = {
        "target_mg_per_l": {"potassium": 120, "nitrogen": 20},
        "shelf": ["potassium_chloride", "potassium_nitrate"],
        "water": "rain",
        "limits": {"chloride_mg_per_l": 10},
        "tolerance_percent": 5,
    }
    response = await client.post("/v1/recipes", json=body)
    assert response.status_code == 200
    answer = response.json()
    assert answer["status"] == "infeasible"
    assert "limits.chloride_mg_per_l" in {each["limit"] for each in answer["conflicts"]}
    again = await client.post("/v1/recipes", json={**body, **answer["nearest"]})
    assert again.json()["status"] == "ok"


async def test_same_item_twice_counts_once(client: httpx.AsyncClient) -> None:
    body = {"target_mg_per_l": {"N": 50}, "shelf": ["potassium_nitrate", "potassium_nitrate"]}
    answer = (await client.post("/v1/recipes", json=body)).json()
    assert len(answer["amounts"]) == 1
    assert "shelf_item_repeated" in {each["code"] for each in answer["assumptions"]}


async def test_sixty_items_are_planned_and_one_more_is_refused(client: httpx.AsyncClient) -> None:
    shelf = [{"product": "potassium_nitrate", "price": price} for price in range(61)]
    body = {"target_mg_per_l": {"N": 50, "K": 100}, "water": "rain"}
    planned = await client.post("/v1/recipes", json={**body, "shelf": shelf[:60]})
    assert planned.json()["status"] == "ok"
    refused = await client.post("/v1/recipes", json={**body, "shelf": shelf})
    assert refused.json()["errors"][0]["code"] == "too_many"


@pytest.mark.parametrize(
    ("change", "pointer", "code", "phrase"),
    [
        ({"target_mg_per_l": {"nitrogn": 1}}, "#/target_mg_per_l/nitrogn", "not_allowed",
         "Did you mean `nitrogen`?"),
        ({"target_mg_per_l": {}}, "#/target_mg_per_l", "too_few", "at least 1"),
        ({"target_mg_per_l": {"N": -1}}, "#/target_mg_per_l/N", "out_of_range", "at least 0"),
        ({"target_mg_per_l": {"N": True}}, "#/target_mg_per_l/N", "boolean", "not true"),
        ({"target_mg_per_l": {"N": "1,5"}}, "#/target_mg_per_l/N", "decimal_comma", "point"),
        ({"target_mg_per_l": {"N": 1, "nitrogen": 2}}, "#/target_mg_per_l/N", "contradiction",
         "same element"),
        ({"shelf": []}, "#/shelf", "too_few", "at least 1"),
        ({"shelf": ["potassium_nitrat"]}, "#/shelf/0", "unknown_key", "`potassium_nitrate`"),
        ({"shelf": [{"product": "urea", "price": -1}]}, "#/shelf/0/price", "out_of_range", "-1"),
        ({"shelf": [{}]}, "#/shelf/0/product", "missing", "`acid`"),
        ({"shelf": [7]}, "#/shelf/0", "unknown_basis", "`label`"),
        ({"shelf": [{"product": "urea", "largest_ml_per_l": 1}]}, "#/shelf/0/largest_ml_per_l",
         "volume_of_a_solid", "mass"),
        ({"shelf": [{"acid": {"kind": "nitric"}}], "water": {"ph": 7}}, "#/shelf/0",
         "acid_alkalinity_unknown", "alkalinity"),
        ({"shelf": ["urea"], "objective": "lowest_cost"}, "#/shelf/0/price", "price_needed",
         "price of urea"),
        ({"limits": {"chloride": 3}}, "#/limits/chloride", "unknown_field", "chloride_mg_per_l"),
        ({"objective": "closest"}, "#/objective", "not_allowed", "closest_profile"),
    ],
)  # fmt: skip
async def test_wrong_request_is_refused_where_it_is_wrong(
    client: httpx.AsyncClient, change: dict[str, Any], pointer: str, code: str, phrase: str
) -> None:
    response = await client.post("/v1/recipes", json={**BODY, **change})
    assert response.status_code == 422, response.text
    fault = response.json()["errors"][0]
    assert (fault["pointer"], fault["code"]) == (pointer, code)
    assert phrase in fault["detail"]


async def test_number_that_is_none_is_refused(client: httpx.AsyncClient) -> None:
    content = '{"target_mg_per_l":{"N":NaN},"shelf":["urea"]}'
    response = await client.post(
        "/v1/recipes", content=content, headers={"Content-Type": "application/json"}
    )
    assert response.status_code in (400, 422)
    assert response.json()["errors"][0]["code"] == "not_finite"
