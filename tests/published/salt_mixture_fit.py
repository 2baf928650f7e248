"""
Fit the coefficients of mixing to published solubilities of salts beside salts.

``python -m tests.published.salt_mixture_fit`` prints the fitted coefficients, the errors of each
system, and the errors when that system, or that temperature, is left out of the fit;
``--write`` puts the coefficients into the table of the service. The rows are those of
`salt_mixtures.csv`, nothing else. Every coefficient is drawn to a prior value, so that what the
rows do not fix stays near what is published or zero; too much weighs more than too little. The
priors were picked out of four sets by the errors of what is left out, so that those errors flatter
the model somewhat: a pair of salts from elsewhere may be missed by more.
"""

import csv
import math
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from service.chemistry.concentrate import Brine, brine, first_saturation, saturation
from service.chemistry.concentrate_solids import (
    COMPOSITIONS,
    SALT_NAMES,
    SALT_OF_SOLID,
)
from service.chemistry.pitzer_coefficients import mixing_arrays
from service.reference.concentrate_tables import MixingRow, mixing_rows
from service.reference.tables import TABLE_FOLDER

FITTED: Final = "salt-mixtures-fit"
SPREAD: Final = 0.04
"""Scatter of a row that the fit takes for ordinary, of the logarithm of the solubility."""

UNSAFE_FROM: Final = 0.05
UNSAFE_WEIGHT: Final = 4.0
"""What is predicted above the published figure by more than 5 % weighs four times as much."""


@dataclass(frozen=True)
class Coefficient:
    """One coefficient of the fit: its ions, its prior value and how firmly it is held."""

    ions: tuple[str, str, str]
    prior: float
    width: float


COEFFICIENTS: Final = (
    # Dihydrogen phosphate is salted out by every anion that was measured beside it. Pitzer's tables
    # print 0.10 and -0.0105 for chloride with potassium (recalled): the priors of its like.
    Coefficient(("NO3-", "H2PO4-", ""), 0.10, 0.03),
    Coefficient(("Cl-", "H2PO4-", ""), 0.10, 0.01),
    Coefficient(("H2PO4-", "SO4-2", ""), 0.10, 0.03),
    Coefficient(("NO3-", "H2PO4-", "K+"), -0.0105, 0.005),
    Coefficient(("NO3-", "H2PO4-", "NH4+"), -0.0105, 0.005),
    Coefficient(("Cl-", "H2PO4-", "NH4+"), -0.0105, 0.005),
    # Ions of one size and charge mix without an effect of their own.
    Coefficient(("K+", "NH4+", ""), 0.0, 0.005),
    Coefficient(("NO3-", "SO4-2", ""), 0.07, 0.03),
    Coefficient(("NO3-", "SO4-2", "Ca+2"), 0.0, 0.01),
    Coefficient(("NO3-", "SO4-2", "Mg+2"), 0.0, 0.02),
    Coefficient(("Mg+2", "Ca+2", "NO3-"), 0.0, 0.02),
    Coefficient(("K+", "Ca+2", ""), 0.032, 0.05),
    Coefficient(("NH4+", "Ca+2", ""), 0.0, 0.1),
    Coefficient(("Mg+2", "Ca+2", "SO4-2"), 0.024, 0.02),
)
"""Priors lie on the side on which less dissolves, where nothing is published."""


@dataclass(frozen=True)
class Measured:
    """One published row: so much of a salt in water that holds so much of another."""

    identity: str
    salt: str
    background: str
    celsius: float
    salt_mol_per_kg: float
    background_mol_per_kg: float

    @property
    def system(self) -> str:
        """Return what is dissolved in what."""
        return f"{self.salt} in {self.background}"


def measured_rows() -> tuple[Measured, ...]:
    """Return the committed rows."""
    with (Path(__file__).parent / "salt_mixtures.csv").open(encoding="utf-8", newline="") as lines:
        return tuple(
            Measured(
                row["id"],
                row["salt"],
                row["background"],
                float(row["temperature_celsius"]),
                float(row["salt_mol_per_kg"]),
                float(row["background_mol_per_kg"]),
            )
            for row in csv.DictReader(lines)
        )


