"""HTTP manners: HEAD, caching, negotiation, identity, headers, offline documentation."""

import re

import httpx
import pytest
from fastapi import FastAPI

from service.settings import Settings
from tests.contract.probe import probe_app

pytestmark = pytest.mark.anyio

LISTINGS = [
    "/v1/products",
    "/v1/acids",
    "/v1/waters",
    "/v1/plants",
    "/v1/sources",
    "/v1/units",
    "/v1/limits",
]
READS = [*LISTINGS, "/v1/products/urea", "/livez", "/readyz", "/version", "/", "/docs"]


@pytest.mark.parametrize("path", [*READS, "/openapi.json", "/problems/not_found"])
async def test_head_has_the_headers_of_get_and_no_body(
    client: httpx.AsyncClient, path: str
) -> None:
    got = await client.get(path)
    head = await client.head(path)
    assert got.status_code == head.status_code == 200
    assert head.content == b""
    for name in ("content-type", "content-length", "etag", "cache-control"):
        assert head.headers.get(name) == got.headers.get(name)


@pytest.mark.parametrize("path", LISTINGS)
async def test_catalogue_answer_is_kept_and_confirmed_by_its_tag(
    client: httpx.AsyncClient, path: str
) -> None:
    first = await client.get(path)
    assert first.headers["cache-control"] == "public, max-age=3600"
    tag = first.headers["etag"]
    assert re.fullmatch(r'"[0-9a-f]{32}(-gzip)?"', tag)
    for given in (tag, f'"other", {tag}', "W/" + tag, "*"):
        again = await client.get(path, headers={"If-None-Match": given})
        assert again.status_code == 304
        assert again.content == b""
        assert again.headers["etag"] == tag
    changed = await client.get(path, headers={"If-None-Match": '"other"'})
    assert changed.status_code == 200


