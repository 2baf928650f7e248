"""Read the tables of the model of concentrates: coefficients, solubilities and solids."""

import functools
import math
from dataclasses import dataclass
from typing import Final

from service.reference.sources import require_source
from service.reference.tables import Row, number, read_table

CATIONS: Final = ("H+", "Na+", "K+", "NH4+", "Mg+2", "Ca+2", "Mn+2", "Fe+2", "Zn+2", "Cu+2")
ANIONS: Final = (
    "Cl-",
    "NO3-",
    "H2PO4-",
    "HCO3-",
    "OH-",
    "SO4-2",
    "HPO4-2",
    "CO3-2",
    "MoO4-2",
    "B(OH)4-",
)


@dataclass(frozen=True, slots=True)
class SaltRow:
    """
    Coefficients of one salt in water at 25 degrees Celsius, as published, and how they change.

    The change with temperature is zero where none is published that reaches far enough.
    """

    cation: str
    anion: str
    beta0: float
    beta1: float
    beta2: float
    c_phi: float
    alpha1: float
    alpha2: float
    beta0_per_k: float
    beta1_per_k: float
    beta2_per_k: float
    c_phi_per_k: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class MixingRow:
    """
    Coefficient of two ions of like sign, or of these and a third of the other sign.

    `third` is empty for a pair.
    """

    first: str
    second: str
    third: str
    value: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class SolubilityRow:
    """Solubility of one salt alone at one temperature, per kilogram of all water."""

    salt: str
    temperature_celsius: float
    molality_mol_per_kg: float
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class SolidRow:
    """
    A solid and what it dissolves into.

    Either `salt` names the rows of solubility that fix its constant, or the constant at 25
    degrees Celsius is given; NaN where there is none. `margin_percent` is how far the solubility of
    the solid by itself may be off: 1 for the adopted handbook, more for what is recalled or rests
    on one coarse table.
    """

    solid: str
    reaction: str
    salt: str
    log10_k_25_celsius: float
    margin_percent: float
    basis: str
    source: str


def _optional(row: Row, column: str) -> float:
    """
    Return a cell as a number.

    Parameters
    ----------
    row : mapping
        A row of a table.
    column : str
        Heading of the cell.

    Returns
    -------
    float
        The number, NaN for an empty cell.
    """
    return number(row, column) if row[column] else math.nan


@dataclass(frozen=True)
class MixtureRow:
    """
    A solid in a mixture that was measured.

    Attributes
    ----------
    solid : str
        Name of the solid.
    components : frozenset of str
        Conserved components beside its own.
    margin_percent : float
        How far the model may be off there [percent].
    source : str
        Key of the source.
    """

    solid: str
    components: frozenset[str]
    margin_percent: float
    source: str


@functools.cache
def salt_rows() -> tuple[SaltRow, ...]:
    """
    Return the coefficients of single salts.

    Returns
    -------
    tuple of SaltRow
        One for each cation with each anion.
    """
    rows = read_table(
        "pitzer_binary", ("cation", "anion", "beta0", "c_phi", "basis", "source", "locator")
    )
    for row in rows:
        if row["slope_source"]:
            require_source(row["slope_source"], row["row"])
    return tuple(
        SaltRow(
            cation=row["cation"],
            anion=row["anion"],
            beta0=number(row, "beta0"),
            beta1=number(row, "beta1"),
            beta2=number(row, "beta2"),
            c_phi=number(row, "c_phi"),
            alpha1=number(row, "alpha1"),
            alpha2=number(row, "alpha2"),
            beta0_per_k=number(row, "beta0_per_k"),
            beta1_per_k=number(row, "beta1_per_k"),
            beta2_per_k=number(row, "beta2_per_k"),
            c_phi_per_k=number(row, "c_phi_per_k"),
            basis=row["basis"],
            source=require_source(row["source"], row["row"]),
        )
        for row in rows
    )


@functools.cache
def mixing_rows() -> tuple[MixingRow, ...]:
    """
    Return the coefficients of mixing.

    Returns
    -------
    tuple of MixingRow
        What is not named is zero.
    """
    return tuple(
        MixingRow(
            first=row["first"],
            second=row["second"],
            third=row["third"],
            value=number(row),
            basis=row["basis"],
            source=require_source(row["source"], row["row"]),
        )
        for row in read_table(
            "pitzer_mixing", ("first", "second", "third", "value", "basis", "source", "locator")
        )
    )


@functools.cache
def solubility_rows() -> tuple[SolubilityRow, ...]:
    """
    Return the adopted solubilities of single salts.

    Returns
    -------
    tuple of SolubilityRow
        By salt and temperature; two rows at one temperature are two tables of the handbook.
    """
    return tuple(
        SolubilityRow(
            salt=row["salt"],
            temperature_celsius=number(row, "temperature_celsius"),
            molality_mol_per_kg=number(row, "molality_mol_per_kg"),
            basis=row["basis"],
            source=require_source(row["source"], row["row"]),
        )
        for row in read_table(
            "salt_solubility",
            ("salt", "temperature_celsius", "molality_mol_per_kg", "basis", "source", "locator"),
        )
    )


@functools.cache
def mixture_rows() -> tuple[MixtureRow, ...]:
    """
    Return the mixtures in which a solid was measured, with what the model missed there.

    Returns
    -------
    tuple of MixtureRow
        By solid, the narrowest mixture first.
    """
    return tuple(
        MixtureRow(
            solid=row["solid"],
            components=frozenset(row["components"].split()),
            margin_percent=number(row, "margin_percent"),
            source=require_source(row["source"], row["row"]),
        )
        for row in read_table(
            "mixture_margins", ("solid", "components", "margin_percent", "source", "locator")
        )
    )


@functools.cache
def solid_rows() -> tuple[SolidRow, ...]:
    """
    Return the solids of concentrates.

    Returns
    -------
    tuple of SolidRow
        In the order of the arrays of saturation.
    """
    return tuple(
        SolidRow(
            solid=row["solid"],
            reaction=row["reaction"],
            salt=row["salt"],
            log10_k_25_celsius=_optional(row, "log10_k_25_celsius"),
            margin_percent=number(row, "margin_percent"),
            basis=row["basis"],
            source=require_source(row["source"], row["row"]),
        )
        for row in read_table(
            "concentrate_solids",
            (
                "solid",
                "reaction",
                "salt",
                "log10_k_25_celsius",
                "margin_percent",
                "basis",
                "source",
                "locator",
            ),
        )
    )
