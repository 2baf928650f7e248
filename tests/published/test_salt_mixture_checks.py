"""
Saturated solutions that had no part in the fit of the model of concentrates.

Every row of `salt_mixture_checks.csv` was read in its source after the coefficients had been
chosen, and none is used by `salt_mixture_fit.py`: whole temperatures of pairs that are in the fit
(0 degC for two, 40 degC for one), and solutions of three and four salts that are not. Rows name the
salt that is saturated, or none where the source names mixed crystals or no solid. One system is
left out: the points of 66_142 (Bergman 1967, crystals watched while cooling) lie 22 % above those
of 66_141 by other authors.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from service.chemistry.concentrate_solids import COMPOSITIONS
from service.planning.concentrate import ClearLimit, highest_multiple
from service.planning.solid_margins import ESTIMATED
from service.planning.solubility import LEAN
from service.reference.formula import molar_mass
from tests.comparisons import note
from tests.published import salt_mixture_fit as mixtures


@dataclass(frozen=True)
class Check:
    """One saturated solution: the salt it is saturated with, and moles to a kilogram of water."""

    identity: str
    celsius: float
    salt: str
    mol_per_kg: dict[str, float]

    @property
    def composition(self):
        return sum(
            amount * COMPOSITIONS[mixtures.solid_of(salt)]
            for salt, amount in self.mol_per_kg.items()
        )


def amounts_of(row):
    printed = {
        salt: float(number)
        for salt, number in (part.split() for part in row["amounts"].split("; "))
    }
    if row["unit"] == "mol/kg":
        return printed
    water = 100.0 - sum(printed.values())
    return {salt: 1000.0 * share / water / molar_mass(salt) for salt, share in printed.items()}


with (Path(__file__).parent / "salt_mixture_checks.csv").open(encoding="utf-8") as lines:
    ORIGINS = {row["id"]: {**row, "basis": "published"} for row in csv.DictReader(lines)}


def checks():
    return [
        Check(row["id"], float(row["temperature_celsius"]), row["salt"], amounts_of(row))
        for row in ORIGINS.values()
    ]


CHECKS = checks()
SALTS = [check for check in CHECKS if check.salt]
MIXTURES = [check for check in CHECKS if not check.salt]


def as_measured(check):
    (background,) = set(check.mol_per_kg) - {check.salt}
    return mixtures.Measured(
        check.identity,
        check.salt,
        background,
        check.celsius,
        check.mol_per_kg[check.salt],
        check.mol_per_kg[background],
    )


def errors_of_salts():
    return np.array(
        [
            100.0
            * (mixtures.predicted(row, mixtures.brine(273.15 + row.celsius)) - measured)
            / measured
            for row in map(as_measured, SALTS)
            for measured in (row.salt_mol_per_kg,)
        ]
    )


def limit_of(check) -> ClearLimit:
    """Return how far a solution could be strengthened; 1 is what was measured."""
    return highest_multiple(check.composition, check.celsius)


def test_no_row_of_the_fit_is_among_the_checks():
    fitted = {
        (row.salt, row.background, row.celsius, round(row.background_mol_per_kg, 2))
        for row in mixtures.measured_rows()
    }
    for row in map(as_measured, SALTS):
        key = (row.salt, row.background, row.celsius, round(row.background_mol_per_kg, 2))
        assert key not in fitted, row.identity
    assert len(SALTS) > 70
    assert len(MIXTURES) > 20


def test_what_dissolves_beside_one_salt_is_within_what_is_promised():
    found = errors_of_salts()
    for check, error in zip(SALTS, found, strict=True):
        measured = check.mol_per_kg[check.salt]
        ours = measured * (1.0 + 0.01 * error)
        note("solubility_beside_unseen", ORIGINS[check.identity], measured, ours)
    assert found.max() < 8.0, "more than published is the unsafe side"
    assert np.median(np.abs(found)) < 4.0


def test_solutions_of_three_and_four_salts_are_met_as_well():
    # Without the rows of diammonium phosphate, which the next test is about.
    found = np.array(
        [
            100.0 * (limit_of(check).multiple - 1.0)
            for check in MIXTURES
            if "(NH4)2HPO4" not in check.mol_per_kg
        ]
    )
    assert np.median(np.abs(found)) < 4.0
    assert found.max() < 9.0
    assert found.min() > -8.0


@pytest.mark.parametrize("check", MIXTURES, ids=lambda check: check.identity)
def test_what_is_answered_for_a_mixture_is_on_the_safe_side(check):
    limit = limit_of(check)
    note("solubility_together", ORIGINS[check.identity], 1.0, limit.multiple)
    leaning = limit.multiple / LEAN if limit.evidence == ESTIMATED else limit.multiple
    assert leaning < 1.08


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.identity)
def test_a_tank_that_clouded_is_never_called_clear(check):
    assert limit_of(check).safe_multiple <= 1.0


def test_answers_of_the_service_keep_what_is_promised():
    # As `/v1/solubilities` answers: every solid of the ions counts, estimates are taken lower, and
    # where both salts are saturated the background is taken to be dissolved, as it was.
    rows = [*mixtures.measured_rows(), *map(as_measured, SALTS)]
    found, safe = [], []
    for row in rows:
        salt, background = mixtures.solid_of(row.salt), mixtures.solid_of(row.background)
        limit = highest_multiple(
            COMPOSITIONS[salt].copy(),
            row.celsius,
            COMPOSITIONS[background] * row.background_mol_per_kg,
            most=40.0,
        )
        leaning = limit.multiple / LEAN if limit.evidence == ESTIMATED else limit.multiple
        found.append(100.0 * (max(leaning, limit.safe_multiple) / row.salt_mol_per_kg - 1.0))
        safe.append(limit.safe_multiple / row.salt_mol_per_kg)
    assert len(found) > 160
    assert np.median(np.abs(found)) < 4.0
    assert max(found) < 8.0
    assert min(found) > -20.0
    assert max(safe) < 1.0
