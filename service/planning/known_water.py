"""One water of a request, completed on its own: composition, conductivity, what it lacks."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.prepared_litre import prepared_litre
from service.chemistry.solution import REFERENCE_TEMPERATURE
from service.planning.catalogue import Catalogue
from service.planning.defaults import DEFAULT_WATER_TEMPERATURE
from service.planning.notes import Notes
from service.planning.single_water import single_water
from service.planning.water import INCOMPLETE, stated_alkalinity
from service.reference.components import COMPONENT_COUNT

REFERENCE_CELSIUS: Final = DEFAULT_WATER_TEMPERATURE
"""Temperature at which an analysis is taken to be made [degC]."""

PURE_WATER: Final = {
    "alkalinity_mg_per_l_caco3": 0.0,
    **{
        f"{ion}_mg_per_l": 0.0
        for ion in ("calcium", "magnesium", "potassium", "sodium", "chloride", "sulfate")
    },
}
"""Analysis of water that nothing is dissolved in but the carbon dioxide of the air."""

_COOLNESS: Final = "cold_water"
_PH_ASSUMED: Final = "water_ph_assumed"


@dataclass(frozen=True, eq=False)
class KnownWater:
    """
    A water as the chemistry takes it.

    Attributes
    ----------
    analysis : mapping of str to float
        What is stated, by the names of a water analysis.
    preset : str or None
        Key of the preset that it is.
    composition_mmol_per_l : ndarray, shape (n_components,)
        Conserved components.
    composition_mol_per_kg : ndarray, shape (n_components,)
        The same per mass of water.
    ec_ms_per_cm : float
        Conductivity at 25 degC, that which the analysis does not explain included.
    unexplained_ec_ms_per_cm : float
        Part of it that the ions of the analysis do not explain.
    alkalinity_known : bool
        Whether the analysis states an alkalinity.
    charge_error_percent : float or None
        Surplus of cations; None where the analysis lacks a major ion or its alkalinity.
    """

    analysis: Mapping[str, float]
    preset: str | None
    composition_mmol_per_l: NDArray[np.float64]
    composition_mol_per_kg: NDArray[np.float64]
    ec_ms_per_cm: float
    unexplained_ec_ms_per_cm: float
    alkalinity_known: bool
    charge_error_percent: float | None


def known_water(water: Any, catalogue: Catalogue, notes: Notes, place: str = "water") -> KnownWater:
    """
    Read one water.

    Parameters
    ----------
    water : str, object or None
        Key of a preset, an object with the attributes of a water analysis, or None for pure water.
    catalogue : Catalogue
        Knows the presets.
    notes : Notes
        Receives what is assumed and cautioned.
    place : str
        Dotted name of the field that the water stands in.

    Returns
    -------
    KnownWater
        The water.

    Raises
    ------
    RefusalError
        If the analysis contradicts itself or cannot be solved.
    """
    if water is None:
        notes.assume("water_pure_assumed", place)
    # A pH without an alkalinity says nothing about the carbonate, and none is given for it.
    read = single_water(
        PURE_WATER if water is None else water,
        catalogue.default_profile,
        catalogue,
        place=place,
        bare_ph=False,
    )
    result = read.result
    known = bool(np.isfinite(stated_alkalinity(read.row["water"])))
    if water is not None:
        notes.take(
            (_placed(each, place) for each in read.cautions if each["code"] != _COOLNESS),
            (
                _placed(each, place)
                for each in read.assumptions
                if known or each["code"] != _PH_ASSUMED
            ),
        )
    total = np.array(result["water_composition_mmol_per_l"])
    molal = np.zeros(COMPONENT_COUNT)
    prepared_litre(np.zeros(COMPONENT_COUNT), total, REFERENCE_TEMPERATURE, molal)
    error = float(result["water_charge_error_percent"])
    complete = int(result["cautions"]) & int(INCOMPLETE) == 0
    return KnownWater(
        analysis=read.analysis,
        preset=read.preset,
        composition_mmol_per_l=total,
        composition_mol_per_kg=molal,
        ec_ms_per_cm=float(result["water_ec_ms_per_cm"]),
        unexplained_ec_ms_per_cm=float(result["unexplained_ec_ms_per_cm"]),
        alkalinity_known=known,
        charge_error_percent=error if complete and np.isfinite(error) else None,
    )


def _placed(note: Mapping[str, Any], place: str) -> dict[str, Any]:
    """Return a note on `water` as one on the field that this water stands in."""
    field = note["field"]
    if field == "water" or str(field).startswith("water."):
        field = place + str(field).removeprefix("water")
    return {**note, "field": field}
