"""Are the tables those of this release? Their SHA-256 sums are kept beside them."""

import hashlib
from pathlib import Path
from typing import Final

from service.reference.tables import ReferenceDataError

FOLDER: Final = Path(__file__).resolve().parent
SUMS: Final = "tables.sha256"
"""One line per file, in the form that `sha256sum --check` reads."""

SUFFIXES: Final = (".csv", ".toml")


def table_sums(folder: Path = FOLDER) -> dict[str, str]:
    """Return the SHA-256 sums of every table below a folder, by its relative path."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.suffix in SUFFIXES
    }


def sums_text(folder: Path = FOLDER) -> str:
    """Return the file of sums as it belongs beside the tables."""
    return "".join(f"{digest}  {name}\n" for name, digest in table_sums(folder).items())


def verify_tables(folder: Path = FOLDER) -> None:
    """
    Compare every table with the sum that the release was made with.

    Parameters
    ----------
    folder : Path
        Where the tables and their sums are.

    Raises
    ------
    ReferenceDataError
        Naming the first table that is changed, missing or not of the release.
    """
    try:
        lines = (folder / SUMS).read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise ReferenceDataError(SUMS, f"cannot be read: {error}") from None
    released = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
    found = table_sums(folder)
    for name in sorted({*released, *found}):
        if name not in found:
            raise ReferenceDataError(name, "is missing; install the release again")
        if name not in released:
            raise ReferenceDataError(name, "is no table of this release; remove it")
        if found[name] != released[name]:
            raise ReferenceDataError(
                name,
                "is not as it was released; install the release again, or, where the change is"
                " meant, state its sum with: python -m service sums",
            )
