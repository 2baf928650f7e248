"""The OpenAPI document: what FastAPI writes, brought to what the service really answers."""

from collections.abc import Iterator
from typing import Any, Final

from fastapi import FastAPI
from pydantic import BaseModel

from service.api.negotiation import MEDIA_TYPES
from service.api.problems import PROBLEM_MEDIA_TYPE

OPENAPI_VERSION: Final = "3.1.0"

DESCRIPTION: Final = """
Given these plants, this air, this water and what is on the shelf: what to mix now, how much of it,
and what it will be.

**Names carry units.** Every dimensional field ends in its unit: `volume_l`, `ec_ms_per_cm`. A bare
number is in that unit; a text may carry its own (`"5 gal"`, `"10 dKH"`), and `"20"` counts as a
number. Decimal commas, digit separators, booleans, NaN and infinities are refused, each with its
own code. `/v1/units` lists what is read.

**One answer shape.** `status`, the results, then what was understood (`inputs`), assumed
(`assumptions`), what to know before pouring (`cautions`), and what it rests on (`models`,
`sources`, `version`). A plan that cannot be met is an answer, not an error.

**Errors** are problem documents (RFC 9457) with one entry per fault; `/problems/{code}` explains
each code. Nothing is ignored: unknown fields and parameters, keys that stand twice and parameters
that stand twice are errors.

**Formats** are chosen by the suffix of the path (`/v1/products.json`), then `?format=`, then
`Accept`. HEAD works wherever GET does. A POST changes nothing and can be repeated safely.
""".strip()

TAGS: Final = (
    {
        "name": "strength",
        "description": "How strong: targets for these plants in this air, and meter readings.",
    },
    {
        "name": "mixing",
        "description": "What to weigh and measure: doses, dilutions, recipes, stock solutions.",
    },
    {
        "name": "water",
        "description": "Water and its pH: acid, blends, solutions, solubilities.",
    },
    {
        "name": "upkeep",
        "description": "What comes after mixing: reservoirs, flushes, salt, programmes.",
    },
    {
        "name": "catalogue",
        "description": "Products, acids, waters, plants, units, limits and the sources of numbers.",
    },
    {"name": "operation", "description": "Liveness, readiness, releases, codes of problems."},
)

LICENCE: Final = {"name": "MIT", "identifier": "MIT"}
CONTACT: Final = {"name": "The maintainers of Velamen"}

HEADERS: Final[dict[str, dict[str, Any]]] = {
    "X-Request-ID": {
        "description": "Identity of the request: that of the caller if it is 1 to 64 letters,"
        " digits and `._:-`, else a new one.",
        "schema": {"type": "string", "maxLength": 64},
    },
    "X-Service-Version": {
        "description": "Release of the service.",
        "schema": {"type": "string", "maxLength": 40},
    },
    "X-Data-Version": {
        "description": "Release of the reference data.",
        "schema": {"type": "string", "maxLength": 40},
    },
    "ETag": {
        "description": "Identity of the representation, for `If-None-Match`.",
        "schema": {"type": "string", "maxLength": 80},
    },
    "Cache-Control": {
        "description": "Whether and how long the answer may be kept.",
        "schema": {"type": "string", "maxLength": 80},
    },
    "Retry-After": {
        "description": "Seconds to wait.",
        "schema": {"type": "string", "pattern": "^[0-9]{1,5}$"},
    },
    "Allow": {
        "description": "The methods of the path.",
        "schema": {"type": "string", "maxLength": 80},
    },
}

SECURITY_SCHEMES: Final[dict[str, dict[str, Any]]] = {
    "bearer": {
        "type": "http",
        "scheme": "bearer",
        "description": "A key of this installation, where it asks for one.",
    },
    "apiKey": {
        "type": "apiKey",
        "in": "header",
        "name": "X-API-Key",
        "description": "The same key, for callers that cannot send `Authorization`.",
    },
}

NOT_SCHEMAS: Final = ("info", "tags", "examples", "example", "value", "const", "enum", "default")
"""Keys below which a document holds no schemas."""

METHODS: Final = ("get", "post", "put", "patch", "delete")

_BODY_BY_STATUS: Final = {
    "400": "The body cannot be read.",
    "401": "A key is needed.",
    "404": "There is nothing at this address.",
    "405": "This address does not take that method.",
    "406": "None of the accepted formats is available.",
    "408": "The body did not arrive in time.",
    "413": "The body or the batch is too large.",
    "415": "The body has a media type that this address does not read.",
    "422": "Something in the request is wrong; `errors` says what and where.",
    "429": "Too many requests.",
    "500": "The service failed, or the answer failed its own check.",
    "503": "The service is busy or not ready.",
}


