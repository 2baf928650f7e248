"""What operators see: counts, traces, keys, and a log without what callers sent."""

import json
import logging
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest
from starlette.types import Message, Receive, Scope, Send

from service.api.keys import new_key, sum_of
from service.api.observation import Observation
from service.main import create_app
from service.settings import Settings
from tests.contract.probe import probe_app

pytestmark = pytest.mark.anyio

DOSE = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}
TRACE = "0af7651916cd43dd8448eb211c80319c"
PARENT = "b7ad6b7169203331"


async def counted(client: httpx.AsyncClient, name: str, **labels: str) -> float:
    """Return a number of `/metrics`; labels may be given in part."""
    response = await client.get("/metrics")
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/plain; version=")
    total = 0.0
    for line in response.text.splitlines():
        found = re.fullmatch(rf"{name}(?:\{{(.*)\}})? (\S+)", line)
        if found is None:
            continue
        own = dict(re.findall(r'(\w+)="([^"]*)"', found[1] or ""))
        if labels.items() <= own.items():
            total += float(found[2])
    return total


async def test_requests_are_counted_by_route_template_method_and_status(
    client: httpx.AsyncClient,
) -> None:
    name = "velamen_requests_total"
    wanted = [
        {"route": "/v1/products/{key}", "method": "GET", "status": "200"},
        {"route": "/v1/products/{key}", "method": "HEAD", "status": "200"},
        {"route": "/v1/products/{key}", "method": "GET", "status": "404"},
        {"route": "/v1/doses", "method": "POST", "status": "200"},
        {"route": "/v1/doses", "method": "POST", "status": "413"},
        {"route": "unmatched", "method": "GET", "status": "404"},
        {"route": "unmatched", "method": "other", "status": "405"},
    ]
    before = [await counted(client, name, **labels) for labels in wanted]
    timed = await counted(client, "velamen_request_seconds_count", route="/v1/doses")
    await client.get("/v1/products/urea.json")
    await client.head("/v1/products/urea")
    await client.get("/v1/products/no-such-product")
    await client.post("/v1/doses", json=DOSE)
    await client.post("/v1/doses", content=b"[" * 400_000)
    await client.get("/v1/secret-7f3a/{key}")
    await client.request("BREW", "/v1/nothing")
    after = [await counted(client, name, **labels) for labels in wanted]
    assert [later - earlier for earlier, later in zip(before, after, strict=True)][:6] == [1.0] * 6
    assert await counted(client, "velamen_request_seconds_count", route="/v1/doses") == timed + 2
    assert "secret-7f3a" not in (await client.get("/metrics")).text
    assert "BREW" not in (await client.get("/metrics")).text


async def test_rows_their_refusals_and_kernel_time_are_counted(client: httpx.AsyncClient) -> None:
    async def numbers() -> list[float]:
        return [
            await counted(client, "velamen_rows_total", status="ok"),
            await counted(client, "velamen_rows_total", status="rejected"),
            await counted(client, "velamen_row_rejections_total", code="unknown_key"),
            await counted(client, "velamen_row_rejections_total", code="decimal_comma"),
            await counted(client, "velamen_row_rejections_total", code="strength_blind_to_urea"),
        ]

    before, seconds = await numbers(), await counted(client, "velamen_kernel_seconds_total")
    blind = {"product": "urea", "strength": {"basis": "conductivity", "ec_ms_per_cm": 1}}
    rows = [
        DOSE,
        DOSE,
        {**DOSE, "product": "fed_20"},
        {**DOSE, "volume_l": "1,5"},
        {**DOSE, **blind},
    ]
    response = await client.post("/v1/doses/batch", json={"rows": rows})
    assert response.json()["summary"]["rejected"] == 3
    after = await numbers()
    assert [later - earlier for earlier, later in zip(before, after, strict=True)] == [
        2.0,
        3.0,
        1.0,
        1.0,
        1.0,
    ]
    assert await counted(client, "velamen_kernel_seconds_total") > seconds
    assert await counted(client, "velamen_batches_in_work") == 0.0
    assert await counted(client, "velamen_batches_waiting") == 0.0


async def test_questions_whether_the_service_is_ready_count_as_no_rows(
    client: httpx.AsyncClient,
) -> None:
    before = await counted(client, "velamen_rows_total")
    assert (await client.get("/readyz")).status_code == 200
    assert await counted(client, "velamen_rows_total") == before


async def test_failed_checks_can_be_watched_before_the_first_one(client: httpx.AsyncClient) -> None:
    text = (await client.get("/metrics")).text
    assert re.search(r'^velamen_failed_checks_total\{of="answer"\} ', text, re.MULTILINE)
    assert re.search(r'^velamen_failed_checks_total\{of="row"\} ', text, re.MULTILINE)


