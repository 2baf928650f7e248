"""Mixes of a batch over HTTP: shape, wishes that are wrong, tables and the sheet."""

import csv
import io
from typing import Any

import httpx
import pytest

from service.api.schemas.doses_batch import DoseBatchAnswer

PATH = "/v1/doses/batch"
DEFAULTS = {
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "product": "feed_13_3_15_ca_mg",
    "water": "rain",
}
ROWS: list[Any] = [
    {"id": "north", "plants": {"size": "large"}, "volume_l": 20},
    {"id": "shelf", "plants": {"size": "mini"}, "volume_l": 8},
    {"plants": {"size": "medium"}, "volume_l": 6},
    {"id": "wrong", "volume_l": "1,5"},
    {"id": "rinse", "application": "flush", "volume_l": 30},
]


async def posted(
    client: httpx.AsyncClient, mixes: object, rows: list[Any] = ROWS, query: str = ""
) -> httpx.Response:
    body = {"defaults": DEFAULTS, "rows": rows, "mixes": mixes}
    return await client.post(PATH + query, json=body)


@pytest.mark.anyio
async def test_every_row_is_told_its_mix_and_every_mix_its_rows(client: httpx.AsyncClient) -> None:
    response = await posted(client, {"max_count": 2})
    assert response.status_code == 200, response.text
    answer = response.json()
    DoseBatchAnswer.model_validate(answer)
    numbers = [row["mix"] for row in answer["rows"]]
    assert numbers[3:] == [None, None]
    assert None not in numbers[:3]
    assert [mix["mix"] for mix in answer["mixes"]] == [1, 2]
    for mix in answer["mixes"]:
        assert mix["row_indices"] == [at for at, each in enumerate(numbers) if each == mix["mix"]]
        assert mix["row_ids"] == [ROWS[at].get("id") for at in mix["row_indices"]]
        assert mix["volume_l"] >= mix["needed_volume_l"] + mix["drawn_volume_l"]
        assert mix["explanation"]
        assert {each["solid"] for each in mix["saturation"]} == {
            "gypsum",
            "calcite",
            "brushite",
            "struvite",
        }
        for filling in mix["fillings"]:
            assert filling["steps"]
            assert bool(filling["additions"]) == (mix["made_by"] == "weighing")
    for row in answer["rows"][:3]:
        mix = answer["mixes"][row["mix"] - 1]
        assert row["mix_ec_ms_per_cm"] == mix["predicted_ec_ms_per_cm"]
        assert 0 <= row["mix_below_own_percent"] <= mix["below_own_percent"]
    summary = answer["mixes_summary"]
    assert (summary["status"], summary["mix_count"], summary["max_count"]) == ("ok", 2, 2)
    left_out = {each["reason"]: each["row_indices"] for each in summary["left_out"]}
    assert left_out == {"rejected": [3], "plain_water": [4]}
    assert "mix_reserve_assumed" in [each["code"] for each in answer["assumptions"]]
    texts = {each["code"] for each in answer["cautions"]}
    assert {code for mix in answer["mixes"] for code in mix["cautions"]} <= texts


@pytest.mark.anyio
async def test_without_wishes_there_are_no_mixes(client: httpx.AsyncClient) -> None:
    answer = (await client.post(PATH, json={"defaults": DEFAULTS, "rows": ROWS})).json()
    assert (answer["mixes_summary"], answer["mixes"]) == (None, [])
    assert {row["mix"] for row in answer["rows"]} == {None}
    assert (await posted(client, None)).json()["mixes"] == []


@pytest.mark.anyio
async def test_mixes_change_nothing_of_the_doses(client: httpx.AsyncClient) -> None:
    plain = (await posted(client, None)).json()["rows"]
    mixed = (await posted(client, {"max_count": 1})).json()["rows"]
    for one, other in zip(plain, mixed, strict=True):
        for name in one:
            assert name.startswith("mix") or one[name] == other[name]


