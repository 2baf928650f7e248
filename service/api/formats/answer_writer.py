"""
Answers written from their fields, without a model of each.

The model of an answer says what is rounded to how many digits; a writer made of it once does the
same to plain values and hands them to the encoder, in a tenth of the time that building the model
takes. `tests/properties/test_plain_doses.py` holds both together, byte by byte.
"""

from collections.abc import Callable, Iterable, Mapping
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

import msgspec
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from service.api.schemas.fields import Answer, Figure

Converter = Callable[[Any], Any]
AS_THEY_ARE: Final = (str, int, bool, NoneType, Any)


class AnswerWriter:
    """
    Write answers of one model.

    Parameters
    ----------
    model : type of BaseModel
        Built of models of answers, texts, whole numbers and `Figure`s, lists and maps of such.

    Raises
    ------
    TypeError
        If a field holds anything else.
    """

    def __init__(self, model: type[BaseModel]) -> None:
        self.model = model
        self._convert = _of_model(model)
        self._encode = msgspec.json.Encoder(enc_hook=_dumped).encode

    def bytes(self, fields: Mapping[str, Any]) -> bytes:
        """
        Return an answer as UTF-8 JSON, its fields in the order of the model.

        Parameters
        ----------
        fields : mapping
            All fields of the model that have no default, not yet rounded.

        Raises
        ------
        ValueError
            If a number is not finite.
        KeyError
            If a field is missing.
        """
        return self._encode(fields if self._convert is None else self._convert(fields))


def _dumped(value: object) -> object:
    """Return a model inside an answer as plain values."""
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json")
    message = f"an answer must not hold {type(value).__name__}"
    raise TypeError(message)


def _of_model(model: type[BaseModel]) -> Converter | None:
    """Return what brings the fields of a model into their form; None if they have it already."""
    names = tuple(model.model_fields)
    defaults = {
        name: info.default for name, info in model.model_fields.items() if not info.is_required()
    }
    # Numbers are most of an answer: they are rounded here, without a call for each.
    figures: dict[str, list[str]] = {}
    others: list[tuple[str, Converter]] = []
    for name, info in model.model_fields.items():
        figure = _figure_of(info)
        if figure is not None:
            figures.setdefault(_shown(figure), []).append(name)
        elif (convert := _of_type(info.annotation)) is not None:
            others.append((name, convert))
    if not figures and not others and not defaults:
        return None
    rounded = tuple((shown, tuple(listed)) for shown, listed in figures.items())
    never_null = tuple(
        name
        for name, info in model.model_fields.items()
        if _figure_of(info) is not None and NoneType not in get_args(info.annotation)
    )

    def whole(given: Any) -> dict[str, Any]:
        source = {**defaults, **given} if defaults else given
        fields = {name: source[name] for name in names}
        for shown, listed in rounded:
            for name in listed:
                value = fields[name]
                if value is not None:
                    fields[name] = number = float(shown % value) + 0.0
                    if number - number != 0.0:
                        raise _not_finite(name)
        for name in never_null:
            if fields[name] is None:
                raise _not_finite(name)
        for name, convert in others:
            value = fields[name]
            if value is not None:
                fields[name] = convert(value)
        return fields

    return whole


def _not_finite(name: str) -> ValueError:
    message = f"an answer must not hold a number that is not finite, as `{name}` is"
    return ValueError(message)


def _shown(figure: Figure) -> str:
    """Return how a number is written with so many digits."""
    return f"%.{figure.digits}g"


def _figure_of(info: FieldInfo) -> Figure | None:
    """Return the rounding of a field that is a number, or one or null."""
    return _figure_among((*info.metadata, info.annotation))


def _figure_among(parts: Iterable[Any]) -> Figure | None:
    """Return the rounding that an annotation, or one of those in a union, asks for."""
    for part in parts:
        if isinstance(part, Figure):
            return part
        inner = get_args(part) if get_origin(part) in (Annotated, Union, UnionType) else ()
        if (found := _figure_among(inner)) is not None:
            return found
    return None


def _of_type(kind: Any) -> Converter | None:
    """Return what brings a value of a type into its form; None for values that have it."""
    origin, parts = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        others = [part for part in parts if part is not NoneType]
        if len(others) == 1:
            return _of_type(others[0])
    if origin is list:
        return _each(_of_type(parts[0]))
    if origin is dict and parts[0] is str:
        return _each_value(parts[1])
    if isinstance(kind, type) and issubclass(kind, Answer):
        return _of_model(kind)
    if kind in AS_THEY_ARE or origin is Literal:
        return None
    message = f"answers with {kind} are not written without their model"
    raise TypeError(message)


def _each(convert: Converter | None) -> Converter | None:
    return None if convert is None else lambda values: [convert(each) for each in values]


def _each_value(kind: Any) -> Converter | None:
    figure = _figure_among((kind,))
    if figure is None:
        convert = _of_type(kind)
        if convert is None:
            return None
        return lambda values: {name: convert(each) for name, each in values.items()}
    shown, nullable = _shown(figure), NoneType in get_args(kind)

    def rounded(values: Any) -> dict[str, float | None]:
        numbers: dict[str, float | None] = {}
        for name, each in values.items():
            if each is None and nullable:
                numbers[name] = None
                continue
            numbers[name] = number = float(shown % each) + 0.0
            if number - number != 0.0:
                raise _not_finite(name)
        return numbers

    return rounded
