"""Plant profiles: the ceilings that a dose may not pass and the ranges that trials recommend."""

import functools
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from service.reference.labels import nearest
from service.reference.sources import require_source
from service.reference.tables import BASES, ReferenceDataError

PLANT_FILE: Final = Path(__file__).resolve().parent / "plants.toml"
SIZES: Final = ("large", "medium", "mini")
SUPPLEMENTS: Final = ("calcium_nitrate", "calcium_magnesium", "seaweed")
MICRONUTRIENTS: Final = ("boron", "copper", "zinc", "manganese", "iron", "molybdenum")

_PROVENANCE: Final = ("basis", "source", "locator", "note")


@dataclass(frozen=True, slots=True)
class Provenance:
    """
    How a limit is known.

    Parameters
    ----------
    basis : str
        One of `service.reference.tables.BASES`.
    source : str
        Source key.
    locator : str
        Where in the source, may be empty for common practice.
    note : str
        Remark, may be empty.
    """

    basis: str
    source: str
    locator: str
    note: str


@dataclass(frozen=True, slots=True)
class Limit:
    """
    One number a dose is held against, in the unit that its field names.

    Parameters
    ----------
    value : float
        The number.
    provenance : Provenance
        How it is known.
    """

    value: float
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Range:
    """
    A recommended range, in the unit that its key names.

    Parameters
    ----------
    low, high : float
        The ends; equal when the source gives one number.
    provenance : Provenance
        How it is known.
    """

    low: float
    high: float
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class PlantProfile:
    """
    Limits and ranges of one kind of plant.

    Parameters
    ----------
    key : str
        Profile key.
    name : str
        Name for people.
    genera : tuple of str
        Genera it stands for, lower case.
    note : str
        What the profile rests on.
    meter_ceilings_ppm : mapping of str to Limit
        Highest meter reading of the whole can by size: ``large``, ``medium``, ``mini``.
    ec_ceiling_ms_per_cm : Limit
        Highest conductivity of the whole can, 25 °C.
    nitrogen_ceiling_mg_per_l : Limit
        Highest total nitrogen, water and urea included.
    ammonium_and_urea_share_max : Limit
        Highest share of ammonium and urea in the total nitrogen, 0 to 1.
    ammonium_and_urea_share_max_cool : Limit
        The same when the mean temperature is below `cool_below_celsius`.
    cool_below_celsius : Limit
        Mean temperature below which nitrification is slow.
    ph : Range
        Window of the feed's pH.
    supplement_ceilings_ppm : mapping of str to Limit
        Meter reading of a supplement alone: ``calcium_nitrate``, ``calcium_magnesium``,
        ``seaweed``.
    micronutrient_maxima_mg_per_l : mapping of str to Limit
        Highest concentration in the whole can by element.
    sodium_caution_mg_per_l, chloride_caution_mg_per_l : Limit
        Concentrations above which a caution is due.
    ranges : mapping of str to Range
        Recommended ranges; keys carry the unit.
    """

    key: str
    name: str
    genera: tuple[str, ...]
    note: str
    meter_ceilings_ppm: Mapping[str, Limit]
    ec_ceiling_ms_per_cm: Limit
    nitrogen_ceiling_mg_per_l: Limit
    ammonium_and_urea_share_max: Limit
    ammonium_and_urea_share_max_cool: Limit
    cool_below_celsius: Limit
    ph: Range
    supplement_ceilings_ppm: Mapping[str, Limit]
    micronutrient_maxima_mg_per_l: Mapping[str, Limit]
    sodium_caution_mg_per_l: Limit
    chloride_caution_mg_per_l: Limit
    ranges: Mapping[str, Range]


@dataclass(frozen=True, slots=True)
class ProfileChoice:
    """
    The profile that stands for a plant a caller named.

    Parameters
    ----------
    profile : PlantProfile
        The profile.
    known : bool
        False when the plant is not known and the weakest profile was taken.
    hint : str
        Nearest known names, or an empty text.
    """

    profile: PlantProfile
    known: bool
    hint: str


@functools.cache
def _document() -> dict[str, Any]:
    return tomllib.loads(PLANT_FILE.read_text(encoding="utf-8"))


@functools.cache
def plants() -> Mapping[str, PlantProfile]:
    """
    Return the plant profiles.

    Returns
    -------
    mapping of str to PlantProfile
        By key.

    Raises
    ------
    ReferenceDataError
        If the packaged file is wrong.
    """
    document = _document()
    defaults = document["defaults"]
    result = {
        key: _profile(key, {**defaults, **entry}) for key, entry in document["profiles"].items()
    }
    for role in ("default_profile", "weakest_profile"):
        if document["settings"][role] not in result:
            raise ReferenceDataError(f"settings.{role}", "names no profile")
    return MappingProxyType(result)