def format_parameter(*offered: str) -> dict[str, Any]:
    """Return the `openapi_extra` of a route that offers these formats by `?format=`."""
    listed = ", ".join(f"`{name}` ({MEDIA_TYPES[name]})" for name in offered)
    parameter = {
        "name": "format",
        "in": "query",
        "required": False,
        "description": f"Format of the answer: {listed}. A suffix of the path wins over it, and it"
        " wins over `Accept`.",
        "schema": {"type": "string", "enum": list(offered), "default": offered[0]},
        "example": offered[0],
    }
    return {"parameters": [parameter]}


SINGLE_FORMATS: Final = ("json", "csv", "txt", "xml")
"""Formats of a single answer, the preferred one first."""

UNITS: Final = ("metric", "us", "imperial")
"""Systems of measure of `display`, the usual one first."""

_JSON_TYPES: Final = {bool: "boolean", int: "integer", str: "string", type(None): "null"}
"""Names of the types that values of enumerations have."""


def answer_parameters(
    model: type[BaseModel], offered: tuple[str, ...] = SINGLE_FORMATS
) -> dict[str, Any]:
    """Return the `openapi_extra` of a single answer: its form, its fields, its units."""
    names = "|".join(model.model_fields)
    chosen = [
        {
            "name": "field",
            "in": "query",
            "required": False,
            "description": "The one number that `.txt` gives, such as `volume_l` or"
            " `elements_mg_per_l.nitrogen`. Where the answer has no such number, or nothing is to"
            " be mixed, the status is 422: never a zero that stands for nothing.",
            "schema": {"type": "string", "maxLength": 120, "pattern": f"^({names})(\\.[a-z_]+)?$"},
        },
        {
            "name": "fields",
            "in": "query",
            "required": False,
            "description": "Fields that are wanted, with commas between; `status` always stands.",
            "schema": {
                "type": "string",
                "maxLength": 1000,
                "pattern": f"^({names})(,({names}))*$",
            },
        },
        {
            "name": "units",
            "in": "query",
            "required": False,
            "description": "`us` or `imperial` adds texts for people as `display`; the numbers stay"
            " metric.",
            "schema": {"type": "string", "enum": list(UNITS), "default": UNITS[0]},
        },
    ]
    return {"parameters": [*chosen, *format_parameter(*offered)["parameters"]]}


def named_examples(**examples: tuple[str, Any]) -> dict[str, Any]:
    """
    Return the `openapi_examples` of a body: name=(summary, value).

    Every operation with a body has `metric`, `us` and `caution`.
    """
    return {
        name: {"summary": summary, "value": value} for name, (summary, value) in examples.items()
    }


class ContractApp(FastAPI):
    """An application whose OpenAPI document says what the service really answers."""

    def openapi(self) -> dict[str, Any]:
        """Return the document; it is made once per set of routes."""
        before = self.openapi_schema
        document = super().openapi()
        if document is not before:
            for model in self.state.bodies:
                add_body_schema(document, model)
            finish(document)
        return document


def add_body_schema(document: dict[str, Any], model: type[BaseModel]) -> None:
    """Publish the schema of a body that its endpoint reads itself."""
    schemas = document.setdefault("components", {}).setdefault("schemas", {})
    schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
    for name, definition in schema.pop("$defs", {}).items():
        schemas.setdefault(name, definition)
    schemas[model.__name__] = schema


def finish(document: dict[str, Any]) -> None:
    """Bring a document of FastAPI to the contract, in place."""
    for operation, path in operations(document):
        _finish_responses(
            operation, kept=path.startswith("/v1/") and "requestBody" not in operation
        )
    components = document.setdefault("components", {})
    components["headers"] = HEADERS
    components["securitySchemes"] = SECURITY_SCHEMES
    document["security"] = [{}, *({name: []} for name in SECURITY_SCHEMES)]
    schemas = components.get("schemas", {})
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    _simplify(document, "")


def operations(document: dict[str, Any]) -> Iterator[tuple[dict[str, Any], str]]:
    """Yield every operation of a document with its path."""
    for path, item in document.get("paths", {}).items():
        for method in METHODS:
            if method in item:
                yield item[method], path


