"""
Spellings of the units of strength: concentrations, ratios, conductivity, density and flow.

An amount has a mass only for one substance: bicarbonate, alkalinity and hardness take units that
no other mass concentration takes.
"""

from typing import Final

from service.units.canonical import (
    BICARBONATE_MG_PER_MEQ,
    CALCIUM_CARBONATE_MG_PER_MEQ,
    CALCIUM_CARBONATE_MG_PER_MMOL,
    CLARK_DEGREE_MG_PER_L_CACO3,
    FRENCH_DEGREE_MG_PER_L_CACO3,
    GERMAN_DEGREE_MG_PER_L_CACO3,
    US_GRAIN_PER_GALLON_MG_PER_L_CACO3,
)
from service.units.spelling import (
    ACID_CAPACITY,
    AS_CALCIUM_CARBONATE,
    HARDNESS_AMOUNT,
    ONE_CHARGE,
    PPM_AS_MASS,
    SPOON,
    SPOON_HINT,
    Reading,
    UnitSpelling,
    micro,
    us,
)

_AS_CACO3: Final = Reading(
    AS_CALCIUM_CARBONATE,
    "mg/L of calcium carbonate",
    "convert first where the report states bicarbonate or calcium",
)

METER_PPM: Final = (UnitSpelling("ppm", words=("ppm",)),)

CONDUCTIVITY: Final = (
    UnitSpelling("millisiemens / centimeter", ("mS/cm",)),
    UnitSpelling("microsiemens / centimeter", micro("uS/cm")),
    UnitSpelling("decisiemens / meter", ("dS/m",)),
    UnitSpelling("siemens / meter", ("S/m",)),
    UnitSpelling("millisiemens / meter", ("mS/m",)),
    UnitSpelling("millisiemens / centimeter", ("mmho/cm",)),
    UnitSpelling("microsiemens / centimeter", micro("umho/cm")),
)


_US_DENOMINATORS: Final = (
    (("gal",), us("gallons", "imp gal")),
    (("US gal",), None),
)
_IMPERIAL_DENOMINATORS: Final = ("imp gal", "UK gal")


def _per(
    pint_text: str,
    amounts: tuple[str, ...],
    gallons: tuple[str, ...],
    *,
    symbolic: bool,
    reading: Reading | None = None,
) -> tuple[UnitSpelling, UnitSpelling]:
    """Spell an amount for each gallon and for each 100 gallons."""
    one = tuple(f"{amount}/{gallon}" for amount in amounts for gallon in gallons)
    hundred = tuple(f"{amount}/100 {gallon}" for amount in amounts for gallon in gallons)
    if symbolic:
        return (
            UnitSpelling(pint_text, symbols=one, reading=reading),
            UnitSpelling(pint_text, symbols=hundred, multiplier=0.01, reading=reading),
        )
    return (
        UnitSpelling(pint_text, words=one, reading=reading),
        UnitSpelling(pint_text, words=hundred, multiplier=0.01, reading=reading),
    )


def _per_gallon(
    pint_amount: str,
    amounts: tuple[str, ...],
    *,
    symbolic: bool = False,
    imperial: bool = True,
    spoon: str | None = None,
) -> tuple[UnitSpelling, ...]:
    """Spell an amount per US gallon, per gallon read as US, and per imperial gallon."""
    spelled: list[UnitSpelling] = []
    for gallons, reading in _US_DENOMINATORS:
        stated = reading if spoon is None else Reading(SPOON, f"US {spoon}", SPOON_HINT)
        spelled += _per(
            f"{pint_amount} / gallon", amounts, gallons, symbolic=symbolic, reading=stated
        )
    if imperial:
        spelled += _per(
            f"{pint_amount} / imperial_gallon", amounts, _IMPERIAL_DENOMINATORS, symbolic=symbolic
        )
    return tuple(spelled)


MASS_CONCENTRATION: Final = (
    UnitSpelling("milligram / liter", ("mg/L", "mg/l")),
    UnitSpelling("gram / liter", ("g/L", "g/l", "mg/mL", "mg/ml", "kg/m3", "kg/m³")),
    UnitSpelling("microgram / liter", micro("ug/L", "ug/l")),
    UnitSpelling("gram / meter ** 3", ("g/m3", "g/m³")),
    UnitSpelling(
        "milligram / liter",
        words=("ppm",),
        reading=Reading(PPM_AS_MASS, "mg/L", "write mg/L to say so"),
    ),
    UnitSpelling(
        "microgram / liter",
        words=("ppb",),
        reading=Reading(PPM_AS_MASS, "µg/L", "write µg/L to say so"),
    ),
    *_per_gallon("gram", ("g",), symbolic=True),
    *_per_gallon("ounce", ("oz",)),
    *_per_gallon("pound", ("lb",)),
)

BICARBONATE: Final = (
    *MASS_CONCENTRATION,
    UnitSpelling("milligram / liter", ("meq/L", "meq/l"), multiplier=BICARBONATE_MG_PER_MEQ),
    UnitSpelling("milligram / liter", ("mmol/L", "mmol/l"), multiplier=BICARBONATE_MG_PER_MEQ),
)
"""Bicarbonate alone: one molecule carries one charge, so an amount has one mass."""