def default_plant() -> PlantProfile:
    """
    Return the profile assumed when a caller names no plant.

    Returns
    -------
    PlantProfile
        The moth orchid.
    """
    return plants()[_document()["settings"]["default_profile"]]


def weakest_plant() -> PlantProfile:
    """
    Return the profile with the lowest ceilings, for a plant that is not known.

    Returns
    -------
    PlantProfile
        The profile that `plants.toml` names as the weakest.
    """
    return plants()[_document()["settings"]["weakest_profile"]]


def plant_profile(name: str) -> ProfileChoice:
    """
    Return the profile for a plant by profile key or genus.

    Parameters
    ----------
    name : str
        For instance ``moth_orchid`` or ``Phalaenopsis``.

    Returns
    -------
    ProfileChoice
        The profile; the weakest one, with `known` false, when nothing matches.
    """
    word = "_".join(name.casefold().split())
    by_genus = {genus: profile for profile in plants().values() for genus in profile.genera}
    profile = plants().get(word) or by_genus.get(word)
    if profile is not None:
        return ProfileChoice(profile, known=True, hint="")
    return ProfileChoice(weakest_plant(), known=False, hint=nearest(word, [*plants(), *by_genus]))


def _profile(key: str, entry: Mapping[str, Any]) -> PlantProfile:
    where = f"profiles.{key}"
    known = {field for field in PlantProfile.__dataclass_fields__ if field != "key"}
    for field in entry:
        if field not in known:
            raise ReferenceDataError(f"{where}.{field}", f"is not known{nearest(field, [*known])}")
    missing = known - set(entry) - {"ranges"}
    if missing:
        raise ReferenceDataError(where, f"lacks {', '.join(sorted(missing))}")

    def limit(field: str) -> Limit:
        return _limit(entry[field], "value", f"{where}.{field}")

    return PlantProfile(
        key=key,
        name=entry["name"],
        genera=tuple(entry["genera"]),
        note=entry["note"],
        meter_ceilings_ppm=_limits_by_name(entry, "meter_ceilings_ppm", SIZES, where),
        ec_ceiling_ms_per_cm=limit("ec_ceiling_ms_per_cm"),
        nitrogen_ceiling_mg_per_l=limit("nitrogen_ceiling_mg_per_l"),
        ammonium_and_urea_share_max=limit("ammonium_and_urea_share_max"),
        ammonium_and_urea_share_max_cool=limit("ammonium_and_urea_share_max_cool"),
        cool_below_celsius=limit("cool_below_celsius"),
        ph=_range(entry["ph"], f"{where}.ph"),
        supplement_ceilings_ppm=_limits_by_name(
            entry, "supplement_ceilings_ppm", SUPPLEMENTS, where
        ),
        micronutrient_maxima_mg_per_l=MappingProxyType(
            {
                name: _limit(
                    entry["micronutrient_maxima_mg_per_l"].get(name, {}),
                    "value",
                    f"{where}.micronutrient_maxima_mg_per_l.{name}",
                )
                for name in MICRONUTRIENTS
            }
        ),
        sodium_caution_mg_per_l=limit("sodium_caution_mg_per_l"),
        chloride_caution_mg_per_l=limit("chloride_caution_mg_per_l"),
        ranges=MappingProxyType(
            {
                name: _range(value, f"{where}.ranges.{name}")
                for name, value in entry.get("ranges", {}).items()
            }
        ),
    )


def _limits_by_name(
    entry: Mapping[str, Any], field: str, names: tuple[str, ...], where: str
) -> Mapping[str, Limit]:
    """Return limits that share one provenance."""
    return MappingProxyType(
        {name: _limit(entry[field], name, f"{where}.{field}") for name in names}
    )


def _limit(entry: Mapping[str, Any], name: str, where: str) -> Limit:
    return Limit(_positive(entry, name, where), _provenance(entry, where))


def _range(entry: Mapping[str, Any], where: str) -> Range:
    low, high = _positive(entry, "low", where), _positive(entry, "high", where)
    if low > high:
        raise ReferenceDataError(where, "low must not be above high")
    return Range(low, high, _provenance(entry, where))


def _positive(entry: Mapping[str, Any], name: str, where: str) -> float:
    value = entry.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ReferenceDataError(f"{where}.{name}", f"must be a number, got {value!r}")
    if value <= 0:
        raise ReferenceDataError(f"{where}.{name}", f"must be above 0, got {value:g}")
    return float(value)


def _provenance(entry: Mapping[str, Any], where: str) -> Provenance:
    basis, source, locator, note = (entry.get(field, "") for field in _PROVENANCE)
    if basis not in BASES:
        raise ReferenceDataError(f"{where}.basis", f"must be one of {', '.join(BASES)}")
    require_source(source, f"{where}.source")
    if basis in ("published", "standard", "informal") and not locator:
        raise ReferenceDataError(f"{where}.locator", "is required with a source")
    return Provenance(basis, source, locator, note)
