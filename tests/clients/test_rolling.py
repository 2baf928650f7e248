"""Two copies behind HAProxy: one is killed, both are replaced, and no caller notices."""

import contextlib
import http.client
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running_service import PATIENCE_SECONDS, get

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "deployment" / "haproxy.cfg"
CALLERS = 4
NOTICED_SECONDS = 5.0
"""In this time the checks of the proxy see that a copy is back."""

DOSE = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}
ASKED = (
    ("GET", "/v1/targets?air.humidity_percent=60", None),
    ("POST", "/v1/doses", DOSE),
    ("POST", "/v1/doses/batch", {"rows": [{**DOSE, "volume_l": 1 + n} for n in range(40)]}),
)


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


class Copy:
    """One copy of the service, on a port that it keeps."""

    def __init__(self) -> None:
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        environment = {"VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": str(self.port)}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "service"],
            cwd=ROOT,
            env={**os.environ, **environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + PATIENCE_SECONDS
        while get(f"http://127.0.0.1:{self.port}/readyz")[0] != 200:
            assert self.process.poll() is None
            assert time.monotonic() < deadline, "the copy did not get ready"
            time.sleep(0.1)

    def end(self, how: signal.Signals) -> None:
        assert self.process is not None
        self.process.send_signal(how)
        self.process.wait(60)


def configuration(port: int, copies: list[Copy]) -> str:
    """Return the backend of the example, with these copies and without TLS."""
    text = EXAMPLE.read_text(encoding="utf-8")
    (defaults,) = re.findall(r"^defaults\n(?:    .*\n)*", text, re.MULTILINE)
    (backend,) = re.findall(r"^backend service\n(?:    .*\n)*", text, re.MULTILINE)
    servers = "".join(
        f"    server copy{number} 127.0.0.1:{each.port}\n" for number, each in enumerate(copies)
    )
    backend, replaced = re.subn(r"    server-template .*\n", servers, backend)
    assert replaced == 1
    frontend = f"frontend callers\n    bind 127.0.0.1:{port}\n    default_backend service\n"
    return f"global\n    maxconn 512\n\n{defaults}\n{frontend}\n{backend}"


@pytest.fixture
def copies() -> Iterator[list[Copy]]:
    made = [Copy(), Copy()]
    try:
        for each in made:
            each.start()
        yield made
    finally:
        for each in made:
            if each.process is not None and each.process.poll() is None:
                each.end(signal.SIGKILL)


@pytest.fixture
def proxy(copies: list[Copy], tmp_path: Path) -> Iterator[int]:
    program = shutil.which("haproxy", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    assert program is not None, "sh .ci/set_up_clients.sh installs HAProxy"
    port = free_port()
    path = tmp_path / "haproxy.cfg"
    path.write_text(configuration(port, copies), encoding="utf-8")
    checked = subprocess.run(
        [program, "-c", "-f", path], capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stderr
    process = subprocess.Popen([program, "-db", "-f", path], stdout=subprocess.DEVNULL)
    try:
        deadline = time.monotonic() + PATIENCE_SECONDS
        while get(f"http://127.0.0.1:{port}/readyz")[0] != 200:
            assert time.monotonic() < deadline, "the proxy did not start"
            time.sleep(0.1)
        yield port
    finally:
        process.terminate()
        process.wait(30)


class Load:
    """Callers that ask without a pause, each on a connection that it keeps."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.ended = threading.Event()
        self.answers: Counter[str] = Counter()
        self.failures: list[str] = []
        self.threads = [threading.Thread(target=self.ask) for _ in range(CALLERS)]

    def ask(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        number = 0
        while not self.ended.is_set():
            method, path, body = ASKED[number % len(ASKED)]
            number += 1
            text = None if body is None else json.dumps(body)
            try:
                connection.request(method, path, text, {"Content-Type": "application/json"})
                answer = connection.getresponse()
                read = answer.read()
                ok = answer.status == 200 and json.loads(read)["status"] == "ok"
                if not ok:
                    self.failures.append(f"{path}: {answer.status} {read[:200]!r}")
            except (OSError, http.client.HTTPException, ValueError) as error:
                self.failures.append(f"{path}: {error!r}")
                connection.close()
            self.answers[path.partition("?")[0]] += 1
            time.sleep(0.01)
        connection.close()

    @contextlib.contextmanager
    def applied(self) -> Iterator[None]:
        for thread in self.threads:
            thread.start()
        try:
            yield
        finally:
            self.ended.set()
            for thread in self.threads:
                thread.join(90)


def test_no_caller_notices_that_a_copy_is_killed_and_that_both_are_replaced(
    copies: list[Copy], proxy: int
) -> None:
    load = Load(proxy)
    with load.applied():
        time.sleep(2.0)
        copies[0].end(signal.SIGKILL)
        time.sleep(NOTICED_SECONDS)
        copies[0].start()
        time.sleep(NOTICED_SECONDS)
        for each in (copies[1], copies[0]):
            each.end(signal.SIGTERM)
            each.start()
            time.sleep(NOTICED_SECONDS)
    assert load.failures == []
    assert min(load.answers[path.partition("?")[0]] for _, path, _ in ASKED) > 50
    print(f"\nrolling: {sum(load.answers.values())} requests, none failed")


def test_configuration_of_the_example_is_valid(tmp_path: Path) -> None:
    program = shutil.which("haproxy", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    openssl = shutil.which("openssl")
    assert program is not None
    assert openssl is not None
    key, certificate = tmp_path / "key", tmp_path / "certificate"
    made = [
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=velamen.test",
    ]
    subprocess.run(
        [openssl, *made, "-keyout", key, "-out", certificate], check=True, capture_output=True
    )
    together = tmp_path / "certificates" / "velamen.pem"
    together.parent.mkdir()
    together.write_bytes(certificate.read_bytes() + key.read_bytes())
    text = EXAMPLE.read_text(encoding="utf-8")
    path = tmp_path / "haproxy.cfg"
    path.write_text(
        text.replace("/usr/local/etc/haproxy/certificates/", f"{together.parent}/"),
        encoding="utf-8",
    )
    done = subprocess.run([program, "-c", "-f", path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "ALERT" not in done.stderr
