"""Tables of density and conductivity, read once into arrays that cannot be written."""

import csv
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from service.reference.components import COMPONENT_NAMES

FloatArray = npt.NDArray[np.float64]
IntegerArray = npt.NDArray[np.int64]

TABLE_FOLDER: Final = Path(__file__).resolve().parent / "tables"


def read_table(name: str) -> tuple[dict[str, str], ...]:
    """
    Read one table of this package.

    Parameters
    ----------
    name : str
        File name inside `service/reference/tables`.

    Returns
    -------
    tuple of dict
        One mapping of column to text per row.
    """
    with (TABLE_FOLDER / name).open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))


def frozen_columns(rows: tuple[dict[str, str], ...], *columns: str) -> FloatArray:
    """
    Return columns of a table as an array that cannot be written.

    Parameters
    ----------
    rows : tuple of dict
        Rows of `read_table`.
    *columns : str
        Names of numeric columns.

    Returns
    -------
    ndarray, shape (n_rows, n_columns)
        The numbers.
    """
    array = np.array([[float(row[column]) for column in columns] for row in rows])
    array.flags.writeable = False
    return array


_APPARENT_VOLUME: Final = read_table("apparent_volume.csv")

SOLUTE_NAMES: Final = tuple(row["solute"] for row in _APPARENT_VOLUME)
"""Solutes with a correlation of their apparent volume, in table order."""

APPARENT_VOLUME_COEFFICIENTS: Final = frozen_columns(
    _APPARENT_VOLUME,
    "c0",
    "c1",
    "c2",
    "c3",
    "c4",
    "highest_mass_fraction",
    "molar_mass_g_per_mol",
)
"""c0 to c4, highest mass fraction and molar mass of each solute of `SOLUTE_NAMES`."""

SULFURIC_ACID_DENSITY: Final = frozen_columns(
    read_table("sulfuric_acid_density.csv"),
    "mass_percent",
    "intercept_kg_per_l",
    "slope_kg_per_l_per_kelvin",
)
"""Mass percent, intercept and slope in temperature [K] of concentrated sulfuric acid."""

VOLUME_ROLES: Final = (
    "calcium",
    "magnesium",
    "potassium",
    "sodium",
    "ammonium",
    "hydrogen",
    "nitrate",
    "chloride",
    "sulfate",
    "phosphate",
    "carbonate",
    "hydroxide",
)
"""Ions whose volumes stand for all: six cations, then six anions."""

_DISSOLVED_FORM: Final = {row["component"]: row for row in read_table("dissolved_form.csv")}
_FORMS: Final = tuple(_DISSOLVED_FORM[name] for name in COMPONENT_NAMES)

COMPONENT_FORM: Final = frozen_columns(
    _FORMS, "molar_mass_g_per_mol", "charge_equivalents", "neutral_volume_cm3_per_mol"
)
"""Molar mass, equivalents and neutral volume of each component as it is dissolved."""


def _component_roles() -> IntegerArray:
    roles = [
        VOLUME_ROLES.index(row["role"]) if row["role"] in VOLUME_ROLES else -1 for row in _FORMS
    ]
    array = np.array(roles, dtype=np.int64)
    array.flags.writeable = False
    return array


COMPONENT_ROLE: Final = _component_roles()
"""Position in `VOLUME_ROLES` of each component; -1 for those that carry no charge here."""


# The salt whose correlation gives the volume of a pair of ions, with the equivalents it holds.
_PAIR_SALTS: Final = {
    ("calcium", "nitrate"): ("Ca(NO3)2", 2),
    ("calcium", "chloride"): ("CaCl2", 2),
    ("magnesium", "nitrate"): ("Mg(NO3)2", 2),
    ("magnesium", "chloride"): ("MgCl2", 2),
    ("magnesium", "sulfate"): ("MgSO4", 2),
    ("potassium", "nitrate"): ("KNO3", 1),
    ("potassium", "chloride"): ("KCl", 1),
    ("potassium", "sulfate"): ("K2SO4", 2),
    ("potassium", "phosphate"): ("KH2PO4", 1),
    ("potassium", "carbonate"): ("KHCO3", 1),
    ("potassium", "hydroxide"): ("KOH", 1),
    ("sodium", "nitrate"): ("NaNO3", 1),
    ("sodium", "chloride"): ("NaCl", 1),
    ("sodium", "sulfate"): ("Na2SO4", 2),
    ("sodium", "phosphate"): ("NaH2PO4", 1),
    ("sodium", "carbonate"): ("NaHCO3", 1),
    ("sodium", "hydroxide"): ("NaOH", 1),
    ("ammonium", "nitrate"): ("NH4NO3", 1),
    ("ammonium", "chloride"): ("NH4Cl", 1),
    ("ammonium", "sulfate"): ("(NH4)2SO4", 2),
    ("ammonium", "carbonate"): ("NH4HCO3", 1),
    ("hydrogen", "nitrate"): ("HNO3", 1),
    ("hydrogen", "chloride"): ("HCl", 1),
    ("hydrogen", "sulfate"): ("H2SO4", 2),
    ("hydrogen", "phosphate"): ("H3PO4", 1),
}


