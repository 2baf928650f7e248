"""What growers get wrong, and what they are told."""

import httpx
import pytest

pytestmark = pytest.mark.anyio

CAN = {
    "plants": {"size": "large", "count": 12},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "product": "feed_15_5_15_ca_mg",
    "water": "rain",
    "volume_l": 10,
}
NITRIC = {"kind": "nitric", "percent": 38}
TABLE = {"Content-Type": "text/csv"}


async def refusal(client: httpx.AsyncClient, path: str, body: dict) -> dict:
    response = await client.post(path, json=body)
    assert response.status_code == 422, response.text
    (fault,) = response.json()["errors"]
    return fault


async def answer(client: httpx.AsyncClient, **changes: object) -> dict:
    response = await client.post("/v1/doses", json={**CAN, **changes})
    assert response.status_code == 200, response.text
    return response.json()


def codes(found: dict, kind: str = "cautions") -> set[str]:
    return {each["code"] for each in found[kind]}


@pytest.mark.parametrize("percent", ["38 % v/v", "38 % w/v", "38 % vol", "38 vol%", "38 % w/w"])
async def test_percent_of_an_acid_is_by_mass_and_says_so(
    client: httpx.AsyncClient, percent: str
) -> None:
    acid = {"kind": "nitric", "percent": percent}
    fault = await refusal(
        client, "/v1/ph-adjustments", {"water": "hard_tap", "volume_l": 5, "acid": acid}
    )
    assert fault["code"] == "unknown_unit"
    assert "by mass (w/w)" in fault["detail"]


async def test_alkalinity_and_hardness_both_in_degrees_are_questioned(
    client: httpx.AsyncClient,
) -> None:
    degrees = {"ph": 7.8, "alkalinity_mg_per_l_caco3": 6, "hardness_mg_per_l_caco3": 8}
    given = await answer(client, water={**degrees, "ec_ms_per_cm": 0.4})
    assert "alkalinity_may_be_degrees" in codes(given)
    right = {
        "ph": 7.8,
        "alkalinity_mg_per_l_caco3": "6 dKH",
        "hardness_mg_per_l_caco3": "8 dGH",
        "ec_ms_per_cm": 0.4,
    }
    assert "alkalinity_may_be_degrees" not in codes(await answer(client, water=right))


async def test_soft_water_whose_ions_explain_its_conductivity_is_not_questioned(
    client: httpx.AsyncClient,
) -> None:
    salty = {
        "ph": 7.0,
        "alkalinity_mg_per_l_caco3": 20,
        "sodium_mg_per_l": 70,
        "chloride_mg_per_l": 94,
    }
    assert "alkalinity_may_be_degrees" not in codes(await answer(client, water=salty))


async def test_missing_alkalinity_is_asked_for_with_an_example(client: httpx.AsyncClient) -> None:
    body = {**CAN, "water": {"ph": 7.8}, "target_ph": 6, "acid": NITRIC}
    fault = await refusal(client, "/v1/doses", body)
    assert fault["code"] == "acid_alkalinity_unknown"
    assert '"6 dKH"' in fault["detail"]


async def test_label_by_volume_taken_as_one_by_mass_names_both_ways_out(
    client: httpx.AsyncClient,
) -> None:
    bottle = {"name": "bottle", "form": "liquid", "label": {"nitrate_n_percent": 4}}
    fault = await refusal(client, "/v1/doses", {**CAN, "product": bottle})
    assert fault["code"] == "density_required"
    assert "`density_kg_per_l` is needed" in fault["detail"]
    assert "`basis`" in fault["detail"]


async def test_oxides_sent_as_elements_that_outweigh_the_bag_are_refused(
    client: httpx.AsyncClient,
) -> None:
    label = {"nitrate_n_percent": 5, "ammonium_n_percent": 5, "urea_n_percent": 10}
    bag = {"name": "bag", "form": "solid", "label": {**label, "p_percent": 20, "k_percent": 20}}
    fault = await refusal(client, "/v1/doses", {**CAN, "product": bag})
    assert fault["code"] == "sum_above_100_percent"
    assert "`p2o5_percent`" in fault["detail"]
    as_printed = {**label, "p2o5_percent": 20, "k2o_percent": 20}
    assert (await answer(client, product={**bag, "label": as_printed}))["status"] == "ok"


async def test_elements_on_a_label_are_said_as_oxides_too(client: httpx.AsyncClient) -> None:
    label = {"nitrate_n_percent": 10, "p_percent": 4, "k_percent": 10}
    given = await answer(client, product={"name": "bag", "form": "solid", "label": label})
    said = [each for each in given["assumptions"] if each["code"] == "label_in_elements"]
    assert ["9.17 % P2O5" in said[0]["message"], "12 % K2O" in said[1]["message"]] == [True, True]
    oxides = {"nitrate_n_percent": 10, "p2o5_percent": 4, "k2o_percent": 10}
    given = await answer(client, product={"name": "bag", "form": "solid", "label": oxides})
    assert "label_in_elements" not in codes(given, "assumptions")


@pytest.mark.parametrize(("word", "meant"), [("RO", "reverse_osmosis"), ("rainwater", "rain")])
async def test_water_by_another_name_is_suggested(
    client: httpx.AsyncClient, word: str, meant: str
) -> None:
    fault = await refusal(client, "/v1/doses", {**CAN, "water": word})
    assert f"Did you mean `{meant}`?" in fault["detail"]


async def test_tap_alone_suggests_no_hardness(client: httpx.AsyncClient) -> None:
    fault = await refusal(client, "/v1/doses", {**CAN, "water": "tap"})
    assert "Did you mean" not in fault["detail"]
    assert "soft_tap, moderate_tap, hard_tap" in fault["detail"]


