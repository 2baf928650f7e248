"""A batch answered in chunks is the batch answered as a whole, and no body slips through."""

import json
import time

import httpx
import pytest
from starlette.datastructures import QueryParams

from service.api import batch_json
from service.api.batch import planned_batch
from service.api.batch_answers import answer_of_planned
from service.api.batch_json import json_in_chunks
from service.api.formats.csv_dialect import dialect_of
from service.planning.catalogue import catalogue

PATH = "/v1/doses/batch"
JSON = {"Content-Type": "application/json"}
GOOD = {"product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": 10}
LABEL = {"name": "own", "form": "solid", "label": {"nitrate_n_percent": 13, "k2o_percent": 44}}
MOST = 1_000

ROWS = [
    {**GOOD, "id": "plain"},
    {**GOOD, "id": "text", "volume_l": "2 gal"},
    {**GOOD, "id": "wrong", "volume_l": "1,5"},
    {
        **GOOD,
        "id": 'ünïcode \u2028 "quoted"',
        "water": {"ph": 7.5, "alkalinity_mg_per_l_caco3": 90},
    },
    {**GOOD, "id": "label", "product": LABEL},
    {**GOOD, "id": "cold", "air": {"humidity_percent": 60, "temperature_celsius": 5}},
    {"id": "typo", "volum_l": 5},
    17,
    {**GOOD, "id": "infeasible", "product": "feed_20_20_20", "water": "hard_tap"},
    {**GOOD, "id": None, "target_ph": 5.8, "water": "moderate_tap", "acid": {"kind": "citric"}},
]


def whole(rows: list[object], defaults: dict) -> dict:
    batch = planned_batch(rows, defaults, catalogue())
    return json.loads(answer_of_planned(batch, "json", dialect_of(QueryParams())).body)


@pytest.mark.parametrize("size", [1, 3, 1_000])
@pytest.mark.parametrize(
    "defaults", [{}, {"plants": {"size": "large"}}, {"interval_days": "1 week", "water": "rain"}]
)
def test_chunks_answer_as_the_whole(monkeypatch, size, defaults):
    monkeypatch.setattr(batch_json, "CHUNK_ROWS", size)
    body = json.dumps({"rows": ROWS, "defaults": defaults}, ensure_ascii=False).encode()
    answer = json_in_chunks(body, catalogue(), MOST)
    assert answer is not None
    ours, theirs = json.loads(answer.body), whole(ROWS, defaults)
    for name in ("assumptions", "cautions"):
        # Chunks and the whole meet what they say in another order.
        assert sorted(map(str, ours.pop(name))) == sorted(map(str, theirs.pop(name)))
    assert ours == theirs
    assert list(ours["rows"][0]) == list(theirs["rows"][0])


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (b'{"rows":[{"volume_l":1,"volume_l":2}]}', 400, "duplicate_key"),
        (b'{"rows":[{"air":{"humidity_percent":50,"humidity_percent":50}}]}', 400, "duplicate_key"),
        (b'{"rows":[{"volume_l":1,}]}', 400, "malformed_json"),
        (b'{"rows":[{"volume_l":1} {"volume_l":1}]}', 400, "malformed_json"),
        (b'{"rows":[{"volume_l":1},,{"volume_l":1}]}', 400, "malformed_json"),
        (b'{"rows":[{"volume_l":1},]}', 400, "malformed_json"),
        (b'{"rows":[,{"volume_l":1}]}', 400, "malformed_json"),
        (b'{"rows":[{"volume_l":01}]}', 400, "malformed_json"),
        (b'{"rows":[{"id":"\xff"}]}', 400, "encoding"),
        (b'{"rows":[{"typo":"\xff"}]}', 400, "encoding"),
        (b'{"rows":[{"id":"a"}],"rows":[]}', 400, "duplicate_key"),
        (b'{"rows":[{"id":' + b"[" * 31 + b"]" * 31 + b"}]}", 400, "too_deep"),
        (b'{"rows":[{"volume_l":' + b"9" * 5_000 + b"}]}", 400, "malformed_json"),
        (b'{"rows":[],"more":1}', 422, "unknown_field"),
    ],
)
@pytest.mark.anyio
async def test_body_that_cannot_be_read_is_refused_as_a_whole(
    client: httpx.AsyncClient, body: bytes, status: int, code: str
) -> None:
    response = await client.post(PATH, content=body, headers=JSON)
    assert response.status_code == status, response.text
    assert code in [each["code"] for each in response.json()["errors"]]


@pytest.mark.anyio
async def test_fault_between_two_chunks_is_found(
    client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch_json, "CHUNK_ROWS", 1)
    row = json.dumps(GOOD).encode()
    for between, status in (
        (b",", 200),
        (b" ,\n", 200),
        (b",,", 400),
        (b" ", 400),
        (b", 1 ,", 200),
    ):
        body = b'{"rows":[' + row + between + row + b"]}"
        response = await client.post(PATH, content=body, headers=JSON)
        assert response.status_code == status, between


@pytest.mark.anyio
async def test_millions_of_empty_lists_are_refused_at_once(client: httpx.AsyncClient) -> None:
    body = b'{"rows":[' + b"[[]]," * 2_000_000 + b"[[]]]}"
    start = time.perf_counter()
    response = await client.post(PATH, content=body, headers=JSON)
    assert response.status_code == 413
    assert response.json()["errors"][0]["code"] == "too_many"
    assert time.perf_counter() - start < 5.0


@pytest.mark.anyio
async def test_byte_order_mark_and_blanks_are_no_matter(client: httpx.AsyncClient) -> None:
    body = b"\xef\xbb\xbf" + json.dumps({"rows": [GOOD, GOOD]}, indent=3).encode() + b"\n"
    response = await client.post(PATH, content=body, headers=JSON)
    assert response.status_code == 200
    assert response.json()["summary"]["ok"] == 2