async def test_answer_continues_the_trace_of_its_caller(
    client: httpx.AsyncClient, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "service.requests")
    headers = {"traceparent": f"00-{TRACE}-{PARENT}-01", "X-Request-ID": "kitchen-8"}
    response = await client.post("/v1/doses", json=DOSE, headers=headers)
    answered = re.fullmatch(rf"00-{TRACE}-([0-9a-f]{{16}})-01", response.headers["traceresponse"])
    assert answered is not None
    assert answered[1] != PARENT
    (line,) = [vars(record)["fields"] for record in caplog.records]
    assert {name: line[name] for name in line if name not in ("milliseconds", "bytes")} == {
        "request_id": "kitchen-8",
        "trace_id": TRACE,
        "parent_id": PARENT,
        "method": "POST",
        "route": "/v1/doses",
        "status": 200,
    }
    assert line["milliseconds"] > 0
    assert line["bytes"] == len(response.content)


@pytest.mark.parametrize(
    ("given", "continued"),
    [
        (f"01-{TRACE}-{PARENT}-01-what-comes-later", True),
        (f"00-{TRACE}-{PARENT}-01-what-comes-later", False),
        (f"ff-{TRACE}-{PARENT}-01", False),
        (f"00-{'0' * 32}-{PARENT}-01", False),
        (f"00-{TRACE}-{'0' * 16}-01", False),
        (f"00-{TRACE.upper()}-{PARENT}-01", False),
        ("", False),
    ],
)
async def test_trace_that_is_none_is_left_alone(
    client: httpx.AsyncClient, given: str, continued: bool
) -> None:
    response = await client.get("/version", headers={"traceparent": given})
    assert response.status_code == 200
    assert ("traceresponse" in response.headers) is continued


async def test_nothing_that_a_caller_sends_is_logged(
    client: httpx.AsyncClient, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    secret = "orchid-house-77"
    await client.get("/v1/targets", params={"plants.profile": secret})
    await client.post("/v1/doses", json={**DOSE, "product": secret})
    await client.post("/v1/doses", content=secret, headers={"Content-Type": "application/json"})
    await client.get(f"/{secret}", headers={"User-Agent": secret, "X-Request-ID": f"{secret} "})
    await client.get("/probe/broken", params={"a": secret})
    own = [record for record in caplog.records if record.name.startswith("service")]
    assert len(own) >= 5
    for record in own:
        assert secret not in record.getMessage() + json.dumps(vars(record), default=str)


async def test_request_that_nobody_waits_for_is_no_fault_of_the_service(
    client: httpx.AsyncClient,
) -> None:
    labels = {"route": "unmatched", "method": "POST", "status": "499"}
    before = await counted(client, "velamen_requests_total", **labels)

    async def left_alone(scope: Scope, receive: Receive, send: Send) -> None:
        assert (await receive())["type"] == "http.disconnect"

    async def gone() -> Message:
        return {"type": "http.disconnect"}

    async def unheard(message: Message) -> None:
        raise AssertionError(message)

    scope = {"type": "http", "method": "POST", "path": "/v1/doses", "headers": []}
    await Observation(left_alone)(scope, gone, unheard)
    assert await counted(client, "velamen_requests_total", **labels) == before + 1


@pytest.fixture
def keys(tmp_path: Path) -> dict[str, str]:
    made = {name: new_key() for name in ("kitchen", "greenhouse")}
    lines = [f'{name} = "{digest}"' for name, (_, digest) in made.items()]
    (tmp_path / "keys.toml").write_text("\n".join(["[keys]", *lines]), encoding="utf-8")
    return {name: key for name, (key, _) in made.items()}


@pytest.fixture
async def guarded(tmp_path: Path, keys: dict[str, str]) -> AsyncIterator[httpx.AsyncClient]:
    app = probe_app(Settings(keys_file=tmp_path / "keys.toml", cors_origins=("http://a.test",)))
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        yield client


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Authorization": "Bearer"},
        {"Authorization": "Bearer "},
        {"Authorization": "Bearer wrong"},
        {"Authorization": f"Bearer {'k' * 10_000}"},
        {"Authorization": "Basic a2l0Y2hlbjprZXk="},
        {"X-API-Key": "wrong"},
        {"X-API-Key": ""},
    ],
)
@pytest.mark.parametrize("path", ["/", "/version", "/metrics", "/v1/limits", "/v1/no-such-path"])
async def test_without_a_good_key_nothing_is_answered(
    guarded: httpx.AsyncClient, headers: dict[str, str], path: str
) -> None:
    response = await guarded.get(path, headers=headers)
    assert response.status_code == 401
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["www-authenticate"].startswith("Bearer ")
    assert response.headers["cache-control"] == "no-store"
    assert response.headers["x-request-id"]
    assert response.json()["type"] == "/problems/unauthorized"
    assert "Authorization: Bearer" in response.text or "not known" in response.text


