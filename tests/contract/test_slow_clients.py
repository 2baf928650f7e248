"""Clients that send slowly, or not at all, keep nobody else from being served."""

import json
import os
import select
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.running_service import get, post_json, running_service

ROOT = Path(__file__).resolve().parents[2]
DOSE = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}
BODY = json.dumps(DOSE).encode()
SLOW = 300
PATIENCE_SECONDS = 30.0


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    environment = {
        **os.environ,
        "VELAMEN_HOST": "127.0.0.1",
        "VELAMEN_PORT": "0",
        "VELAMEN_LIMIT_BODY_SECONDS": "8",
        "VELAMEN_LIMIT_HEADER_SECONDS": "2",
    }
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as address:
        # Whatever is still to be compiled is compiled now, not while others wait.
        assert post_json(f"{address}/v1/doses", DOSE)[0] == 200
        assert post_json(f"{address}/v1/doses/batch", {"rows": [DOSE]})[0] == 200
        yield address


def opened(address: str, text: bytes) -> socket.socket:
    parts = urlsplit(address)
    connection = socket.create_connection((parts.hostname, parts.port), timeout=PATIENCE_SECONDS)
    connection.sendall(text)
    return connection


def until_closed(connection: socket.socket) -> bytes:
    received = b""
    with connection:
        while piece := connection.recv(65_536):
            received += piece
    return received


def until_alive(connection: socket.socket) -> bytes:
    """Return one answer of `/livez`; its head and its body may come apart."""
    received = b""
    while not received.endswith(b'{"status":"alive"}'):
        piece = connection.recv(65_536)
        assert piece, received
        received += piece
    return received


def half_sent(path: str) -> bytes:
    head = f"POST {path} HTTP/1.1\r\nHost: velamen\r\nContent-Type: application/json\r\n"
    return f"{head}Content-Length: {len(BODY)}\r\n\r\n".encode() + BODY[: len(BODY) // 2]


@pytest.mark.parametrize("path", ["/v1/doses", "/v1/doses/batch"])
def test_normal_request_passes_while_hundreds_of_half_sent_bodies_hang(
    address: str, path: str
) -> None:
    slow = [opened(address, half_sent(path)) for _ in range(SLOW)]
    try:
        status, answer = post_json(f"{address}/v1/doses", DOSE)
        assert (status, answer["status"]) == (200, "ok")
        assert post_json(f"{address}/v1/doses/batch", {"rows": [DOSE]})[0] == 200
        assert get(f"{address}/readyz")[0] == 200
        assert select.select(slow, [], [], 0.0)[0] == [], "before the slow ones were given up"
        for connection in slow:
            head, _, body = until_closed(connection).partition(b"\r\n\r\n")
            assert head.startswith(b"HTTP/1.1 408 ")
            assert b"application/problem+json" in head
            assert json.loads(body)["type"] == "/problems/request_timeout"
    finally:
        for connection in slow:
            connection.close()
    assert get(f"{address}/readyz")[0] == 200


def test_headers_that_do_not_arrive_are_answered_and_the_connection_closed(address: str) -> None:
    slow = [opened(address, b"GET /livez HTTP/1.1\r\nHost: vel") for _ in range(SLOW)]
    mute = opened(address, b"")
    assert get(f"{address}/readyz")[0] == 200
    for connection in slow:
        head, _, body = until_closed(connection).partition(b"\r\n\r\n")
        assert head.startswith(b"HTTP/1.1 408 ")
        assert json.loads(body)["status"] == 408
    assert until_closed(mute) == b""


def test_connection_that_is_used_again_has_its_time_for_headers_again(address: str) -> None:
    request = b"GET /livez HTTP/1.1\r\nHost: velamen\r\n\r\n"
    connection = opened(address, request)
    first = until_alive(connection)
    connection.sendall(request[:20])
    time.sleep(0.5)
    connection.sendall(request[20:])
    second = until_alive(connection)
    connection.sendall(request[:20])
    last = until_closed(connection)
    assert first.startswith(b"HTTP/1.1 200 ")
    assert second.startswith(b"HTTP/1.1 200 ")
    assert last.startswith(b"HTTP/1.1 408 ")


def test_limits_on_time_are_published(address: str) -> None:
    limits = json.loads(get(f"{address}/v1/limits")[1])
    assert (limits["body_seconds"], limits["header_seconds"]) == (8.0, 2.0)
    assert limits["batches"] >= 1
    assert limits["batches_waiting"] >= 0
    assert limits["request_seconds"] > 0
    assert limits["batch_seconds"] >= limits["request_seconds"]
