"""
The field types of requests and answers, and the two base models.

A number of a request is declared by its bounds; its unit is in the name of the field:

    volume_l: Annotated[float, Quantity(gt=0, le=100_000)] = Field(description="…")

`Quantity` takes a bare number in that unit, a numeric text, or a text with a unit of its own, and
refuses booleans, NaN, infinities, decimal commas and digit separators, each with a code of its
own. It publishes the number's bounds and a pattern that lists the units. A number of an answer is
a `Figure`: finite, and rounded to the digits that it is worth.
"""

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, ClassVar, Final

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError, core_schema

from service.api.assumptions import note_assumption
from service.api.received import repeatable
from service.api.suggestions import KEY_PATTERN
from service.units.canonical import CANONICAL_UNITS, suffix_of
from service.units.catalogue import schema_pattern
from service.units.convert import MAXIMUM_TEXT_LENGTH, QuantityError, parse_quantity
from service.units.refusals import BOOLEAN, NOT_A_NUMBER, NOT_FINITE


class Request(BaseModel):
    """Base of everything that a caller sends: unknown fields are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, protected_namespaces=())

    union_tag: ClassVar[str] = ""
    """Label of the model as a member of a union; see `service.api.validation.tag`."""


class Answer(BaseModel):
    """Base of everything that the service sends: no defaults, nothing undeclared."""

    model_config = ConfigDict(extra="forbid", frozen=True, protected_namespaces=())


def fault(code: str, detail: str, **context: object) -> PydanticCustomError:
    """Return an error of one field with our own code, for validators to raise."""
    return PydanticCustomError(code, "{detail}", {"detail": detail, **context})


@dataclass(frozen=True)
class Quantity:
    """Bounds of a number of a request, in the unit that the name of its field ends in."""

    gt: float | None = None
    ge: float | None = None
    lt: float | None = None
    le: float | None = None
    whole: bool = False

    @property
    def range_text(self) -> str:
        """The bounds in words."""
        words = {"more than": self.gt, "at least": self.ge, "less than": self.lt}
        words["at most"] = self.le
        bounds = [f"{word} {bound:g}" for word, bound in words.items() if bound is not None]
        return " and ".join(bounds) or "any number"

    def parse(self, name: str, received: object) -> float:
        """Return the number that was sent for the field of this name, in the field's unit."""
        if type(received) is float or type(received) is int:
            return self.within(received, received, name)
        if isinstance(received, bool):
            detail = f"`{name}` must be a number, not {str(received).lower()}."
            raise fault(BOOLEAN, detail, received=received)
        if received is not None and not isinstance(received, str):
            detail = f"`{name}` must be a number, or a text such as `{_sample(name)}`."
            raise fault(NOT_A_NUMBER, detail, received=repeatable(received))
        try:
            quantity = parse_quantity(received, name)
        except QuantityError as error:
            context = {"allowed": list(error.allowed)} if error.allowed else {}
            detail = f"`{name}`: {error.detail}"
            raise fault(error.code, detail, received=error.received, **context) from None
        value = self.within(quantity.value, received or "", name)
        if quantity.assumption is not None:
            note = quantity.assumption
            note_assumption(name, value, note.code, note.message)
        return value

    def within(self, value: float, received: float | str, name: str) -> float:
        """Return the value as a float if it is finite and inside the bounds."""
        try:
            number = float(value)
        except OverflowError:
            number = float("inf")
        if number - number != 0.0:
            # A literal such as 1e999 arrives as an infinity too.
            detail = f"`{name}` must be a finite number; {self.range_text}."
            raise fault(NOT_FINITE, detail, received=repeatable(value), allowed=self.range_text)
        if (
            (self.gt is not None and not number > self.gt)
            or (self.ge is not None and not number >= self.ge)
            or (self.lt is not None and not number < self.lt)
            or (self.le is not None and not number <= self.le)
        ):
            shown = repeatable(received)
            read = f" (read as {number:g})" if isinstance(received, str) else ""
            hint = "" if isinstance(received, str) else _unit_hint(name, number)
            detail = f"`{name}` must be {self.range_text}, not {shown}{read}.{hint}"
            raise fault("out_of_range", detail, received=shown, allowed=self.range_text)
        if self.whole and not number.is_integer():
            detail = f"`{name}` must be a whole number, {self.range_text}."
            raise fault("not_a_whole_number", detail, received=repeatable(received))
        return number

    def parse_whole(self, name: str, received: object) -> int:
        """Return the whole number that was sent."""
        return int(self.parse(name, received))

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Read with `parse`, bound to the name of the field that the annotation stands on."""
        name = handler.field_name or "value"
        return core_schema.no_info_plain_validator_function(
            partial(self.parse_whole if self.whole else self.parse, name),
            metadata={"pydantic_js_functions": [partial(self._json_schema, name)]},
        )

    def _json_schema(
        self, name: str, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        number = "integer" if self.whole else "number"
        bounds = {
            "exclusiveMinimum": self.gt,
            "minimum": self.ge,
            "exclusiveMaximum": self.lt,
            "maximum": self.le,
        }
        published: dict[str, Any] = {
            key: bound for key, bound in bounds.items() if bound is not None
        }
        if handler.mode == "serialization":
            return {"type": number, **published}
        pattern = {"pattern": schema_pattern(name), "maxLength": MAXIMUM_TEXT_LENGTH}
        return {"type": [number, "string"], **published, **pattern}


_OTHER_UNITS: Final = (
    ("_ms_per_cm", 20.0, 20_000.0, "{value:g} uS/cm"),
    ("_celsius", 50.0, 130.0, "{value:g} °F"),
    ("_percent", 0.0, 1.0, "{percent:g}"),
)
"""Suffix, range of numbers and the text that was probably meant by one of them."""


def _unit_hint(name: str, number: float) -> str:
    """Return what to write if the number was meant in another common unit."""
    for suffix, low, high, text in _OTHER_UNITS:
        if name.endswith(suffix) and low < number <= high:
            meant = text.format(value=number, percent=100.0 * number)
            return f" If that is what was read off, write `{meant}`."
    return ""


def _sample(name: str) -> str:
    suffix = suffix_of(name)
    return "12" if suffix is None else f"12 {CANONICAL_UNITS[suffix].symbol}"


@dataclass(frozen=True)
class Figure:
    """A number of an answer: finite, rounded to significant digits."""

    digits: int = 4

    def checked(self, value: object) -> float:
        """Return the number rounded; an answer with a number that is none is not given."""
        number = float(value)  # type: ignore[arg-type]
        if number - number != 0.0:
            message = "an answer must not hold a number that is not finite"
            raise ValueError(message)
        return float(f"{number:.{self.digits}g}") + 0.0

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Check and round when the answer is built."""
        return core_schema.no_info_plain_validator_function(
            self.checked,
            metadata={"pydantic_js_functions": [lambda schema, handler: {"type": "number"}]},
        )


