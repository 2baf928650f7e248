"""What the environment says about how the service runs."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

PREFIX: Final = "VELAMEN_"
MEBIBYTE: Final = 1024 * 1024


class SettingsError(ValueError):
    """A variable of the environment that cannot be used; the message names it."""


@dataclass(frozen=True)
class Settings:
    """Everything that may differ between two installations of the same version."""

    host: str = "127.0.0.1"
    port: int = 8000
    catalogue: Path | None = None
    """A house catalogue of products in TOML; None for the built-in catalogue alone."""
    limit_rows: int = 200_000
    limit_bytes: int = 128 * MEBIBYTE
    limit_body_seconds: float = 60.0
    """Longest wait for the next piece of a request body."""
    limit_concurrency: int = 256
    """Connections beyond this number are answered 503 at once."""
    shutdown_seconds: int = 20
    cors_origins: tuple[str, ...] = ()
    """Origins whose browser pages may call the service; empty for none, `*` for all."""
    public_url: str = "/"
    """Where callers reach the service, as the OpenAPI document names it."""


def _whole(name: str, text: str, lowest: int, highest: int) -> int:
    if not text.isascii() or not text.isdigit() or not lowest <= int(text) <= highest:
        message = f"{name} must be a whole number from {lowest} to {highest}, not {text!r}"
        raise SettingsError(message)
    return int(text)


def load_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """
    Read the settings from the environment.

    Parameters
    ----------
    environment : mapping of str to str, optional
        The variables; by default those of the process.

    Returns
    -------
    Settings
        One value per variable, the default where a variable is absent or empty.

    Raises
    ------
    SettingsError
        If a variable has a value that cannot be used. The message names the variable.
    """
    variables = os.environ if environment is None else environment
    default = Settings()

    def text(name: str) -> str:
        return variables.get(PREFIX + name, "").strip()

    def whole(name: str, fallback: int, lowest: int, highest: int) -> int:
        given = text(name)
        return _whole(PREFIX + name, given, lowest, highest) if given else fallback

    catalogue = Path(text("CATALOGUE")) if text("CATALOGUE") else None
    if catalogue is not None and not catalogue.is_file():
        message = f"{PREFIX}CATALOGUE names {str(catalogue)!r}, which is not a file"
        raise SettingsError(message)
    body_seconds = whole("LIMIT_BODY_SECONDS", int(default.limit_body_seconds), 1, 3_600)
    return Settings(
        host=text("HOST") or default.host,
        port=whole("PORT", default.port, 0, 65_535),
        catalogue=catalogue,
        limit_rows=whole("LIMIT_ROWS", default.limit_rows, 1, 10_000_000),
        limit_bytes=whole("LIMIT_BYTES", default.limit_bytes, 1_024, 8_192 * MEBIBYTE),
        limit_body_seconds=float(body_seconds),
        limit_concurrency=whole("LIMIT_CONCURRENCY", default.limit_concurrency, 1, 100_000),
        shutdown_seconds=whole("SHUTDOWN_SECONDS", default.shutdown_seconds, 0, 600),
        cors_origins=tuple(
            part.strip() for part in text("CORS_ORIGINS").split(",") if part.strip()
        ),
        public_url=text("PUBLIC_URL") or default.public_url,
    )
