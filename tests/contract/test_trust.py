"""The report and the pages of sources, and that every answer leads to them."""

from typing import Any

import httpx
import pytest

from service.api.page_policy import PAGE_POLICY
from service.api.trust_report import REPORT, trust_report
from service.reference.sources import sources

pytestmark = pytest.mark.anyio


@pytest.mark.parametrize(
    ("path", "accept", "form", "kind"),
    [
        ("/trust", "*/*", "html", "text/html"),
        ("/trust", "text/markdown", "md", "text/markdown"),
        ("/trust.md", "text/html", "md", "text/markdown"),
        ("/trust.json", "*/*", "json", "application/json"),
        ("/trust?format=json", "text/html", "json", "application/json"),
        ("/trust.html", "*/*", "html", "text/html"),
    ],
)
async def test_report_is_served_in_every_form(
    client: httpx.AsyncClient, path: str, accept: str, form: str, kind: str
) -> None:
    answer = await client.get(path, headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    assert answer.content == REPORT[form].read_bytes()
    again = {"Accept": accept, "If-None-Match": answer.headers["etag"]}
    assert (await client.get(path, headers=again)).status_code == 304


async def test_other_forms_of_the_report_are_refused(client: httpx.AsyncClient) -> None:
    assert (await client.get("/trust.csv")).status_code == 406
    assert (await client.get("/trust.exe")).status_code == 404


async def test_page_of_the_report_may_use_its_styles(client: httpx.AsyncClient) -> None:
    answer = await client.get("/trust")
    assert answer.headers["content-security-policy"].encode() == PAGE_POLICY


async def bodies(client: httpx.AsyncClient) -> list[tuple[str, str, Any]]:
    """Return every example of every operation that takes a JSON body."""
    document = (await client.get("/openapi.json")).json()
    found = []
    for path, item in document["paths"].items():
        body = item.get("post", {}).get("requestBody", {}).get("content", {})
        examples = body.get("application/json", {}).get("examples", {})
        if not path.startswith("/v1/"):
            continue
        found += [(path, name, example["value"]) for name, example in examples.items()]
    return found


async def test_every_key_of_every_answer_leads_to_its_page(client: httpx.AsyncClient) -> None:
    keys: dict[str, str] = {}
    asked = await bodies(client)
    assert len({path for path, _, _ in asked}) > 25
    for path, name, body in asked:
        response = await client.post(path, json=body)
        assert response.status_code == 200, (path, name, response.text[:300])
        answer = response.json()
        assert answer["models"] or answer["sources"], (path, name)
        for step in answer.get("steps", ()):
            if isinstance(step, dict) and step.get("source"):
                keys.setdefault(step["source"], f"{path}, {name}")
        for key in (*answer["models"], *answer["sources"]):
            keys.setdefault(key, f"{path}, {name}")
    assert len(keys) > 25
    for key, where in keys.items():
        found = await client.get(f"/v1/sources/{key}")
        assert found.status_code == 200, (key, where)
        page = found.json()
        assert page["citation"]
        assert page["checks"] or page["unchecked"], (key, where)
        assert page["rows"] or page["modules"] or page["kind"] != "published", (key, where)
        html = await client.get(f"/v1/sources/{key}.html")
        assert html.headers["content-type"].startswith("text/html")
        assert f"<h1>{key}</h1>" in html.text


@pytest.mark.parametrize("key", sorted(sources()))
async def test_every_source_has_its_rows_and_its_checks(
    client: httpx.AsyncClient, key: str
) -> None:
    page = (await client.get(f"/v1/sources/{key}")).json()
    known = {each.key: each for each in trust_report().quantities}
    for checks in page["checks"]:
        assert checks["title"] == known[checks["key"]].title
        assert all(figures["count"] > 0 for figures in checks["checks"])
    text = (await client.get(f"/v1/sources/{key}", headers={"Accept": "text/html"})).text
    for row in page["rows"]:
        assert row["values"]
        assert f"Table {row['table']}, " in text
    assert text.count("<table>") == text.count("<caption>")


async def test_a_row_of_a_source_stands_as_the_table_has_it(client: httpx.AsyncClient) -> None:
    page = (await client.get("/v1/sources/crc-handbook-98")).json()
    row = next(
        row
        for row in page["rows"]
        if row["table"] == "salt_solubility"
        and row["values"]["salt"] == "KNO3"
        and row["values"]["temperature_celsius"] == "20"
    )
    assert row["values"]["published_value"] == "24.2"
    assert row["basis"] == "measured"
    assert "solubility_alone" in {each["key"] for each in page["checks"]}
