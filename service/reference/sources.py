"""The sources of every number, by key."""

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final

from service.reference.tables import ReferenceDataError

SOURCE_FILE: Final = Path(__file__).resolve().parent / "sources.toml"
SOURCE_KINDS: Final = ("published", "standard", "informal", "memory", "common_practice")


@dataclass(frozen=True, slots=True)
class Source:
    """
    Where a number comes from.

    Parameters
    ----------
    key : str
        Key under which tables, code, tests and answers name it.
    citation : str
        Full citation.
    kind : str
        ``published``, ``standard``, ``informal``, ``memory`` or ``common_practice``.
    url : str or None
        Where it was read, when it was read on the web.
    """

    key: str
    citation: str
    kind: str
    url: str | None


@functools.cache
def sources() -> Mapping[str, Source]:
    """
    Return all sources.

    Returns
    -------
    mapping of str to Source
        By key.

    Raises
    ------
    ReferenceDataError
        If the packaged file is wrong.
    """
    tables = tomllib.loads(SOURCE_FILE.read_text(encoding="utf-8"))
    result: dict[str, Source] = {}
    for key, entry in tables.items():
        unknown = set(entry) - {"citation", "kind", "url"}
        if unknown:
            raise ReferenceDataError(f"sources.{key}", f"unknown fields {sorted(unknown)}")
        if entry.get("kind") not in SOURCE_KINDS:
            raise ReferenceDataError(
                f"sources.{key}.kind", f"must be one of {', '.join(SOURCE_KINDS)}"
            )
        if not entry.get("citation"):
            raise ReferenceDataError(f"sources.{key}.citation", "is missing")
        result[key] = Source(key, entry["citation"], entry["kind"], entry.get("url"))
    return MappingProxyType(result)


def require_source(key: str, field: str) -> str:
    """
    Return a source key after checking that it resolves.

    Parameters
    ----------
    key : str
        The key.
    field : str
        Where it is used, for the message.

    Returns
    -------
    str
        The key.

    Raises
    ------
    ReferenceDataError
        If no source has that key.
    """
    if key not in sources():
        raise ReferenceDataError(field, f"names the unknown source {key!r}")
    return key
