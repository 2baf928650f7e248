"""
The closed shapes in which the plain rows of a batch are read: numbers, words and keys alone.

They are made from the models of the contract, bound by bound, and take no more than these: texts
with units, labels, profiles of one's own and everything else that needs a second look is left to
the model.
"""

import math
from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, get_args, get_origin

import msgspec
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from service.api.schemas.acid import Acid
from service.api.schemas.air import Air
from service.api.schemas.dilutions import MOST_PRODUCTS
from service.api.schemas.doses import DoseFields
from service.api.schemas.fields import Quantity
from service.api.schemas.instruments import Instruments
from service.api.schemas.plants import Plants
from service.api.schemas.strength import (
    ConductivityStrength,
    ElementStrength,
    MeterStrength,
    ProductMassStrength,
    ProductVolumeStrength,
)
from service.api.schemas.water import WaterAnalysis, WaterPreset
from service.planning.rows_over_defaults import NUMBERS, STRENGTH_NUMBERS, WATER_NUMBERS, WORDS

NAN: Final = math.nan
NUMBER_COLUMNS: Final = (*NUMBERS, *WATER_NUMBERS)


def quantities() -> dict[str, Quantity]:
    """Return the bounds of every number that has a column, by its dotted name."""
    models: list[tuple[str, type[BaseModel]]] = [
        ("", DoseFields),
        ("plants.", Plants),
        ("air.", Air),
        ("water.", WaterAnalysis),
        ("acid.", Acid),
        ("instruments.", Instruments),
        *(("strength.", model) for model in _STRENGTHS),
    ]
    return {
        prefix + name: quantity
        for prefix, model in models
        for name, info in model.model_fields.items()
        if (quantity := quantity_of(info)) is not None
    }


def _parts(annotation: object) -> list[object]:
    """Return what a type consists of, annotations and members of unions taken apart."""
    found: list[object] = [annotation]
    if get_origin(annotation) is Literal:
        return found
    for part in get_args(annotation):
        found.extend(_parts(part))
    return found


def _of_field(info: FieldInfo) -> list[object]:
    return [*info.metadata, *_parts(info.annotation)]


def quantity_of(info: FieldInfo) -> Quantity | None:
    """Return the bounds of a field that is a number, None for any other."""
    return next((part for part in _of_field(info) if isinstance(part, Quantity)), None)


def _words_of(info: FieldInfo) -> Any:
    """Return the words that a field may be, as a literal type; None for any other field."""
    return next((part for part in _of_field(info) if get_origin(part) is Literal), None)


def _or_null(kind: Any) -> Any:
    """Return a type that may be null."""
    return kind | None


def _number(quantity: Quantity) -> Any:
    """Return the type of a number inside its bounds."""
    bounds = {name: getattr(quantity, name) for name in ("gt", "ge", "lt", "le")}
    stated = {name: bound for name, bound in bounds.items() if bound is not None}
    kind: Any = int if quantity.whole else float
    if quantity.whole:
        stated = {name: int(bound) for name, bound in stated.items()}
    return _or_null(Annotated[kind, msgspec.Meta(**stated)])


def _plain_fields(model: type[BaseModel], prefix: str = "") -> list[Any]:
    """
    Return the fields of a model as those of a shape: numbers first, then words.

    Only fields that have a column are among them, so that a field that is new to the model is not
    dropped here: the shape does not take it, and the model reads its row.
    """
    numbers, words = [], []
    for name, info in model.model_fields.items():
        quantity = quantity_of(info)
        if quantity is not None and prefix + name in NUMBER_COLUMNS:
            numbers.append((name, _number(quantity), NAN))
        elif quantity is None and prefix + name in WORDS:
            words.append((name, _or_null(_words_of(info)), None))
    return [*numbers, *words]


def _shape(name: str, fields: list[Any]) -> type[msgspec.Struct]:
    return msgspec.defstruct(name, fields, forbid_unknown_fields=True, gc=False)


def _listed(shape: Any) -> Any:
    """Return the type of a list of shapes."""
    return list[shape]


_Name = Annotated[str, msgspec.Meta(min_length=1, max_length=128)]
# Whether a key has the form of one shows when the catalogue is asked for it.
_Key = Annotated[str, msgspec.Meta(min_length=1, max_length=80)]

_STRENGTHS: Final = (
    ElementStrength,
    ProductMassStrength,
    ProductVolumeStrength,
    ConductivityStrength,
    MeterStrength,
)
_STRENGTH_FIELDS: Final[Mapping[str, FieldInfo]] = {
    name: info for model in _STRENGTHS for name, info in model.model_fields.items()
}

_SHAPES: Final[Mapping[str, type[msgspec.Struct]]] = {
    "plants": _shape(
        "PlantsShape", [*_plain_fields(Plants, "plants."), ("profile", _or_null(_Name), None)]
    ),
    "air": _shape("AirShape", _plain_fields(Air, "air.")),
    "water": _shape("WaterShape", _plain_fields(WaterAnalysis, "water.")),
    "acid": _shape("AcidShape", _plain_fields(Acid, "acid.")),
    "instruments": _shape("InstrumentsShape", _plain_fields(Instruments, "instruments.")),
    "strength": _shape(
        "StrengthShape",
        [
            *(
                (name, _number(quantity), NAN)
                for name in STRENGTH_NUMBERS
                if (quantity := quantity_of(_STRENGTH_FIELDS[name])) is not None
            ),
            ("scale", _or_null(Literal[500, 640, 700]), None),
            ("basis", _or_null(Literal["element", "product", "conductivity", "meter_ppm"]), None),
            ("element", _or_null(_words_of(_STRENGTH_FIELDS["element"])), None),
            ("counts", _or_null(_words_of(_STRENGTH_FIELDS["counts"])), None),
        ],
    ),
}
_Portion: Final[Any] = _shape(
    "PortionShape", [("product", _Key), ("strength", _SHAPES["strength"])]
)
_Portions: Final[Any] = Annotated[
    _listed(_Portion), msgspec.Meta(min_length=1, max_length=MOST_PRODUCTS)
]

VALUES_OF_BASIS: Final[Mapping[str, tuple[str, ...]]] = {
    "element": ("mg_per_l",),
    "product": ("g_per_l", "ml_per_l"),
    "conductivity": ("ec_ms_per_cm",),
    "meter_ppm": ("ppm",),
}
"""Values, one of which a strength of a basis has; it may have no other."""

GROUPS: Final = ("plants", "air", "acid", "instruments")
"""Objects of a row that merge with those of the defaults and are all that they can be."""

RowShape: Final = _shape(
    "RowShape",
    [
        *_plain_fields(DoseFields),
        ("id", _or_null(_Name), None),
        ("product", _or_null(_Key), None),
        ("water", _or_null(WaterPreset | _SHAPES["water"]), None),
        *((name, _or_null(_SHAPES[name]), None) for name in (*GROUPS, "strength")),
        ("products", _or_null(_Portions), None),
    ],
)

ONE_ROW: Final = msgspec.json.Decoder(RowShape)
MANY_ROWS: Final[Any] = msgspec.json.Decoder(_listed(RowShape))


def fields_of(group: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the numbers and the words of an object of a row; of the row for an empty name."""
    shape = _SHAPES[group] if group else RowShape
    names = shape.__struct_fields__
    defaults = shape.__struct_defaults__
    numbers = tuple(
        name
        for name, default in zip(names[len(names) - len(defaults) :], defaults, strict=True)
        if isinstance(default, float)
    )
    words = tuple(name for name in names if name not in numbers)
    return numbers, words
