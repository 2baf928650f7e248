from pathlib import Path

import pytest

from service.reference import tables
from service.reference.tables import TABLE_FOLDER, ReferenceDataError, number, read_table


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tables, "TABLE_FOLDER", tmp_path)
    return tmp_path


@pytest.mark.parametrize("path", sorted(TABLE_FOLDER.glob("*.csv")), ids=lambda path: path.stem)
def test_no_packaged_row_stands_twice(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) == len(set(lines))


def test_row_knows_its_line(folder: Path) -> None:
    (folder / "t.csv").write_text("key,value\na,1.5\nb,2\n", encoding="utf-8")
    rows = read_table("t", ("key", "value"))
    assert [row["row"] for row in rows] == ["t.csv line 2", "t.csv line 3"]
    assert number(rows[0]) == 1.5


@pytest.mark.parametrize(
    ("text", "phrase"),
    [
        ("key\na\n", "lacks the columns value"),
        ("", "lacks the columns key, value"),
        ("key,value\na\n", "line 2: has too many or too few cells"),
        ("key,value\na,1,2\n", "line 2: has too many or too few cells"),
        ("key,value,basis\na,1,guess\n", "basis must be one of"),
    ],
)
def test_wrong_table_is_an_error_that_names_the_line(folder: Path, text: str, phrase: str) -> None:
    (folder / "t.csv").write_text(text, encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=phrase):
        read_table("t", ("key", "value"))


@pytest.mark.parametrize("text", ["", "many", "nan", "inf", "1,5"])
def test_cell_that_is_no_number_is_an_error(text: str) -> None:
    with pytest.raises(ReferenceDataError, match="value must be a number"):
        number({"row": "t.csv line 2", "value": text})
