"""What the OpenAPI document says of batches: bodies and answers in every format, with examples."""

from collections.abc import Mapping
from typing import Any, Final

from service.api.contract import named_examples
from service.api.formats.csv_dialect import PARAMETERS
from service.api.negotiation import MEDIA_TYPES
from service.api.schemas.batch_mixes import MixWishes

LARGEST_BODY: Final = 134_217_728

COLUMNS_PARAMETER: Final[dict[str, Any]] = {
    "name": "columns",
    "in": "query",
    "required": False,
    "description": "What the headings of a table mean that are no names of fields:"
    " `heading:field`, joined by commas. A unit after the field is that of the bare numbers in"
    " the column (`Gallons:volume_l US gal`); `heading:-` declares a column of the caller's own"
    " whose heading looks like a field; a heading with a comma stands in double quotes.",
    "schema": {"type": "string", "maxLength": 8_000},
    "example": "Litres:volume_l,Feed:product,Size:plants.size",
}

SHEET_PARAMETER: Final[dict[str, Any]] = {
    "name": "sheet",
    "in": "query",
    "required": False,
    "description": "Name of the sheet of a workbook that is read; the first that is not hidden if"
    " absent.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 80},
    "example": "doses",
}

_MIXES: Final = MixWishes.model_json_schema()["properties"]
MIX_PARAMETERS: Final = ("mixes.max_count", "mixes.tolerance_percent", "mixes.reserve_percent")
"""What a table can ask of mixes; a list of cans needs JSON."""


def _mix_parameter(name: str) -> dict[str, Any]:
    described = dict(_MIXES[name.removeprefix("mixes.")])
    schema = next(each for each in described["anyOf"] if each.get("type") != "null")
    return {
        "name": name,
        "in": "query",
        "required": False,
        "description": f"Of a table: {described['description']}",
        "schema": schema,
        "example": described["examples"][0],
    }


TABLE_PARAMETERS: Final = (
    *PARAMETERS,
    COLUMNS_PARAMETER,
    SHEET_PARAMETER,
    *map(_mix_parameter, MIX_PARAMETERS),
)

_HEADINGS: Final = (
    "id,bench,plants.size,air.humidity_percent,air.temperature_celsius,product,water,volume_l\n"
)
TABLE_EXAMPLES: Final[dict[str, tuple[str, str]]] = {
    "metric": (
        "Two groups; `bench` is a column of the grower's own",
        _HEADINGS
        + "a,north,large,60,22,feed_13_3_15_ca_mg,rain,10\n"
        + "b,north,mini,60,22,feed_13_3_15_ca_mg,rain,4\n",
    ),
    "us": (
        "Gallons and degrees Fahrenheit",
        _HEADINGS + "a,sill,medium,55,72 F,feed_13_3_15_ca_mg,rain,2 gal\n",
    ),
    "caution": (
        "A miniature on hard tap water: the water alone is too strong",
        _HEADINGS + "a,sill,mini,50,22,feed_20_20_20,hard_tap,3\n",
    ),
}

LINE_EXAMPLES: Final[dict[str, tuple[str, str]]] = {
    "metric": (
        "What the rows have in common on the first line, then one row on each",
        '{"defaults": {"product": "feed_13_3_15_ca_mg", "water": "rain"}}\n'
        '{"id": "a", "plants": {"size": "large"}, "volume_l": 10}\n'
        '{"id": "b", "plants": {"size": "mini"}, "volume_l": 4}\n',
    ),
    "us": (
        "US gallons",
        '{"id": "a", "product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": "2 US gal"}\n',
    ),
    "caution": (
        "A row that is wrong beside one that is right",
        '{"id": "right", "product": "feed_20_20_20", "water": "hard_tap", "volume_l": 10}\n'
        '{"id": "wrong", "product": "feed_20_20_20", "water": "hard_tap", "volume_l": "1,5"}\n',
    ),
}

_BOOK: Final = "The bytes of an .xlsx file"

_ANSWERED_TABLE: Final = (
    "id,bench,product,water,volume_l,status,solution_volume_l,product_mass_g,…\r\n"
    "a,north,feed_13_3_15_ca_mg,rain,10,ok,10,5.9,…\r\n"
)
_ANSWERED_LINES: Final = (
    '{"id":"a","status":"ok","volume_l":10.0,"product_mass_g":5.9,…,"problems":[]}\n'
    '{"summary":{"total":1,"ok":1,"infeasible":0,"rejected":0},"assumptions":[…],"cautions":[…],…}\n'
)
_ANSWERED_SHEET: Final = "MIXING SHEET, 1 row\n…\n"
_ANSWERED_PAGE: Final = "<!DOCTYPE html>…<h1>Mixing sheet</h1>…"


def _text(description: str, **more: Any) -> dict[str, Any]:
    return {"type": "string", "description": description, **more}


def batch_body(examples: Mapping[str, tuple[str, Any]]) -> dict[str, Any]:
    """Return the OpenAPI request body of a batch in each of its formats."""
    book = _text(
        "A workbook; its first visible sheet, or the one that `sheet` names, holds the rows under"
        " the headings of the CSV table.",
        contentMediaType=MEDIA_TYPES["xlsx"],
        maxLength=LARGEST_BODY,
    )
    lines = _text("One JSON object on each line, in UTF-8.", maxLength=LARGEST_BODY)
    table = _text("A heading line, then one row on each.", maxLength=LARGEST_BODY)
    return {
        "required": True,
        "content": {
            MEDIA_TYPES["json"]: {
                "schema": {"$ref": "#/components/schemas/DoseBatchRequest"},
                "examples": named_examples(**examples),
            },
            MEDIA_TYPES["ndjson"]: {"schema": lines, "examples": named_examples(**LINE_EXAMPLES)},
            MEDIA_TYPES["csv"]: {"schema": table, "examples": named_examples(**TABLE_EXAMPLES)},
            MEDIA_TYPES["xlsx"]: {"schema": book, "example": _BOOK},
        },
    }


BATCH_ANSWERS: Final[dict[str, Any]] = {
    "content": {
        MEDIA_TYPES["ndjson"]: {
            "schema": _text(
                "One line for each row, in order, each like one of `rows`; a last line with"
                " `summary`, `mixes_summary`, `mixes`, `assumptions`, `cautions`, `models`,"
                " `sources` and `version`."
            ),
            "example": _ANSWERED_LINES,
        },
        MEDIA_TYPES["csv"]: {
            "schema": _text("The table with the result columns added."),
            "example": _ANSWERED_TABLE,
        },
        MEDIA_TYPES["xlsx"]: {
            "schema": _text(
                "A workbook with the sheets `doses` (the table with the result columns added),"
                " `cautions`, `assumptions` and `summary`, and with mixes `mixes` and `fillings`.",
                contentMediaType=MEDIA_TYPES["xlsx"],
            ),
            "example": _BOOK,
        },
        MEDIA_TYPES["txt"]: {
            "schema": _text("The mixing sheet, to read or to print."),
            "example": _ANSWERED_SHEET,
        },
        MEDIA_TYPES["html"]: {
            "schema": _text(
                "The mixing sheet as a page that prints on A4, of at most 5,000 rows: boxes to"
                " tick, rows under the can that they take from, safety once, the working on"
                " request."
            ),
            "example": _ANSWERED_PAGE,
        },
    }
}
