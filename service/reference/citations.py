"""Which rows of the reference tables rest on a source."""

import functools
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from service.reference.plants import PLANT_FILE
from service.reference.tables import TABLE_FOLDER, read_table

SOURCE_COLUMNS: Final = ("source", "temperature_source", "slope_source")
"""Columns that name a source; the second and third are of how a value changes with temperature."""

_ABOUT: Final = ("row", "basis", "locator", "note", "temperature_locator", "slope_locator")


@dataclass(frozen=True, slots=True)
class Citation:
    """
    A row that rests on a source.

    Parameters
    ----------
    table : str
        Name of the table, or ``plants`` for the profiles.
    values : mapping of str to str
        What the row says, by column, as it stands in the table.
    basis : str
        How it is known.
    locator : str
        Where in the source it stands; may be empty.
    note : str
        What is said about it; may be empty.
    """

    table: str
    values: Mapping[str, str]
    basis: str
    locator: str
    note: str


def table_names() -> tuple[str, ...]:
    """
    Return the names of all packaged tables.

    Returns
    -------
    tuple of str
        In the order of the alphabet.
    """
    return tuple(sorted(path.stem for path in TABLE_FOLDER.glob("*.csv")))


def table_sources(table: str) -> frozenset[str]:
    """
    Return the keys of the sources that a table cites.

    Parameters
    ----------
    table : str
        Its name.

    Returns
    -------
    frozenset of str
        Keys of `sources.toml`.
    """
    rows = read_table(table, ())
    return frozenset(row[name] for row in rows for name in SOURCE_COLUMNS if row.get(name))


@functools.cache
def citations() -> Mapping[str, Sequence[Citation]]:
    """
    Return every row of the tables and profiles that names a source.

    Returns
    -------
    mapping of str to sequence of Citation
        By key of the source; sources that only equations cite are absent.
    """
    found: dict[str, list[Citation]] = {}
    for table in table_names():
        for row in read_table(table, ()):
            cited = {row[name]: name for name in reversed(SOURCE_COLUMNS) if row.get(name)}
            for key, column in cited.items():
                found.setdefault(key, []).append(_of_row(table, row, column))
    profiles = tomllib.loads(PLANT_FILE.read_text(encoding="utf-8"))
    for key, citation in _of_profiles(profiles, ()):
        found.setdefault(key, []).append(citation)
    return MappingProxyType({key: tuple(rows) for key, rows in found.items()})


def _of_row(table: str, row: Mapping[str, str], column: str) -> Citation:
    values = {
        name: text
        for name, text in row.items()
        if text and name not in _ABOUT and name not in SOURCE_COLUMNS
    }
    locator = row.get(column.replace("source", "locator")) or ""
    return Citation(table, values, row.get("basis") or "", locator, row.get("note") or "")


def _of_profiles(node: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[tuple[str, Citation]]:
    if isinstance(node.get("source"), str):
        values = {"limit": ".".join(path)}
        values |= {
            name: f"{value:g}" for name, value in node.items() if isinstance(value, int | float)
        }
        about = (str(node.get(name, "")) for name in ("basis", "locator", "note"))
        yield node["source"], Citation("plants", values, *about)
    for name, child in node.items():
        if isinstance(child, Mapping):
            yield from _of_profiles(child, (*path, name))
