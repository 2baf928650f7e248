"""Solubilities over HTTP."""

import httpx
import pytest

pytestmark = pytest.mark.anyio


async def test_a_salt_alone_and_beside_its_common_ion(client: httpx.AsyncClient) -> None:
    alone = {"product": "monopotassium_phosphate", "temperature_celsius": 10}
    first = (await client.post("/v1/solubilities", json=alone)).json()
    assert first["limiting_solid"] == "monopotassium_phosphate"
    assert first["evidence"] == "single_salt"
    beside = {**alone, "background": [{"product": "potassium_nitrate", "g_per_kg_water": 100}]}
    second = (await client.post("/v1/solubilities", json=beside)).json()
    assert second["solubility_g_per_kg_water"] < 0.8 * first["solubility_g_per_kg_water"]
    assert second["safe_g_per_kg_water"] < second["solubility_g_per_kg_water"]
    assert second["evidence"] == "measured"


async def test_sulfate_lets_almost_no_calcium_in(client: httpx.AsyncClient) -> None:
    body = {
        "product": "calcium_nitrate_tetrahydrate",
        "temperature_celsius": 15,
        "background": [{"product": "magnesium_sulfate_heptahydrate", "g_per_kg_water": 100}],
    }
    answer = (await client.post("/v1/solubilities", json=body)).json()
    assert answer["limiting_solid"] == "gypsum"
    assert answer["solubility_g_per_kg_water"] < 10
    assert {"code": "oxidiser"}.items() <= answer["cautions"][0].items()
    nearest = answer["saturation"][0]
    assert nearest["solid"] == "gypsum"
    assert nearest["index"] == pytest.approx(0, abs=1e-3)


async def test_the_twin_answers_for_plain_water(client: httpx.AsyncClient) -> None:
    query = {"product": "potassium_nitrate", "temperature_celsius": "68 °F"}
    answer = await client.get(
        "/v1/solubilities.txt", params={**query, "field": "solubility_g_per_kg_water"}
    )
    assert float(answer.text) == pytest.approx(319.3, rel=0.01)


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"product": "potasium_nitrate", "temperature_celsius": 10}, "#/product", "unknown_key"),
        (
            {
                "product": "urea",
                "temperature_celsius": 10,
                "background": [{"product": "uria", "g_per_kg_water": 1}],
            },
            "#/background/0/product",
            "unknown_key",
        ),
        (
            {"product": "urea", "temperature_celsius": 41},
            "#/temperature_celsius",
            "out_of_range",
        ),
        (
            {"product": "iron_edta", "temperature_celsius": 10},
            "#/product",
            "solubility_without_limit",
        ),
        (
            {"product": "urea_phosphate", "temperature_celsius": 10},
            "#/product",
            "solubility_unknown",
        ),
        ({"product": "urea"}, "#/temperature_celsius", "missing"),
    ],
)
async def test_wrong_questions_are_told_what_is_wrong(
    client: httpx.AsyncClient, body: dict[str, object], pointer: str, code: str
) -> None:
    answer = await client.post("/v1/solubilities", json=body)
    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert (fault["pointer"], fault["code"]) == (pointer, code)


async def test_a_tank_that_is_saturated_already_takes_nothing(client: httpx.AsyncClient) -> None:
    body = {
        "product": "potassium_nitrate",
        "temperature_celsius": 20,
        "background": [{"product": "potassium_nitrate", "g_per_kg_water": 500}],
    }
    answer = (await client.post("/v1/solubilities", json=body)).json()
    assert answer["solubility_g_per_kg_water"] == 0


async def test_weak_figures_come_with_a_wide_margin(client: httpx.AsyncClient) -> None:
    body = {"product": "calcium_ammonium_nitrate_decahydrate", "temperature_celsius": 20}
    answer = (await client.post("/v1/solubilities", json=body)).json()
    assert answer["margin_percent"] >= 20
    assert answer["safe_g_per_kg_water"] < 0.85 * answer["solubility_g_per_kg_water"]


async def test_the_margin_is_that_of_the_mixture_at_the_limit(client: httpx.AsyncClient) -> None:
    # A gram of sulfate in a phosphate solution is hardly a mixture; what dissolves in the end is.
    body = {
        "product": "potassium_sulfate",
        "temperature_celsius": 25,
        "background": [{"product": "monopotassium_phosphate", "g_per_kg_water": 205}],
    }
    answer = (await client.post("/v1/solubilities", json=body)).json()
    assert answer["margin_percent"] >= 5
    assert answer["evidence"] != "single_salt"


async def test_a_background_at_its_own_limit_leaves_the_product_its_own(
    client: httpx.AsyncClient,
) -> None:
    # IUPAC-NIST Solubility Data Series 66, system 66_141, 0 degC: 11.6 % potassium nitrate and
    # 13.7 % monoammonium phosphate together, more of the nitrate than dissolves alone.
    answer = await client.post(
        "/v1/solubilities",
        json={
            "product": "monoammonium_phosphate",
            "temperature_celsius": 0,
            "background": [{"product": "potassium_nitrate", "g_per_kg_water": 155.3}],
        },
    )
    result = answer.json()
    assert result["solubility_g_per_kg_water"] == pytest.approx(183.4, rel=0.12)
    assert result["solubility_g_per_kg_water"] < 1.08 * 183.4
    assert result["safe_g_per_kg_water"] < 0.5 * 183.4
    assert "background_at_its_limit" in {each["code"] for each in result["cautions"]}
