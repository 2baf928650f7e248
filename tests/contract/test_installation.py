"""The service as an operator runs it: where it listens, with which keys, what it logs, its end."""

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from service.api.keys import new_key
from service.api.negotiation import MEDIA_TYPES
from tests.books import book, cells_of
from tests.read_only import read_only
from tests.running_service import PATIENCE_SECONDS, get

ROOT = Path(__file__).resolve().parents[2]
DOSE = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}


def command(*arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "service", *arguments],
        cwd=ROOT,
        env={**os.environ, "VELAMEN_PORT": "0", **variables},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )


@dataclass
class Running:
    """A service that runs, and the file of its log."""

    process: subprocess.Popen[bytes]
    address: str
    log_file: Path

    def log(self) -> list[dict[str, Any]]:
        """Return the lines of the log; one that is no JSON fails the test."""
        return [json.loads(line) for line in self.log_file.read_text(encoding="utf-8").splitlines()]


SERVE = (sys.executable, "-m", "service")


@contextmanager
def running(folder: Path, command: Sequence[str] = SERVE, **variables: str) -> Iterator[Running]:
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0", **variables}
    said, logged = folder / "stdout", folder / "stderr"
    with said.open("wb") as out, logged.open("wb") as error:
        process = subprocess.Popen(
            command,
            cwd=ROOT,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=error,
        )
    try:
        deadline = time.monotonic() + PATIENCE_SECONDS
        address = ""
        while time.monotonic() < deadline and process.poll() is None:
            text = said.read_text(encoding="utf-8")
            if text.endswith("\n"):
                address = json.loads(text)["address"]
                if get(f"{address}/readyz")[0] == 200:
                    break
            time.sleep(0.05)
        else:
            pytest.fail(f"the service did not get ready; it said:\n{logged.read_text()}")
        yield Running(process, address, logged)
    finally:
        process.kill()
        process.wait()


def answered(
    address: str, headers: dict[str, str], body: object = None
) -> tuple[int, dict[str, Any]]:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address, data, {"Content-Type": "application/json", **headers})
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, json.load(refused)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "velamen.test"])
def test_address_of_others_needs_keys_or_a_word_that_it_is_wanted(host: str) -> None:
    refused = command(VELAMEN_HOST=host)
    assert refused.returncode == 2
    assert f"VELAMEN_HOST={host}" in refused.stderr
    assert "VELAMEN_KEYS_FILE" in refused.stderr
    assert "VELAMEN_OPEN=1" in refused.stderr
    assert refused.stdout == ""


def test_open_service_listens_where_it_is_told(tmp_path: Path) -> None:
    with running(tmp_path, VELAMEN_HOST="0.0.0.0", VELAMEN_OPEN="1") as service:
        assert answered(f"{service.address}/v1/doses", {}, DOSE)[0] == 200


@pytest.mark.parametrize("text", ["", "[keys]\n", "[keys]\nkitchen = 'plain words'\n"])
def test_file_without_keys_that_can_be_used_does_not_open_the_service(
    tmp_path: Path, text: str
) -> None:
    path = tmp_path / "keys.toml"
    path.write_text(text, encoding="utf-8")
    refused = command(VELAMEN_HOST="0.0.0.0", VELAMEN_KEYS_FILE=str(path))
    assert refused.returncode == 2
    assert "VELAMEN_KEYS_FILE" in refused.stderr
    assert "plain words" not in refused.stderr


def test_keys_of_the_environment_open_the_service_and_a_word_that_is_none_does_not(
    tmp_path: Path,
) -> None:
    refused = command(VELAMEN_HOST="0.0.0.0", VELAMEN_KEYS="kitchen=plain words")
    assert refused.returncode == 2
    assert refused.stderr.startswith("VELAMEN_KEYS ")
    assert "plain words" not in refused.stderr
    key, digest = new_key()
    with running(tmp_path, VELAMEN_HOST="0.0.0.0", VELAMEN_KEYS=f"kitchen={digest}") as service:
        doses = f"{service.address}/v1/doses"
        assert answered(doses, {}, DOSE)[0] == 401
        assert answered(doses, {"X-API-Key": key}, DOSE)[0] == 200