async def test_compressed_and_plain_form_have_different_tags(client: httpx.AsyncClient) -> None:
    packed = await client.get("/v1/products", headers={"Accept-Encoding": "gzip"})
    plain = await client.get("/v1/products", headers={"Accept-Encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert packed.headers["etag"] != plain.headers["etag"]
    assert packed.json() == plain.json()


@pytest.mark.parametrize(
    ("accepted", "packed"),
    [
        ("gzip", True),
        ("br, GZIP ;q=0.5", True),
        ("deflate, *", True),
        ("x-gzip", True),
        ("gzip;q=0", False),
        ("br, gzip; q=0.000", False),
        ("gzip;q=0, *;q=1", False),
        ("*;q=0", False),
        ("gzip;q=none", False),
        ("br", False),
        ("", False),
    ],
)
async def test_gzip_that_is_refused_is_not_sent(
    client: httpx.AsyncClient, accepted: str, packed: bool
) -> None:
    got = await client.get("/v1/products", headers={"Accept-Encoding": accepted})
    assert got.status_code == 200
    assert (got.headers.get("content-encoding") == "gzip") is packed
    assert got.headers["etag"].endswith('-gzip"') is packed
    assert "Accept-Encoding" in got.headers["vary"]


@pytest.mark.parametrize("path", LISTINGS)
async def test_catalogue_answer_states_its_releases(client: httpx.AsyncClient, path: str) -> None:
    response = await client.get(path)
    version = response.json()["version"]
    assert response.headers["x-service-version"] == version["service"]
    assert response.headers["x-data-version"] == version["data"]


async def test_every_source_of_the_catalogue_resolves(client: httpx.AsyncClient) -> None:
    products = (await client.get("/v1/products")).json()["products"]
    plants = (await client.get("/v1/plants")).json()["plants"]
    keys = {source for product in products for source in product["sources"]}
    keys |= {limit["source"] for plant in plants for limit in plant["ceilings"].values()}
    assert keys
    for key in sorted(keys):
        response = await client.get(f"/v1/sources/{key}")
        assert response.status_code == 200
        assert response.json()["key"] == key


async def test_every_listed_product_can_be_shown(client: httpx.AsyncClient) -> None:
    listing = (await client.get("/v1/products")).json()
    assert listing["count"] == len(listing["products"]) > 20
    for product in listing["products"]:
        assert (await client.get(f"/v1/products/{product['key']}")).json() == product


async def test_every_water_preset_of_the_schema_is_listed(client: httpx.AsyncClient) -> None:
    waters = (await client.get("/v1/waters")).json()["waters"]
    for water in waters:
        body = {
            "product": "urea",
            "strength": {"basis": "product", "g_per_l": 1},
            "water": water["key"],
            "volume_l": 1,
        }
        assert (await client.post("/probe/dilutions", json=body)).status_code == 200
        body["water"] = water["analysis"]
        assert (await client.post("/probe/dilutions", json=body)).status_code == 200


# path, Accept, status
ACCEPTED = [
    ("/v1/products", None, 200),
    ("/v1/products", "*/*", 200),
    ("/v1/products", "application/*;q=0.5", 200),
    ("/v1/products", "text/html,application/xhtml+xml,*/*;q=0.8", 200),
    ("/v1/products", "text/csv", 406),
    ("/v1/products", "application/json;q=0", 406),
    ("/v1/products", "application/json;q=0, */*", 406),
    ("/v1/products.json", "text/csv", 200),
    ("/v1/products.csv", None, 406),
    ("/v1/products?format=json", "text/csv", 200),
    ("/v1/products?format=csv", None, 406),
    ("/v1/products.json?format=csv", None, 200),
    ("/v1/products", "nonsense", 200),
]


@pytest.mark.parametrize(("path", "accept", "status"), ACCEPTED)
async def test_suffix_wins_over_parameter_and_parameter_over_accept(
    client: httpx.AsyncClient, path: str, accept: str | None, status: int
) -> None:
    headers = {} if accept is None else {"Accept": accept}
    request = client.build_request("GET", path)
    del request.headers["Accept"]
    request.headers.update(headers)
    response = await client.send(request)
    assert response.status_code == status
    assert "Accept" in response.headers["vary"]


async def test_sane_request_id_is_handed_back(client: httpx.AsyncClient) -> None:
    response = await client.get("/livez", headers={"X-Request-ID": "bench-3.a:1"})
    assert response.headers["x-request-id"] == "bench-3.a:1"


@pytest.mark.parametrize("given", ["", "a b", "x" * 65, "<script>", "é"])
async def test_other_request_ids_are_replaced(client: httpx.AsyncClient, given: str) -> None:
    response = await client.get("/livez", headers=[(b"X-Request-ID", given.encode())])
    assert re.fullmatch(r"[0-9a-f]{16}", response.headers["x-request-id"])


@pytest.mark.parametrize("path", ["/livez", "/nothing", "/docs", "/probe/doses"])
async def test_every_answer_has_the_security_headers_once(
    client: httpx.AsyncClient, path: str
) -> None:
    response = await client.get(path)
    assert response.headers.get_list("x-content-type-options") == ["nosniff"]
    assert response.headers.get_list("x-frame-options") == ["SAMEORIGIN"]
    assert response.headers.get_list("referrer-policy") == ["no-referrer"]
    assert response.headers["content-security-policy"].startswith("default-src 'none'")
    assert "server" not in response.headers
    assert len(response.headers.get_list("vary")) == 1
    parts = [part.strip() for part in response.headers["vary"].split(",")]
    assert len(parts) == len(set(parts))


async def test_documentation_needs_no_other_host_and_no_script(client: httpx.AsyncClient) -> None:
    response = await client.get("/docs")
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    page = response.text
    assert "<script" not in page
    assert not re.findall(r"(?:src|href)='(?!/openapi\.json|#)", page)
    document = (await client.get("/openapi.json")).json()
    for path, item in document["paths"].items():
        for operation in item.values():
            assert f"id='{operation['operationId']}'" in page
        assert path in page
    for schema in document["components"]["schemas"]:
        assert f"id='schema-{schema}'" in page


async def test_root_says_where_everything_is(client: httpx.AsyncClient) -> None:
    root = (await client.get("/")).json()
    for path in (root["docs"], root["openapi"]):
        assert (await client.get(path)).status_code == 200
    assert set(LISTINGS) <= set(root["capabilities"])


async def test_cross_origin_calls_are_allowed_only_when_configured(
    client: httpx.AsyncClient,
) -> None:
    headers = {"Origin": "http://sheet.test"}
    assert "access-control-allow-origin" not in (await client.get("/", headers=headers)).headers
    app: FastAPI = probe_app(Settings(cors_origins=("*",)))
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(
        transport=transport, base_url="http://velamen.test"
    ) as open_client:
        got = await open_client.get("/v1/products/nothing", headers=headers)
        asked = await open_client.options(
            "/probe/doses", headers={**headers, "Access-Control-Request-Method": "POST"}
        )
    assert got.headers["access-control-allow-origin"] == "*"
    assert asked.status_code == 200


async def test_assumptions_of_one_request_do_not_reach_another(client: httpx.AsyncClient) -> None:
    body = {
        "product": "urea",
        "strength": {"basis": "element", "element": "N", "mg_per_l": "50 ppm"},
        "volume_l": "5 gal",
    }
    first = (await client.post("/probe/dilutions", json=body)).json()
    assert {note["field"] for note in first["assumptions"]} == {"volume_l", "strength.mg_per_l"}
    body["volume_l"] = 5
    body["strength"] = {"basis": "product", "g_per_l": 1}
    second = (await client.post("/probe/dilutions", json=body)).json()
    assert second["assumptions"] == []
