"""Every way of asking wrongly, and the problem document that answers it."""

import asyncio
import errno
import json
from collections.abc import AsyncIterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from service.api.json_body import DEEPEST
from service.api.problems import PROBLEM_TYPES, Problem
from service.api.validation import FAULT_CODES
from service.settings import Settings
from tests.contract.probe import probe_app
from tests.contract.wrong_bodies import PATH, PRODUCT, WRONG_BODIES, dilution

pytestmark = pytest.mark.anyio


def checked(response: httpx.Response, status: int) -> dict[str, Any]:
    """Return the body of a problem after checking everything that all problems share."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["cache-control"] == "no-store"
    assert response.headers["x-request-id"]
    assert "Accept" in response.headers["vary"]
    problem = Problem.model_validate_json(response.content)
    assert problem.status == status
    code = problem.type.removeprefix("/problems/")
    assert PROBLEM_TYPES[code].status == status
    assert problem.instance == response.request.url.path
    for error in problem.errors:
        assert error.code in FAULT_CODES, error.code
        assert (error.pointer is None) != (error.parameter is None)
    return dict(response.json())


async def post(client: httpx.AsyncClient, body: str | bytes, path: str = PATH) -> httpx.Response:
    return await client.post(path, content=body, headers={"Content-Type": "application/json"})


@pytest.mark.parametrize(("body", "pointer", "code", "received", "phrase"), WRONG_BODIES)
async def test_wrong_body_names_the_field_the_value_and_the_remedy(
    client: httpx.AsyncClient, body: str, pointer: str, code: str, received: Any, phrase: str
) -> None:
    problem = checked(await post(client, body), 422)
    first = problem["errors"][0]
    assert (first["pointer"], first["code"]) == (pointer, code)
    assert first.get("received") == received
    assert phrase in first["detail"]


# body, code of the fault
UNREADABLE_BODIES = [
    (b"\xff\xfe{\x00}\x00", "encoding"),
    (b'{"volume_l":"\xc3\x28"}', "encoding"),
    (b"{", "malformed_json"),
    (b'{"volume_l":1,}', "malformed_json"),
    (b"{'volume_l':1}", "malformed_json"),
    (b'{"volume_l":01}', "malformed_json"),
    (b'{"volume_l":1} {}', "malformed_json"),
    (b'{"volume_l":' + b"9" * 5_000 + b"}", "malformed_json"),
    (b'{"volume_l":1,"volume_l":2}', "duplicate_key"),
    (b'{"water":{"ph":7,"ph":7},"volume_l":2}', "duplicate_key"),
    (b"[" * (DEEPEST + 1) + b"]" * (DEEPEST + 1), "too_deep"),
    (b"[" * 100_000, "too_deep"),
    (b'{"a":' * 40_000, "too_deep"),
]


@pytest.mark.parametrize(("body", "code"), UNREADABLE_BODIES)
async def test_body_that_cannot_be_read_is_a_400(
    client: httpx.AsyncClient, body: bytes, code: str
) -> None:
    problem = checked(await post(client, body), 400)
    assert [error["code"] for error in problem["errors"]] == [code]


async def test_brackets_inside_texts_do_not_count_as_nesting(client: httpx.AsyncClient) -> None:
    body = json.dumps({"volume_l": 1, "product": '\\"[' + "[{" * 60})
    problem = checked(await post(client, body), 422)
    assert problem["errors"][0]["code"] == "too_many"


async def test_byte_order_mark_before_a_body_is_passed_over(client: httpx.AsyncClient) -> None:
    response = await post(client, b"\xef\xbb\xbf" + dilution("10").encode())
    assert response.status_code == 200


@pytest.mark.parametrize("volume", ["10", '"10"', '"10 L"', '"1e1"', '" 10 "', "10.0"])
async def test_numbers_and_their_texts_are_read_alike(
    client: httpx.AsyncClient, volume: str
) -> None:
    response = await post(client, dilution(volume))
    assert response.status_code == 200
    assert response.json()["inputs"]["volume_l"] == 10.0


async def test_lone_surrogates_do_not_break_the_answer(client: httpx.AsyncClient) -> None:
    checked(await post(client, dilution('"\\ud800"')), 422)
    checked(await post(client, f'{{{PRODUCT},"volume_l":1,"\\ud800":1}}'), 422)


async def test_received_text_is_cut(client: httpx.AsyncClient) -> None:
    problem = checked(await post(client, dilution(json.dumps("9" * 50_000))), 422)
    assert len(problem["errors"][0]["received"]) <= 101


async def test_every_fault_of_a_body_is_reported_at_once(client: httpx.AsyncClient) -> None:
    body = f'{{{PRODUCT},"volume_l":true,"water":"ran","instrumnts":1}}'
    problem = checked(await post(client, body), 422)
    assert len(problem["errors"]) == 3
    assert "2 more faults" in problem["detail"]


async def test_misspelt_field_is_one_fault_and_not_two(client: httpx.AsyncClient) -> None:
    problem = checked(await post(client, f'{{{PRODUCT},"volum_l":1}}'), 422)
    assert [error["code"] for error in problem["errors"]] == ["unknown_field"]


async def test_absent_body_is_said_to_be_missing(client: httpx.AsyncClient) -> None:
    problem = checked(await client.post(PATH), 422)
    assert problem["errors"] == [
        {"pointer": "#", "code": "missing", "detail": "The request needs a JSON body."}
    ]


@pytest.mark.parametrize(
    "media_type",
    [
        "text/plain",
        "application/x-www-form-urlencoded",
        "text/csv",
        "application/json; charset=utf-16",
        "json",
        "",
    ],
)
async def test_other_media_types_are_a_415_that_lists_what_is_read(
    client: httpx.AsyncClient, media_type: str
) -> None:
    response = await client.post(PATH, content=dilution("1"), headers={"Content-Type": media_type})
    problem = checked(response, 415)
    assert problem["errors"][0]["allowed"] == ["application/json"]
    assert response.headers["accept-post"] == "application/json"


@pytest.mark.parametrize("media_type", ["application/json; charset=UTF-8", "Application/JSON"])
async def test_json_media_type_is_read_however_it_is_spelt(
    client: httpx.AsyncClient, media_type: str
) -> None:
    response = await client.post(PATH, content=dilution("1"), headers={"Content-Type": media_type})
    assert response.status_code == 200


async def test_compressed_body_is_a_415(client: httpx.AsyncClient) -> None:
    headers = {"Content-Type": "application/json", "Content-Encoding": "gzip"}
    problem = checked(await client.post(PATH, content=dilution("1"), headers=headers), 415)
    assert problem["errors"][0]["parameter"] == "Content-Encoding"


async def test_announced_body_that_is_too_large_is_refused_unread(
    client: httpx.AsyncClient,
) -> None:
    response = await post(client, b" " * 300_000)
    problem = checked(response, 413)
    assert problem["errors"][0]["received"] == 300_000
    assert "262144" in problem["detail"]
    assert response.headers["connection"] == "close"


async def test_unannounced_body_that_is_too_large_is_refused_too(
    client: httpx.AsyncClient,
) -> None:
    async def pieces() -> AsyncIterator[bytes]:
        for _ in range(40):
            yield b" " * 10_000

    headers = {"Content-Type": "application/json"}
    response = await client.post(PATH, content=pieces(), headers=headers)
    checked(response, 413)


async def test_body_that_does_not_arrive_is_a_408(app: FastAPI) -> None:
    sent: list[Any] = []

    async def receive() -> Any:
        await asyncio.sleep(30)

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "path": PATH,
        "raw_path": PATH.encode(),
        "root_path": "",
        "scheme": "http",
        "query_string": b"",
        "headers": [(b"content-type", b"application/json"), (b"content-length", b"10")],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
    }
    await app(scope, receive, send)
    assert sent[0]["status"] == 408
    assert json.loads(sent[1]["body"])["type"] == "/problems/request_timeout"


# method, path, the Allow header
WRONG_METHODS = [
    ("DELETE", "/v1/products", "GET, HEAD"),
    ("OPTIONS", "/v1/products", "GET, HEAD"),
    ("POST", "/livez", "GET, HEAD"),
    ("PUT", PATH, "GET, HEAD, POST"),
    ("GET", "/probe/doses", "POST"),
    ("HEAD", "/probe/doses", "POST"),
    ("BREW", "/v1/products/urea", "GET, HEAD"),
]


@pytest.mark.parametrize(("method", "path", "allow"), WRONG_METHODS)
async def test_wrong_method_lists_all_methods_of_the_path(
    client: httpx.AsyncClient, method: str, path: str, allow: str
) -> None:
    response = await client.request(method, path)
    assert response.status_code == 405
    assert response.headers["allow"] == allow
    if method != "HEAD":
        checked(response, 405)


@pytest.mark.parametrize(
    "path", ["/nothing", "/v1/products/", "/v1/", "/V1/products", "/v1/.json", "/docs/x"]
)
async def test_unknown_path_is_a_404_and_never_a_redirect(
    client: httpx.AsyncClient, path: str
) -> None:
    checked(await client.get(path), 404)


async def test_unknown_key_of_a_catalogue_suggests_the_nearest(client: httpx.AsyncClient) -> None:
    problem = checked(await client.get("/v1/products/potasium_nitrate"), 404)
    assert problem["errors"][0]["allowed"] == ["potassium_nitrate"]


# path, parameter, code, phrase
WRONG_QUERIES = [
    ("/v1/products?fromat=json", "fromat", "unknown_parameter", "Did you mean `format`?"),
    ("/v1/products?format=json&format=json", "format", "repeated_parameter", "more than once"),
    ("/v1/products?format=jsn", "format", "not_allowed", "Did you mean `json`?"),
    ("/v1/products?=1", "", "unknown_parameter", "not a parameter"),
    ("/probe/targets?air.humidity_percent=nan", "air.humidity_percent", "not_finite", "finite"),
    ("/probe/targets?air.humidity_percent=", "air.humidity_percent", "value_unavailable", "No"),
    ("/probe/targets?air.humidity_percent=5,5", "air.humidity_percent", "decimal_comma", "point"),
    ("/probe/targets?air.humidity_percent=1_0", "air.humidity_percent", "digit_grouping", "with"),
    ("/probe/targets?air.humidity_percent=101", "air.humidity_percent", "out_of_range", "most 100"),
    ("/probe/targets", "air.humidity_percent", "missing", "is missing"),
    (
        "/probe/targets?air.humidty_percent=50",
        "air.humidty_percent",
        "unknown_parameter",
        "Did you mean `air.humidity_percent`?",
    ),
    (
        "/probe/dilutions?water=rain&water.ph=7",
        "water.ph",
        "contradiction",
        "as a whole and in part",
    ),
    (
        "/probe/dilutions?water.ph=7&water=rain",
        "water.ph",
        "contradiction",
        "as a whole and in part",
    ),
]


@pytest.mark.parametrize(("path", "parameter", "code", "phrase"), WRONG_QUERIES)
async def test_wrong_query_names_the_parameter(
    client: httpx.AsyncClient, path: str, parameter: str, code: str, phrase: str
) -> None:
    problem = checked(await client.get(path), 422)
    first = problem["errors"][0]
    assert (first["parameter"], first["code"]) == (parameter, code)
    assert phrase in first["detail"]


async def test_query_of_a_post_is_checked_as_well(client: httpx.AsyncClient) -> None:
    problem = checked(await post(client, dilution("1"), PATH + "?volume_l=3"), 422)
    assert problem["errors"][0]["code"] == "unknown_parameter"


async def test_get_twin_reads_like_the_post(client: httpx.AsyncClient) -> None:
    body = {
        "product": "feed_20_20_20",
        "strength": {"basis": "meter_ppm", "ppm": 350, "scale": 500},
        "water": {"ph": 7.8, "alkalinity_mg_per_l_caco3": "10 dKH"},
        "volume_l": "5 gal",
    }
    flat = {
        "product": "feed_20_20_20",
        "strength.basis": "meter_ppm",
        "strength.ppm": "350",
        "strength.scale": "500",
        "water.ph": "7.8",
        "water.alkalinity_mg_per_l_caco3": "10 dKH",
        "volume_l": "5 gal",
    }
    posted = await client.post(PATH, json=body)
    got = await client.get(PATH, params=flat)
    assert posted.status_code == got.status_code == 200
    assert posted.json() == got.json()


async def test_unforeseen_fault_tells_nothing_of_itself(
    client: httpx.AsyncClient, caplog: pytest.LogCaptureFixture
) -> None:
    response = await client.get("/probe/broken", headers={"X-Request-ID": "kitchen-7"})
    problem = checked(response, 500)
    assert "secret" not in response.text
    assert "Broken" not in response.text
    assert "kitchen-7" in problem["detail"]
    logged = [getattr(record, "fields", {}) for record in caplog.records]
    assert {"request_id": "kitchen-7"} in logged


async def test_body_that_is_still_arriving_keeps_nobody_from_being_served() -> None:
    app = probe_app(Settings(limit_concurrency=1))
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        seen: list[int] = []

        async def pieces() -> AsyncIterator[bytes]:
            text = dilution("10").encode()
            yield text[:10]
            for path in ("/version", "/livez", "/v1/limits"):
                seen.append((await client.get(path)).status_code)
            seen.append((await client.post(PATH, content=text, headers=headers)).status_code)
            yield text[10:]

        headers = {"Content-Type": "application/json"}
        slow = await client.post(PATH, content=pieces(), headers=headers)
    assert seen == [200, 200, 200, 200]
    assert slow.status_code == 200


async def test_every_code_has_a_page(client: httpx.AsyncClient) -> None:
    for code in [*PROBLEM_TYPES, *FAULT_CODES]:
        response = await client.get(f"/problems/{code}")
        assert response.status_code == 200
        assert response.json()["explanation"]
    checked(await client.get("/problems/decimal_coma"), 404)


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.ENOSPC, "No space left on device"),
        OSError(errno.EDQUOT, "Disk quota exceeded"),
        FileNotFoundError(errno.ENOENT, "No usable temporary directory found in ['/tmp']"),
    ],
)
async def test_body_for_which_there_is_no_room_may_be_sent_again_later(
    error: OSError, client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(**_: object) -> None:
        raise error

    monkeypatch.setattr("service.api.spool.tempfile.NamedTemporaryFile", refuse)
    headers = {"Content-Type": "text/csv"}
    response = await client.post("/v1/doses/batch", content="id,volume_l\na,1\n", headers=headers)
    problem = checked(response, 503)
    assert problem["type"] == "/problems/unavailable"
    assert "no room" in problem["detail"]
    assert int(response.headers["retry-after"]) > 0
