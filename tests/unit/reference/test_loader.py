import re
import shutil
from pathlib import Path

import pytest

from service.reference import loader
from service.reference.loader import data_version


def test_every_public_name_exists_and_is_listed_once() -> None:
    assert len(loader.__all__) == len(set(loader.__all__))
    for name in loader.__all__:
        assert getattr(loader, name) is not None


def test_version_is_the_edition_and_a_checksum() -> None:
    assert re.fullmatch(r"20\d\d\.\d\d\+[0-9a-f]{8}", data_version())


def test_version_changes_with_any_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "reference"
    shutil.copytree(loader._FOLDER, folder)
    monkeypatch.setattr(loader, "_FOLDER", folder)
    assert data_version.__wrapped__() == data_version()
    versions = {data_version()}
    tables = [path for path in sorted(folder.rglob("*")) if path.suffix in (".csv", ".toml")]
    for path in tables:
        path.write_bytes(path.read_bytes() + b"\n")
        versions.add(data_version.__wrapped__())
    assert len(versions) == len(tables) + 1
