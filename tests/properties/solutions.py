"""Chemically sensible solutions for property tests."""

import numpy as np
from hypothesis import strategies as st

from service.chemistry.equilibrium import (
    CLOSED,
    speciate,
)
from service.chemistry.equilibrium_constants import constants_array, fill_constants
from service.chemistry.species import SPECIES_NAMES
from service.chemistry.workspace import (
    MOLALITY,
    workspace,
)
from service.reference.components import (
    CARBONATE,
    CHLORIDE,
    CITRATE,
    COMPONENT_COUNT,
    NOMINAL_CHARGE,
    PHOSPHATE,
    SODIUM,
    UNMEASURED,
)

CHARGES = np.array(NOMINAL_CHARGE, dtype=float)

amounts = st.lists(
    st.one_of(st.just(0.0), st.floats(-7.0, -2.0).map(lambda power: 10.0**power)),
    min_size=COMPONENT_COUNT,
    max_size=COMPONENT_COUNT,
)
kelvins = st.floats(273.15, 313.15)


def balanced(values: list[float], weak: float = 0.5) -> np.ndarray:
    """Return a composition whose strong ions leave a moderate charge to the weak acids."""
    row = np.array(values)
    row[UNMEASURED] = 0.0
    surplus = row @ CHARGES - weak * (row[PHOSPHATE] + row[CARBONATE] + row[CITRATE])
    row[SODIUM if surplus < 0.0 else CHLORIDE] += abs(surplus)
    return row


def solved(row: np.ndarray, kelvin: float, pressure: float = CLOSED) -> tuple[int, np.ndarray]:
    constants, ws = constants_array(), workspace()
    fill_constants(kelvin, constants)
    return speciate(row, constants, pressure, np.nan, False, ws), ws


def molalities(ws: np.ndarray) -> np.ndarray:
    return ws[MOLALITY : MOLALITY + len(SPECIES_NAMES)]
