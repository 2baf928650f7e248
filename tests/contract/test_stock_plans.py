"""Stock plans over HTTP: shape, refusals, the ways to ask for a factor, formats."""

import copy
import csv
import io
from typing import Any

import httpx
import pytest

from service.api.schemas.stock_plans import STOCK_PLAN_EXAMPLES
from tests.stocking import COMPLETE

pytestmark = pytest.mark.anyio

PATH = "/v1/stock-plans"
RECIPE = [{"product": key, "g_per_l": 0.4 * amount} for key, amount in COMPLETE.items()]
BODY: dict[str, Any] = {
    "recipe": RECIPE,
    "concentration_factor": 100,
    "tank_volume_l": 10,
    "water": "rain",
    "coldest_celsius": 15,
}


async def asked(client: httpx.AsyncClient, **changes: Any) -> dict[str, Any]:
    body = {**BODY, **changes}
    answer = await client.post(PATH, json={k: v for k, v in body.items() if v is not None})
    assert answer.status_code == 200, answer.text
    result: dict[str, Any] = answer.json()
    return result


async def test_answer_has_the_names_of_the_contract(client: httpx.AsyncClient) -> None:
    result = await asked(client, daily_use_l=20)
    assert result["status"] == "ok"
    assert [tank["name"] for tank in result["tanks"]] == ["A", "B"]
    for tank in result["tanks"]:
        assert {"order", "product", "mass_g"} <= set(tank["additions"][0])
        assert {"solid", "index"} <= set(tank["saturation"][0])
        assert tank["highest_factor"] >= 100
        assert [each["order"] for each in tank["additions"]] == list(
            range(1, len(tank["additions"]) + 1)
        )
        assert tank["water_to_start_l"] < tank["water_kg"] < tank["mass_kg"]
        assert tank["label"].startswith(f"TANK {tank['name']}")
    assert result["working_solution"]["elements_mg_per_l"]["calcium"] == pytest.approx(80.4, 0.01)
    assert result["working_volume_l"] == 1000.0
    assert result["lasts_days"] == 50.0
    assert {"tanks_never_meet", "tanks_labelled_and_locked", "nitrates_and_acids_regulated"} <= {
        caution["code"] for caution in result["cautions"]
    }


async def test_masses_of_the_tanks_are_the_recipe(client: httpx.AsyncClient) -> None:
    result = await asked(client)
    weighed: dict[str, float] = {}
    for tank in result["tanks"]:
        for addition in tank["additions"]:
            weighed[addition["product"]] = (
                weighed.get(addition["product"], 0.0) + (addition["mass_g"])
            )
    for each in RECIPE:
        assert weighed[each["product"]] == pytest.approx(1000.0 * each["g_per_l"], rel=1e-3)


@pytest.mark.parametrize("ratio", [100, "100", "1:100", "1 : 100", "1 in 100", "2:200"])
async def test_ratio_may_be_written_as_injectors_show_it(
    client: httpx.AsyncClient, ratio: object
) -> None:
    result = await asked(client, concentration_factor=None, injector_ratio=ratio)
    assert result["concentration_factor"] == 100.0
    assert result["inputs"]["injector_ratio"] == 100.0
    assert result["injector"]["other_reading_strength_percent"] == pytest.approx(99.01)
    assert result["injector"]["other_reading_factor"] == 101.0


async def test_injector_that_adds_to_a_hundred_needs_a_hundred_and_one(
    client: httpx.AsyncClient,
) -> None:
    result = await asked(
        client, concentration_factor=None, injector_ratio="1:100", injector_counts="parts_to"
    )
    assert result["concentration_factor"] == 101.0
    assert result["injector"]["injector_ratio"] == 100.0
    assert "ratio_counts_to" in {caution["code"] for caution in result["cautions"]}


