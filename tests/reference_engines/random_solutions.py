"""Seeded random waters, feeds and acidified feeds of the kind that growers mix."""

import numpy as np

from service.reference.components import (
    AMMONIUM,
    BORATE,
    CALCIUM,
    CARBONATE,
    CHLORIDE,
    CITRATE,
    COMPONENT_COUNT,
    COPPER,
    FLUORIDE,
    IRON,
    IRON_CHELATE,
    MAGNESIUM,
    MANGANESE,
    NITRATE,
    NOMINAL_CHARGE,
    PHOSPHATE,
    POTASSIUM,
    SILICATE,
    SODIUM,
    SULFATE,
    UREA,
    ZINC,
)

SALTS: dict[str, dict[int, float]] = {
    "calcium nitrate": {CALCIUM: 1, NITRATE: 2},
    "potassium nitrate": {POTASSIUM: 1, NITRATE: 1},
    "ammonium nitrate": {AMMONIUM: 1, NITRATE: 1},
    "ammonium sulfate": {AMMONIUM: 2, SULFATE: 1},
    "magnesium nitrate": {MAGNESIUM: 1, NITRATE: 2},
    "urea": {UREA: 2},
    "magnesium sulfate": {MAGNESIUM: 1, SULFATE: 1},
    "monopotassium phosphate": {POTASSIUM: 1, PHOSPHATE: 1},
    "monoammonium phosphate": {AMMONIUM: 1, PHOSPHATE: 1},
    "potassium sulfate": {POTASSIUM: 2, SULFATE: 1},
    "calcium chloride": {CALCIUM: 1, CHLORIDE: 2},
}
NITROGEN_SALTS = list(SALTS)[:6]
OTHER_SALTS = list(SALTS)[6:]

ACIDS: dict[str, dict[int, float]] = {
    "nitric": {NITRATE: 1},
    "phosphoric": {PHOSPHATE: 1},
    "sulfuric": {SULFATE: 1},
    "citric": {CITRATE: 1},
}
BASES: dict[str, dict[int, float]] = {
    "potassium hydroxide": {POTASSIUM: 1},
    "potassium bicarbonate": {POTASSIUM: 1, CARBONATE: 1},
    "potassium carbonate": {POTASSIUM: 2, CARBONATE: 1},
}


TRACE_SULFATES = {IRON: 2e-5, MANGANESE: 1e-5, ZINC: 5e-6, COPPER: 1e-6}
"""Most of a trace metal that is given as sulfate: copper 0.06, zinc 0.3 mg/L [mol/kg]."""


def vector(parts: dict[int, float]) -> np.ndarray:
    """Return a vector of components."""
    amounts = np.zeros(COMPONENT_COUNT)
    for component, number in parts.items():
        amounts[component] += number
    return amounts


def temperatures(random: np.random.Generator, count: int) -> np.ndarray:
    """Return temperatures of watering: 5 to 35 degrees Celsius [K]."""
    return 273.15 + random.uniform(5.0, 35.0, count)


def waters(random: np.random.Generator, count: int) -> np.ndarray:
    """Return waters from reverse osmosis to hard tap water [mol/kg]."""
    rows = np.zeros((count, COMPONENT_COUNT))
    hardness = random.choice([0.02, 0.15, 0.5, 1.0], count)
    rows[:, CALCIUM] = hardness * random.uniform(0.0, 3.5e-3, count)
    rows[:, MAGNESIUM] = hardness * random.uniform(0.0, 1.2e-3, count)
    rows[:, POTASSIUM] = hardness * random.uniform(0.0, 0.2e-3, count)
    rows[:, SODIUM] = hardness * random.uniform(0.0, 3.0e-3, count)
    rows[:, SULFATE] = hardness * random.uniform(0.0, 1.0e-3, count)
    rows[:, NITRATE] = hardness * random.uniform(0.0, 0.5e-3, count)
    rows[:, SILICATE] = hardness * random.uniform(0.0, 0.3e-3, count)
    rows[:, FLUORIDE] = hardness * random.uniform(0.0, 0.05e-3, count)
    charge = rows @ np.array(NOMINAL_CHARGE, dtype=float)
    rows[:, SODIUM] += np.maximum(0.05e-3 * hardness - charge, 0.0)
    charge = rows @ np.array(NOMINAL_CHARGE, dtype=float)
    alkalinity = charge * random.uniform(0.3, 1.0, count)
    rows[:, CHLORIDE] = charge - alkalinity
    rows[:, CARBONATE] = 1.2e-5 + alkalinity * random.uniform(1.0, 1.2, count)
    return rows


def feeds(random: np.random.Generator, count: int) -> np.ndarray:
    """Return waters with up to 300 mg/L nitrogen as common salts, and trace elements [mol/kg]."""
    rows = waters(random, count)
    for row in rows:
        nitrogen = random.uniform(0.0, 300.0) / 14007.0
        shares = random.dirichlet(np.full(len(NITROGEN_SALTS), 0.6))
        for name, share in zip(NITROGEN_SALTS, shares, strict=True):
            salt = vector(SALTS[name])
            row += salt * share * nitrogen / salt[[AMMONIUM, NITRATE, UREA]].sum()
        for name in OTHER_SALTS:
            if random.random() < 0.5:
                row += vector(SALTS[name]) * random.uniform(0.0, 2.0e-3)
        row[BORATE] += random.uniform(0.0, 4e-5)
        row[IRON_CHELATE] += random.uniform(0.0, 4e-5)
        row[SODIUM] += row[IRON_CHELATE]
        for component, most in TRACE_SULFATES.items():
            amount = random.uniform(0.0, most)
            row[component] += amount
            row[SULFATE] += amount
    return rows


def acidified(random: np.random.Generator, count: int) -> np.ndarray:
    """Return feeds with up to 1.2 times their alkalinity as acid, some with a base [mol/kg]."""
    rows = feeds(random, count)
    charges = np.array(NOMINAL_CHARGE, dtype=float)
    for row in rows:
        alkalinity = max(row @ charges - row[PHOSPHATE], 2e-5)
        if random.random() < 0.8:
            acid = vector(ACIDS[random.choice(list(ACIDS))])
            equivalents = 1.0 + acid[SULFATE]
            row += acid * alkalinity * random.uniform(0.0, 1.2) / equivalents
        else:
            base = vector(BASES[random.choice(list(BASES))])
            row += base * random.uniform(0.0, 2e-3) / base[POTASSIUM]
    return rows
