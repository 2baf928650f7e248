"""The coefficients of Pitzer's equations as arrays: single salts, pairs and triplets of ions."""

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
import numpy.typing as npt

from service.chemistry.concentrate_ions import (
    CATION_COUNT,
    CHARGES,
    INERT_ANION,
    INERT_CATION,
    INERT_DIVALENT_ANION,
    ION_COUNT,
    SPECIES,
)
from service.chemistry.constant_arrays import constant_array
from service.chemistry.pitzer import SALT_WIDTH
from service.reference.concentrate_tables import (
    MixingRow,
    SaltRow,
    mixing_rows,
    salt_rows,
)

FloatArray = npt.NDArray[np.float64]

REFERENCE_TEMPERATURE: Final = 298.15
"""Of the tables [K]."""

STAND_INS: Final = (
    (INERT_CATION, SPECIES.index("Na+")),
    (INERT_ANION, SPECIES.index("Cl-")),
    (INERT_DIVALENT_ANION, SPECIES.index("SO4-2")),
)
"""Ions without coefficients of their own, and the ion whose coefficients they take."""


def salt_arrays(rows: Iterable[SaltRow]) -> tuple[FloatArray, FloatArray]:
    """
    Return the coefficients of single salts as the kernels read them.

    Parameters
    ----------
    rows : iterable of SaltRow
        One for each cation with each anion.

    Returns
    -------
    salts : ndarray, shape (CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH)
        At 25 degrees Celsius; the osmotic coefficient C of the tables divided by 2 sqrt(z z')
        [kg/mol and powers of it].
    slopes : ndarray, shape (CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH)
        Their change with temperature [the same per K].
    """
    salts = np.zeros((CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH))
    slopes = np.zeros_like(salts)
    for row in rows:
        cation, anion = SPECIES.index(row.cation), SPECIES.index(row.anion)
        root = 2.0 * math.sqrt(abs(CHARGES[cation] * CHARGES[anion]))
        salts[cation, anion - CATION_COUNT] = (
            row.beta0,
            row.beta1,
            row.beta2,
            row.c_phi / root,
            row.alpha1,
            row.alpha2,
        )
        slopes[cation, anion - CATION_COUNT] = (
            row.beta0_per_k,
            row.beta1_per_k,
            row.beta2_per_k,
            row.c_phi_per_k / root,
            0.0,
            0.0,
        )
    for array in (salts, slopes):
        for inert, kind in STAND_INS:
            if inert < CATION_COUNT:
                array[inert] = array[kind]
            else:
                array[:, inert - CATION_COUNT] = array[:, kind - CATION_COUNT]
    return salts, slopes


def mixing_arrays(rows: Iterable[MixingRow]) -> tuple[FloatArray, FloatArray]:
    """
    Return the coefficients of mixing as the kernels read them.

    Parameters
    ----------
    rows : iterable of MixingRow
        What is not named is zero.

    Returns
    -------
    pairs : ndarray, shape (ION_COUNT, ION_COUNT)
        Theta of two ions of like sign [kg/mol].
    triplets : ndarray, shape (ION_COUNT, ION_COUNT, ION_COUNT)
        Psi of these and a third [kg^2/mol^2].
    """
    pairs = np.zeros((ION_COUNT, ION_COUNT))
    triplets = np.zeros((ION_COUNT, ION_COUNT, ION_COUNT))
    for row in rows:
        first, second = SPECIES.index(row.first), SPECIES.index(row.second)
        if row.third:
            third = SPECIES.index(row.third)
            triplets[first, second, third] = triplets[second, first, third] = row.value
        else:
            pairs[first, second] = pairs[second, first] = row.value
    return pairs, triplets


_SALTS, _SLOPES = salt_arrays(salt_rows())
SALTS: Final = constant_array(_SALTS, np.float64)
SALT_SLOPES: Final = constant_array(_SLOPES, np.float64)
_PAIRS, _TRIPLETS = mixing_arrays(mixing_rows())
PAIRS: Final = constant_array(_PAIRS, np.float64)
TRIPLETS: Final = constant_array(_TRIPLETS, np.float64)


def salts_at(temperature: float) -> FloatArray:
    """
    Return the coefficients of single salts at a temperature.

    Parameters
    ----------
    temperature : float
        Temperature, 273.15 to 313.15 [K].

    Returns
    -------
    ndarray, shape (CATION_COUNT, ION_COUNT - CATION_COUNT, SALT_WIDTH)
        Coefficients, linear in temperature [kg/mol and powers of it].
    """
    return SALTS + (temperature - REFERENCE_TEMPERATURE) * SALT_SLOPES