def _pair_recipes() -> IntegerArray:
    """
    Return for each pair of ions up to three salts: volume = first + second - third.

    A pair without a salt of its own is built from three that have one, of the cation with a
    common anion, of a common cation with the anion, less the common pair.
    """
    recipes = np.full((6, 6, 6), -1, dtype=np.int64)
    for cation in range(6):
        for anion in range(6):
            first, second = VOLUME_ROLES[cation], VOLUME_ROLES[6 + anion]
            if (first, second) in _PAIR_SALTS:
                pairs = [(first, second)]
            elif (first, second) == ("calcium", "sulfate"):
                pairs = [("calcium", "nitrate"), ("magnesium", "sulfate"), ("magnesium", "nitrate")]
            else:
                pairs = [(first, "nitrate"), ("potassium", second), ("potassium", "nitrate")]
            for place, pair in enumerate(pairs):
                salt, equivalents = _PAIR_SALTS[pair]
                recipes[cation, anion, 2 * place] = SOLUTE_NAMES.index(salt)
                recipes[cation, anion, 2 * place + 1] = equivalents
    recipes.flags.writeable = False
    return recipes


PAIR_RECIPES: Final = _pair_recipes()
"""Salt and equivalents, three times, for each cation and anion of `VOLUME_ROLES`."""


_IONIC_CONDUCTIVITY: Final = {row["species"]: row for row in read_table("ionic_conductivity.csv")}

CONDUCTING_SPECIES: Final = tuple(_IONIC_CONDUCTIVITY)
"""Charged species with a conductivity, in table order."""


def ionic_conductivity_coefficients(species_names: tuple[str, ...]) -> FloatArray:
    """
    Return the conductivity coefficients of species in a given order.

    Parameters
    ----------
    species_names : tuple of str
        Identifiers of species; those without a row are taken as uncharged.

    Returns
    -------
    ndarray, shape (n_species, 8)
        Charge number, limiting conductivity per equivalent at 25 degC [S cm^2/mol], its relative
        slope, curvature and cubic coefficient in temperature, ion size [angstrom], what is added
        to it beside divalent ions of opposite charge [angstrom], viscosity slope [kg/mol/K].
    """
    columns = (
        "charge_number",
        "conductivity_25_s_cm2_per_eq",
        "relative_slope_per_kelvin",
        "relative_curvature_per_kelvin2",
        "relative_cubic_per_kelvin3",
        "size_angstrom",
        "size_beside_divalent_angstrom",
        "viscosity_slope_kg_per_mol_kelvin",
    )
    array = np.zeros((len(species_names), len(columns)))
    for place, name in enumerate(species_names):
        if name in _IONIC_CONDUCTIVITY:
            array[place] = [float(_IONIC_CONDUCTIVITY[name][column]) for column in columns]
    array.flags.writeable = False
    return array


NATURAL_WATER_FACTOR: Final = frozen_columns(
    read_table("natural_water_factor.csv"), "temperature_celsius", "factor"
)
"""Factor f25 of natural waters for each degree from 0 to 35 degC."""

METER_SCALE: Final = frozen_columns(
    read_table("meter_scale.csv"), "ec_ms_per_cm", "ppm_kcl", "ppm_nacl", "ppm_442"
)
"""Conductivity [mS/cm] and the meter readings [ppm] on the KCl, NaCl and 442 scales."""
