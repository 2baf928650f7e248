"""`python -m service`: serve; `prepare`: compile the kernels; `openapi`: write the contract."""

import json
import resource
import socket
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from service.reference.tables import ReferenceDataError
from service.settings import Settings, SettingsError, load_settings

DOCUMENT: Final = Path(__file__).resolve().parents[1] / "openapi" / "openapi.json"

USAGE: Final = """usage: python -m service [prepare | openapi]

  (nothing)  serve on VELAMEN_HOST and VELAMEN_PORT; port 0 takes a free one and prints it
  prepare    compile every kernel into the cache, so that the service starts at once
  openapi    write openapi/openapi.json
"""

FILES_BESIDE_CONNECTIONS: Final = 128
CONNECTIONS_PER_REQUEST: Final = 4
"""Idle connections are kept open too; the service itself limits the requests in flight."""


def openapi_text() -> str:
    """Return the OpenAPI document as it is committed: sorted, two spaces, a final newline."""
    from service.main import create_app

    document = create_app(Settings()).openapi()
    return json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listener.bind((settings.host, settings.port))
    listener.listen(2_048)
    listener.setblocking(False)
    return listener


def _allow_files(connections: int) -> None:
    """Let the process hold as many connections as it serves, as far as the system allows."""
    wanted = connections + FILES_BESIDE_CONNECTIONS
    least, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    if least != resource.RLIM_INFINITY and least < wanted:
        allowed = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(allowed, least), most))


def _serve(settings: Settings) -> int:
    import uvicorn

    from service.api.connection import bounded_protocol
    from service.main import create_app

    try:
        app = create_app(settings)
    except ReferenceDataError as error:
        sys.stderr.write(f"VELAMEN_CATALOGUE={settings.catalogue}: {error}\n")
        return 2
    try:
        listener = _listen(settings)
    except OSError as error:
        place = f"VELAMEN_HOST={settings.host} VELAMEN_PORT={settings.port}"
        sys.stderr.write(f"cannot listen on {place}: {error.strerror or error}\n")
        return 1
    connections = settings.limit_concurrency * CONNECTIONS_PER_REQUEST + 2 * settings.limit_bodies
    _allow_files(connections)
    with listener:
        if settings.port == 0:
            host = f"[{settings.host}]" if ":" in settings.host else settings.host
            address = f"http://{host}:{listener.getsockname()[1]}"
            sys.stdout.write(json.dumps({"address": address}) + "\n")
            sys.stdout.flush()
        configuration = uvicorn.Config(
            app,
            loop="uvloop",
            http=bounded_protocol(app.state.limits),
            ws="none",
            access_log=False,
            log_level="info",
            server_header=False,
            date_header=True,
            limit_concurrency=connections,
            timeout_graceful_shutdown=settings.shutdown_seconds,
        )
        uvicorn.Server(configuration).run(sockets=[listener])
    return 0


def main(arguments: Sequence[str]) -> int:
    """
    Run one command.

    Parameters
    ----------
    arguments : sequence of str
        What follows `python -m service`.

    Returns
    -------
    int
        Exit status: 0, or 1 for a fault of the surroundings, or 2 for a fault of the call.
    """
    if list(arguments) == ["prepare"]:
        from service.planning.warm_up import warm_up

        sys.stdout.write(json.dumps({"prepared": warm_up()}) + "\n")
        return 0
    if list(arguments) == ["openapi"]:
        DOCUMENT.parent.mkdir(exist_ok=True)
        DOCUMENT.write_text(openapi_text(), encoding="utf-8")
        sys.stdout.write(json.dumps({"written": str(DOCUMENT)}) + "\n")
        return 0
    if arguments:
        asked = list(arguments) in (["-h"], ["--help"], ["help"])
        (sys.stdout if asked else sys.stderr).write(USAGE)
        return 0 if asked else 2
    try:
        settings = load_settings()
    except SettingsError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    return _serve(settings)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
