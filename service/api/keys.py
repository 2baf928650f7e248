"""
Keys that callers send, where an installation asks for them.

The file holds names and SHA-256 sums, never keys::

    [keys]
    kitchen = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"

A key is 256 random bits, so that a plain sum of it cannot be turned back. The file is read again
when it changes; while it cannot be read, the keys that were read last stay good.
"""

import hashlib
import hmac
import logging
import re
import secrets
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.problems import instance_of, problem_response

logger = logging.getLogger("service.keys")

OPEN_PATHS: Final = ("/livez", "/readyz", "/docs", "/openapi.json")
"""What watches over the process, and people who want to know how to send a key, need none."""

OPEN_BELOW: Final = "/problems/"

KEY_BYTES: Final = 32
NAME: Final = re.compile(r"[A-Za-z0-9_-]{1,64}")
_SUM: Final = re.compile(r"[0-9a-f]{64}")
_LONGEST_KEY: Final = 512


class KeysError(ValueError):
    """A file of keys that cannot be used; the message says why."""


def new_key() -> tuple[str, str]:
    """Return a new key and its sum, the line of the file."""
    key = secrets.token_urlsafe(KEY_BYTES)
    return key, sum_of(key)


def sum_of(key: str) -> str:
    """Return the SHA-256 sum of a key, as a header carries it, in hexadecimal digits."""
    return hashlib.sha256(key.encode("latin-1", "replace")).hexdigest()


def read_keys(path: Path) -> dict[str, str]:
    """
    Return the sums of a file by their names.

    Raises
    ------
    KeysError
        If the file cannot be read, has another form, or holds no key.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise KeysError(f"cannot be read: {error.strerror or error}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise KeysError(f"is not TOML: {error}") from None
    keys = document.get("keys")
    if not isinstance(keys, dict) or not keys:
        raise KeysError("names no keys; it needs a table [keys] with name = sum")
    return checked_keys(keys)


def checked_keys(keys: Mapping[str, object]) -> dict[str, str]:
    """
    Return sums by the names of their keys.

    Raises
    ------
    KeysError
        If a name or a sum is none; neither is repeated in the message where it may be a key.
    """
    for name, value in keys.items():
        if not NAME.fullmatch(name):
            raise KeysError("has a name that is not 1 to 64 letters, digits, - and _")
        if not isinstance(value, str) or not _SUM.fullmatch(value.lower()):
            raise KeysError(f"key {name}: the value is not a SHA-256 sum of 64 hexadecimal digits")
    return {name: str(value).lower() for name, value in keys.items()}


class Keys:
    """
    Keys that stay as they are while the service runs.

    Parameters
    ----------
    sums : mapping of str to str
        SHA-256 sums by the names of their keys.
    """

    def __init__(self, sums: Mapping[str, str]) -> None:
        self.sums: Mapping[str, str] = checked_keys(sums)

    def follow(self) -> None:
        """Take over what has changed: nothing."""

    def name_of(self, key: str) -> str | None:
        """Return the name of a key, None for one that is not known; every sum is compared."""
        self.follow()
        given = sum_of(key)
        found = None
        for name, known in self.sums.items():
            if hmac.compare_digest(given, known):
                found = name
        return found


class KeyFile(Keys):
    """
    The keys of a file, read again when it changes.

    Parameters
    ----------
    path : Path
        The file; KeysError if it cannot be used now.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.stamp = self._stamp()
        super().__init__(read_keys(path))

    def _stamp(self) -> tuple[int, int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def follow(self) -> None:
        """Read the file again when it has changed."""
        stamp = self._stamp()
        if stamp == self.stamp:
            return
        self.stamp = stamp
        try:
            self.sums = read_keys(self.path)
            logger.info("keys read again: %d", len(self.sums))
        except KeysError as error:
            logger.error("the file of keys %s; the keys read last stay good", error)


class KeyNeeded:
    """Answer 401 to a caller without a good key; `Authorization: Bearer` or `X-API-Key`."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app = app
        self.keys = keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or is_open(scope["path"]):
            await self.app(scope, receive, send)
            return
        key = _given(scope)
        name = None if key is None else self.keys.name_of(key)
        if name is not None:
            scope.get("velamen.seen", {})["key"] = name
            await self.app(scope, receive, send)
            return
        detail = (
            "This installation needs a key: send it as `Authorization: Bearer …` or as `X-API-Key`."
            if key is None
            else "The key is not known here. Ask the operator of this installation for a new one."
        )
        challenge = {"WWW-Authenticate": 'Bearer realm="velamen"'}
        response = problem_response("unauthorized", detail, instance_of(scope), (), challenge)
        await response(scope, receive, send)


def is_open(path: str) -> bool:
    """Tell whether a path is answered to everybody."""
    return path in OPEN_PATHS or path.startswith(OPEN_BELOW)


def _given(scope: Scope) -> str | None:
    """Return the key that a request carries."""
    headers: list[tuple[bytes, bytes]] = scope["headers"]
    for name, value in headers:
        text = value.decode("latin-1").strip()
        if name == b"authorization":
            scheme, _, key = text.partition(" ")
            if scheme.lower() == "bearer" and 0 < len(key.strip()) <= _LONGEST_KEY:
                return key.strip()
        elif name == b"x-api-key" and 0 < len(text) <= _LONGEST_KEY:
            return text
    return None
