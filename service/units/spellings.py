"""
The unit texts that a caller may write, for each kind of quantity.

A closed list. Symbols are matched exactly, since capitals carry meaning (`mg` is not `Mg`, `ml`
is not `Ml`); words and customary abbreviations are matched without regard to capitals (`gal`,
`Gallons`, `FL OZ`). A text that names several units in daily life is read as one of them and
carries an assumption that says which.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from service.units.concentrations import (
    ALKALINITY,
    AMOUNT_CONCENTRATION,
    BICARBONATE,
    CALCIUM_CARBONATE_EQUIVALENT,
    CHARGE_CONCENTRATION,
    CONDUCTIVITY,
    DENSITY,
    FLOW,
    HARDNESS,
    MASS_CONCENTRATION,
    MASS_RATIO_TO_WATER,
    METER_PPM,
    MOLALITY,
    VOLUME_RATIO,
    WATER_USE,
)
from service.units.spelling import SPOON, SPOON_HINT, US_CUSTOMARY, Reading, UnitSpelling, micro, us

_US_GALLON: Final = ("US gal", "US gallon", "US gallons")
_IMPERIAL_GALLON: Final = (
    "imp gal",
    "UK gal",
    "imperial gallon",
    "imperial gallons",
    "UK gallon",
    "UK gallons",
)

VOLUME: Final = (
    UnitSpelling("liter", ("L", "l"), ("litre", "litres", "liter", "liters")),
    UnitSpelling(
        "milliliter",
        ("mL", "ml", "cm3", "cm³", "cc"),
        ("millilitre", "millilitres", "milliliter", "milliliters"),
    ),
    UnitSpelling("microliter", micro("uL", "ul")),
    UnitSpelling("centiliter", ("cL", "cl")),
    UnitSpelling("deciliter", ("dL", "dl")),
    UnitSpelling("hectoliter", ("hL", "hl")),
    UnitSpelling("meter ** 3", ("m3", "m³")),
    UnitSpelling("gallon", words=_US_GALLON),
    UnitSpelling("gallon", words=("gal", "gallon", "gallons"), reading=us("gallons", "imp gal")),
    UnitSpelling("imperial_gallon", words=_IMPERIAL_GALLON),
    UnitSpelling("fluid_ounce", words=("US fl oz", "US fluid ounce", "US fluid ounces")),
    UnitSpelling(
        "fluid_ounce",
        words=("fl oz", "fl. oz.", "floz", "fluid ounce", "fluid ounces"),
        reading=us("fluid ounces", "imp fl oz"),
    ),
    UnitSpelling(
        "imperial_fluid_ounce",
        words=("imp fl oz", "UK fl oz", "imperial fluid ounce", "imperial fluid ounces"),
    ),
    UnitSpelling("quart", words=("US qt", "US quart", "US quarts")),
    UnitSpelling("quart", words=("qt", "quart", "quarts"), reading=us("quarts", "imp qt")),
    UnitSpelling("imperial_quart", words=("imp qt", "UK qt", "imperial quart", "imperial quarts")),
    UnitSpelling("pint", words=("US pt", "US pint", "US pints")),
    UnitSpelling("pint", words=("pt", "pint", "pints"), reading=us("pints", "imp pt")),
    UnitSpelling("imperial_pint", words=("imp pt", "UK pt", "imperial pint", "imperial pints")),
    UnitSpelling("cup", words=("US cup", "US cups")),
    UnitSpelling(
        "cup",
        words=("cup", "cups"),
        reading=Reading(US_CUSTOMARY, "US cups", "write mL for any other cup"),
    ),
    UnitSpelling("tablespoon", words=("US tbsp",)),
    UnitSpelling(
        "tablespoon",
        words=("tbsp", "tablespoon", "tablespoons"),
        reading=Reading(SPOON, "US customary tablespoons", SPOON_HINT),
    ),
    UnitSpelling("teaspoon", words=("US tsp",)),
    UnitSpelling(
        "teaspoon",
        words=("tsp", "teaspoon", "teaspoons"),
        reading=Reading(SPOON, "US customary teaspoons", SPOON_HINT),
    ),
    UnitSpelling("foot ** 3", words=("cu ft", "ft3", "ft³")),
    UnitSpelling("inch ** 3", words=("cu in", "in3", "in³")),
)

MASS: Final = (
    UnitSpelling("gram", ("g",), ("gram", "grams")),
    UnitSpelling("kilogram", ("kg",), ("kilogram", "kilograms")),
    UnitSpelling("milligram", ("mg",), ("milligram", "milligrams")),
    UnitSpelling("microgram", micro("ug")),
    UnitSpelling("ounce", words=("oz", "ounce", "ounces")),
    UnitSpelling("pound", words=("lb", "lbs", "pound", "pounds")),
    UnitSpelling("grain", words=("grain", "grains")),
)

LENGTH: Final = (
    UnitSpelling("centimeter", ("cm",), ("centimetre", "centimetres", "centimeter", "centimeters")),
    UnitSpelling("millimeter", ("mm",), ("millimetre", "millimetres", "millimeter", "millimeters")),
    UnitSpelling("meter", ("m",), ("metre", "metres", "meter", "meters")),
    UnitSpelling("inch", ('"',), ("in", "inch", "inches")),
    UnitSpelling("foot", words=("ft", "foot", "feet")),
)

AREA: Final = (
    UnitSpelling("centimeter ** 2", ("cm2", "cm²")),
    UnitSpelling("meter ** 2", ("m2", "m²")),
    UnitSpelling("inch ** 2", words=("sq in", "in2", "in²")),
)

DURATION: Final = (
    UnitSpelling("second", ("s",), ("sec", "second", "seconds")),
    UnitSpelling("minute", ("min",), ("minute", "minutes")),
    UnitSpelling("hour", ("h",), ("hr", "hour", "hours")),
    UnitSpelling("day", ("d",), ("day", "days")),
    UnitSpelling("week", words=("week", "weeks")),
)

TEMPERATURE: Final = (
    UnitSpelling("degree_Celsius", ("°C", "C"), ("degC", "celsius")),
    UnitSpelling("degree_Fahrenheit", ("°F", "F"), ("degF", "fahrenheit")),
    UnitSpelling("kelvin", ("K",), ("kelvin",)),
)

PRESSURE: Final = (
    UnitSpelling("kilopascal", ("kPa",), ("kilopascal", "kilopascals")),
    UnitSpelling("hectopascal", ("hPa",)),
    UnitSpelling("pascal", ("Pa",)),
    UnitSpelling("millibar", ("mbar",)),
    UnitSpelling("bar", ("bar",)),
    UnitSpelling("atmosphere", ("atm",)),
    UnitSpelling("millimeter_Hg", ("mmHg",)),
    UnitSpelling("inch_Hg", ("inHg",)),
    UnitSpelling("pound_force_per_square_inch", words=("psi",)),
)

PERCENTAGE: Final = (UnitSpelling("percent", ("%",), ("percent",)),)

GAS_SHARE: Final = (UnitSpelling("ppm", words=("ppm",)), UnitSpelling("percent", ("%",)))

SPELLINGS: Final[Mapping[str, tuple[UnitSpelling, ...]]] = MappingProxyType(
    {
        "volume": VOLUME,
        "mass": MASS,
        "length": LENGTH,
        "area": AREA,
        "duration": DURATION,
        "temperature": TEMPERATURE,
        "pressure": PRESSURE,
        "percentage": PERCENTAGE,
        "meter_ppm": METER_PPM,
        "gas_share": GAS_SHARE,
        "conductivity": CONDUCTIVITY,
        "mass_concentration": MASS_CONCENTRATION,
        "bicarbonate": BICARBONATE,
        "alkalinity": ALKALINITY,
        "hardness": HARDNESS,
        "calcium_carbonate_equivalent": CALCIUM_CARBONATE_EQUIVALENT,
        "amount_concentration": AMOUNT_CONCENTRATION,
        "charge_concentration": CHARGE_CONCENTRATION,
        "volume_ratio": VOLUME_RATIO,
        "density": DENSITY,
        "molality": MOLALITY,
        "mass_ratio_to_water": MASS_RATIO_TO_WATER,
        "flow": FLOW,
        "water_use": WATER_USE,
    }
)
"""Kind of quantity → units it may be written in; a kind that is absent takes a bare number."""


_BICARBONATE_NAMES: Final = frozenset(
    {"bicarbonate", "bicarbonate_mg_per_l", "bicarbonate_g_per_l"}
)


def kind_of(field_name: str, canonical_kind: str) -> str:
    """
    Narrow the kind of a field by its name, where an amount has a mass of its own.

    Parameters
    ----------
    field_name : str
        Name of the field, dotted or not.
    canonical_kind : str
        Kind of its suffix.

    Returns
    -------
    str
        Key of `SPELLINGS`, or the kind itself.
    """
    last_part = field_name.rpartition(".")[2]
    if canonical_kind == "mass_concentration" and last_part in _BICARBONATE_NAMES:
        return "bicarbonate"
    if canonical_kind == "calcium_carbonate_equivalent":
        if "alkalinity" in field_name:
            return "alkalinity"
        if "hardness" in field_name:
            return "hardness"
    return canonical_kind
