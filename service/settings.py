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
    limit_body_seconds: float = 30.0
    """Time for a request body, beside that for its bytes, and for its next piece."""
    limit_header_seconds: float = 10.0
    """Time for the headers of a request."""
    limit_request_seconds: float = 20.0
    limit_batch_seconds: float = 120.0
    """Time for the work on one request, and on one batch."""
    limit_batches: int = 2
    limit_batches_waiting: int = 64
    """Batches at once, and batches that may wait; further ones are answered 503."""
    limit_bodies: int = 512
    """Bodies that arrive at once; beyond this number the most silent one is given up."""
    limit_concurrency: int = 256
    """Requests in work at once; further ones are answered 503 at once."""
    limit_requests_per_minute: int = 0
    """Requests of one key, or of one address without keys, in a minute; 0 for no limit."""
    shutdown_seconds: int = 20
    keys_file: Path | None = None
    """Names and sums of the keys that callers need; None for none."""
    keys: tuple[tuple[str, str], ...] = ()
    """Names and sums where no file holds them; they are not followed while the service runs."""
    open_to_all: bool = False
    """Whether anybody who reaches another address than this machine's own may call without one."""
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
    keys_file = Path(text("KEYS_FILE")) if text("KEYS_FILE") else None
    if keys_file is not None and not keys_file.is_file():
        message = f"{PREFIX}KEYS_FILE names {str(keys_file)!r}, which is not a file"
        raise SettingsError(message)
    if text("KEYS") and keys_file is not None:
        raise SettingsError(f"{PREFIX}KEYS and {PREFIX}KEYS_FILE exclude each other")
    if text("OPEN") not in ("", "0", "1"):
        raise SettingsError(f"{PREFIX}OPEN must be 1 or 0, not {text('OPEN')!r}")

    def seconds(name: str, fallback: float) -> float:
        return float(whole(name, int(fallback), 1, 3_600))

    return Settings(
        host=text("HOST") or default.host,
        port=whole("PORT", default.port, 0, 65_535),
        catalogue=catalogue,
        limit_rows=whole("LIMIT_ROWS", default.limit_rows, 1, 10_000_000),
        limit_bytes=whole("LIMIT_BYTES", default.limit_bytes, 1_024, 8_192 * MEBIBYTE),
        limit_body_seconds=seconds("LIMIT_BODY_SECONDS", default.limit_body_seconds),
        limit_header_seconds=seconds("LIMIT_HEADER_SECONDS", default.limit_header_seconds),
        limit_request_seconds=seconds("LIMIT_REQUEST_SECONDS", default.limit_request_seconds),
        limit_batch_seconds=seconds("LIMIT_BATCH_SECONDS", default.limit_batch_seconds),
        limit_batches=whole("LIMIT_BATCHES", default.limit_batches, 1, 1_000),
        limit_batches_waiting=whole(
            "LIMIT_BATCHES_WAITING", default.limit_batches_waiting, 0, 10_000
        ),
        limit_bodies=whole("LIMIT_BODIES", default.limit_bodies, 1, 100_000),
        limit_concurrency=whole("LIMIT_CONCURRENCY", default.limit_concurrency, 1, 100_000),
        limit_requests_per_minute=whole(
            "LIMIT_REQUESTS_PER_MINUTE", default.limit_requests_per_minute, 0, 1_000_000
        ),
        shutdown_seconds=whole("SHUTDOWN_SECONDS", default.shutdown_seconds, 0, 600),
        keys_file=keys_file,
        keys=tuple(
            (name.strip(), digest.strip())
            for name, _, digest in (part.partition("=") for part in text("KEYS").split(","))
            if name.strip()
        ),
        open_to_all=text("OPEN") == "1",
        cors_origins=tuple(
            part.strip() for part in text("CORS_ORIGINS").split(",") if part.strip()
        ),
        public_url=text("PUBLIC_URL") or default.public_url,
    )
