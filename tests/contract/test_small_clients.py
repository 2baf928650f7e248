"""The limits of small clients: all values as text, 1 kB of answer, 4.5 seconds, one connection."""

import json
import os
import re
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest

from tests.running_service import running_service

ROOT = Path(__file__).resolve().parents[2]
BODY = ROOT / "examples/microcontroller/request.json"
ANSWER_BYTES = 1024
ANSWER_SECONDS = 4.5
FIELDS = "product_mass_g,acid_volume_ml,predicted_ec_ms_per_cm,predicted_ph,binding_limit"


def as_numbers(value: Any) -> Any:
    """Return a body with its numeric texts as numbers."""
    if isinstance(value, dict):
        return {name: as_numbers(inner) for name, inner in value.items()}
    return float(value) if re.fullmatch(r"\d+(\.\d+)?", value) else value


def leaves(value: Any) -> list[Any]:
    return (
        [leaf for inner in value.values() for leaf in leaves(inner)]
        if isinstance(value, dict)
        else [value]
    )


@pytest.fixture(scope="module")
def body() -> dict[str, Any]:
    read = json.loads(BODY.read_text(encoding="utf-8"))
    assert all(isinstance(leaf, str) for leaf in leaves(read)), "a small board sends texts alone"
    return dict(read)


@pytest.mark.anyio
async def test_texts_are_answered_as_the_numbers_they_are(
    client: httpx.AsyncClient, body: dict[str, Any]
) -> None:
    texts = await client.post("/v1/doses", json=body)
    numbers = await client.post("/v1/doses", json=as_numbers(body))
    assert texts.status_code == 200
    assert texts.json() == numbers.json()


@pytest.mark.anyio
@pytest.mark.parametrize("silence", ["unavailable", "unknown", "nan", "", "null", "-"])
async def test_a_silent_sensor_is_refused_by_name(
    client: httpx.AsyncClient, body: dict[str, Any], silence: str
) -> None:
    answer = await client.post(
        "/v1/doses", json={**body, "air": {**body["air"], "humidity_percent": silence}}
    )
    assert answer.status_code == 422
    places = [fault["pointer"] for fault in answer.json()["errors"]]
    assert places == ["#/air/humidity_percent"]
    assert len(answer.content) <= ANSWER_BYTES


@pytest.mark.anyio
@pytest.mark.parametrize("water", ["soft_tap", "softened_tap"])
async def test_every_wanted_field_stands_in_an_answer_under_a_kilobyte(
    client: httpx.AsyncClient, body: dict[str, Any], water: str
) -> None:
    answer = await client.post(
        "/v1/doses", params={"fields": FIELDS}, json={**body, "water": water}
    )
    assert answer.status_code == 200
    assert len(answer.content) <= ANSWER_BYTES
    assert set(answer.json()) == {"status", *FIELDS.split(",")}
    assert (answer.json()["product_mass_g"] is None) == (answer.json()["status"] != "ok")


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0"}
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as found:
        yield found


def test_a_bare_socket_has_its_answer_in_one_kilobyte_and_in_time(
    address: str, body: dict[str, Any]
) -> None:
    sent = json.dumps(body).encode()
    place = urlsplit(address)
    request = (
        f"POST /v1/doses?fields={FIELDS} HTTP/1.0\r\nHost: {place.netloc}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(sent)}\r\n\r\n"
    ).encode() + sent
    started = time.monotonic()
    with socket.create_connection((str(place.hostname), int(place.port or 0)), 4.5) as opened:
        opened.sendall(request)
        received = b"".join(iter(lambda: opened.recv(4096), b""))
    assert time.monotonic() - started < ANSWER_SECONDS
    head, _, answered = received.partition(b"\r\n\r\n")
    assert head.split(b" ", 2)[1] == b"200"
    assert b"transfer-encoding" not in head.lower(), "a small board cannot join chunks"
    assert f"content-length: {len(answered)}".encode() in head.lower()
    assert len(answered) <= ANSWER_BYTES
    assert json.loads(answered)["status"] == "ok"
