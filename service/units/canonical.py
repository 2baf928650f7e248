"""
The unit of every stored value, written down once.

A field, a column or a dataclass attribute that holds a dimensional number ends in one of the
suffixes below, and each suffix has one meaning only. The texts of the units are spelled so that
pint parses them, but nothing is parsed here: the module is data for every layer.

The factors between ways of stating hardness and alkalinity follow from molar masses and from the
definitions of the degrees. The US and imperial units in `convert` follow from pint's definitions.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True, slots=True)
class CanonicalUnit:
    """Unit that a suffix stands for."""

    suffix: str
    pint_text: str
    symbol: str
    kind: str
    meaning: str


_UNITS: Final = (
    CanonicalUnit("_l", "liter", "L", "volume", "Volume in litres."),
    CanonicalUnit("_ml", "milliliter", "mL", "volume", "Volume in millilitres."),
    CanonicalUnit("_g", "gram", "g", "mass", "Mass in grams."),
    CanonicalUnit("_kg", "kilogram", "kg", "mass", "Mass in kilograms."),
    CanonicalUnit("_mg", "milligram", "mg", "mass", "Mass in milligrams."),
    CanonicalUnit("_cm", "centimeter", "cm", "length", "Length in centimetres."),
    CanonicalUnit("_cm2", "centimeter ** 2", "cm²", "area", "Area in square centimetres."),
    CanonicalUnit("_seconds", "second", "s", "duration", "Duration in seconds."),
    CanonicalUnit("_minutes", "minute", "min", "duration", "Duration in minutes."),
    CanonicalUnit("_hours", "hour", "h", "duration", "Duration in hours."),
    CanonicalUnit("_days", "day", "d", "duration", "Duration in days."),
    CanonicalUnit("_weeks", "week", "weeks", "duration", "Duration in weeks."),
    CanonicalUnit(
        "_celsius", "degree_Celsius", "°C", "temperature", "Temperature in degrees Celsius."
    ),
    CanonicalUnit("_kelvin", "kelvin", "K", "temperature", "Thermodynamic temperature in kelvin."),
    CanonicalUnit("_kpa", "kilopascal", "kPa", "pressure", "Pressure in kilopascals."),
    CanonicalUnit("_percent", "percent", "%", "percentage", "Parts per hundred."),
    CanonicalUnit(
        "_percent_per_celsius",
        "percent / delta_degree_Celsius",
        "%/°C",
        "temperature_coefficient",
        "Relative change in parts per hundred for each degree Celsius.",
    ),
    CanonicalUnit(
        "_ppm",
        "ppm",
        "ppm",
        "meter_ppm",
        "Reading of a conductivity meter in its own ppm; the scale is a separate field.",
    ),
    CanonicalUnit(
        "_ppm_500", "ppm", "ppm (500)", "meter_ppm", "Meter ppm at 500 ppm for each mS/cm."
    ),
    CanonicalUnit(
        "_ppm_640", "ppm", "ppm (640)", "meter_ppm", "Meter ppm at 640 ppm for each mS/cm."
    ),
    CanonicalUnit(
        "_ppm_700", "ppm", "ppm (700)", "meter_ppm", "Meter ppm at 700 ppm for each mS/cm."
    ),
    CanonicalUnit(
        "_ppm_kcl", "ppm", "ppm (KCl)", "meter_ppm", "Meter ppm on the potassium chloride scale."
    ),
    CanonicalUnit(
        "_ppm_nacl", "ppm", "ppm (NaCl)", "meter_ppm", "Meter ppm on the sodium chloride scale."
    ),
    CanonicalUnit(
        "_ppm_442", "ppm", "ppm (442)", "meter_ppm", "Meter ppm on the 442 scale of natural waters."
    ),
    CanonicalUnit(
        "_carbon_dioxide_ppm",
        "ppm",
        "ppm",
        "gas_share",
        "Carbon dioxide in parts of a million parts of air, by volume.",
    ),
    CanonicalUnit(
        "_mg_per_l",
        "milligram / liter",
        "mg/L",
        "mass_concentration",
        "Mass in milligrams for each litre of solution.",
    ),
    CanonicalUnit(
        "_g_per_l",
        "gram / liter",
        "g/L",
        "mass_concentration",
        "Mass in grams for each litre of solution.",
    ),
    CanonicalUnit(
        "_mg_per_l_caco3",
        "milligram / liter",
        "mg/L CaCO3",
        "calcium_carbonate_equivalent",
        "Alkalinity or hardness as the equivalent mass of calcium carbonate, mg for each litre.",
    ),
    CanonicalUnit(
        "_mmol_per_l",
        "millimole / liter",
        "mmol/L",
        "amount_concentration",
        "Amount in millimoles for each litre of solution.",
    ),
    CanonicalUnit(
        "_mol_per_l",
        "mole / liter",
        "mol/L",
        "amount_concentration",
        "Amount in moles for each litre of solution.",
    ),
    CanonicalUnit(
        "_meq_per_l",
        "millimole / liter",
        "meq/L",
        "charge_concentration",
        "Charge in milliequivalents, mmol of charge, for each litre of solution.",
    ),
    CanonicalUnit(
        "_mol_per_kg",
        "mole / kilogram",
        "mol/kg",
        "molality",
        "Amount in moles for each kilogram of water.",
    ),
    CanonicalUnit(
        "_g_per_kg_water",
        "gram / kilogram",
        "g/kg water",
        "mass_ratio_to_water",
        "Mass in grams for each kilogram of water.",
    ),
    CanonicalUnit(
        "_ml_per_l",
        "milliliter / liter",
        "mL/L",
        "volume_ratio",
        "Volume in millilitres for each litre.",
    ),
    CanonicalUnit(
        "_kg_per_l", "kilogram / liter", "kg/L", "density", "Density in kilograms for each litre."
    ),
    CanonicalUnit(
        "_ms_per_cm",
        "millisiemens / centimeter",
        "mS/cm",
        "conductivity",
        "Electrical conductivity, at 25 °C unless a sibling field says otherwise.",
    ),
    CanonicalUnit(
        "_ms_per_cm_at_100_mg_per_l_n",
        "millisiemens / centimeter",
        "mS/cm",
        "conductivity",
        "Electrical conductivity at 25 °C that 100 mg/L of nitrogen from the product adds.",
    ),
    CanonicalUnit(
        "_ml_per_minute",
        "milliliter / minute",
        "mL/min",
        "flow",
        "Flow in millilitres for each minute.",
    ),
    CanonicalUnit(
        "_ml_per_second",
        "milliliter / second",
        "mL/s",
        "flow",
        "Flow in millilitres for each second.",
    ),
    CanonicalUnit(
        "_ml_per_day", "milliliter / day", "mL/d", "water_use", "Water use in millilitres a day."
    ),
    CanonicalUnit(
        "_mg_per_plant_per_month",
        "milligram / month",
        "mg/plant/month",
        "supply",
        "Mass in milligrams that each plant receives in a month.",
    ),
    CanonicalUnit(
        "_mmol_per_g",
        "millimole / gram",
        "mmol/g",
        "composition",
        "Amount in millimoles for each gram of product.",
    ),
    CanonicalUnit(
        "_g_per_mol", "gram / mole", "g/mol", "molar_mass", "Molar mass in grams for each mole."
    ),
    CanonicalUnit(
        "_s_cm2_per_mol",
        "siemens * centimeter ** 2 / mole",
        "S·cm²/mol",
        "molar_conductivity",
        "Molar ionic conductivity as printed in tables.",
    ),
    CanonicalUnit(
        "_kj_per_mol",
        "kilojoule / mole",
        "kJ/mol",
        "molar_energy",
        "Molar enthalpy in kilojoules for each mole.",
    ),
    CanonicalUnit("_bytes", "byte", "B", "information", "Size in bytes."),
)

CANONICAL_UNITS: Final[Mapping[str, CanonicalUnit]] = MappingProxyType(
    {unit.suffix: unit for unit in _UNITS}
)
"""The closed list: suffix → unit. A test walks schemas and dataclasses against it."""

SUFFIX_BY_NAME: Final[Mapping[str, str]] = MappingProxyType(
    {
        "days_between_waterings": "_days",
        "days_between_weighings": "_days",
        "days_since_flush": "_days",
        "days_since_repot": "_days",
        "seconds": "_seconds",
        "minutes": "_minutes",
        "minutes_since": "_minutes",
        "days": "_days",
    }
)
"""Whole names that have a unit but do not end in its suffix."""

DIMENSIONLESS_NAMES: Final = frozenset(
    {
        "activity",
        "activity_coefficient",
        "charge_number",
        "concentration_factor",
        "cost",
        "count",
        "factor",
        "first_week_over_limit_high",
        "first_week_over_limit_low",
        "fraction",
        "from_day",
        "from_mix",
        "index",
        "infeasible",
        "inputs",
        "injector_ratio",
        "log10_k",
        "margin",
        "meter_scale",
        "mix",
        "ok",
        "order",
        "ph",
        "ph_after_acid",
        "predicted_ph_open",
        "price",
        "ratio",
        "rejected",
        "repeats",
        "requests_per_minute",
        "row_indices",
        "saturation_index",
        "scale",
        "share",
        "times",
        "to_day",
        "total",
        "week",
        "cost_of_a_litre",
        "shelf_place",
        "weights",
    }
)
"""Whole names of numbers without a unit."""

DIMENSIONLESS_ENDINGS: Final = (
    "_cost",
    "_count",
    "_factor",
    "_fraction",
    "_index",
    "_number",
    "_over_limit",
    "_ph",
    "_ph_high",
    "_ph_low",
    "_ratio",
    "_scale",
)
"""Endings of the names of numbers without a unit (`tank_count`, `target_ph`, …)."""

_SUFFIXES_LONGEST_FIRST: Final = tuple(sorted(CANONICAL_UNITS, key=len, reverse=True))


def is_dimensionless(field_name: str) -> bool:
    """
    Tell whether a field holds a number without a unit.

    Parameters
    ----------
    field_name : str
        Name of the field; of a dotted name the last part counts.

    Returns
    -------
    bool
        True for a listed name or a listed ending.
    """
    name = field_name.rpartition(".")[2]
    return name in DIMENSIONLESS_NAMES or name.endswith(DIMENSIONLESS_ENDINGS)


def suffix_of(field_name: str) -> str | None:
    """
    Return the unit suffix of a field.

    The longest suffix wins, and a name may be a suffix without its underscore (`g_per_l`). In a
    dotted name the last part that has a unit counts, so that an entry of a map is in the unit of
    the map (`target_mg_per_l.calcium`).

    Parameters
    ----------
    field_name : str
        Name of a field, or names joined by dots.

    Returns
    -------
    str or None
        Key of `CANONICAL_UNITS`; None for a dimensionless or an unlisted name.
    """
    if is_dimensionless(field_name):
        return None
    for name in reversed(field_name.split(".")):
        suffix = _suffix_of_part(name)
        if suffix is not None:
            return suffix
    return None


def _suffix_of_part(name: str) -> str | None:
    """Match one part of a dotted name; `x_per_l` is not a volume."""
    if name in SUFFIX_BY_NAME:
        return SUFFIX_BY_NAME[name]
    prefixed = "_" + name
    for suffix in _SUFFIXES_LONGEST_FIRST:
        if prefixed.endswith(suffix):
            return None if prefixed.removesuffix(suffix).endswith("_per") else suffix
    return None


@dataclass(frozen=True, slots=True)
class MeterScale:
    """Factor by which a conductivity meter shows ppm."""

    scale: int
    ppm_per_ms_per_cm: float
    basis: str
    source: str | None
    note: str


METER_SCALES: Final[Mapping[int, MeterScale]] = MappingProxyType(
    {
        500: MeterScale(500, 500.0, "common practice", None, "sodium chloride scale, half of EC"),
        640: MeterScale(640, 640.0, "common practice", None, "laboratory estimate of solids"),
        700: MeterScale(700, 700.0, "common practice", None, "442 natural-water scale, rounded"),
    }
)
"""Meter scales: a convention of the instrument, not a conversion of units."""

ATOMIC_WEIGHTS_SOURCE: Final = "prohaska-2022"
"""Source key of the abridged standard atomic weights used below."""

# Abridged standard atomic weights, five figures [g/mol].
_HYDROGEN: Final = 1.0080
_CARBON: Final = 12.011
_OXYGEN: Final = 15.999
_CALCIUM: Final = 40.078

CALCIUM_CARBONATE_G_PER_MOL: Final = _CALCIUM + _CARBON + 3.0 * _OXYGEN
CALCIUM_OXIDE_G_PER_MOL: Final = _CALCIUM + _OXYGEN
BICARBONATE_G_PER_MOL: Final = _HYDROGEN + _CARBON + 3.0 * _OXYGEN

CALCIUM_CARBONATE_MG_PER_MMOL: Final = CALCIUM_CARBONATE_G_PER_MOL
"""Hardness: a mole of calcium or magnesium counts as a mole of CaCO3 [mg/mmol]."""

CALCIUM_CARBONATE_MG_PER_MEQ: Final = CALCIUM_CARBONATE_G_PER_MOL / 2.0
"""Alkalinity: a mole of CaCO3 takes up two of acid [mg/meq]."""

BICARBONATE_MG_PER_MEQ: Final = BICARBONATE_G_PER_MOL
"""Alkalinity: a mole of bicarbonate takes up one of acid [mg/meq]."""

GERMAN_DEGREE_MG_PER_L_CACO3: Final = 10.0 * CALCIUM_CARBONATE_G_PER_MOL / CALCIUM_OXIDE_G_PER_MOL
"""German degree: by definition 10 mg/L of CaO, stated as CaCO3 [mg/L]."""

FRENCH_DEGREE_MG_PER_L_CACO3: Final = 10.0
"""French degree: by definition 10 mg/L of CaCO3 [mg/L]."""

_GRAIN_MG: Final = 64.79891
_US_GALLON_L: Final = 3.785411784
_IMPERIAL_GALLON_L: Final = 4.54609
UNIT_DEFINITIONS_SOURCE: Final = "nist-sp-811"
"""Source key of the grain and of both gallons, which are exact by definition."""

US_GRAIN_PER_GALLON_MG_PER_L_CACO3: Final = _GRAIN_MG / _US_GALLON_L
"""One grain of CaCO3 in a US gallon [mg/L]."""

CLARK_DEGREE_MG_PER_L_CACO3: Final = _GRAIN_MG / _IMPERIAL_GALLON_L
"""Clark (English) degree: one grain of CaCO3 in an imperial gallon [mg/L]."""
