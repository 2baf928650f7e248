"""Solutions, readings and blends over HTTP: shape, refusals, and the two ways of asking."""

import httpx
import pytest

pytestmark = pytest.mark.anyio


async def test_get_and_post_give_the_same_solution(client: httpx.AsyncClient) -> None:
    body = {
        "water": {"ph": 7.8, "alkalinity_mg_per_l_caco3": 180, "calcium_mg_per_l": 70},
        "acid": {"kind": "nitric", "percent": 38, "mmol_per_l": 1.5},
        "carbon_dioxide": "open",
    }
    query = (
        "water.ph=7.8&water.alkalinity_mg_per_l_caco3=180&water.calcium_mg_per_l=70"
        "&acid.kind=nitric&acid.percent=38&acid.mmol_per_l=1.5&carbon_dioxide=open"
    )
    posted = await client.post("/v1/solutions", json=body)
    got = await client.get(f"/v1/solutions?{query}")
    assert posted.status_code == 200, posted.text
    assert posted.json() == got.json()


async def test_get_and_post_give_the_same_reading(client: httpx.AsyncClient) -> None:
    body = {"ppm": 560, "scale": 700, "compensated": False, "temperature_celsius": 18}
    posted = await client.post("/v1/readings", json=body)
    got = await client.get(
        "/v1/readings?ppm=560&scale=700&compensated=false&temperature_celsius=18"
    )
    assert posted.status_code == 200, posted.text
    assert posted.json() == got.json()
    assert got.json()["ec_ms_per_cm"] == pytest.approx(0.8 * 1.168, abs=1e-3)


async def test_mix_of_a_label_and_a_key_comes_with_its_range(client: httpx.AsyncClient) -> None:
    label = {"nitrate_n_percent": 5, "ammonium_n_percent": 5, "k2o_percent": 30}
    body = {
        "water": "rain",
        "additions": [
            {"product": {"name": "own", "form": "solid", "label": label}, "g_per_l": 0.5},
            {"product": "potassium_nitrate", "g_per_l": "0.2 g/L"},
        ],
    }
    answer = (await client.post("/v1/solutions", json=body)).json()
    assert answer["status"] == "ok"
    assert answer["ec_low_ms_per_cm"] < answer["ec_ms_per_cm"] < answer["ec_high_ms_per_cm"]
    assert answer["inputs"]["additions"][0] == {"product": "own", "g_per_l": 0.5}


@pytest.mark.parametrize(
    ("path", "body", "pointer", "code"),
    [
        (
            "solutions",
            {"additions": [{"product": "potassium_nitrate", "g_per_l": 100}]},
            "#/additions",
            "solution_too_strong",
        ),
        (
            "solutions",
            {"additions": [{"product": "potassium_nitrate", "ml_per_l": 1}]},
            "#/additions/0/ml_per_l",
            "volume_of_a_solid",
        ),
        (
            "solutions",
            {"additions": [{"product": "potassium_nitrat", "g_per_l": 1}]},
            "#/additions/0/product",
            "unknown_key",
        ),
        (
            "solutions",
            {"additions": [{"product": "potassium_nitrate"}]},
            "#/additions/0/g_per_l",
            "missing",
        ),
        (
            "solutions",
            {"carbon_dioxide": "closed", "carbon_dioxide_ppm": 800},
            "#/carbon_dioxide_ppm",
            "contradiction",
        ),
        (
            "solutions",
            {"acid": {"kind": "citric", "percent": 100, "ml_per_l": 1}},
            "#/acid/ml_per_l",
            "acid_density_unknown",
        ),
        ("readings", {"scale": 500}, "#/ec_ms_per_cm", "missing"),
        ("readings", {"ec_ms_per_cm": 1, "ppm": 500}, "#/ppm", "contradiction"),
        ("readings", {"ec_ms_per_cm": 1, "scale": 500}, "#/scale", "contradiction"),
        ("readings", {"ec_ms_per_cm": 1, "compensated": 1}, "#/compensated", "not_a_boolean"),
        ("readings", {"ppm": 100, "scale": "600"}, "#/scale", "not_allowed"),
        ("water-blends", {"waters": ["rain"]}, "#/waters", "too_few"),
        (
            "water-blends",
            {"waters": [{"ph": 7}, "rain"], "limits": {"sodium_mg_per_l": 20}},
            "#/limits/sodium_mg_per_l",
            "blend_value_unknown",
        ),
        (
            "water-blends",
            {"waters": ["hard_tap", "rain"], "limits": {"sodium": 20}},
            "#/limits/sodium",
            "unknown_field",
        ),
    ],
)
async def test_wrong_request_is_refused_where_it_is_wrong(
    client: httpx.AsyncClient, path: str, body: dict[str, object], pointer: str, code: str
) -> None:
    answer = await client.post(f"/v1/{path}", json=body)
    assert answer.status_code == 422, answer.text
    fault = answer.json()["errors"][0]
    assert (fault["pointer"], fault["code"]) == (pointer, code)


