"""Solubilities of salts alone: the curve between the values of the table."""

import math

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from service.chemistry.salt_solubility import SALT_NAMES, pure_salt_solubility
from service.reference.concentrate_tables import solubility_rows


def table_of(salt: str) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures, and logarithms of the molality; two tables are met half-way."""
    found: dict[float, list[float]] = {}
    for row in solubility_rows():
        if row.salt == salt:
            found.setdefault(row.temperature_celsius, []).append(row.molality_mol_per_kg)
    temperatures = sorted(found)
    return np.array(temperatures), np.log([np.mean(found[each]) for each in temperatures])


@pytest.mark.parametrize("salt", SALT_NAMES)
def test_curve_is_the_monotone_cubic_of_scipy_all_the_way(salt: str) -> None:
    temperatures, logarithms = table_of(salt)
    between = np.linspace(temperatures[0], temperatures[-1], 97)
    expected = np.exp(PchipInterpolator(temperatures, logarithms)(between))
    place = SALT_NAMES.index(salt)
    ours = [pure_salt_solubility(place, 273.15 + celsius) for celsius in between]
    assert ours == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("salt", SALT_NAMES)
def test_nothing_is_said_beyond_the_table(salt: str) -> None:
    temperatures, _ = table_of(salt)
    place = SALT_NAMES.index(salt)
    assert math.isnan(pure_salt_solubility(place, 273.15 + temperatures[0] - 0.1))
    assert math.isnan(pure_salt_solubility(place, 273.15 + temperatures[-1] + 0.1))
    assert not math.isnan(pure_salt_solubility(place, 273.15 + temperatures[-1] + 0.005))
