"""The working of saturation indices: activities of a solid's ions, and its constant."""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry.saturation import SOLID_FORMATIONS, SOLID_NAMES
from service.chemistry.species import SPECIES_NAMES
from service.planning.explain.species_names import gamma_name, species_name
from service.planning.explain.working import NUMBER, Working, signed_sum, signed_term
from service.reference.equilibrium_tables import load_saturation_constants

FloatArray = NDArray[np.float64]

_SOLID_SOURCES: Final = {row.name: row.source for row in load_saturation_constants()}


def explain_solids(
    working: Working, temperature: float, places: dict[str, tuple[str, float]], prefix: str = ""
) -> None:
    """
    Show saturation indices of a solution whose species stand in the working.

    Parameters
    ----------
    working : Working
        Holds the species under the prefix; receives the lines.
    temperature : float
        Temperature [K].
    places : dict of str to (str, float)
        Field of the answer and finished index of each solid.
    prefix : str
        As in `explain_ph`.
    """
    if working.brief:
        return
    for solid, (field, index) in places.items():
        if not np.isfinite(index):
            continue
        shown = f"{prefix}{solid}_index"
        formation = SOLID_FORMATIONS[SOLID_NAMES.index(solid)]
        terms = _activities(working, formation.powers, prefix)
        constant = f"log10_k_{solid}"
        log10_k = -_log10(formation.coefficients, temperature)
        if terms is None:
            words = "ion product over constant; an ion is there in less than traces"
            working.solved(shown, index, words, _SOLID_SOURCES[solid], NUMBER)
        else:
            formula = f"{signed_sum(terms)} - {constant}"
            source = _SOLID_SOURCES[solid]
            working.computed(shown, formula, index, NUMBER, source, {constant: log10_k})
        working.answer(field, shown, 3, NUMBER)


def _activities(working: Working, powers: Mapping[str, int], prefix: str) -> list[str] | None:
    """Return the terms of an ion product, None where an ion does not stand in the working."""
    terms = []
    for name, power in powers.items():
        if name == "H+":
            terms.append(signed_term(-power, f"{prefix}ph"))
        elif name == "H2O":
            terms.append(signed_term(power, f"log10({prefix}water_activity)"))
        else:
            place = SPECIES_NAMES.index(name)
            species = f"{prefix}{species_name(place)}"
            if not working.knows(species):
                return None
            terms.append(signed_term(power, f"log10({gamma_name(place, prefix)} * {species})"))
    return terms


def _log10(coefficients: FloatArray, temperature: float) -> float:
    """Return log10 of a constant at a temperature."""
    powers = np.array(
        [
            1.0,
            temperature,
            1.0 / temperature,
            np.log10(temperature),
            temperature**-2.0,
            temperature**2.0,
        ]
    )
    return float(coefficients @ powers)