@pytest.mark.parametrize("arguments", [("key",), ("key", "two words"), ("key", "a", "b")])
def test_key_without_a_usable_name_is_not_made(arguments: Sequence[str]) -> None:
    refused = command(*arguments)
    assert refused.returncode == 2
    assert refused.stdout == ""


def test_keys_that_the_command_makes_are_taken_and_changed_while_the_service_runs(
    tmp_path: Path,
) -> None:
    made = json.loads(command("key", "kitchen").stdout)
    path = tmp_path / "keys.toml"
    path.write_text(f"[keys]\n{made['line']}\n", encoding="utf-8")
    with running(tmp_path, VELAMEN_HOST="0.0.0.0", VELAMEN_KEYS_FILE=str(path)) as service:
        doses = f"{service.address}/v1/doses"
        bearer = {"Authorization": f"Bearer {made['key']}"}
        assert answered(doses, bearer, DOSE)[0] == 200
        status, problem = answered(doses, {}, DOSE)
        assert (status, problem["type"]) == (401, "/problems/unauthorized")

        key, digest = new_key()
        path.write_text(f"[keys]\ngreenhouse = '{digest}'\n", encoding="utf-8")
        assert answered(doses, bearer, DOSE)[0] == 401
        assert answered(doses, {"X-API-Key": key}, DOSE)[0] == 200

        path.write_text("[keys", encoding="utf-8")
        assert answered(doses, {"X-API-Key": key}, DOSE)[0] == 200
        # A line follows its answer; the next request is served after it.
        assert get(f"{service.address}/livez")[0] == 200
        lines = service.log()
        assert [line["key"] for line in lines if "key" in line] == [
            "kitchen",
            "greenhouse",
            "greenhouse",
        ]
        assert any(line["level"] == "error" and "keys" in line["message"] for line in lines)
        for each in (made["key"], key, digest):
            assert each not in service.log_file.read_text(encoding="utf-8")


def table(address: str, kind: str, body: bytes) -> tuple[int, bytes]:
    request = urllib.request.Request(address, body, {"Content-Type": kind})
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.read()


def test_tables_and_workbooks_are_answered_where_no_folder_can_be_written(tmp_path: Path) -> None:
    lines = b"id,product,water,volume_l\na,feed_20_20_20,rain,10\n"
    nothing_writable = read_only(tmp_path, SERVE)
    with running(tmp_path, nothing_writable, PYTHONPATH=str(ROOT)) as service:
        batch = f"{service.address}/v1/doses/batch"
        status, answer = table(f"{batch}.csv", "text/csv", lines)
        assert (status, answer.count(b"\n")) == (200, 2), answer
        beds = book([line.split(",") for line in lines.decode().splitlines()])
        status, answer = table(f"{batch}.xlsx", MEDIA_TYPES["xlsx"], beds)
        assert status == 200, answer
        assert "a" in cells_of(answer)[1]
        assert not [line for line in service.log() if line["level"] in ("warning", "error")]


def raw(address: str, text: bytes) -> socket.socket:
    parts = urlsplit(address)
    connection = socket.create_connection((parts.hostname, parts.port), timeout=20)
    connection.sendall(text)
    return connection


def test_connection_beyond_the_most_is_told_when_to_come_back(tmp_path: Path) -> None:
    request = b"GET /livez HTTP/1.1\r\nHost: velamen\r\n\r\n"
    limits = {"VELAMEN_LIMIT_CONCURRENCY": "1", "VELAMEN_LIMIT_BODIES": "2"}
    with running(tmp_path, **limits) as service:
        most = json.loads(get(f"{service.address}/v1/limits")[1])["open_connections"]
        idle = [raw(service.address, request) for _ in range(most)]
        try:
            for connection in idle:
                assert connection.recv(65_536).startswith(b"HTTP/1.1 200 ")
            with raw(service.address, request) as further:
                received = b""
                while piece := further.recv(65_536):
                    received += piece
        finally:
            for connection in idle:
                connection.close()
        head, _, body = received.partition(b"\r\n\r\n")
        names = dict(line.lower().split(b": ", 1) for line in head.split(b"\r\n")[1:])
        assert head.startswith(b"HTTP/1.1 503 ")
        assert int(names[b"retry-after"]) > 0
        assert names[b"connection"] == b"close"
        assert names[b"x-request-id"]
        assert json.loads(body)["type"] == "/problems/unavailable"
        assert b"server" not in names
        time.sleep(0.2)
        assert get(f"{service.address}/readyz")[0] == 200


