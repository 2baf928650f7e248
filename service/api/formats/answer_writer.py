"""
Answers written from their fields, without a model of each.

The model of an answer says what is rounded to how many digits; a writer made of it once does the
same to plain values and hands them to the encoder, in a tenth of the time that building the model
takes. `tests/properties/test_plain_doses.py` holds both together, byte by byte.
"""

from collections.abc import Callable, Mapping
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
    fields = [(name, _of_field(info)) for name, info in model.model_fields.items()]
    defaults = {
        name: info.default for name, info in model.model_fields.items() if not info.is_required()
    }
    if all(convert is None for _, convert in fields) and not defaults:
        return None

    def whole(given: Any) -> dict[str, Any]:
        return {
            name: given[name] if convert is None else convert(given[name])
            for name, convert in fields
        }

    if not defaults:
        return whole
    return lambda given: whole({**defaults, **given})


def _of_field(info: FieldInfo) -> Converter | None:
    figure = next((part for part in info.metadata if isinstance(part, Figure)), None)
    return _rounded(figure) if figure is not None else _of_type(info.annotation)


def _rounded(figure: Figure) -> Converter:
    """Return what rounds a number as `Figure.checked` does."""
    shown = f"%.{figure.digits}g"

    def rounded(value: float) -> float:
        number = float(shown % value) + 0.0
        return number if number - number == 0.0 else figure.checked(value)

    return rounded


def _of_type(kind: Any) -> Converter | None:
    """Return what brings a value of a type into its form; None for values that have it."""
    origin, parts = get_origin(kind), get_args(kind)
    if origin is Annotated:
        figure = next((part for part in parts[1:] if isinstance(part, Figure)), None)
        return _rounded(figure) if figure is not None else _of_type(parts[0])
    if origin in (Union, UnionType):
        others = [part for part in parts if part is not NoneType]
        if len(others) == 1:
            return _or_none(_of_type(others[0]))
    if origin is list:
        return _each(_of_type(parts[0]))
    if origin is dict and parts[0] is str:
        return _each_value(_of_type(parts[1]))
    if isinstance(kind, type) and issubclass(kind, Answer):
        return _of_model(kind)
    if kind in AS_THEY_ARE or origin is Literal:
        return None
    message = f"answers with {kind} are not written without their model"
    raise TypeError(message)


def _or_none(convert: Converter | None) -> Converter | None:
    if convert is None:
        return None
    return lambda value: None if value is None else convert(value)


def _each(convert: Converter | None) -> Converter | None:
    return None if convert is None else lambda values: [convert(each) for each in values]


def _each_value(convert: Converter | None) -> Converter | None:
    if convert is None:
        return None
    return lambda values: {name: convert(each) for name, each in values.items()}