@pytest.mark.anyio
async def test_wishes_that_collide_are_an_answer(client: httpx.AsyncClient) -> None:
    answer = (await posted(client, {"max_count": 1, "tolerance_percent": 5})).json()
    summary = answer["mixes_summary"]
    assert (summary["status"], summary["mix_count"]) == ("infeasible", 1)
    assert summary["fewest_count"] > 1
    assert summary["conflicts"][0]["limit"] == "mixes.tolerance_percent"
    assert "north" in summary["outside_tolerance"]["row_ids"]
    assert answer["status"] == "ok"


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("mixes", "pointer", "code"),
    [
        ({"max_count": 0}, "#/mixes/max_count", "out_of_range"),
        ({"max_count": 101}, "#/mixes/max_count", "out_of_range"),
        ({"max_count": 1.5}, "#/mixes/max_count", "not_a_whole_number"),
        ({"max_count": True}, "#/mixes/max_count", "boolean"),
        ({"tolerance_percent": 100.5}, "#/mixes/tolerance_percent", "out_of_range"),
        ({"tolerance_percent": -1}, "#/mixes/tolerance_percent", "out_of_range"),
        ({"tolerance_percent": "5,5"}, "#/mixes/tolerance_percent", "decimal_comma"),
        ({"reserve_percent": 101}, "#/mixes/reserve_percent", "out_of_range"),
        ({"can_volumes_l": []}, "#/mixes/can_volumes_l", "too_few"),
        ({"can_volumes_l": [10] * 21}, "#/mixes/can_volumes_l", "too_many"),
        ({"can_volumes_l": [10, 0]}, "#/mixes/can_volumes_l/1", "out_of_range"),
        ({"can_volumes_l": 10}, "#/mixes/can_volumes_l", "not_a_list"),
        ({"max_counts": 3}, "#/mixes/max_counts", "unknown_field"),
        ([], "#/mixes", "not_an_object"),
    ],
)
async def test_wrong_wishes_are_refused_in_their_place(
    client: httpx.AsyncClient, mixes: object, pointer: str, code: str
) -> None:
    response = await posted(client, mixes)
    assert response.status_code == 422
    faults = [(each["pointer"], each["code"]) for each in response.json()["errors"]]
    assert (pointer, code) in faults


@pytest.mark.anyio
async def test_wishes_may_carry_units(client: httpx.AsyncClient) -> None:
    wishes = {"max_count": "2", "tolerance_percent": "20 %", "can_volumes_l": ["2 gal", 4]}
    summary = (await posted(client, wishes)).json()["mixes_summary"]
    assert (summary["max_count"], summary["tolerance_percent"]) == (2, 20)
    assert summary["can_volumes_l"] == pytest.approx([7.571, 4], rel=1e-3)


@pytest.mark.anyio
async def test_no_rows_have_no_mixes(client: httpx.AsyncClient) -> None:
    answer = (await posted(client, {"max_count": 2}, [])).json()
    assert answer["mixes"] == []
    assert answer["mixes_summary"]["status"] == "ok"


@pytest.mark.anyio
async def test_a_table_has_a_column_for_the_mix(client: httpx.AsyncClient) -> None:
    response = await posted(client, {"max_count": 2}, query="?format=csv")
    rows = list(csv.DictReader(io.StringIO(response.text.lstrip("\ufeff"))))
    answer = (await posted(client, {"max_count": 2})).json()["rows"]
    assert [row["mix"] for row in rows] == [str(each["mix"] or "") for each in answer]
    assert float(rows[0]["mix_below_own_percent"]) == answer[0]["mix_below_own_percent"]
    plain = await client.post(PATH + "?format=csv", json={"rows": []})
    assert "mix" not in plain.text.split("\r\n")[0].split(",")


@pytest.mark.anyio
async def test_the_sheet_prints_the_cans_first(client: httpx.AsyncClient) -> None:
    wishes = {"max_count": 2, "can_volumes_l": [10, 4]}
    text = (await posted(client, wishes, query="?format=txt")).text
    lines = text.splitlines()
    assert max(map(len, lines)) <= 94
    assert text.index("MIX FIRST, 2 mixes") < text.index("put in, in this order")
    assert "2 x 10 L:" in text
    poured = (await posted(client, {"max_count": 2}, query="?format=txt")).text
    assert "L of mix 1" in poured
    (north,) = (line for line in lines if line.startswith("north"))
    assert "from mix 1" in north
    (rinse,) = (line for line in lines if line.startswith("rinse"))
    assert "plain water" in rinse


@pytest.mark.anyio
async def test_the_sheet_names_stocks_and_acid_of_the_cans(client: httpx.AsyncClient) -> None:
    rows = [
        {"id": each, "plants": {"size": size}, "volume_l": volume}
        for each, size, volume in (("a", "large", 9), ("b", "mini", 3), ("c", "mini", 40))
    ]
    defaults = DEFAULTS | {
        "water": "moderate_tap",
        "target_ph": 5.9,
        "acid": {"kind": "nitric", "percent": 38},
        "instruments": {"balance_resolution_g": 1},
    }
    body = {"defaults": defaults, "rows": rows, "mixes": {"max_count": 2}}
    text = (await client.post(PATH + "?format=txt", json=body)).text
    assert "MAKE FIRST" in text
    assert "for mix 1" in text
    assert "nitric acid 38 %" in text


@pytest.mark.anyio
async def test_the_sheet_says_when_the_wishes_collide(client: httpx.AsyncClient) -> None:
    wishes = {"max_count": 1, "tolerance_percent": 1}
    text = (await posted(client, wishes, query="?format=txt")).text
    assert "NOT ALL WISHES CAN BE KEPT" in text
