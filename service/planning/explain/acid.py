"""The working of an acid or base as it is measured: from millimoles to grams and millilitres."""

from typing import Any, Final

import numpy as np

from service.chemistry.density import reagent_density
from service.planning import reagents
from service.planning.acid_dose import ACID_TEMPERATURE
from service.planning.explain.working import Working
from service.reference.acids import acids

BOTTLE_DENSITY: Final = "laliberte-2009"


def acid_source(kind: int) -> str | None:
    """
    Return the first source of an acid or base.

    Parameters
    ----------
    kind : int
        Position in `reagents.KINDS`.

    Returns
    -------
    str or None
        Key of a source.
    """
    sources = acids()[reagents.KINDS[kind]].sources
    return sources[0] if sources else None


def is_weighed(row: Any, kind: int) -> bool:
    """
    Tell whether an acid or base of this strength is weighed rather than poured.

    Parameters
    ----------
    row : record
        Names the strength.
    kind : int
        Position in `reagents.KINDS`.

    Returns
    -------
    bool
        True where no density is known at this strength.
    """
    return not np.isfinite(_density(row, kind))


def _density(row: Any, kind: int) -> float:
    """Return the density of what is in the bottle [kg/L], NaN for a solid."""
    strength = float(row["acid_percent"]) / 100.0
    return float(reagent_density(reagents.DENSITY_NUMBER[kind], strength, ACID_TEMPERATURE))


def bottle_lines(working: Working, row: Any, result: Any, amount: str) -> None:
    """
    Add mass and volume of what is taken from the bottle.

    Parameters
    ----------
    working : Working
        Holds the amount and `volume_l`; receives `bottle_mass_g`, and `bottle_volume_ml` for a
        liquid.
    row : record
        Names acid and strength.
    result : record
        Holds `acid_mass_g` and `acid_volume_ml`.
    amount : str
        Name of the acid in a litre of can [mmol/L].
    """
    kind = int(row["acid_kind"])
    percent = working.given("acid_percent", row["acid_percent"])
    mass = working.computed(
        "bottle_mass_g",
        f"{amount} * volume_l * molar_mass / 1000 / ({percent} / 100)",
        result["acid_mass_g"],
        source=acid_source(kind),
        where={"molar_mass": float(reagents.MOLAR_MASS[kind])},
    )
    density = _density(row, kind)
    if not np.isfinite(density):
        return
    bottle = working.known(
        "bottle_density_kg_per_l",
        density,
        f"density of {reagents.reagent_name(kind)} of this strength at 20 °C",
        BOTTLE_DENSITY,
    )
    working.computed("bottle_volume_ml", f"{mass} / {bottle}", result["acid_volume_ml"])
