"""The quantities of the report, read from `quantities.toml` and the tests that they name."""

import ast
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from service.reference.citations import table_sources
from service.reference.sources import sources

FOLDER = Path(__file__).resolve().parent
TESTS = FOLDER.parent
PERCENT, ABSOLUTE = "percent", "absolute"


@dataclass(frozen=True)
class Quantity:
    """
    One quantity that is compared.

    Attributes
    ----------
    key, title, unit : str
        Its name in the checks, for people, and the unit of its values.
    error : str
        `percent` of theirs, or `absolute` in the unit.
    tests : tuple of str
        Modules whose opening words say how it is checked and what is left out.
    differences : tuple of str
        Headings of `reference_engines/differences.md` that explain what differs.
    tables, sources : tuple of str
        Reference tables and single sources that the checks cover.
    validity, cannot : str
        Where it holds, and what nobody can know; the latter may be empty.
    headline, headline_basis : str
        Its line in the README and the kind of checks that the line counts; empty for most.
    """

    key: str
    title: str
    unit: str
    error: str
    tests: tuple[str, ...]
    differences: tuple[str, ...]
    tables: tuple[str, ...]
    sources: tuple[str, ...]
    validity: str
    cannot: str
    headline: str
    headline_basis: str


def quantities() -> Mapping[str, Quantity]:
    """Return all quantities in the order of the report."""
    entries = tomllib.loads((FOLDER / "quantities.toml").read_text(encoding="utf-8"))
    lists = ("tests", "differences", "tables", "sources")
    return {
        key: Quantity(
            key=key,
            **{name: tuple(entry.get(name, ())) for name in lists},
            **{
                name: entry.get(name, "")
                for name in (
                    "title",
                    "unit",
                    "error",
                    "validity",
                    "cannot",
                    "headline",
                    "headline_basis",
                )
            },
        )
        for key, entry in entries.items()
    }


def unchecked() -> Mapping[str, str]:
    """Return the sources that nothing can check, with the reason."""
    return tomllib.loads((FOLDER / "unchecked.toml").read_text(encoding="utf-8"))


def coverage(known: Mapping[str, Quantity]) -> dict[str, list[str]]:
    """Return the quantities whose checks cover each source, by its key."""
    reasons = unchecked()
    covered: dict[str, list[str]] = {key: [] for key in sources()}
    for quantity in known.values():
        keys = set(quantity.sources)
        for table in quantity.tables:
            keys |= table_sources(table)
        for key in sorted(keys):
            if key not in reasons or key in quantity.sources:
                covered[key].append(quantity.key)
    bare = [key for key, found in covered.items() if not found and key not in reasons]
    assert not bare, f"no check and no reason in unchecked.toml: {', '.join(bare)}"
    return covered


def opening_words(name: str) -> str:
    """Return the words that open a test module: how it checks, and what it leaves out."""
    module = ast.parse((TESTS / name).read_text(encoding="utf-8"))
    return ast.get_docstring(module) or ""


def differences() -> Mapping[str, str]:
    """Return the sections of `differences.md` by their heading, of either level."""
    text = (TESTS / "reference_engines" / "differences.md").read_text(encoding="utf-8")
    found: dict[str, list[str]] = {}
    heading = ""
    for line in text.splitlines():
        if line.startswith(("## ", "### ")):
            heading = line.lstrip("# ")
            found[heading] = []
        elif heading:
            found[heading].append(line)
    return {heading: "\n".join(lines).strip() for heading, lines in found.items()}
