import tomllib
from pathlib import Path

import pytest

from service.reference import sources as sources_module
from service.reference.plants import PLANT_FILE
from service.reference.sources import SOURCE_FILE, SOURCE_KINDS, require_source, sources
from service.reference.tables import TABLE_FOLDER, ReferenceDataError, read_table


def table_names() -> list[str]:
    return sorted(path.stem for path in TABLE_FOLDER.glob("*.csv"))


def test_every_source_has_a_citation_and_a_kind() -> None:
    for key, source in sources().items():
        assert source.key == key
        assert source.kind in SOURCE_KINDS
        assert len(source.citation) > 10
        assert source.url is None or source.url.startswith(("http://", "https://"))


@pytest.mark.parametrize("name", table_names())
def test_every_source_named_in_a_table_exists(name: str) -> None:
    named = {row["source"] for row in read_table(name, ()) if "source" in row}
    assert named <= set(sources())


@pytest.mark.parametrize("name", table_names())
def test_every_value_with_a_source_has_a_locator(name: str) -> None:
    for row in read_table(name, ()):
        if "source" in row:
            assert row["locator"], row["row"]


def test_every_source_is_used() -> None:
    folder = SOURCE_FILE.parent
    texts = [
        path.read_text(encoding="utf-8")
        for path in sorted(folder.parent.rglob("*"))
        if path.suffix in (".csv", ".toml", ".py") and path != SOURCE_FILE
    ]
    unused = [key for key in sources() if not any(key in text for text in texts)]
    assert unused == []


def test_no_value_rests_on_a_source_weaker_than_its_basis_says() -> None:
    for name in table_names():
        for row in read_table(name, ()):
            if row.get("basis") in ("published", "standard"):
                kind = sources()[row["source"]].kind
                assert kind in ("published", "standard"), row["row"]
    document = tomllib.loads(PLANT_FILE.read_text(encoding="utf-8"))
    for entry in _provenances(document):
        kind = sources()[entry["source"]].kind
        if entry["basis"] in ("published", "standard"):
            assert kind in ("published", "standard"), entry
        if entry["basis"] == "memory":
            assert kind == "memory", entry


def _provenances(node: object) -> list[dict[str, str]]:
    if not isinstance(node, dict):
        return []
    found = [node] if "basis" in node else []
    for child in node.values():
        found += _provenances(child)
    return found


def test_unknown_source_is_an_error_that_names_its_place() -> None:
    with pytest.raises(ReferenceDataError, match=r"plants\.x: names the unknown source 'rumour'"):
        require_source("rumour", "plants.x")


@pytest.mark.parametrize(
    ("text", "phrase"),
    [
        ('[a]\ncitation = "A book"\nkind = "gossip"', r"sources\.a\.kind"),
        ('[a]\nkind = "published"', r"sources\.a\.citation"),
        ('[a]\ncitation = "A book"\nkind = "published"\nyear = 3', "unknown fields"),
    ],
)
def test_wrong_entry_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, phrase: str
) -> None:
    path = tmp_path / "sources.toml"
    path.write_text(text, encoding="utf-8")
    monkeypatch.setattr(sources_module, "SOURCE_FILE", path)
    with pytest.raises(ReferenceDataError, match=phrase):
        sources.__wrapped__()