CALCIUM_CARBONATE_EQUIVALENT: Final = (
    UnitSpelling(
        "milligram / liter",
        (
            "mg/L CaCO3",
            "mg/l CaCO3",
            "mg/L as CaCO3",
            "mg/l as CaCO3",
            "ppm CaCO3",
            "ppm as CaCO3",
        ),
    ),
    UnitSpelling("milligram / liter", ("mg/L", "mg/l"), words=("ppm",), reading=_AS_CACO3),
    UnitSpelling("milligram / liter", ("meq/L", "meq/l"), multiplier=CALCIUM_CARBONATE_MG_PER_MEQ),
    UnitSpelling(
        "milligram / liter",
        ("°dH", "°d", "dH"),
        ("dKH", "dGH", "°dKH", "°dGH", "German degree", "German degrees"),
        multiplier=GERMAN_DEGREE_MG_PER_L_CACO3,
    ),
    UnitSpelling(
        "milligram / liter",
        ("°fH", "fH"),
        ("French degree", "French degrees"),
        multiplier=FRENCH_DEGREE_MG_PER_L_CACO3,
    ),
    UnitSpelling(
        "milligram / liter",
        ("°e", "°Clark"),
        ("Clark", "Clark degree", "Clark degrees", "grains per imperial gallon"),
        multiplier=CLARK_DEGREE_MG_PER_L_CACO3,
    ),
    UnitSpelling(
        "milligram / liter",
        words=("grain per US gallon", "grains per US gallon"),
        multiplier=US_GRAIN_PER_GALLON_MG_PER_L_CACO3,
    ),
    UnitSpelling(
        "milligram / liter",
        words=("gpg", "grains/gal", "grains per gallon"),
        multiplier=US_GRAIN_PER_GALLON_MG_PER_L_CACO3,
        reading=us("gallons", "grains per imperial gallon"),
    ),
)

ALKALINITY: Final = (
    *CALCIUM_CARBONATE_EQUIVALENT,
    UnitSpelling(
        "milligram / liter",
        ("mmol/L", "mmol/l"),
        multiplier=CALCIUM_CARBONATE_MG_PER_MEQ,
        reading=Reading(
            ACID_CAPACITY, "acid capacity, 1 mmol/L = 1 meq/L", "write meq/L to say so"
        ),
    ),
)

HARDNESS: Final = (
    *CALCIUM_CARBONATE_EQUIVALENT,
    UnitSpelling(
        "milligram / liter",
        ("mmol/L", "mmol/l"),
        multiplier=CALCIUM_CARBONATE_MG_PER_MMOL,
        reading=Reading(
            HARDNESS_AMOUNT,
            "calcium plus magnesium, 1 mmol/L = 2 meq/L",
            "write meq/L for equivalents",
        ),
    ),
)

AMOUNT_CONCENTRATION: Final = (
    UnitSpelling("millimole / liter", ("mmol/L", "mmol/l", "mol/m3", "mol/m³")),
    UnitSpelling("mole / liter", ("mol/L", "mol/l")),
    UnitSpelling("micromole / liter", micro("umol/L", "umol/l")),
)

CHARGE_CONCENTRATION: Final = (
    UnitSpelling("millimole / liter", ("meq/L", "meq/l", "mval/L", "mval/l")),
    UnitSpelling("micromole / liter", micro("ueq/L", "ueq/l")),
    UnitSpelling(
        "millimole / liter",
        ("mmol/L", "mmol/l"),
        reading=Reading(ONE_CHARGE, "one charge for each molecule", "write meq/L to say so"),
    ),
)

VOLUME_RATIO: Final = (
    UnitSpelling("milliliter / liter", ("mL/L", "ml/L", "ml/l", "L/m3", "L/m³", "l/m3")),
    *_per_gallon("milliliter", ("mL", "ml"), symbolic=True),
    *_per_gallon(
        "teaspoon", ("tsp", "teaspoon", "teaspoons"), imperial=False, spoon="teaspoons and gallons"
    ),
    *_per_gallon(
        "tablespoon",
        ("tbsp",),
        imperial=False,
        spoon="tablespoons and gallons",
    ),
    *_per_gallon("fluid_ounce", ("fl oz", "US fl oz"), imperial=False),
    UnitSpelling(
        "imperial_fluid_ounce / imperial_gallon", words=("imp fl oz/imp gal", "UK fl oz/UK gal")
    ),
)

DENSITY: Final = (
    UnitSpelling("kilogram / liter", ("kg/L", "kg/l", "g/mL", "g/ml", "g/cm3", "g/cm³")),
    UnitSpelling("gram / liter", ("g/L", "g/l", "kg/m3", "kg/m³")),
    UnitSpelling("pound / gallon", words=("lb/US gal",)),
    UnitSpelling("pound / gallon", words=("lb/gal",), reading=us("gallons", "lb/imp gal")),
    UnitSpelling("pound / imperial_gallon", words=("lb/imp gal", "lb/UK gal")),
)

MOLALITY: Final = (
    UnitSpelling("mole / kilogram", ("mol/kg",)),
    UnitSpelling("millimole / kilogram", ("mmol/kg",)),
)

MASS_RATIO_TO_WATER: Final = (
    UnitSpelling("gram / kilogram", ("g/kg", "g/kg water")),
    UnitSpelling("gram / kilogram", ("g/100 g", "g/100 g water"), multiplier=10.0),
    UnitSpelling("milligram / kilogram", ("mg/kg", "mg/kg water")),
)

FLOW: Final = (
    UnitSpelling("milliliter / minute", ("mL/min", "ml/min")),
    UnitSpelling("milliliter / second", ("mL/s", "ml/s")),
    UnitSpelling("liter / minute", ("L/min", "l/min")),
    UnitSpelling("liter / hour", ("L/h", "l/h")),
    UnitSpelling("milliliter / hour", ("mL/h", "ml/h")),
)

WATER_USE: Final = (
    UnitSpelling("milliliter / day", ("mL/d", "ml/d", "mL/day", "ml/day")),
    UnitSpelling("liter / day", ("L/d", "l/d", "L/day", "l/day")),
    UnitSpelling("milliliter / week", ("mL/week", "ml/week")),
    UnitSpelling("liter / week", ("L/week", "l/week")),
)
