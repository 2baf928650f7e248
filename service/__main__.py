"""`python -m service`: serve; or prepare kernels, write contract or sums, make a key."""

import gc
import ipaddress
import json
import os
import resource
import socket
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from service.reference.integrity import verify_tables
from service.reference.tables import ReferenceDataError
from service.settings import Settings, SettingsError, load_settings

DOCUMENT: Final = Path(__file__).resolve().parents[1] / "openapi" / "openapi.json"

USAGE: Final = """usage: python -m service [prepare | openapi | sums | key NAME]

  (nothing)  serve on VELAMEN_HOST and VELAMEN_PORT; port 0 takes a free one and prints it
  prepare    compile every kernel into the cache, so that the service starts at once
  openapi    write openapi/openapi.json
  sums       write the SHA-256 sums of the tables, after a change of one that is meant
  key NAME   make a key for a caller: the key to hand out, and the line for VELAMEN_KEYS_FILE
"""

WHY_NOT_OPEN: Final = (
    "VELAMEN_HOST={host} can be reached from other machines, and no keys are set, so anybody there"
    " could use this service. Set VELAMEN_KEYS_FILE (make a key with: python -m service key NAME),"
    " or VELAMEN_OPEN=1 if that is wanted, for instance behind a proxy that checks its callers."
)

SHARED_MEMORY: Final = "/dev/shm"
NO_SCRATCH: Final = "no folder can be written; mount one at /tmp, or tables are refused"

FILES_BESIDE_CONNECTIONS: Final = 128
GARBAGE_AFTER: Final = 10_000
"""New objects after which the youngest are searched for garbage; a dose makes some hundreds."""


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


def _may_listen(settings: Settings) -> bool:
    """Tell whether callers from elsewhere are wanted, or cannot come."""
    guarded = settings.keys_file is not None or bool(settings.keys)
    if settings.open_to_all or guarded or settings.host == "localhost":
        return True
    try:
        return ipaddress.ip_address(settings.host).is_loopback
    except ValueError:
        return False


def _make_key(name: str) -> int:
    from service.api.keys import NAME, new_key

    if not NAME.fullmatch(name):
        sys.stderr.write("The name of a key is 1 to 64 letters, digits, - and _.\n")
        return 2
    key, digest = new_key()
    sys.stderr.write("The key is shown once; the line goes below [keys] of VELAMEN_KEYS_FILE.\n")
    sys.stdout.write(json.dumps({"key": key, "line": f'{name} = "{digest}"'}) + "\n")
    return 0


def _allow_files(connections: int) -> None:
    """Let the process hold as many connections as it serves, as far as the system allows."""
    wanted = connections + FILES_BESIDE_CONNECTIONS
    least, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    if least != resource.RLIM_INFINITY and least < wanted:
        allowed = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(allowed, least), most))


def _find_scratch() -> None:
    """Keep bodies of tables in shared memory where no usual folder can be written."""
    try:
        tempfile.gettempdir()
    except FileNotFoundError:
        if os.access(SHARED_MEMORY, os.W_OK):
            # The processes that read and write workbooks learn of it too.
            os.environ["TMPDIR"] = SHARED_MEMORY
        else:
            sys.stderr.write(json.dumps({"level": "warning", "message": NO_SCRATCH}) + "\n")


def _settle_memory() -> None:
    """
    Leave what was loaded out of the search for garbage, and search less often.

    Half a million objects of the libraries stay until the end. A search through all of them takes
    a tenth of a second, in which nobody is answered, and finds nothing.
    """
    gc.enable()
    gc.collect()
    gc.freeze()
    gc.set_threshold(GARBAGE_AFTER, 20, 50)


def _serve(settings: Settings) -> int:
    # Nothing that is loaded before serving is garbage: `_settle_memory` lets the search begin.
    gc.disable()

    import uvicorn

    from service.api.connection import bounded_protocol
    from service.api.json_log import LOG_CONFIGURATION
    from service.api.keys import KeysError
    from service.main import create_app

    try:
        verify_tables()
    except ReferenceDataError as error:
        sys.stderr.write(
            f"The tables of the service cannot be trusted, so it does not start. {error}\n"
        )
        return 1
    if not _may_listen(settings):
        sys.stderr.write(f"{WHY_NOT_OPEN.format(host=settings.host)}\n")
        return 2
    try:
        app = create_app(settings)
    except KeysError as error:
        place = "VELAMEN_KEYS" + ("" if settings.keys else f"_FILE={settings.keys_file}")
        sys.stderr.write(f"{place} {error}\n")
        return 2
    except ReferenceDataError as error:
        sys.stderr.write(f"VELAMEN_CATALOGUE={settings.catalogue}: {error}\n")
        return 2
    try:
        listener = _listen(settings)
    except OSError as error:
        place = f"VELAMEN_HOST={settings.host} VELAMEN_PORT={settings.port}"
        sys.stderr.write(f"cannot listen on {place}: {error.strerror or error}\n")
        return 1
    _find_scratch()
    _settle_memory()
    _allow_files(app.state.limits.open_connections)
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
            log_config=LOG_CONFIGURATION,
            server_header=False,
            date_header=True,
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
    if list(arguments) == ["sums"]:
        from service.reference.integrity import FOLDER, SUMS, sums_text

        (FOLDER / SUMS).write_text(sums_text(), encoding="ascii")
        sys.stdout.write(json.dumps({"written": str(FOLDER / SUMS)}) + "\n")
        return 0
    if len(arguments) == 2 and arguments[0] == "key":
        return _make_key(arguments[1])
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