async def test_one_tank_for_everything_is_an_answer_that_says_how_strong(
    client: httpx.AsyncClient,
) -> None:
    result = await asked(client, tank_count=1)
    assert result["status"] == "infeasible"
    assert result["conflicts"][0]["limit"] == "tank_count"
    assert result["nearest"] == {"tank_count": 2}
    assert not result["one_tank"]["allowed"]
    assert 1.0 < result["one_tank"]["highest_factor"] < 40.0
    assert len(result["tanks"]) == 2
    assert (await asked(client, **result["nearest"]))["status"] == "ok"


async def test_factor_that_no_tanks_carry_comes_with_the_best_there_is(
    client: httpx.AsyncClient,
) -> None:
    potash = [{"product": "potassium_sulfate", "g_per_l": 0.6}]
    result = await asked(client, recipe=potash, concentration_factor=1000, coldest_celsius=2)
    assert result["status"] == "infeasible"
    assert result["limiting_solid"] is not None
    best = result["nearest"]["concentration_factor"]
    assert 1.0 < best < 1000.0
    assert result["concentration_factor"] == pytest.approx(best)
    again = await asked(client, recipe=potash, coldest_celsius=2, **result["nearest"])
    assert again["status"] == "ok"


async def test_ratio_out_of_reach_is_answered_with_a_ratio(client: httpx.AsyncClient) -> None:
    potash = [{"product": "potassium_sulfate", "g_per_l": 0.6}]
    body = {"recipe": potash, "concentration_factor": None, "injector_ratio": "1:1000"}
    for counts in ("parts_in", "parts_to"):
        result = await asked(client, **body, injector_counts=counts)
        assert result["status"] == "infeasible"
        changed = {**body, "injector_counts": counts, **result["nearest"]}
        assert (await asked(client, **changed))["status"] == "ok"


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"concentration_factor": None}, "#/concentration_factor", "missing"),
        ({"injector_ratio": 100}, "#/injector_ratio", "contradiction"),
        ({"concentration_factor": 0.5}, "#/concentration_factor", "out_of_range"),
        ({"concentration_factor": "1e999"}, "#/concentration_factor", "not_finite"),
        ({"concentration_factor": True}, "#/concentration_factor", "boolean"),
        ({"concentration_factor": "1,5"}, "#/concentration_factor", "decimal_comma"),
        (
            {"concentration_factor": None, "injector_ratio": "0:100"},
            "#/injector_ratio",
            "out_of_range",
        ),
        (
            {"concentration_factor": None, "injector_ratio": "100:1"},
            "#/injector_ratio",
            "out_of_range",
        ),
        (
            {"concentration_factor": None, "injector_ratio": "1:99999"},
            "#/injector_ratio",
            "out_of_range",
        ),
        ({"tank_volume_l": 0}, "#/tank_volume_l", "out_of_range"),
        ({"tank_count": 0}, "#/tank_count", "out_of_range"),
        ({"tank_count": 5}, "#/tank_count", "out_of_range"),
        ({"tank_count": 1.5}, "#/tank_count", "not_a_whole_number"),
        ({"coldest_celsius": -5}, "#/coldest_celsius", "out_of_range"),
        ({"warmest_celsius": 10}, "#/warmest_celsius", "warmest_below_coldest"),
        ({"injector_counts": "parts"}, "#/injector_counts", "not_allowed"),
        ({"recipe": []}, "#/recipe", "too_few"),
        ({"recipe": RECIPE * 7}, "#/recipe", "too_many"),
        ({"recipe": [*RECIPE, RECIPE[0]]}, "#/recipe", "product_twice"),
        (
            {"recipe": [{"product": "potassium_nitrate", "g_per_l": 0}]},
            "#/recipe",
            "recipe_brings_nothing",
        ),
        (
            {"recipe": [{"product": "potassium_nitrate", "g_per_l": -1}]},
            "#/recipe/0/g_per_l",
            "out_of_range",
        ),
        (
            {"recipe": [{"product": "potassium_nitrate", "ml_per_l": 1}]},
            "#/recipe/0/ml_per_l",
            "volume_of_a_solid",
        ),
        (
            {"recipe": [{"product": "potasium_nitrate", "g_per_l": 1}]},
            "#/recipe/0/product",
            "unknown_key",
        ),
        (
            {"recipe": [{"product": "potassium_nitrate", "g_per_l": 200}]},
            "#/recipe",
            "solution_too_strong",
        ),
        ({"tanks": 2}, "#/tanks", "unknown_field"),
        ({"recipe": None}, "#/recipe", "missing"),
        ({"recipe": None, "target_mg_per_l": {"calcium": 50}}, "#/shelf", "missing"),
        ({"shelf": ["potassium_nitrate"]}, "#/shelf", "contradiction"),
        ({"target_mg_per_l": {"calcium": 50}}, "#/target_mg_per_l", "contradiction"),
        (
            {"recipe": None, "target_mg_per_l": {"calcum": 5}, "shelf": ["urea"]},
            "#/target_mg_per_l/calcum",
            "not_allowed",
        ),
        (
            {"recipe": None, "target_mg_per_l": {"calcium": 5}, "shelf": ["ureaa"]},
            "#/shelf/0",
            "unknown_key",
        ),
    ],
)
async def test_wrong_request_is_refused_where_it_is_wrong(
    client: httpx.AsyncClient, changes: dict[str, Any], pointer: str, code: str
) -> None:
    body = {k: v for k, v in {**copy.deepcopy(BODY), **changes}.items() if v is not None}
    answer = await client.post(PATH, json=body)
    assert answer.status_code == 422, answer.text
    fault = answer.json()["errors"][0]
    assert (fault["pointer"], fault["code"]) == (pointer, code)


