"""What a report is made from: the reference tables and the check rows, as one digest."""

import hashlib
from pathlib import Path

from service.reference.integrity import sums_text
from tests.trust_report.quantities import FOLDER, TESTS


def check_files() -> list[Path]:
    """Return the files of check rows, recorded answers and of the report's own lists."""
    rows = (TESTS / "published").glob("*.csv")
    recorded = (TESTS / "reference_engines" / "recorded").rglob("*.csv")
    return [*sorted(rows), *sorted(recorded), *sorted(FOLDER.glob("*.toml"))]


def digest() -> str:
    """Return the SHA-256 of all inputs; dates and places of files do not count."""
    found = hashlib.sha256(sums_text().encode())
    for path in check_files():
        found.update(path.relative_to(TESTS).as_posix().encode() + b"\0")
        found.update(path.read_bytes())
    return found.hexdigest()