Number4 = Annotated[float, Figure(4)]
"""A computed amount: four significant digits, finer than any scale or syringe."""

Number3 = Annotated[float, Figure(3)]
"""An estimate, as a conductivity or a saturation index is."""

Exact = Annotated[float, Figure(12)]
"""A number handed back as it was understood."""

Unrounded = Annotated[float, Figure(17)]
"""A number of a working, as it was computed."""

Key = Annotated[str, StringConstraints(pattern=KEY_PATTERN, min_length=1, max_length=80)]
"""A key of a catalogue."""

RowId = Annotated[str, StringConstraints(min_length=1, max_length=128)]
"""The caller's own name for a row or a request, handed back unchanged."""

ShortText = Annotated[str, StringConstraints(min_length=1, max_length=128)]
"""A name for people."""


def whole_number_from_text(received: object) -> object:
    """Read the text of a whole number, as callers send it that can send nothing but text."""
    if isinstance(received, str) and received.isascii() and received.isdigit():
        return int(received[:12])
    if isinstance(received, bool):
        raise fault(BOOLEAN, "A number is needed, not true or false.", received=received)
    if isinstance(received, float) and received.is_integer():
        return int(received)
    return received


def _truth_from_text(received: object) -> object:
    words: dict[object, bool] = {"true": True, "false": False}
    if isinstance(received, bool):
        return received
    if isinstance(received, str) and received in words:
        return words[received]
    raise fault("not_a_boolean", "True or false is needed.", received=repeatable(received))


Truth = Annotated[
    bool,
    BeforeValidator(_truth_from_text),
    WithJsonSchema({"enum": [True, False, "true", "false"]}, mode="validation"),
]
"""True or false; as text too, for callers that can send nothing else."""