async def test_blend_that_no_share_keeps_is_an_answer(client: httpx.AsyncClient) -> None:
    body = {
        "waters": ["hard_tap", "rain"],
        "limits": {"alkalinity_mg_per_l_caco3": 40},
        "minima": {"calcium_mg_per_l": 60},
    }
    answer = await client.post("/v1/water-blends", json=body)
    assert answer.status_code == 200
    result = answer.json()
    assert result["status"] == "infeasible"
    assert len(result["conflicts"]) == 2
    again = await client.post("/v1/water-blends", json={**body, **result["nearest"]})
    assert again.json()["status"] == "ok"


async def test_blend_can_be_sent_on_as_a_water(client: httpx.AsyncClient) -> None:
    body = {"waters": ["hard_tap", "rain"], "limits": {"ec_ms_per_cm": 0.3}}
    blend = (await client.post("/v1/water-blends", json=body)).json()
    assert blend["ec_ms_per_cm"] == pytest.approx(0.3, abs=0.001)
    mix = (await client.post("/v1/solutions", json={"water": blend["blend"]})).json()
    assert mix["status"] == "ok"
    assert mix["ec_ms_per_cm"] == pytest.approx(0.3, rel=0.01)
    assert mix["ph"] == pytest.approx(blend["ph"], abs=0.02)


async def test_every_key_of_models_and_sources_resolves(client: httpx.AsyncClient) -> None:
    asked = {
        "solutions": {"additions": [{"product": "feed_20_20_20", "g_per_l": 0.5}],
                      "acid": {"kind": "phosphoric", "mmol_per_l": 0.2}},
        "readings": {"ec_ms_per_cm": 0.8, "plants": {"profile": "cattleya"}},
        "water-blends": {"waters": ["hard_tap", "rain"]},
    }  # fmt: skip
    for path, body in asked.items():
        answer = (await client.post(f"/v1/{path}", json=body)).json()
        for key in answer["models"] + answer["sources"]:
            assert (await client.get(f"/v1/sources/{key}")).status_code == 200, key


async def test_dilution_and_its_solution_agree(client: httpx.AsyncClient) -> None:
    body = {
        "product": "feed_13_3_15_ca_mg",
        "strength": {"basis": "product", "g_per_l": 0.5},
        "water": "soft_tap",
        "volume_l": 10,
    }
    can = (await client.post("/v1/dilutions", json=body)).json()
    addition = {"product": "feed_13_3_15_ca_mg", "g_per_l": 0.5}
    mix = await client.post("/v1/solutions", json={"water": "soft_tap", "additions": [addition]})
    assert mix.json()["ec_ms_per_cm"] == pytest.approx(can["ec_ms_per_cm"], rel=0.03)
    assert mix.json()["ph"] == pytest.approx(can["predicted_ph"], abs=0.011)