async def test_strength_that_hardly_fits_is_not_called_nought(client: httpx.AsyncClient) -> None:
    strong = {"basis": "product", "g_per_l": 200}
    given = await answer(client, product="calcium_nitrate_tetrahydrate", strength=strong)
    (said,) = [each for each in given["cautions"] if each["code"] == "strength_reduced"]
    assert "at 0 %" not in said["message"]


async def test_concentrate_sent_as_a_finished_solution_is_shown_where_to_go(
    client: httpx.AsyncClient,
) -> None:
    strong = [
        {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 60},
        {"product": "monopotassium_phosphate", "g_per_l": 10},
    ]
    fault = await refusal(client, "/v1/solutions", {"water": "rain", "additions": strong})
    assert fault["code"] == "solution_too_strong"
    assert "stock plans" in fault["detail"]


async def test_two_concentrates_are_used_in_equal_amounts(client: httpx.AsyncClient) -> None:
    recipe = [
        {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 0.6},
        {"product": "monopotassium_phosphate", "g_per_l": 0.1},
    ]
    body = {"recipe": recipe, "concentration_factor": 100, "tank_volume_l": 20, "tank_count": 2}
    plan = (await client.post("/v1/stock-plans", json={**body, "water": "rain"})).json()
    last = plan["steps"][-1]
    assert "this much of tank A, then as much of tank B" in last["instruction"]
    assert (last["quantity"], last["unit"]) == (10.0, "mL")


async def test_entry_of_a_list_is_named_with_its_list(client: httpx.AsyncClient) -> None:
    body = {
        "volume_l": 60,
        "reading": {"ec_ms_per_cm": 0.6},
        "target": {"ec_ms_per_cm": 0.9},
        "stocks": ["A"],
    }
    fault = await refusal(client, "/v1/reservoir-corrections", body)
    assert fault["detail"].startswith("`stocks[0]`: ")


async def test_undeclared_decimal_comma_in_a_table_names_the_declaration_once(
    client: httpx.AsyncClient,
) -> None:
    table = b"id;volume_l;product;water\na;1,5;feed_13_3_15_ca_mg;rain\n"
    told = (await client.post("/v1/doses/batch", content=table, headers=TABLE)).text
    assert "volume_l: Write the decimal sign as a point" in told
    assert "`?decimal=comma`" in told
    declared = await client.post(
        "/v1/doses/batch?decimal=comma", content=table.replace(b"1,5", b"1,5,5"), headers=TABLE
    )
    assert "`?decimal=comma`" not in declared.text


async def test_heading_in_another_language_is_told_how_to_give_it_a_meaning(
    client: httpx.AsyncClient,
) -> None:
    table = b"id,volume_l,product,Wasser\na,1,feed_13_3_15_ca_mg,rain\n"
    response = await client.post("/v1/doses/batch", content=table, headers=TABLE)
    assert "`?columns=Wasser:water`" in response.json()["detail"]
    response = await client.post(
        "/v1/doses/batch?columns=Wasser:litres", content=table, headers=TABLE
    )
    assert "volume_l" in response.json()["errors"][0]["allowed"]


async def test_salt_that_nothing_keeps_low_points_to_no_changes(client: httpx.AsyncClient) -> None:
    body = {
        "container": {"diameter_cm": 12, "medium": "bark"},
        "water": "hard_tap",
        "schedule": [{"kind": "feed", "ec_ms_per_cm": 1.0, "every_days": 7}],
    }
    found = (await client.post("/v1/salt-outlooks", json=body)).json()
    said = {each["code"]: each["message"] for each in found["cautions"]}
    assert found["what_keeps_it_under"] == []
    assert "nothing_keeps_salt_under" in said
    assert "what_keeps_it_under" not in said["salt_over_limit"]


async def test_millilitres_sent_as_litres_are_read_as_litres_and_said(
    client: httpx.AsyncClient,
) -> None:
    assert "volume_unit_as_named" in codes(await answer(client, volume_l=5000), "assumptions")
    assert "volume_unit_as_named" not in codes(
        await answer(client, volume_l="5000 mL"), "assumptions"
    )
    litres = {name: value for name, value in CAN.items() if name != "volume_l"}
    response = await client.post("/v1/doses", json={**litres, "volume_per_plant_ml": 0.2})
    assert "volume_unit_as_named" in codes(response.json(), "assumptions")


@pytest.mark.parametrize(
    ("oxide", "said"), [("P2O5", "`phosphorus`, 0.436"), ("K2O", "`potassium`, 0.830")]
)
async def test_oxide_among_targets_is_said_as_its_element(
    client: httpx.AsyncClient, oxide: str, said: str
) -> None:
    body = {"target_mg_per_l": {oxide: 30}, "shelf": ["potassium_nitrate"], "water": "rain"}
    fault = await refusal(client, "/v1/recipes", body)
    assert (fault["code"], fault["pointer"]) == ("not_allowed", f"#/target_mg_per_l/{oxide}")
    assert said in fault["detail"]


async def test_product_by_its_name_is_shown_as_a_key(client: httpx.AsyncClient) -> None:
    fault = await refusal(client, "/v1/doses", {**CAN, "product": "Potassium nitrate"})
    assert fault["code"] == "malformed"
    assert "`potassium_nitrate`" in fault["detail"]
    fault = await refusal(client, "/v1/doses", {**CAN, "product": "13-3-15"})
    assert "so `" not in fault["detail"]
