"""Tables that are not those of the release are noticed before the first answer."""

import shutil
from pathlib import Path

import pytest

from service.reference.integrity import FOLDER, SUMS, sums_text, table_sums, verify_tables
from service.reference.tables import ReferenceDataError


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    for name in [*table_sums(), SUMS]:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copy(FOLDER / name, tmp_path / name)
    return tmp_path


def test_tables_of_the_release_have_its_sums(copied: Path) -> None:
    assert (FOLDER / SUMS).read_text() == sums_text(), "run: python -m service sums"
    assert len(table_sums()) > 25
    verify_tables()
    verify_tables(copied)


def test_one_digit_that_is_changed_is_noticed_and_the_table_named(copied: Path) -> None:
    table = copied / "tables" / "acids.csv"
    text = table.read_text()
    digit = next(place for place, letter in enumerate(text) if letter == "7")
    table.write_text(text[:digit] + "8" + text[digit + 1 :])
    with pytest.raises(ReferenceDataError, match=r"tables/acids\.csv: is not as it was released"):
        verify_tables(copied)


def test_missing_and_foreign_tables_and_missing_sums_are_noticed(copied: Path) -> None:
    (copied / "tables" / "own.csv").write_text("a,b\n")
    with pytest.raises(ReferenceDataError, match=r"own\.csv: is no table of this release"):
        verify_tables(copied)
    (copied / "tables" / "own.csv").unlink()
    (copied / "plants.toml").unlink()
    with pytest.raises(ReferenceDataError, match=r"plants\.toml: is missing"):
        verify_tables(copied)
    (copied / SUMS).unlink()
    with pytest.raises(ReferenceDataError, match=r"tables\.sha256: cannot be read"):
        verify_tables(copied)