def solid_of(salt: str) -> int:
    """Return the solid whose constant comes from the solubility of a salt."""
    return list(SALT_OF_SOLID).index(SALT_NAMES.index(salt))


def other_solids(row: Measured) -> npt.NDArray[np.bool_]:
    """
    Return the solids that may come out of a row: its salt, and what its ions form by exchange.

    The salt of the background is left out: where it is saturated as well, the row says so. So are
    double salts and minerals, of which the rows say nothing.
    """
    allowed = SALT_OF_SOLID >= 0
    allowed[solid_of(row.background)] = False
    return allowed


def predicted(row: Measured, model: Brine) -> float:
    """Return how much of the salt dissolves beside the background [mol/kg]."""
    offsets = np.where(other_solids(row), 0.0, -math.inf)
    fixed = COMPOSITIONS[solid_of(row.background)] * row.background_mol_per_kg
    result = np.zeros(1)
    first_saturation(
        fixed,
        COMPOSITIONS[solid_of(row.salt)].copy(),
        0.0,
        30.0,
        offsets,
        model.constants,
        model.slope,
        model.salts,
        model.pairs,
        model.triplets,
        model.solid_constants,
        result,
    )
    return float(min(result[0], 30.0))


def nearby(row: Measured, model: Brine) -> float:
    """Return the same as `predicted`, between a quarter and four times what was measured."""
    allowed = other_solids(row)
    fixed = COMPOSITIONS[solid_of(row.background)] * row.background_mol_per_kg
    added = COMPOSITIONS[solid_of(row.salt)]
    low, high = -math.log(4.0), math.log(4.0)
    for _ in range(22):
        middle = 0.5 * (low + high)
        amount = row.salt_mol_per_kg * math.exp(middle)
        if np.nanmax(saturation(fixed + added * amount, model).indices[allowed]) < 0.0:
            low = middle
        else:
            high = middle
    return row.salt_mol_per_kg * math.exp(0.5 * (low + high))


def models(values: Iterable[float], rows: Iterable[Measured]) -> dict[float, Brine]:
    """Return the model with given coefficients at every temperature of the rows."""
    held = [row for row in mixing_rows() if row.source != FITTED]
    fitted = [
        MixingRow(*coefficient.ions, float(value), "fitted", FITTED)
        for coefficient, value in zip(COEFFICIENTS, values, strict=True)
    ]
    pairs, triplets = mixing_arrays([*held, *fitted])
    return {t: brine(t + 273.15, pairs, triplets) for t in sorted({row.celsius for row in rows})}


def errors(
    values: Iterable[float],
    rows: Iterable[Measured],
    road: Callable[[Measured, Brine], float] = predicted,
) -> list[float]:
    """Return the logarithm of predicted over measured for each row."""
    rows = list(rows)
    at = models(values, rows)
    return [math.log(road(row, at[row.celsius]) / row.salt_mol_per_kg) for row in rows]


def residuals(values: np.ndarray, rows: list[Measured]) -> np.ndarray:
    """Return the scaled errors of the rows and the distances from the prior values."""
    counts = Counter(row.system for row in rows)
    weights = np.array([min(1.0, math.sqrt(6.0 / counts[row.system])) for row in rows])
    prior = np.array([c.prior for c in COEFFICIENTS])
    widths = np.array([c.width for c in COEFFICIENTS])
    found = np.array(errors(values, rows, nearby))
    over = np.maximum(found - UNSAFE_FROM, 0.0)
    scaled = weights * (found + (UNSAFE_WEIGHT - 1.0) * over) / SPREAD
    return np.concatenate((scaled, (values - prior) / widths))


def cost(values: np.ndarray, rows: list[Measured]) -> float:
    """Return the sum of squares that the fit makes least."""
    return float(np.sum(residuals(values, rows) ** 2))


