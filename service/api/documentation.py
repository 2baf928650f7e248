"""The documentation for people: one page made from the OpenAPI document, without any asset."""

import json
from html import escape
from typing import Any, Final

from service.api.contract import METHODS

STYLE: Final = """
body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:0 auto;padding:1rem;color:#1b2a22}
h1,h2,h3{line-height:1.2}h2{margin-top:3rem;border-bottom:2px solid #5b8c6a}
code,pre{font:14px/1.45 ui-monospace,monospace}pre{background:#f2f6f3;padding:.8rem;overflow:auto}
table{border-collapse:collapse;width:100%;margin:.5rem 0}
th,td{border:1px solid #cfdcd3;padding:.3rem .5rem;text-align:left;vertical-align:top}
th{background:#eaf2ec}summary{cursor:pointer;padding:.3rem 0}
.verb{display:inline-block;min-width:3.2rem;font-weight:700;color:#2f6b45}
nav a{display:block}@media(prefers-color-scheme:dark){body{background:#14201a;color:#dce8e0}
pre,th{background:#1d2d24}th,td{border-color:#35493d}a{color:#8fd0a6}.verb{color:#8fd0a6}}
"""


def documentation_page(document: dict[str, Any]) -> str:
    """Return the page that shows a whole OpenAPI document."""
    information = document["info"]
    parts = [
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width,initial-scale=1'>",
        f"<title>{escape(information['title'])}</title><style>{STYLE}</style></head><body>",
        f"<h1>{escape(information['title'])} {escape(information['version'])}</h1>",
        _prose(information.get("description", "")),
        "<p><a href='/openapi.json'>OpenAPI document</a></p>",
        _contents(document),
    ]
    for tag in document.get("tags", []):
        found = [
            _operation(path, method, item[method])
            for path, item in document["paths"].items()
            for method in METHODS
            if method in item and tag["name"] in item[method].get("tags", [])
        ]
        if found:
            parts.append(f"<h2>{escape(tag['name'])}</h2>{_prose(tag['description'])}")
            parts.extend(found)
    parts.append("<h2>schemas</h2>")
    for name, schema in document.get("components", {}).get("schemas", {}).items():
        parts.append(_schema(name, schema))
    parts.append("</body></html>")
    return "".join(parts)


def _prose(text: str) -> str:
    """Return paragraphs; of Markdown only `code` and **strong** are understood."""
    paragraphs = []
    for block in text.split("\n\n"):
        pieces = escape(block.strip()).split("`")
        marked = "".join(
            f"<code>{piece}</code>" if position % 2 else piece
            for position, piece in enumerate(pieces)
        )
        strong = marked.split("**")
        whole = "".join(
            f"<strong>{piece}</strong>" if position % 2 else piece
            for position, piece in enumerate(strong)
        )
        paragraphs.append(f"<p>{whole}</p>")
    return "".join(paragraphs)


def _contents(document: dict[str, Any]) -> str:
    links = [
        f"<a href='#{escape(item[method]['operationId'])}'><span class='verb'>{method.upper()}"
        f"</span> <code>{escape(path)}</code> {escape(item[method]['summary'])}</a>"
        for path, item in document["paths"].items()
        for method in METHODS
        if method in item
    ]
    return f"<nav>{''.join(links)}</nav>"


def _operation(path: str, method: str, operation: dict[str, Any]) -> str:
    parts = [
        f"<h3 id='{escape(operation['operationId'])}'><span class='verb'>{method.upper()}</span>"
        f" <code>{escape(path)}</code></h3>",
        f"<p><strong>{escape(operation['summary'])}</strong></p>",
        _prose(operation.get("description", "")),
    ]
    parameters = operation.get("parameters", [])
    if parameters:
        rows = "".join(
            f"<tr><td><code>{escape(each['name'])}</code></td><td>{escape(each['in'])}</td>"
            f"<td>{_type(each.get('schema', {}))}</td><td>{_prose(each.get('description', ''))}"
            "</td></tr>"
            for each in parameters
        )
        parts.append(
            f"<table><tr><th>parameter</th><th>in</th><th>type</th><th>meaning</th></tr>{rows}"
            "</table>"
        )
    for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
        parts.append(f"<p>Body: {escape(media_type)}, {_type(content.get('schema', {}))}</p>")
        parts.extend(_examples(content.get("examples", {})))
    for status, response in operation["responses"].items():
        kinds = " or ".join(
            f"{escape(media_type)} {_type(content.get('schema', {}))}"
            for media_type, content in response.get("content", {}).items()
        )
        line = f"<code>{escape(status)}</code> {escape(response['description'])} {kinds}"
        parts.append(f"<div>{line}</div>")
        for content in response.get("content", {}).values():
            parts.extend(_examples(content.get("examples", {})))
    return "".join(parts)


def _examples(examples: dict[str, Any]) -> list[str]:
    return [
        f"<details><summary>{escape(name)}: {escape(example.get('summary', ''))}</summary>"
        f"<pre>{_json(example.get('value'))}</pre></details>"
        for name, example in examples.items()
    ]


def _json(value: object) -> str:
    return escape(json.dumps(value, indent=2, ensure_ascii=False))


def _type(schema: dict[str, Any]) -> str:
    """Return the type of a schema in words, other schemas as links."""
    if "$ref" in schema:
        name = escape(schema["$ref"].rpartition("/")[2])
        return f"<a href='#schema-{name}'>{name}</a>"
    for union in ("anyOf", "oneOf"):
        if union in schema and "properties" not in schema:
            return " or ".join(_type(choice) for choice in schema[union])
    if "enum" in schema:
        return " | ".join(f"<code>{_json(value)}</code>" for value in schema["enum"])
    if "const" in schema:
        return f"<code>{_json(schema['const'])}</code>"
    kind = schema.get("type", "any")
    names = " or ".join(kind) if isinstance(kind, list) else str(kind)
    if "items" in schema:
        names = f"{names} of {_type(schema['items'])}"
    additional = schema.get("additionalProperties")
    if isinstance(additional, dict):
        names = f"{names} of {_type(additional)}"
    signs = {"exclusiveMinimum": "&gt;", "minimum": "≥", "exclusiveMaximum": "&lt;", "maximum": "≤"}
    bounds = [f"{sign} {schema[key]:g}" for key, sign in signs.items() if key in schema]
    return names if not bounds else f"{names} ({', '.join(bounds)})"


def _schema(name: str, schema: dict[str, Any]) -> str:
    required = set(schema.get("required", []))
    rows = "".join(
        f"<tr><td><code>{escape(field)}</code>{' *' if field in required else ''}</td>"
        f"<td>{_type(inner)}</td><td>{_prose(inner.get('description', ''))}"
        f"{_sample(inner)}</td></tr>"
        for field, inner in schema.get("properties", {}).items()
    )
    head = f"<details id='schema-{escape(name)}'><summary><code>{escape(name)}</code></summary>"
    table = f"<table><tr><th>field</th><th>type</th><th>meaning</th></tr>{rows}</table>"
    return f"{head}{_prose(schema.get('description', ''))}{table if rows else ''}</details>"


def _sample(schema: dict[str, Any]) -> str:
    examples = schema.get("examples", [])
    if not examples:
        return ""
    return "e.g. " + ", ".join(f"<code>{_json(value)}</code>" for value in examples)
