"""The documentation for people: one page made from the OpenAPI document, without any asset."""

import json
from html import escape
from typing import Any, Final

from service.api.contract import METHODS

STYLE: Final = """
:root{color-scheme:light dark;--ink:#1b2a22;--page:#fbfcfb;--line:#cfdcd3;--head:#eaf2ec;
--code:#f2f6f3;--lead:#2f6b45}
@media(prefers-color-scheme:dark){:root{--ink:#dce8e0;--page:#14201a;--line:#35493d;--head:#1d2d24;
--code:#1d2d24;--lead:#8fd0a6}}
*{box-sizing:border-box}
body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:0 auto;padding:1rem;color:var(--ink);
background:var(--page);overflow-wrap:anywhere}
h1,h2,h3{line-height:1.2}h2{margin-top:3rem;border-bottom:2px solid var(--lead)}
h3{margin-top:2.2rem}
a{color:var(--lead)}code,pre{font:14px/1.45 ui-monospace,monospace}
pre{background:var(--code);padding:.8rem;white-space:pre-wrap}
table{border-collapse:collapse;width:100%;margin:.5rem 0;table-layout:fixed}
th,td{border:1px solid var(--line);padding:.3rem .5rem;text-align:left;vertical-align:top;
font-weight:400}
thead th{background:var(--head);font-weight:700}td p{margin:0}th:last-child{width:46%}
th.short{width:5.5rem}summary{cursor:pointer;padding:.3rem 0}
.verb{display:inline-block;min-width:3.2rem;font-weight:700;color:var(--lead)}
nav a{display:block;padding:.15rem 0}
:focus-visible{outline:3px solid var(--lead);outline-offset:2px}
@media(max-width:40rem){table,thead,tbody,tr,th,td{display:block;width:100%}thead{display:none}
tr{border:1px solid var(--line);margin:.4rem 0}
th,td,th:last-child{border:0;width:100%}th.short{width:100%}}
@media print{nav{display:none}}
"""

FIRST_TAG: Final = "mixing"
FIRST_OPERATION: Final = "post_doses"
"""What most people come for stands first."""


def documentation_page(document: dict[str, Any]) -> str:
    """Return the page that shows a whole OpenAPI document."""
    information = document["info"]
    parts = [
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width,initial-scale=1'>",
        f"<title>{escape(information['title'])}</title>",
        f"<style>{STYLE}</style></head><body><main>",
        f"<h1>{escape(information['title'])} {escape(information['version'])}</h1>",
        _prose(information.get("description", "")),
        "<p><a href='/openapi.json'>OpenAPI document</a></p>",
        _contents(document),
    ]
    for tag, found in _by_tag(document):
        parts.append(f"<h2>{escape(tag['name'])}</h2>{_prose(tag['description'])}")
        parts.extend(_operation(*each) for each in found)
    parts.append("<h2>schemas</h2>")
    for name, schema in document.get("components", {}).get("schemas", {}).items():
        parts.append(_schema(name, schema))
    parts.append("</main></body></html>")
    return "".join(parts)


Operation = tuple[str, str, dict[str, Any]]
"""Path, method and what the document says of it."""


def _by_tag(document: dict[str, Any]) -> list[tuple[dict[str, Any], list[Operation]]]:
    """Return the operations under their tags, the dose first of all."""
    listed = []
    for tag in document.get("tags", []):
        found = [
            (path, method, item[method])
            for path, item in document["paths"].items()
            for method in METHODS
            if method in item and tag["name"] in item[method].get("tags", [])
        ]
        found.sort(key=lambda each: each[2]["operationId"] != FIRST_OPERATION)
        if found:
            listed.append((tag, found))
    listed.sort(key=lambda each: each[0]["name"] != FIRST_TAG)
    return listed


def _prose(text: str) -> str:
    """Return paragraphs; of Markdown only `code` and **strong** are understood."""
    return "".join(f"<p>{_marked(block.strip())}</p>" for block in text.split("\n\n"))


def _marked(text: str) -> str:
    """Return a text with its `code` and **strong** marked up."""
    pieces = escape(text).split("`")
    marked = "".join(
        f"<code>{piece}</code>" if position % 2 else piece for position, piece in enumerate(pieces)
    )
    strong = marked.split("**")
    return "".join(
        f"<strong>{piece}</strong>" if position % 2 else piece
        for position, piece in enumerate(strong)
    )


def _contents(document: dict[str, Any]) -> str:
    links = [
        f"<a href='#{escape(operation['operationId'])}'><span class='verb'>{method.upper()}"
        f"</span> <code>{escape(path)}</code> {escape(operation['summary'])}</a>"
        for _, found in _by_tag(document)
        for path, method, operation in found
    ]
    return f"<nav aria-label='Every address'>{''.join(links)}</nav>"


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
            f"<tr><th scope='row'><code>{escape(each['name'])}</code></th>"
            f"<td>{escape(each['in'])}</td><td>{_type(each.get('schema', {}))}</td>"
            f"<td>{_prose(each.get('description', ''))}</td></tr>"
            for each in parameters
        )
        parts.append(
            "<table><thead><tr><th scope='col'>parameter</th><th scope='col' class='short'>in</th>"
            "<th scope='col'>type</th><th scope='col'>meaning</th></tr></thead>"
            f"<tbody>{rows}</tbody></table>"
        )
    for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
        parts.append(f"<p>Body: {escape(media_type)}, {_type(content.get('schema', {}))}</p>")
        parts.extend(_examples(content.get("examples", {})))
    problems = []
    for status, response in operation["responses"].items():
        kinds = " or ".join(
            f"{escape(media_type)} {_type(content.get('schema', {}))}"
            for media_type, content in response.get("content", {}).items()
        )
        said = f"<code>{escape(status)}</code> {_marked(response['description'])}"
        if status[0] in "45":
            problems.append(f"<div>{said}</div>")
            continue
        parts.append(f"<div>{said} {kinds}</div>")
        for content in response.get("content", {}).values():
            parts.extend(_examples(content.get("examples", {})))
    if problems:
        parts.append(f"<details><summary>Problems</summary>{''.join(problems)}</details>")
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
        f"<tr><th scope='row'><code>{escape(field)}</code>{' *' if field in required else ''}</th>"
        f"<td>{_type(inner)}</td><td>{_prose(inner.get('description', ''))}"
        f"{_sample(inner)}</td></tr>"
        for field, inner in schema.get("properties", {}).items()
    )
    head = f"<details id='schema-{escape(name)}'><summary><code>{escape(name)}</code></summary>"
    table = (
        "<table><thead><tr><th scope='col'>field</th><th scope='col'>type</th>"
        f"<th scope='col'>meaning</th></tr></thead><tbody>{rows}</tbody></table>"
    )
    return f"{head}{_prose(schema.get('description', ''))}{table if rows else ''}</details>"


def _sample(schema: dict[str, Any]) -> str:
    examples = schema.get("examples", [])
    if not examples:
        return ""
    return "e.g. " + ", ".join(f"<code>{_json(value)}</code>" for value in examples)
