"""A water planned on its own, without a can: its columns, its chemistry and what it lacks."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.chemistry.solution import workspace
from service.planning import rows
from service.planning.catalogue import Catalogue
from service.planning.cautions import PROBLEMS
from service.planning.defaults import DEFAULT_WATER_TEMPERATURE
from service.planning.doses import SCRATCH_ROWS
from service.planning.notes import RefusalError
from service.planning.water import PH, TEMPERATURE, stated_alkalinity, water_row
from service.planning.water_columns import fill_water_columns, stated_values
from service.planning.words import assumptions_in_words, cautions_in_words
from service.reference.components import COMPONENT_COUNT


@dataclass(frozen=True, eq=False)
class SingleWater:
    """
    A finished row of a water alone.

    Attributes
    ----------
    row : record of `rows.DOSE_REQUEST`
        Holds the columns of the water, its temperature filled in.
    result : record of `rows.DOSE_RESULT`
        What `service.planning.water.water_row` finds.
    analysis : mapping of str to float
        What is stated, by the names of a water analysis.
    preset : str or None
        Key of the preset that it is.
    cautions : list of dict
        Cautions in words.
    assumptions : list of dict
        Assumptions in words.
    """

    row: Any
    result: Any
    analysis: Mapping[str, float]
    preset: str | None
    cautions: list[dict[str, Any]]
    assumptions: list[dict[str, Any]]


def single_water(
    water: Any, profile: int, catalogue: Catalogue, *, place: str | None, bare_ph: bool
) -> SingleWater:
    """
    Complete one water.

    Parameters
    ----------
    water : str, mapping or object
        Key of a preset, or the values of a water analysis by name or as attributes.
    profile : int
        Row of the plant's profile, whose sodium and chloride limits count.
    catalogue : Catalogue
        Knows presets and profiles.
    place : str or None
        Dotted name of the field that a refusal is about; None for that of the problem.
    bare_ph : bool
        Whether a pH counts that stands without an alkalinity.

    Returns
    -------
    SingleWater
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
    result["cautions"] = fill_water_columns(columns, water, catalogue.water_rows)
    analysis = stated_values(columns)
    if np.isnan(columns[TEMPERATURE]):
        columns[TEMPERATURE] = DEFAULT_WATER_TEMPERATURE
    if not bare_ph and np.isnan(stated_alkalinity(columns)):
        columns[PH] = np.nan
    scratch = np.empty((SCRATCH_ROWS, COMPONENT_COUNT))
    problem = water_row(row, catalogue.profile_table[profile], result, scratch, workspace())
    if problem != 0:
        raise RefusalError(PROBLEMS[problem].code, place)
    return SingleWater(
        row=row,
        result=result,
        analysis=analysis,
        preset=water if isinstance(water, str) else None,
        cautions=cautions_in_words(row, result, catalogue),
        assumptions=assumptions_in_words(row, result, catalogue),
    )
