"""The water that is poured through a pot: how salty it is, and what its analysis warns of."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.chemistry.solution import workspace
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import PROBLEMS
from service.planning.defaults import DEFAULT_WATER_TEMPERATURE
from service.planning.doses import SCRATCH_ROWS
from service.planning.notes import Notes, RefusalError
from service.planning.requests import DEFAULT_WATER, SOFTENED_WATER
from service.planning.water import TEMPERATURE, water_row
from service.planning.words import assumptions_in_words, cautions_in_words
from service.reference.components import COMPONENT_COUNT

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
    requests, results = rows.empty_requests(1), rows.empty_results(1)
    row, result = requests[0], results[0]
    row["limited"] = 0
    row["profile"] = profile
    columns = row["water"]
    if water is None:
        water = DEFAULT_WATER
        notes.assume("water_assumed")
    preset = water if isinstance(water, str) else None
    if preset is not None:
        columns[:] = catalogue.water_rows[preset]
        if preset == "softened_tap":
            result["cautions"] = SOFTENED_WATER
    else:
        for position, name in enumerate(rows.WATER_FIELDS):
            value = getattr(water, name)
            if value is not None:
                columns[position] = value
    analysis = {
        name: float(value)
        for name, value in zip(rows.WATER_FIELDS, columns, strict=True)
        if np.isfinite(value)
    }
    if np.isnan(columns[TEMPERATURE]):
        columns[TEMPERATURE] = DEFAULT_WATER_TEMPERATURE
    scratch = np.empty((SCRATCH_ROWS, COMPONENT_COUNT))
    problem = water_row(row, catalogue.profile_table[profile], result, scratch, workspace())
    if problem != 0:
        raise RefusalError(PROBLEMS[problem].code)
    if analysis.keys() == {"ec_ms_per_cm"}:
        # Nothing but a measured conductivity: it is the whole truth about the salt.
        return PouredWater(analysis, preset, analysis["ec_ms_per_cm"])
    said = cautions_in_words(row, result, catalogue)
    notes.take(
        (each for each in said if each["code"] in MATTERS_IN_A_POT),
        (
            each
            for each in assumptions_in_words(row, result, catalogue)
            if each["code"] == "hardness_as_calcium"
        ),
    )
    return PouredWater(analysis, preset, float(result["water_ec_ms_per_cm"]))
