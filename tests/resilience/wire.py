"""Malformed HTTP over raw connections: refused or closed, and others are served as before."""

import contextlib
import json
import random
import socket
import struct
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Final
from urllib.parse import urlsplit

from tests.resilience.installation import Installation
from tests.resilience.outcome import Outcome
from tests.resilience.problem_documents import fault_of
from tests.resilience.table_bodies import damaged
from tests.resilience.wire_cases import BODY, GET, TEMPLATES, WHOLE, post, sized
from tests.running_service import get, post_json

PART: Final = "malformed HTTP"
SETTINGS: Final = {"VELAMEN_LIMIT_HEADER_SECONDS": "2", "VELAMEN_LIMIT_BODY_SECONDS": "2"}
PATIENCE_SECONDS: Final = 20.0
QUIET_SECONDS: Final = 0.3
"""How long a connection that stays open is listened to after its last answer."""

AT_ONCE: Final = 12
PROBED_AFTER: Final = 60
SLOWLY_SECONDS: Final = 0.002
DESCRIPTOR_SLACK: Final = 8


def _connected(address: str) -> socket.socket:
    parts = urlsplit(address)
    return socket.create_connection((parts.hostname, parts.port), timeout=PATIENCE_SECONDS)


def _received(connection: socket.socket) -> bytes:
    """Return what comes until the connection ends, or is silent after an answer."""
    received = b""
    try:
        while True:
            # "100 Continue" is no answer yet.
            connection.settimeout(QUIET_SECONDS if answers_in(received) else PATIENCE_SECONDS)
            piece = connection.recv(65_536)
            if not piece:
                return received
            received += piece
    except TimeoutError:
        return received if received else b"SILENT"
    except OSError:
        # Closed while we were still sending: a refusal too.
        return received


def answers_in(received: bytes) -> list[tuple[int, str, bytes]]:
    """Return status, content type and body of each answer in what was received."""
    found = []
    while received.startswith(b"HTTP/1."):
        head, _, rest = received.partition(b"\r\n\r\n")
        lines = head.split(b"\r\n")
        status = int(lines[0].split()[1])
        headers = {
            name.strip().lower(): value.strip()
            for name, _, value in (line.partition(b":") for line in lines[1:])
        }
        if status < 200:
            received = rest
            continue
        length = int(headers.get(b"content-length", b"0"))
        body, received = rest[:length], rest[length:]
        if headers.get(b"transfer-encoding") == b"chunked":
            body, received = rest, b""
        found.append((status, headers.get(b"content-type", b"").decode("latin-1"), body))
    return found


class Wire:
    """
    Send bytes and judge what comes back.

    Parameters
    ----------
    running : Installation
        The service, with short bounds on time.
    outcome : Outcome
        Receives what is found.
    """

    def __init__(self, running: Installation, outcome: Outcome) -> None:
        self.address = running.address
        self.outcome = outcome
        self.statuses: Counter[str] = Counter()

    def exchange(self, name: str, sent: bytes, headless: bool = False) -> None:
        """Send bytes at once, half-close, and judge the answers."""
        with _connected(self.address) as connection:
            with contextlib.suppress(OSError):
                # Refused before all is sent, it has still said something that can be read.
                connection.sendall(sent)
            received = _received(connection)
        self.judge(name, sent, received, headless)

    def judge(self, name: str, sent: bytes, received: bytes, headless: bool = False) -> None:
        """Note what must not be answered."""
        self.outcome.count()
        if received == b"SILENT":
            self.outcome.fault(f"{name}: no answer for {PATIENCE_SECONDS:g} s | {sent[:400]!r}")
            return
        answers = answers_in(received)
        if not answers:
            self.statuses["closed"] += 1
        if received and not answers:
            self.outcome.fault(f"{name}: {received[:200]!r} | {sent[:400]!r}")
        for status, media_type, body in answers:
            self.statuses[str(status)] += 1
            if headless or not body:
                fault = str(status) if status >= 500 else None
            else:
                fault = fault_of(status, media_type, body)
            if fault is not None:
                self.outcome.fault(f"{name}: {fault} | {sent[:400]!r}")

    def probe(self, after: str) -> None:
        """Note if others are not served."""
        if get(f"{self.address}/livez")[0] != 200:
            self.outcome.fault(f"/livez does not answer after {after}")
        status, answer = post_json(f"{self.address}/v1/doses", json.loads(BODY))
        if (status, answer.get("status")) != (200, "ok"):
            self.outcome.fault(f"a dose is answered {status} after {after}")

    def piecemeal(self, sent: bytes, size: int) -> None:
        """Send a right request in small pieces."""
        with _connected(self.address) as connection:
            for place in range(0, len(sent), size):
                connection.sendall(sent[place : place + size])
                time.sleep(SLOWLY_SECONDS)
            received = _received(connection)
        self.judge(f"{size} bytes at a time", sent, received)
        if [status for status, _, _ in answers_in(received)] != [200]:
            self.outcome.fault(f"{size} bytes at a time: {received[:200]!r}")

    def left(self, sent: bytes, abruptly: bool, wait: float) -> None:
        """Send something and leave, with or without a farewell."""
        with _connected(self.address) as connection:
            connection.sendall(sent)
            time.sleep(wait)
            if abruptly:
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.outcome.count()
        self.statuses["left"] += 1

    def half_closed(self, sent: bytes) -> None:
        """Send something, say that no more comes, and listen."""
        with _connected(self.address) as connection:
            connection.sendall(sent)
            connection.shutdown(socket.SHUT_WR)
            received = _received(connection)
        self.judge("half-closed", sent, received)