def problem_after(address: str, *pieces: bytes) -> tuple[bytes, dict[str, Any]]:
    """Send pieces and return the status line and the problem that comes back."""
    parts = urlsplit(address)
    received = b""
    with socket.create_connection((parts.hostname, parts.port), timeout=20) as connection:
        with contextlib.suppress(ConnectionError):
            for piece in pieces:
                connection.sendall(piece)
        with contextlib.suppress(ConnectionError):
            while piece := connection.recv(65_536):
                received += piece
    head, _, body = received.partition(b"\r\n\r\n")
    return head.split(b"\r\n")[0], json.loads(body)


def test_headers_without_end_and_what_is_no_http_are_refused(tmp_path: Path) -> None:
    with running(tmp_path) as service:
        most = json.loads(get(f"{service.address}/v1/limits")[1])["header_bytes"]
        start = b"GET /livez HTTP/1.1\r\nHost: velamen\r\n"
        for endless in (start + b"X-A: ", start, b"GET /livez?"):
            filling = b"a: b\r\n" * (most // 6) if endless == start else b"a" * most
            status, problem = problem_after(service.address, endless, filling, b"a")
            assert status == b"HTTP/1.1 413 Request Entity Too Large"
            assert problem["type"] == "/problems/too_large"
            assert str(most) in problem["detail"]
        status, problem = problem_after(service.address, b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n")
        assert status == b"HTTP/1.1 400 Bad Request"
        assert problem["type"] == "/problems/unreadable_request"
        large = {"X-A": "a" * (most // 2)}
        for _ in range(3):
            assert answered(f"{service.address}/v1/doses", large, DOSE)[0] == 200


def test_service_that_is_told_to_end_finishes_what_it_works_on(tmp_path: Path) -> None:
    rows = [{**DOSE, "id": str(number), "volume_l": 1 + number / 7} for number in range(30_000)]
    answers: list[tuple[int, dict[str, Any]]] = []
    with running(tmp_path) as service:
        batch = f"{service.address}/v1/doses/batch"
        caller = threading.Thread(
            target=lambda: answers.append(answered(batch, {}, {"rows": rows}))
        )
        caller.start()
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline and caller.is_alive():
            if b"velamen_batches_in_work 1.0" in get(f"{service.address}/metrics")[1]:
                break
        else:
            pytest.fail("the batch was never seen in work")
        service.process.send_signal(signal.SIGTERM)
        caller.join(60)
        ended = service.process.wait(30)
        lines = service.log()
    assert [(status, answer["summary"]["total"]) for status, answer in answers] == [(200, 30_000)]
    assert ended in (0, -signal.SIGTERM)
    assert get(f"{service.address}/livez")[0] == 0
    assert [line["route"] for line in lines if line.get("status") == 200] == ["/v1/doses/batch"]


def test_body_that_never_comes_does_not_hold_up_the_end(tmp_path: Path) -> None:
    head = b"POST /v1/doses HTTP/1.1\r\nHost: velamen\r\nContent-Length: 90\r\n\r\n{"
    with running(tmp_path, VELAMEN_SHUTDOWN_SECONDS="1") as service:
        with raw(service.address, head):
            time.sleep(0.3)
            began = time.monotonic()
            service.process.send_signal(signal.SIGTERM)
            service.process.wait(20)
            assert time.monotonic() - began < 10.0
        assert all(line["level"] for line in service.log())


def test_service_does_not_start_on_a_table_that_was_changed(tmp_path: Path) -> None:
    package = tmp_path / "service"
    shutil.copytree(ROOT / "service", package, ignore=shutil.ignore_patterns("__pycache__"))
    with (package / "reference" / "tables" / "acids.csv").open("a", encoding="utf-8") as table:
        table.write("\n")
    done = subprocess.run(
        [sys.executable, "-m", "service"],
        cwd=tmp_path,
        env={**os.environ, "VELAMEN_PORT": "0", "PYTHONPATH": str(tmp_path)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )
    assert done.returncode == 1
    assert "tables/acids.csv" in done.stderr
    assert "does not start" in done.stderr
