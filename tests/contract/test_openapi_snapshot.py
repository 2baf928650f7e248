"""The contract as it is committed, and the rules that every operation and field keeps."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.__main__ import openapi_text
from service.api.contract import TAGS, operations
from tests.contract.probe import probe_app

COMMITTED = Path(__file__).resolve().parents[2] / "openapi" / "openapi.json"


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return dict(json.loads(openapi_text()))


@pytest.fixture(scope="module")
def with_probe() -> dict[str, Any]:
    """The document with the schemas of requests, which the probe's routes bring in."""
    return probe_app().openapi()


def schemas_in(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(node, dict):
        if "type" in node and not isinstance(node["type"], dict):
            yield path, node
        for key, inner in node.items():
            if key not in ("example", "examples", "value", "enum", "default"):
                yield from schemas_in(inner, f"{path}/{key}")
    elif isinstance(node, list):
        for position, inner in enumerate(node):
            yield from schemas_in(inner, f"{path}/{position}")


def test_committed_document_is_what_the_service_says() -> None:
    assert COMMITTED.read_text(encoding="utf-8") == openapi_text(), (
        "the contract changed: run `python -m service openapi`, read the difference,"
        " and note it in openapi/CHANGELOG.md"
    )


def test_document_is_openapi_3_1_0_with_licence_contact_and_server(
    document: dict[str, Any],
) -> None:
    assert document["openapi"] == "3.1.0"
    assert document["info"]["title"] == "Velamen"
    assert document["info"]["license"] == {"name": "MIT", "identifier": "MIT"}
    assert document["info"]["contact"]["name"]
    assert document["servers"]
    assert "itemSchema" not in json.dumps(document)


def test_every_operation_is_named_described_and_tagged(with_probe: dict[str, Any]) -> None:
    seen: set[str] = set()
    known_tags = {tag["name"] for tag in TAGS}
    for operation, path in operations(with_probe):
        assert re.fullmatch(r"[a-z0-9_]+", operation["operationId"]), path
        assert operation["operationId"] not in seen
        seen.add(operation["operationId"])
        assert operation["summary"]
        assert operation["description"]
        assert len(operation["tags"]) == 1
        assert operation["tags"][0] in known_tags


def test_every_error_is_a_documented_problem(with_probe: dict[str, Any]) -> None:
    for operation, path in operations(with_probe):
        errors = {status for status in operation["responses"] if status[0] in "45"}
        needed = {"404", "405", "406", "422", "429", "500", "503"}
        if "requestBody" in operation:
            needed |= {"400", "408", "413", "415"}
        assert needed <= errors, path
        for status in errors:
            response = operation["responses"][status]
            assert list(response["content"]) == ["application/problem+json"], (path, status)
            assert "X-Request-ID" in response["headers"]
        assert "Retry-After" in operation["responses"]["503"]["headers"]
        assert "Allow" in operation["responses"]["405"]["headers"]


def test_every_body_has_the_three_named_examples(with_probe: dict[str, Any]) -> None:
    for operation, path in operations(with_probe):
        contents = operation.get("requestBody", {}).get("content", {})
        for media_type, content in contents.items():
            if media_type == "application/json":
                assert {"metric", "us", "caution"} <= set(content["examples"]), path
            else:
                assert content.get("example") or content.get("examples"), (path, media_type)


def test_every_field_is_described(with_probe: dict[str, Any]) -> None:
    schemas = with_probe["components"]["schemas"]
    for name, schema in schemas.items():
        assert schema.get("description"), name
        for field, inner in schema.get("properties", {}).items():
            # A bare reference is described where it leads.
            target = schemas.get(inner.get("$ref", "").rpartition("/")[2], {})
            assert inner.get("description") or target.get("description"), f"{name}.{field}"


def test_every_number_of_a_request_is_bounded(with_probe: dict[str, Any]) -> None:
    for path, schema in schemas_in(with_probe["components"]["schemas"]):
        kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        if "pattern" in schema and ("number" in kinds or "integer" in kinds):
            assert {"minimum", "exclusiveMinimum"} & set(schema), path
            assert {"maximum", "exclusiveMaximum"} & set(schema), path
            assert not {"gt", "ge", "lt", "le"} & set(schema), path
            assert schema["maxLength"] <= 128, path


def test_patterns_list_the_units_of_the_field(with_probe: dict[str, Any]) -> None:
    schemas = with_probe["components"]["schemas"]
    volume = re.compile(schemas["DilutionRequest"]["properties"]["volume_l"]["pattern"])
    for text in ("5", "5 gal", "5 US gal", "1.5e1 L"):
        assert volume.search(text), text
    for text in ("5 kg", "1,5", "1_000", "NaN", "2*3"):
        assert not volume.search(text), text


def test_every_reference_leads_somewhere(with_probe: dict[str, Any]) -> None:
    for reference in re.findall(r'"\$ref": "#/([^"]+)"', json.dumps(with_probe)):
        node: Any = with_probe
        for part in reference.split("/"):
            node = node[part]
        assert node