def slopes(values: np.ndarray, rows: list[Measured]) -> np.ndarray:
    """Return how the residuals change with each coefficient."""
    here = residuals(values, rows)
    columns = []
    for place, coefficient in enumerate(COEFFICIENTS):
        moved = values.copy()
        moved[place] += 0.02 * coefficient.width
        columns.append((residuals(moved, rows) - here) / (0.02 * coefficient.width))
    return np.array(columns).T


def fit(rows: Iterable[Measured]) -> np.ndarray:
    """Return the coefficients that suit the rows."""
    found = least_squares(
        residuals,
        np.array([c.prior for c in COEFFICIENTS]),
        jac=slopes,
        args=(list(rows),),
        x_scale=np.array([c.width for c in COEFFICIENTS]),
        ftol=1e-4,
        xtol=1e-5,
        max_nfev=20,
    )
    return found.x


def describe(name: str, found: list[float]) -> str:
    """Return a line with the errors of one system in per cent."""
    percent = [100.0 * (math.exp(value) - 1.0) for value in found]
    median = float(np.median(np.abs(percent)))
    return (
        f"{name:28s} rows {len(found):3d}  median {median:5.1f}  "
        f"highest {max(percent):+6.1f}  lowest {min(percent):+6.1f}"
    )


def main() -> None:
    """Print the fit and its cross-validation."""
    rows = measured_rows()
    values = fit(rows)
    for coefficient, value in zip(COEFFICIENTS, values, strict=True):
        print(f"{' '.join(filter(None, coefficient.ions)):24s} {value:+.4f}")
    systems = sorted({row.system for row in rows})
    print("fitted")
    everything: list[float] = []
    for system in systems:
        part = [row for row in rows if row.system == system]
        found = errors(values, part)
        everything += found
        print(describe(system, found))
    print(describe("all", everything))
    if "--quick" not in sys.argv:
        print("left out, one pair of salts at a time")
        held: list[float] = []
        for pair in sorted({tuple(sorted((row.salt, row.background))) for row in rows}):
            part = [row for row in rows if {row.salt, row.background} == set(pair)]
            without = fit([row for row in rows if row not in part])
            for system in sorted({row.system for row in part}):
                found = errors(without, [row for row in part if row.system == system])
                held += found
                print(describe(system, found))
        print(describe("all left out", held))
        print("left out, one temperature of one pair at a time")
        held = []
        for pair in (("KH2PO4", "KNO3"), ("CaSO4", "NaCl")):
            mine = [row for row in rows if {row.salt, row.background} == set(pair)]
            for celsius in sorted({row.celsius for row in mine}):
                part = [row for row in mine if row.celsius == celsius]
                without = fit([row for row in rows if row not in part])
                for system in sorted({row.system for row in part}):
                    found = errors(without, [row for row in part if row.system == system])
                    held += found
                    print(describe(f"{system} {celsius:g} degC", found))
        print(describe("all left out", held))
    if "--write" in sys.argv:
        write(values)


def write(values: Iterable[float]) -> None:
    """Put the coefficients into the table of the service."""
    path = TABLE_FOLDER / "pitzer_mixing.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        reader = csv.DictReader(lines)
        headings = list(reader.fieldnames or ())
        kept = [row for row in reader if row["source"] != FITTED]
    fitted = {frozenset(filter(None, c.ions)) for c in COEFFICIENTS}
    kept = [
        row
        for row in kept
        if frozenset(filter(None, (row["first"], row["second"], row["third"]))) not in fitted
    ]
    for coefficient, value in zip(COEFFICIENTS, values, strict=True):
        first, second, third = coefficient.ions
        kept.append(
            {
                "first": first,
                "second": second,
                "third": third,
                "value": f"{value:.4f}",
                "basis": "fitted",
                "source": FITTED,
                "locator": "tests/published/salt_mixture_fit.py",
                "note": f"prior {coefficient.prior:g} +- {coefficient.width:g}",
            }
        )
    with path.open("w", encoding="utf-8", newline="") as lines:
        writer = csv.DictWriter(lines, headings, lineterminator="\n")
        writer.writeheader()
        writer.writerows(kept)


if __name__ == "__main__":
    main()
