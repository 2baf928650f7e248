"""Read the tables of equilibrium constants, activity parameters and saturation constants."""

import csv
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final

TABLES_FOLDER: Final = Path(__file__).resolve().parent / "tables"


@dataclass(frozen=True, slots=True)
class ReactionRow:
    """
    One reaction of a table with its constant as published.

    Either `coefficients` are given, for log10 K = a1 + a2 T + a3 / T + a4 log10 T + a5 / T^2 +
    a6 T^2 with T in kelvin, or the constant at 25 degrees Celsius with enthalpy and heat capacity.
    """

    name: str
    reaction: str
    log10_k_25_celsius: float
    coefficients: tuple[float, float, float, float, float, float]
    enthalpy_kj_per_mol: float
    heat_capacity_j_per_mol_k: float
    source: str
    locator: str

    @property
    def analytic(self) -> bool:
        """
        Tell how the temperature function is given.

        Returns
        -------
        bool
            True for coefficients, False for a constant with its enthalpy.
        """
        return math.isnan(self.log10_k_25_celsius)


@dataclass(frozen=True, slots=True)
class ActivityRow:
    """Activity model of one species with its parameters."""

    species: str
    model: str
    ion_size_angstrom: float
    b_kg_per_mol: float
    source: str
    locator: str


def _number(text: str, absent: float = 0.0) -> float:
    """
    Return the number in a field.

    Parameters
    ----------
    text : str
        The field.
    absent : float
        What an empty field stands for.

    Returns
    -------
    float
        The number.
    """
    return float(text) if text else absent


def _rows(name: str) -> list[dict[str, str]]:
    """
    Read a table.

    Parameters
    ----------
    name : str
        File name in the folder of tables.

    Returns
    -------
    list of dict
        One mapping of column to text per row.
    """
    with (TABLES_FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def load_reactions(table: str, key: str) -> tuple[ReactionRow, ...]:
    """
    Return the reactions of a table in its order.

    Parameters
    ----------
    table : str
        File name in the folder of tables.
    key : str
        Column that names the species or the solid.

    Returns
    -------
    tuple of ReactionRow
        One entry per row.

    Raises
    ------
    ValueError
        If a row gives neither or both of a constant at 25 degrees Celsius and coefficients.
    """
    reactions = []
    for row in _rows(table):
        coefficients = tuple(_number(row[f"a{n}"]) for n in range(1, 7))
        log10_k = _number(row["log10_k_25_celsius"], math.nan)
        if math.isnan(log10_k) != any(coefficients):
            message = f"{table}: {row[key]} needs either a constant or coefficients"
            raise ValueError(message)
        a1, a2, a3, a4, a5, a6 = coefficients
        reactions.append(
            ReactionRow(
                name=row[key],
                reaction=row["reaction"],
                log10_k_25_celsius=log10_k,
                coefficients=(a1, a2, a3, a4, a5, a6),
                enthalpy_kj_per_mol=_number(row["enthalpy_kj_per_mol"]),
                heat_capacity_j_per_mol_k=_number(row["heat_capacity_j_per_mol_k"]),
                source=row["source"],
                locator=row["locator"],
            )
        )
    return tuple(reactions)


def load_equilibrium_constants() -> tuple[ReactionRow, ...]:
    """
    Return the formation reactions of dissolved species and the solution of carbon dioxide.

    Returns
    -------
    tuple of ReactionRow
        In the order of the table: each reaction uses master species or earlier rows only.
    """
    return load_reactions("equilibrium_constants.csv", "species")


def load_saturation_constants() -> tuple[ReactionRow, ...]:
    """
    Return the dissolution reactions of solids.

    Returns
    -------
    tuple of ReactionRow
        In the order of the saturation index array.
    """
    return load_reactions("saturation_constants.csv", "solid")


def load_activity_parameters() -> tuple[ActivityRow, ...]:
    """
    Return the activity parameters of every dissolved species.

    Returns
    -------
    tuple of ActivityRow
        In the order of the table.
    """
    return tuple(
        ActivityRow(
            species=row["species"],
            model=row["model"],
            ion_size_angstrom=_number(row["ion_size_angstrom"]),
            b_kg_per_mol=_number(row["b_kg_per_mol"]),
            source=row["source"],
            locator=row["locator"],
        )
        for row in _rows("activity_parameters.csv")
    )
