"""
GET twins: a request as flat query parameters, with the names of the POST.

Nested names are joined by a dot (`water.ph=7.8`); a preset stands as it is (`water=rain`). The
parameters are read off the model of the POST, are published one by one, and are nested again and
validated by that same model, so that both ways read a request alike. Lists and open maps have no
parameter: they need a POST.
"""

from collections.abc import Iterator, Mapping
from typing import Any, Final, Generic, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.requests import Request

from service.api.contract import SINGLE_FORMATS, answer_parameters, format_parameter
from service.api.problems import invalid_request
from service.api.received import repeatable
from service.api.validation import FieldError, field_errors

Model = TypeVar("Model", bound=BaseModel)

SCALARS: Final = ("string", "number", "integer", "boolean")
LONGEST_VALUE: Final = 256


class QueryTwin(Generic[Model]):
    """
    The query parameters that stand for the body of a POST.

    Parameters
    ----------
    model : type of BaseModel
        The model of the body.
    """

    def __init__(self, model: type[Model]) -> None:
        self.model = model
        document = model.model_json_schema(mode="validation")
        definitions = document.get("$defs", {})
        self.schemas: dict[str, dict[str, Any]] = {}
        self.required: set[str] = set()
        for name, schema, required in _flat(document, definitions):
            self._add(name, schema)
            if required:
                self.required.add(name)

    def _add(self, name: str, schema: dict[str, Any]) -> None:
        """Add a parameter; members of a union that share a name share the parameter."""
        known = self.schemas.get(name)
        if known is None:
            self.schemas[name] = schema
        elif "enum" in known and "enum" in schema:
            known["enum"] = [*dict.fromkeys([*known["enum"], *schema["enum"]])]

    def openapi_extra(self, *formats: str, more: tuple[dict[str, Any], ...] = ()) -> dict[str, Any]:
        """
        Return the `openapi_extra` of the GET.

        Parameters
        ----------
        formats : str
            Formats that the route offers, the preferred one first.
        more : tuple of dict
            Further query parameters of the route itself, as OpenAPI writes them.
        """
        parameters = [
            {
                "name": name,
                "in": "query",
                "required": name in self.required,
                "description": schema.get("description", "See the POST."),
                "schema": {key: value for key, value in schema.items() if key != "description"},
            }
            for name, schema in self.schemas.items()
        ]
        return {"parameters": [*parameters, *more, *format_parameter(*formats)["parameters"]]}

    def answer_extra(
        self, answer: type[BaseModel], formats: tuple[str, ...] = SINGLE_FORMATS
    ) -> dict[str, Any]:
        """
        Return the `openapi_extra` of a route that answers these parameters once.

        Parameters
        ----------
        answer : type of BaseModel
            The answer, whose fields can be chosen.
        formats : tuple of str
            Formats that the route offers, the preferred one first.
        """
        more = answer_parameters(answer, formats)["parameters"]
        return {"parameters": [*self.openapi_extra("json")["parameters"][:-1], *more]}

    def read(self, request: Request) -> Model:
        """
        Return the request that the parameters spell.

        Parameters
        ----------
        request : Request
            Its parameters were checked by `ContractRoute`: all are known, none stands twice.

        Raises
        ------
        ProblemError
            422 with one fault per parameter.
        """
        given = {name: text for name, text in request.query_params.items() if name in self.schemas}
        try:
            return self.model.model_validate(nested(given))
        except ValidationError as error:
            errors = [{**each, "loc": ("query", *each["loc"])} for each in error.errors()]
            faults = field_errors(errors, self.model)
            raise invalid_request(*(self._named(fault) for fault in faults)) from None

    def _named(self, fault: FieldError) -> FieldError:
        """Name the parameter that is missing where pydantic names the object it is part of."""
        name = fault.parameter
        if fault.code != "missing" or name is None or name in self.schemas:
            return fault
        parts = [each for each in self.schemas if each.startswith(name + ".")]
        part = next((each for each in parts if each in self.required), None)
        if part is None:
            return fault
        return fault.model_copy(update={"parameter": part, "detail": f"`{part}` is missing."})


def nested(parameters: Mapping[str, str]) -> dict[str, Any]:
    """
    Return the object that dotted names spell.

    Parameters
    ----------
    parameters : mapping of str to str
        Dotted name to text.

    Raises
    ------
    ProblemError
        422 `contradiction` when a name is given as a whole and in parts (`water`, `water.ph`).
    """
    result: dict[str, Any] = {}
    for name, text in parameters.items():
        *parents, last = name.split(".")
        here = result
        for position, parent in enumerate(parents):
            inner = here.setdefault(parent, {})
            if not isinstance(inner, dict):
                raise _contradiction(".".join(parents[: position + 1]), name)
            here = inner
        if isinstance(here.get(last), dict):
            raise _contradiction(name, f"{name}.{next(iter(here[last]))}")
        here[last] = text
    return result


def _contradiction(whole: str, part: str) -> Exception:
    detail = f"`{whole}` is given as a whole and in part (`{part}`); give one of them."
    return invalid_request(
        FieldError(
            parameter=part[:200],
            code="contradiction",
            detail=detail,
            received=repeatable(part),
            allowed=f"`{whole}`, or its parts",
        )
    )


def _flat(
    schema: Mapping[str, Any],
    definitions: Mapping[str, Any],
    prefix: str = "",
    *,
    required: bool = True,
) -> Iterator[tuple[str, dict[str, Any], bool]]:
    """Yield name, schema and need of every field that a text can hold."""
    needed = schema.get("required", ())
    for name, inner in schema.get("properties", {}).items():
        path = f"{prefix}{name}"
        choices = list(_choices(inner, definitions))
        here = required and name in needed and len(choices) == 1
        for choice in choices:
            if "properties" in choice:
                yield from _flat(choice, definitions, path + ".", required=here)
            elif _is_scalar(choice):
                yield path, _parameter_schema(choice, inner), here


def _choices(
    schema: Mapping[str, Any], definitions: Mapping[str, Any]
) -> Iterator[Mapping[str, Any]]:
    """Yield the members of a union, references followed."""
    if "$ref" in schema:
        yield from _choices(definitions[schema["$ref"].rpartition("/")[2]], definitions)
    elif "anyOf" in schema or ("oneOf" in schema and "properties" not in schema):
        for choice in schema.get("anyOf") or schema["oneOf"]:
            yield from _choices(choice, definitions)
    else:
        yield schema


def _is_scalar(schema: Mapping[str, Any]) -> bool:
    kinds = schema.get("type", "string" if "enum" in schema or "const" in schema else "")
    listed = kinds if isinstance(kinds, list) else [kinds]
    return any(kind in SCALARS for kind in listed)


def _parameter_schema(choice: Mapping[str, Any], field: Mapping[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in choice.items() if key not in ("title", "default")}
    if "const" in kept:
        kept["enum"] = [kept.pop("const")]
    if "enum" not in kept and "pattern" not in kept:
        kept.setdefault("maxLength", LONGEST_VALUE)
    description = field.get("description") or choice.get("description")
    if description:
        kept["description"] = description
    kept.pop("examples", None)
    return kept