def _reference(name: str) -> dict[str, str]:
    return {"$ref": f"#/components/headers/{name}"}


def _finish_responses(operation: dict[str, Any], *, kept: bool) -> None:
    """Move problems to their media type, and document the headers."""
    responses = operation["responses"]
    for status, response in responses.items():
        names = ["X-Request-ID", "X-Service-Version", "X-Data-Version", "Cache-Control"]
        if status[:1] in "45":
            content = response.get("content", {})
            if "application/json" in content:
                response["content"] = {PROBLEM_MEDIA_TYPE: content["application/json"]}
            response["description"] = _BODY_BY_STATUS.get(status, response["description"])
        elif kept:
            names.append("ETag")
        if status in ("429", "503"):
            names.append("Retry-After")
        if status == "405":
            names.append("Allow")
        response["headers"] = {name: _reference(name) for name in names}
    if kept:
        names = ["X-Request-ID", "ETag", "Cache-Control"]
        responses["304"] = {
            "description": "The caller has this representation already (`If-None-Match`).",
            "headers": {name: _reference(name) for name in names},
        }
    _add_formats(operation)
    if responses.get("200", {}).get("description") == "Successful Response":
        responses["200"]["description"] = "The answer."
    operation["responses"] = dict(sorted(responses.items()))


def _add_formats(operation: dict[str, Any]) -> None:
    """Document every media type that the `format` parameter of an operation offers."""
    for parameter in operation.get("parameters", ()):
        if parameter["name"] == "format":
            content = operation["responses"]["200"].setdefault("content", {})
            for name in parameter["schema"]["enum"]:
                content.setdefault(MEDIA_TYPES[name], {"schema": {"type": "string"}})


def _simplify(node: object, key: str) -> None:
    """Write "or null" into the type, and drop titles and defaults that say nothing."""
    if isinstance(node, list):
        for inner in node:
            _simplify(inner, "")
        return
    if not isinstance(node, dict):
        return
    if key not in ("properties", "examples", "example", "value", "patternProperties"):
        _part_enumerations(node)
        _fold_null(node)
        if node.get("type") == "array":
            node.setdefault("items", {})
        if _is_whole(node.get("type")):
            node.setdefault("format", "int64")
        if isinstance(node.get("title"), str) and "properties" not in node:
            del node["title"]
        if "default" in node and node["default"] is None:
            del node["default"]
    for name, inner in node.items():
        if name not in NOT_SCHEMAS:
            _simplify(inner, name)


def _is_whole(kind: object) -> bool:
    """Tell whether a schema is of whole numbers, or of nothing."""
    kinds = kind if isinstance(kind, list) else [kind]
    return "integer" in kinds and set(kinds) <= {"integer", "null"}


def _part_enumerations(node: dict[str, Any]) -> None:
    """Write values of several types as a choice between enumerations, which typed clients read."""
    if isinstance(choices := node.get("anyOf"), list):
        node["anyOf"] = [part for choice in choices for part in _parts_by_type(choice)]
    elif len(parts := _parts_by_type(node)) > 1:
        del node["enum"]
        node.pop("type", None)
        node["anyOf"] = parts


def _parts_by_type(node: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the enumerations of a schema, one for every type among its values, or itself."""
    values = node.get("enum")
    if not isinstance(values, list):
        return [node]
    by_type: dict[str, list[Any]] = {}
    for value in values:
        by_type.setdefault(_JSON_TYPES[type(value)], []).append(value)
    if len(by_type.keys() - {"null"}) < 2:
        return [node]
    return [
        {"type": kind} if kind == "null" else {"type": kind, "enum": members}
        for kind, members in by_type.items()
    ]


def _fold_null(node: dict[str, Any]) -> None:
    """Turn `anyOf: [X, null]` into X with `null` among its types, where X is written out."""
    choices = node.get("anyOf")
    if not isinstance(choices, list) or {"type": "null"} not in choices or len(choices) != 2:
        return
    (other,) = (choice for choice in choices if choice != {"type": "null"})
    kind = other.get("type")
    if kind is None or "$ref" in other or "oneOf" in other:
        return
    del node["anyOf"]
    for name, inner in other.items():
        node.setdefault(name, inner)
    node["type"] = [*(kind if isinstance(kind, list) else [kind]), "null"]
    if "enum" in other:
        node["enum"] = [*other["enum"], None]
    if "const" in other:
        node["enum"] = [node.pop("const"), None]
