"""Start the service as its users do, in a process of its own, and stop it again."""

import json
import os
import re
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

PATIENCE_SECONDS = 60.0


def get(address: str) -> tuple[int, bytes]:
    """Return status and body of a GET; any HTTP status is an answer, no connection is status 0."""
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.read()
    except OSError as unreachable:
        return 0, str(unreachable).encode()


def post_json(address: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
    """Return status and parsed body of a POST."""
    request = urllib.request.Request(
        address, json.dumps(body).encode(), {"Content-Type": "application/json"}
    )
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, json.load(refused)


@contextmanager
def running_service(
    command: Sequence[str], folder: Path, environment: Mapping[str, str]
) -> Iterator[str]:
    """
    Run the service on a free port and give its address once it is ready.

    The environment has to hold `VELAMEN_PORT=0`: the service then prints where it listens.
    """
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen(
            command,
            cwd=folder,
            env=dict(environment),
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
        )

        def words() -> str:
            # The process writes where this file stands: reading must not move it.
            written = os.fstat(said.fileno()).st_size
            return os.pread(said.fileno(), written, 0).decode(errors="replace")

        def is_running() -> bool:
            return process.poll() is None

        try:
            deadline = time.monotonic() + PATIENCE_SECONDS
            address = None
            while time.monotonic() < deadline and is_running():
                if address is None:
                    printed = re.search(r"^\{.*?(http://[\w.:\[\]]+:\d+)", words(), re.MULTILINE)
                    address = printed.group(1) if printed else None
                elif get(f"{address}/readyz")[0] == 200:
                    break
                time.sleep(0.05)
            else:
                message = f"the service did not get ready; it said:\n{words()}"
                raise AssertionError(message)
            yield str(address)
        finally:
            process.terminate()
            try:
                process.wait(timeout=30)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
            for line in words().splitlines():
                if '"level": "error"' in line or '"level":"error"' in line:
                    sys.stderr.write(f"{line}\n")
