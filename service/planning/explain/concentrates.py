"""The working of solids in a concentrate: ions, their activities, and the constant of the solid."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.chemistry import concentrate_ions as ions
from service.chemistry import species
from service.chemistry.concentrate_solids import (
    PHOSPHATE_POWERS,
    POWERS,
    SALT_OF_SOLID,
    SOLID_NAMES,
    WATER_POWERS,
)
from service.chemistry.concentrate_species import (
    LN_GAMMA,
    LN_WATER_ACTIVITY,
    MOLALITY,
    OK,
    PH,
    STATE_SIZE,
    dissolve,
)
from service.planning.concentrate import model_at
from service.planning.explain.speciation import MOLAL
from service.planning.explain.working import NUMBER, Working, signed_sum, signed_term

FloatArray = NDArray[np.float64]

PITZER: Final = "harvie-moller-weare-1984"
LN_10: Final = float(np.log(10.0))


def _clean(name: str) -> str:
    """Return the identifier of a species as a name for formulas."""
    for sign, word in (("+", "_plus"), ("-", "_minus"), ("(", ""), (")", "")):
        name = name.replace(sign, word)
    return name


def explain_solid(
    working: Working,
    composition: FloatArray,
    celsius: float,
    solid: str,
    name: str,
    prefix: str,
    value: float,
) -> str | None:
    """
    Show why a solid of a concentrate has its saturation index.

    Parameters
    ----------
    working : Working
        Receives the lines; activities of an ion at one temperature stand there once.
    composition : ndarray, shape (n_components,)
        Components in a kilogram of water [mol/kg].
    celsius : float
        Temperature [degC].
    solid : str
        Name of the solid.
    name : str
        Name of the index.
    prefix : str
        Of the tank; the temperature is added to it.
    value : float
        The finished index.

    Returns
    -------
    str or None
        The name of the index.
    """
    model, state = model_at(celsius), np.zeros(STATE_SIZE)
    status = dissolve(
        np.ascontiguousarray(composition),
        model.constants,
        model.slope,
        model.salts,
        model.pairs,
        model.triplets,
        state,
    )
    if status != OK or solid not in SOLID_NAMES:
        return None
    place = SOLID_NAMES.index(solid)
    at = f"{prefix}at_{celsius:g}_celsius_".replace(".", "_").replace("-", "minus_")
    terms: list[str] = []
    where = {f"log10_k_{solid}": float(model.solid_constants[place]) / LN_10}
    for ion in range(ions.SPECIES_COUNT):
        power = float(POWERS[place, ion])
        if power == 0.0:
            continue
        if ion == ions.HYDROGEN:
            terms.append(signed_term(-power, _ph_line(working, at, state)))
        else:
            terms.append(signed_term(power, f"log10({_activity(working, at, ion, state)})"))
    if PHOSPHATE_POWERS[place] != 0.0:
        activity = _activity(working, at, ions.HYDROGEN_PHOSPHATE, state)
        where["log10_k_hydrogen_phosphate"] = float(
            np.log10(model.constants[species.HYDROGEN_PHOSPHATE_ION])
        )
        phosphate = (
            f"(log10({activity}) - log10_k_hydrogen_phosphate + {_ph_line(working, at, state)})"
        )
        terms.append(signed_term(float(PHOSPHATE_POWERS[place]), phosphate))
    if WATER_POWERS[place] != 0.0:
        water = f"{at}water_activity"
        if not working.knows(water):
            working.known(
                water,
                float(np.exp(state[LN_WATER_ACTIVITY])),
                "activity of water by the ion-interaction equations",
                PITZER,
                NUMBER,
            )
        terms.append(signed_term(float(WATER_POWERS[place]), f"log10({water})"))
    source = "crc-handbook-98" if SALT_OF_SOLID[place] >= 0 else "parkhurst-appelo-2013"
    return working.computed(
        name,
        f"{signed_sum(terms)} - log10_k_{solid}",
        value,
        NUMBER,
        source,
        where,
    )


def _ph_line(working: Working, at: str, state: FloatArray) -> str:
    """Add the pH that the model of concentrates finds, once."""
    name = f"{at}model_ph"
    if not working.knows(name):
        working.solved(
            name, state[PH], "pH on the scale of the ion-interaction model", PITZER, NUMBER
        )
    return name


def _activity(working: Working, at: str, ion: int, state: FloatArray) -> str:
    """Add molality and activity coefficient of an ion, once, and return its activity."""
    clean = _clean(ions.SPECIES[ion])
    amount, gamma = f"{at}{clean}", f"{at}gamma_{clean}"
    if not working.knows(amount):
        working.solved(
            amount,
            state[MOLALITY + ion],
            "amount of the ion for each kilogram of water, weak acids in balance",
            PITZER,
            MOLAL,
        )
        working.known(
            gamma,
            float(np.exp(state[LN_GAMMA + ion])),
            "activity coefficient by the ion-interaction equations",
            PITZER,
            NUMBER,
        )
    return f"{amount} * {gamma}"