async def test_unknown_product_is_answered_with_the_one_that_was_meant(
    client: httpx.AsyncClient,
) -> None:
    body = {**BODY, "recipe": [{"product": "potasium_nitrate", "g_per_l": 1}]}
    assert "potassium_nitrate" in (await client.post(PATH, json=body)).text


@pytest.mark.parametrize("content", ['{"recipe": NaN}', "[]", "{", '{"recipe": {}}', "\x00"])
async def test_hostile_body_is_a_problem_and_no_failure(
    client: httpx.AsyncClient, content: str
) -> None:
    headers = {"Content-Type": "application/json"}
    answer = await client.post(PATH, content=content, headers=headers)
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == "application/problem+json"


async def test_label_of_a_liquid_and_an_acid_are_measured(client: httpx.AsyncClient) -> None:
    label = {"name": "bottle", "form": "liquid", "density_kg_per_l": 1.2,
             "label": {"nitrate_n_percent": 5, "k2o_percent": 10}}  # fmt: skip
    result = await asked(
        client,
        recipe=[{"product": label, "ml_per_l": 1}, RECIPE[0]],
        acid={"kind": "nitric", "percent": 38, "mmol_per_l": 0.5},
        concentration_factor=50,
    )
    assert result["status"] == "ok", result["conflicts"]
    by_product = {
        addition["product"]: addition for tank in result["tanks"] for addition in tank["additions"]
    }
    bottle = by_product["bottle"]
    assert bottle["volume_ml"] == pytest.approx(500.0)
    assert bottle["mass_g"] == pytest.approx(600.0)
    acid = by_product["nitric_38_percent"]
    assert acid["volume_ml"] == pytest.approx(33.6, rel=0.01)
    assert "acid_in_tank" in {caution["code"] for caution in result["cautions"]}


async def test_masses_follow_the_scale(client: httpx.AsyncClient) -> None:
    result = await asked(client, balance_resolution_g=5)
    for tank in result["tanks"]:
        for addition in tank["additions"]:
            assert addition["mass_g"] % 5 == pytest.approx(0.0, abs=1e-9)
    assert "weigh_traces_finer" in {caution["code"] for caution in result["cautions"]}


TARGETS = {
    "recipe": None,
    "target_mg_per_l": {"nitrate_nitrogen": 80, "P": 12, "potassium": 75, "calcium": 60},
    "shelf": [
        "calcium_nitrate_tetrahydrate",
        "potassium_nitrate",
        "monopotassium_phosphate",
        "magnesium_sulfate_heptahydrate",
    ],
}