async def test_good_key_opens_everything_in_either_header(
    guarded: httpx.AsyncClient, keys: dict[str, str], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "service.requests")
    for headers in (
        {"Authorization": f"Bearer {keys['kitchen']}"},
        {"authorization": f"bearer  {keys['greenhouse']} "},
        {"X-API-Key": keys["greenhouse"]},
    ):
        response = await guarded.post("/v1/doses", json=DOSE, headers=headers)
        assert response.status_code == 200
    names = [vars(record)["fields"]["key"] for record in caplog.records]
    assert names == ["kitchen", "greenhouse", "greenhouse"]
    for key in keys.values():
        assert key not in json.dumps([vars(record) for record in caplog.records], default=str)
        assert sum_of(key) not in caplog.text


async def test_what_tells_how_to_send_a_key_needs_none(guarded: httpx.AsyncClient) -> None:
    for path in ("/livez", "/readyz", "/docs", "/openapi.json", "/problems/unauthorized"):
        assert (await guarded.get(path)).status_code == 200


async def test_browser_may_ask_whether_it_may_call_before_it_has_a_key(
    guarded: httpx.AsyncClient,
) -> None:
    headers = {
        "Origin": "http://a.test",
        "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "authorization,content-type",
    }
    asked = await guarded.options("/v1/doses", headers=headers)
    assert asked.status_code == 200
    assert asked.headers["access-control-allow-origin"] == "http://a.test"
    refused = await guarded.post("/v1/doses", json=DOSE, headers={"Origin": "http://a.test"})
    assert refused.status_code == 401
    assert refused.headers["access-control-allow-origin"] == "http://a.test"


async def test_document_says_that_a_key_may_be_needed(client: httpx.AsyncClient) -> None:
    document = (await client.get("/openapi.json")).json()
    assert {} in document["security"]
    assert set(document["components"]["securitySchemes"]) == {"bearer", "apiKey"}
    assert "401" in document["paths"]["/v1/doses"]["post"]["responses"]


async def test_every_limit_of_the_installation_is_published() -> None:
    settings = Settings(limit_concurrency=7, limit_bodies=9, limit_batches=3)
    transport = httpx.ASGITransport(app=create_app(settings))
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        limits = (await client.get("/v1/limits")).json()
    assert (limits["connections"], limits["bodies"], limits["batches"]) == (7, 9, 3)
    assert limits["open_connections"] == 4 * 7 + 2 * 9
    assert limits["slowest_bytes_per_second"] == 16 * 1024
    assert limits["batch_wait_seconds"] == 30.0


async def test_pace_is_kept_by_each_key_and_said_in_every_answer(
    tmp_path: Path, keys: dict[str, str]
) -> None:
    settings = Settings(keys_file=tmp_path / "keys.toml", limit_requests_per_minute=2)
    transport = httpx.ASGITransport(app=probe_app(settings))
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        kitchen = {"X-API-Key": keys["kitchen"]}
        for left in (1, 0):
            allowed = await client.post("/v1/doses", json=DOSE, headers=kitchen)
            assert allowed.status_code == 200
            assert allowed.headers["ratelimit-policy"] == '"minute";q=2;w=60'
            assert allowed.headers["ratelimit"].startswith(f'"minute";r={left};t=')
        refused = await client.post("/v1/doses", json=DOSE, headers=kitchen)
        assert refused.status_code == 429
        assert refused.json()["type"] == "/problems/too_many_requests"
        assert 1 <= int(refused.headers["retry-after"]) <= 60
        assert refused.headers["ratelimit"].startswith('"minute";r=0;t=')
        other = await client.get("/v1/limits", headers={"X-API-Key": keys["greenhouse"]})
        assert other.status_code == 200
        assert other.json()["requests_per_minute"] == 2
        assert (await client.get("/readyz", headers=kitchen)).status_code == 200


async def test_without_a_pace_there_is_no_word_of_it(client: httpx.AsyncClient) -> None:
    answer = await client.get("/v1/limits")
    assert answer.json()["requests_per_minute"] is None
    assert "ratelimit" not in answer.headers


async def test_address_is_the_caller_where_no_keys_are_asked_for() -> None:
    app = probe_app(Settings(limit_requests_per_minute=1))
    answers = []
    for address in ("192.0.2.1", "192.0.2.1", "192.0.2.2"):
        transport = httpx.ASGITransport(app=app, client=(address, 1))
        async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
            answers.append((await client.get("/v1/limits")).status_code)
    assert answers == [200, 429, 200]