def _large_batch() -> bytes:
    rows = b",".join([BODY] * 3_000)
    return sized(b'{"rows":[' + rows + b"]}", path=b"/v1/doses/batch")


def _deliveries(wire: Wire) -> list[Callable[[], None]]:
    """Ways to send that are more than bytes at once."""
    batch = _large_batch()
    stopping = [
        b"",
        b"G",
        b"GET /livez HTTP/1.1\r\nHost: vel",
        post(BODY[:20], b"Content-Length: %d" % len(BODY)),
        post(b"5\r\nhel", b"Transfer-Encoding: chunked"),
        batch[: len(batch) // 2],
    ]
    found: list[Callable[[], None]] = [
        lambda: wire.piecemeal(GET, 1),
        lambda: wire.piecemeal(sized(), 1),
        lambda: wire.piecemeal(sized(), 7),
    ]
    for sent in (*stopping, sized(), batch):
        found += [
            lambda sent=sent: wire.left(sent, abruptly=True, wait=0.0),
            lambda sent=sent: wire.left(sent, abruptly=True, wait=0.05),
            lambda sent=sent: wire.left(sent, abruptly=False, wait=0.0),
            lambda sent=sent: wire.half_closed(sent),
        ]
    found += [lambda sent=sent: wire.exchange("stopped", sent) for sent in stopping[1:]]
    return found


def _together(wire: Wire, deeds: Sequence[Callable[[], None]]) -> None:
    """Do things side by side, and see to it that others are served meanwhile."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for start in range(0, len(deeds), PROBED_AFTER):
            some = deeds[start : start + PROBED_AFTER]
            done = [pool.submit(deed) for deed in some]
            wire.probe(f"{start} to {start + len(some)} begin")
            for each in done:
                each.result()
            wire.probe(f"{start} to {start + len(some)}")


def run(running: Installation, requests: int, seeded: int) -> Outcome:
    """
    Send every malformed request that is known, and then damaged ones.

    Parameters
    ----------
    running : Installation
        The service, started with `SETTINGS`.
    requests : int
        Damaged requests.
    seeded : int
        Decides how they are damaged.
    """
    outcome = Outcome(PART, "connections")
    wire = Wire(running, outcome)
    wire.probe("nothing")
    before = running.process.num_fds()
    by_hand = [
        lambda name=name, sent=sent: wire.exchange(name, sent, headless=name == "HEAD")
        for name, sent in WHOLE.items()
    ]
    _together(wire, by_hand)
    _together(wire, _deliveries(wire))
    rng = random.Random(seeded)
    spoilt = [damaged(rng.choice(TEMPLATES), rng) for _ in range(requests)]
    _together(wire, [lambda sent=sent: wire.exchange("damaged", sent) for sent in spoilt])
    time.sleep(float(SETTINGS["VELAMEN_LIMIT_BODY_SECONDS"]) + 1.0)
    wire.probe("everything")
    after = running.process.num_fds()
    if after > before + DESCRIPTOR_SLACK:
        outcome.fault(f"{before} file descriptors before, {after} after")
    outcome.remarks += [
        f"{len(WHOLE)} kinds by hand",
        "answers: "
        + ", ".join(f"{count:,} × {name}" for name, count in sorted(wire.statuses.items())),
        f"{before} file descriptors before, {after} after",
    ]
    return outcome.finished()