async def test_targets_and_a_shelf_make_the_recipe_first(client: httpx.AsyncClient) -> None:
    result = await asked(client, **TARGETS)
    assert result["status"] == "ok", result["conflicts"]
    assert result["working_solution"]["elements_mg_per_l"]["calcium"] == pytest.approx(60, rel=0.1)
    assert set(result["deviation_percent"]) == {
        "nitrate_nitrogen",
        "phosphorus",
        "potassium",
        "calcium",
    }
    stated = [{"product": each["product"], "g_per_l": each["g_per_l"]} for each in result["recipe"]]
    again = await asked(client, recipe=stated)
    assert again["deviation_percent"] is None
    assert [tank["name"] for tank in again["tanks"]] == [tank["name"] for tank in result["tanks"]]


async def test_acid_of_the_shelf_goes_into_a_tank(client: httpx.AsyncClient) -> None:
    shelf = [*TARGETS["shelf"], {"acid": {"kind": "nitric", "percent": 38}}]
    limits = {"alkalinity_mg_per_l_caco3": 60}
    result = await asked(
        client, **{**TARGETS, "shelf": shelf, "limits": limits, "water": "hard_tap"}
    )
    placed = [
        addition
        for tank in result["tanks"]
        for addition in tank["additions"]
        if addition["product"] == "nitric_38_percent"
    ]
    assert len(placed) == 1
    assert placed[0]["volume_ml"] > 0.0


async def test_table_and_labels_say_what_the_answer_says(client: httpx.AsyncClient) -> None:
    result = await asked(client)
    table = await client.post(f"{PATH}.csv", json=BODY)
    rows = list(csv.DictReader(io.StringIO(table.text)))
    expected = [
        (tank["name"], addition["product"], addition["mass_g"])
        for tank in result["tanks"]
        for addition in tank["additions"]
    ]
    assert [(row["tank"], row["product"], float(row["mass_g"])) for row in rows] == expected
    page = await client.post(f"{PATH}?format=html", json=BODY)
    assert page.headers["content-type"].startswith("text/html")
    assert page.text.count('<section class="tank">') == 2
    assert "Calcium nitrate tetrahydrate" in page.text


async def test_name_of_a_label_cannot_break_the_page(client: httpx.AsyncClient) -> None:
    label = {"name": "<script>alert(1)</script>", "form": "solid",
             "label": {"nitrate_n_percent": 5, "k2o_percent": 17}}  # fmt: skip
    body = {**BODY, "recipe": [{"product": label, "g_per_l": 1}]}
    page = await client.post(f"{PATH}.html", json=body)
    assert "<script>" not in page.text
    assert "&lt;script&gt;" in page.text


async def test_every_key_of_models_and_sources_resolves(client: httpx.AsyncClient) -> None:
    for _, body in STOCK_PLAN_EXAMPLES.values():
        answer = (await client.post(PATH, json=body)).json()
        for key in answer["models"] + answer["sources"]:
            assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key


async def test_tanks_without_a_volume_are_for_ten_litres(client: httpx.AsyncClient) -> None:
    result = await asked(client, tank_volume_l=None)
    assert {tank["volume_l"] for tank in result["tanks"]} == {10.0}
    assert "tank_volume_assumed" in {each["code"] for each in result["assumptions"]}


async def test_document_asks_for_one_element_of_targets_as_the_service_does(
    client: httpx.AsyncClient,
) -> None:
    schemas = (await client.get("/openapi.json")).json()["components"]["schemas"]
    for name in ("StockPlanRequest", "RecipeRequest"):
        assert schemas[name]["properties"]["target_mg_per_l"]["minProperties"] == 1
    body = {"target_mg_per_l": {}, "shelf": ["potassium_nitrate"], "concentration_factor": 10}
    response = await client.post("/v1/stock-plans", json=body)
    assert {fault["code"] for fault in response.json()["errors"]} == {"too_few"}
