"""Files of keys: what they must hold, and that they are followed while the service runs."""

import os
from pathlib import Path

import pytest

from service.api.keys import KeyFile, KeysError, new_key, read_keys, sum_of

SUM_OF_TEST = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"


def written(path: Path, **sums: str) -> Path:
    lines = [f'{name} = "{value}"' for name, value in sums.items()]
    path.write_text("\n".join(["[keys]", *lines, ""]), encoding="utf-8")
    return path


def test_sum_is_that_of_sha_256() -> None:
    assert sum_of("test") == SUM_OF_TEST


def test_keys_are_long_and_never_the_same() -> None:
    made = {new_key() for _ in range(20)}
    assert len(made) == 20
    for key, digest in made:
        assert len(key) >= 43
        assert key.isascii()
        assert sum_of(key) == digest


def test_key_is_known_by_its_sum_and_by_nothing_else(tmp_path: Path) -> None:
    key, digest = new_key()
    keys = KeyFile(written(tmp_path / "keys.toml", other=SUM_OF_TEST, kitchen=digest.upper()))
    assert keys.name_of(key) == "kitchen"
    assert keys.name_of("test") == "other"
    assert keys.name_of(digest) is None
    assert keys.name_of(key[:-1]) is None
    assert keys.name_of("") is None
    assert keys.name_of("\xe9\u20ac") is None


def test_changed_file_counts_at_once_and_a_broken_one_changes_nothing(tmp_path: Path) -> None:
    path = written(tmp_path / "keys.toml", first=sum_of("one"))
    keys = KeyFile(path)
    assert keys.name_of("one") == "first"

    written(path, second=sum_of("two"))
    os.utime(path, ns=(1, 1))
    assert (keys.name_of("one"), keys.name_of("two")) == (None, "second")

    path.write_text("[keys\n", encoding="utf-8")
    assert keys.name_of("two") == "second"
    path.unlink()
    assert keys.name_of("two") == "second"

    written(path, third=sum_of("three"))
    assert (keys.name_of("two"), keys.name_of("three")) == (None, "third")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no keys"),
        ("keys = 3", "no keys"),
        ("[keys]", "no keys"),
        ("[keys", "not TOML"),
        ('[keys]\n"two words" = "00"', "letters, digits"),
        ("[keys]\nkitchen = 5", "kitchen: the value"),
        ('[keys]\nkitchen = "the key itself"', "kitchen: the value"),
    ],
)
def test_file_that_cannot_be_used_is_refused_without_repeating_it(
    tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "keys.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KeysError, match=said) as refused:
        read_keys(path)
    assert "the key itself" not in str(refused.value)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "keys.toml"
    path.write_bytes(b"[keys]\nkitchen = '\xff'\n")
    with pytest.raises(KeysError, match="not TOML"):
        read_keys(path)
    with pytest.raises(KeysError, match="cannot be read"):
        read_keys(tmp_path / "none.toml")
