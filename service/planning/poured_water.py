"""The water that is poured through a pot: how salty it is, and what its analysis warns of."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from service.planning.catalogue import Catalogue
from service.planning.notes import Notes
from service.planning.requests import DEFAULT_WATER
from service.planning.single_water import single_water

MATTERS_IN_A_POT: Final = ("sodium_high", "chloride_high", "cold_water", "softened_water")
"""Cautions of a water that count when it is poured; the others are about mixing with it."""


@dataclass(frozen=True)
class PouredWater:
    """
    A water and its conductivity.

    Attributes
    ----------
    analysis : mapping of str to float
        What is stated, by the names of a water analysis.
    preset : str or None
        Key of the preset that it is.
    ec_ms_per_cm : float
        Conductivity at 25 degC: that of the ions, or the measured one where it is higher.
    """

    analysis: Mapping[str, float]
    preset: str | None
    ec_ms_per_cm: float


def poured_water(water: Any, profile: int, catalogue: Catalogue, notes: Notes) -> PouredWater:
    """
    Read a water.

    Parameters
    ----------
    water : str, object or None
        Key of a preset, an object with the attributes of a water analysis, or None.
    profile : int
        Row of the plant's profile, whose sodium and chloride limits count.
    catalogue : Catalogue
        Knows presets and profiles.
    notes : Notes
        Receives what is assumed and cautioned.

    Returns
    -------
    PouredWater
        The water.

    Raises
    ------
    RefusalError
        If the analysis contradicts itself or cannot be solved.
    """
    if water is None:
        water = DEFAULT_WATER
        notes.assume("water_assumed")
    read = single_water(water, profile, catalogue, place=None, bare_ph=True)
    analysis = read.analysis
    if analysis.keys() == {"ec_ms_per_cm"}:
        # Nothing but a measured conductivity: it is the whole truth about the salt.
        return PouredWater(analysis, read.preset, analysis["ec_ms_per_cm"])
    notes.take(
        (each for each in read.cautions if each["code"] in MATTERS_IN_A_POT),
        (each for each in read.assumptions if each["code"] == "hardness_as_calcium"),
    )
    return PouredWater(analysis, read.preset, float(read.result["water_ec_ms_per_cm"]))
