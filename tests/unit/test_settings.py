"""What the environment may say."""

import re
from pathlib import Path

import pytest

from service.settings import Settings, SettingsError, load_settings


def test_empty_environment_gives_the_documented_defaults() -> None:
    settings = load_settings({})
    assert settings == Settings()
    assert (settings.host, settings.port) == ("127.0.0.1", 8000)
    assert (settings.limit_rows, settings.limit_bytes) == (200_000, 128 * 1024 * 1024)


def test_every_variable_is_read(tmp_path: Path) -> None:
    catalogue = tmp_path / "house.toml"
    catalogue.write_text("", encoding="utf-8")
    keys_file = tmp_path / "keys.toml"
    keys_file.write_text("", encoding="utf-8")
    settings = load_settings(
        {
            "VELAMEN_HOST": "0.0.0.0",
            "VELAMEN_PORT": "0",
            "VELAMEN_CATALOGUE": str(catalogue),
            "VELAMEN_LIMIT_ROWS": "10",
            "VELAMEN_LIMIT_BYTES": "2048",
            "VELAMEN_LIMIT_BODY_SECONDS": "5",
            "VELAMEN_LIMIT_HEADER_SECONDS": "2",
            "VELAMEN_LIMIT_REQUEST_SECONDS": "6",
            "VELAMEN_LIMIT_BATCH_SECONDS": "7",
            "VELAMEN_LIMIT_BATCHES": "4",
            "VELAMEN_LIMIT_BATCHES_WAITING": "0",
            "VELAMEN_LIMIT_BODIES": "9",
            "VELAMEN_LIMIT_CONCURRENCY": "3",
            "VELAMEN_LIMIT_REQUESTS_PER_MINUTE": "30",
            "VELAMEN_SHUTDOWN_SECONDS": "1",
            "VELAMEN_KEYS_FILE": str(keys_file),
            "VELAMEN_OPEN": "1",
            "VELAMEN_CORS_ORIGINS": "http://a.test, http://b.test",
            "VELAMEN_PUBLIC_URL": "https://velamen.test",
        }
    )
    assert settings == Settings(
        host="0.0.0.0",
        port=0,
        catalogue=catalogue,
        limit_rows=10,
        limit_bytes=2048,
        limit_body_seconds=5.0,
        limit_header_seconds=2.0,
        limit_request_seconds=6.0,
        limit_batch_seconds=7.0,
        limit_batches=4,
        limit_batches_waiting=0,
        limit_bodies=9,
        limit_concurrency=3,
        limit_requests_per_minute=30,
        shutdown_seconds=1,
        keys_file=keys_file,
        open_to_all=True,
        cors_origins=("http://a.test", "http://b.test"),
        public_url="https://velamen.test",
    )


def test_empty_variable_counts_as_absent() -> None:
    assert load_settings({"VELAMEN_PORT": "", "VELAMEN_HOST": "  "}) == Settings()


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("VELAMEN_PORT", "65536"),
        ("VELAMEN_PORT", "-1"),
        ("VELAMEN_PORT", "http"),
        ("VELAMEN_PORT", "8_000"),
        ("VELAMEN_PORT", "٨"),
        ("VELAMEN_LIMIT_ROWS", "0"),
        ("VELAMEN_LIMIT_BYTES", "1.5"),
        ("VELAMEN_LIMIT_CONCURRENCY", "many"),
        ("VELAMEN_CATALOGUE", "no-such-file.toml"),
        ("VELAMEN_KEYS_FILE", "no-such-file.toml"),
        ("VELAMEN_OPEN", "yes"),
    ],
)
def test_value_that_cannot_be_used_is_refused_by_the_name_of_its_variable(
    name: str, text: str
) -> None:
    with pytest.raises(SettingsError, match=f"^{name} .*{re.escape(text)}"):
        load_settings({name: text})


def test_keys_may_stand_in_the_environment_instead_of_a_file(tmp_path: Path) -> None:
    settings = load_settings({"VELAMEN_KEYS": f"kitchen={'a' * 64}, house = {'b' * 64},"})
    assert settings.keys == (("kitchen", "a" * 64), ("house", "b" * 64))
    path = tmp_path / "keys.toml"
    path.touch()
    with pytest.raises(SettingsError, match="exclude each other"):
        load_settings({"VELAMEN_KEYS": "a=b", "VELAMEN_KEYS_FILE": str(path)})
