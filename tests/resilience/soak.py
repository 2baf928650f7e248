"""Many clients for minutes: memory and file descriptors stay, and single doses stay quick."""

import http.client
import json
import random
import statistics
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from tests.resilience.batch_bodies import MEDIA_TYPES, csv_body, json_body, ndjson_body
from tests.resilience.ceilings import Circumstances
from tests.resilience.dose_rows import RowMaker
from tests.resilience.drawn_values import USUAL
from tests.resilience.installation import Installation
from tests.resilience.outcome import Outcome
from tests.resilience.problem_documents import fault_of
from tests.resilience.table_bodies import XLSX, damaged, workbook_body

PART: Final = "soak"
CLIENTS: Final = 16
SETTLING_SECONDS: Final = 60.0
SETTLING_SHARE: Final = 0.4
"""When memory is first read; of a run too short for that, after this share."""

SAMPLE_SECONDS: Final = 0.5
WINDOW_SECONDS: Final = 5.0
GROWTH_ALLOWED: Final = 0.10
GROWTH_ALLOWED_BYTES: Final = 32 * 1024 * 1024
"""Memory that may come on top after the first reading: the allocator keeps what it has touched."""

DESCRIPTORS_ALLOWED: Final = 16
SLOWEST_TO_MEDIAN: Final = 10.0
TIMEOUT_SECONDS: Final = 120.0
SINGLE_SHARE: Final = 0.7
MEBIBYTE: Final = 1024 * 1024
NOBODY_KNOWS: Final = (Circumstances({}, None),)
PRODUCTS: Final = ("feed_13_3_15_ca_mg", "feed_20_20_20", "feed_15_5_15_ca_mg", "potassium_nitrate")


@dataclass(frozen=True)
class Sample:
    """What the process holds at a moment."""

    at: float
    resident_bytes: int
    descriptors: int


def _single(rng: random.Random) -> tuple[str, str, str, bytes]:
    dose = {
        "plants": {"size": rng.choice(("large", "medium", "mini")), "count": rng.randint(1, 40)},
        "air": {
            "humidity_percent": USUAL["air.humidity_percent"](rng),
            "temperature_celsius": USUAL["air.temperature_celsius"](rng),
        },
        "product": rng.choice(PRODUCTS),
        "water": rng.choice(("rain", "soft_tap", "moderate_tap")),
        "volume_l": USUAL["volume_l"](rng),
    }
    return "POST", "/v1/doses", MEDIA_TYPES["json"], json.dumps(dose).encode()


def _json(path: str, body: dict[str, object]) -> tuple[str, str, str, bytes]:
    return "POST", path, MEDIA_TYPES["json"], json.dumps(body).encode()


def _other(rng: random.Random) -> tuple[str, str, str, bytes]:
    """Return a request that is not a single dose: small ones mostly, tables, searches, faults."""
    maker = RowMaker(rng.getrandbits(48), PRODUCTS, NOBODY_KNOWS)
    kind = rng.randrange(14)
    if kind == 0:
        rows = [maker.row(place) for place in range(200)]
        return "POST", "/v1/doses/batch", MEDIA_TYPES["json"], json_body(rows)
    if kind == 1:
        rows = [maker.row(place) for place in range(200)]
        return "POST", "/v1/doses/batch", MEDIA_TYPES["csv"], csv_body(rows)[0]
    if kind == 2:
        rows = [maker.row(place) for place in range(200)]
        return "POST", "/v1/doses/batch", MEDIA_TYPES["ndjson"], ndjson_body(rows, rng)[0]
    if kind == 3 and rng.random() < 0.2:
        rows = [maker.row(place) for place in range(20)]
        body = workbook_body(rows, rng)
        return "POST", "/v1/doses/batch", XLSX, body if rng.random() < 0.7 else damaged(body, rng)
    if kind == 4 and rng.random() < 0.3:
        shelf = ["calcium_nitrate_tetrahydrate", "potassium_nitrate", "monopotassium_phosphate"]
        target = {"nitrogen": rng.randint(60, 140), "potassium": rng.randint(40, 120)}
        body = {"target_mg_per_l": target, "shelf": [{"product": each} for each in shelf]}
        return _json("/v1/recipes", {**body, "water": "rain", "volume_l": 10})
    if kind == 5:
        air = {"humidity_percent": USUAL["air.humidity_percent"](rng), "temperature_celsius": 22}
        return _json("/v1/targets", {"air": air})
    if kind == 6:
        acid = {"kind": rng.choice(("nitric", "phosphoric", "sulfuric")), "percent": 20}
        body = {"water": "hard_tap", "volume_l": 10, "target_ph": 6, "acid": acid}
        return _json("/v1/ph-adjustments", body)
    if kind == 7:
        return _json("/v1/doses", maker.row(0).nested())
    if kind == 8:
        return "POST", "/v1/doses", MEDIA_TYPES["json"], damaged(_single(rng)[3], rng)
    if kind == 9:
        return "GET", f"/v1/readings?ppm={rng.randint(50, 900)}&scale=500", "", b""
    if kind == 10:
        return (
            "GET",
            rng.choice(("/v1/products", "/v1/plants", "/openapi.json", "/docs", "/")),
            "",
            b"",
        )
    if kind == 11:
        return "GET", rng.choice(("/livez", "/readyz", "/metrics", "/version", "/nowhere")), "", b""
    if kind == 12:
        return "GET", "/v1/doses.html?product=feed_20_20_20&volume_l=10&water=rain", "", b""
    return "GET", "/v1/doses.csv?product=feed_13_3_15_ca_mg&volume_l=5&water=rain", "", b""


class Soak:
    """
    Keep clients busy and watch the process.

    Parameters
    ----------
    running : Installation
        The service.
    outcome : Outcome
        Receives what is found.
    seconds : float
        How long.
    """

    def __init__(self, running: Installation, outcome: Outcome, seconds: float) -> None:
        self.running = running
        self.outcome = outcome
        self.seconds = seconds
        self.lock = threading.Lock()
        self.statuses: Counter[int] = Counter()
        self.waits: list[float] = []
        self.ends_at = 0.0

    def work(self, seeded: int) -> None:
        """Be one client until the time is over."""
        parts = urlsplit(self.running.address)
        rng = random.Random(seeded)
        host, port = str(parts.hostname), parts.port

        def opened() -> http.client.HTTPConnection:
            return http.client.HTTPConnection(host, port, timeout=TIMEOUT_SECONDS)

        connection = opened()
        while time.monotonic() < self.ends_at:
            single = rng.random() < SINGLE_SHARE
            request = _single(rng) if single else _other(rng)
            if rng.random() < 0.002:
                # Some leave, in the middle of a request or between two.
                connection.close()
                connection = opened()
            self._once(connection, request, single)
        connection.close()

    def _once(
        self,
        connection: http.client.HTTPConnection,
        request: tuple[str, str, str, bytes],
        single: bool,
    ) -> None:
        method, path, media_type, body = request
        began = time.perf_counter()
        try:
            headers = {"Content-Type": media_type} if media_type else {}
            connection.request(method, path, body or None, headers)
            answer = connection.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException) as lost:
            connection.close()
            with self.lock:
                self.outcome.fault(f"{method} {path}: {lost!r} | {body[:300]!r}")
            return
        took = time.perf_counter() - began
        fault = fault_of(answer.status, answer.headers.get("content-type", ""), content)
        with self.lock:
            self.outcome.count()
            self.statuses[answer.status] += 1
            if single:
                self.waits.append(took)
            if fault is not None:
                self.outcome.fault(f"{method} {path}: {fault} | {body[:600]!r}")

    def watch(self) -> list[Sample]:
        """Read the memory and the file descriptors of the process until the time is over."""
        found = []
        process, began = self.running.process, time.monotonic()
        while (now := time.monotonic()) < self.ends_at:
            resident = process.memory_info().rss
            found.append(Sample(now - began, resident, process.num_fds()))
            time.sleep(SAMPLE_SECONDS)
        return found

    def run(self, seeded: int) -> list[Sample]:
        """Run all clients."""
        self.ends_at = time.monotonic() + self.seconds
        clients = [
            threading.Thread(target=self.work, args=(seeded * 1_000 + number,))
            for number in range(CLIENTS)
        ]
        for client in clients:
            client.start()
        samples = self.watch()
        for client in clients:
            client.join()
        return samples


def _about(samples: list[Sample], at: float, value: Callable[[Sample], int]) -> float:
    """Return the median of what was read about a moment."""
    return statistics.median(value(each) for each in samples if abs(each.at - at) <= WINDOW_SECONDS)


def run(running: Installation, seconds: float, seeded: int) -> Outcome:
    """
    Keep sixteen clients busy with mixed requests.

    Parameters
    ----------
    running : Installation
        The service.
    seconds : float
        How long.
    seeded : int
        Decides the requests.
    """
    outcome = Outcome(PART, "requests")
    soak = Soak(running, outcome, seconds)
    samples = soak.run(seeded)
    early = min(SETTLING_SECONDS, SETTLING_SHARE * seconds)
    late = samples[-1].at
    resident = [_about(samples, at, lambda each: each.resident_bytes) for at in (early, late)]
    descriptors = [_about(samples, at, lambda each: each.descriptors) for at in (early, late)]
    if resident[1] > (1 + GROWTH_ALLOWED) * resident[0] + GROWTH_ALLOWED_BYTES:
        outcome.fault(f"memory grew from {resident[0]:,.0f} to {resident[1]:,.0f} bytes")
    if descriptors[1] > descriptors[0] + DESCRIPTORS_ALLOWED:
        outcome.fault(f"file descriptors grew from {descriptors[0]:g} to {descriptors[1]:g}")
    cuts = statistics.quantiles(soak.waits, n=100)
    median, slowest = cuts[49], cuts[98]
    # A short run is too few requests for a hundredth of them to mean anything.
    if seconds > SETTLING_SECONDS and slowest >= SLOWEST_TO_MEDIAN * median:
        outcome.fault(f"p99 of a single dose is {slowest / median:.1f} times its median")
    outcome.remarks += [
        f"{CLIENTS} clients, {len(soak.waits):,} single doses: median {1000 * median:.1f} ms, p99"
        f" {1000 * slowest:.1f} ms, {slowest / median:.1f} times",
        f"resident {resident[0] / MEBIBYTE:.0f} MiB after {early:.0f} s,"
        f" {resident[1] / MEBIBYTE:.0f} MiB after {late:.0f} s",
        f"file descriptors {descriptors[0]:g} and {descriptors[1]:g}",
        "answers: "
        + ", ".join(f"{count:,} × {status}" for status, count in sorted(soak.statuses.items())),
    ]
    return outcome.finished()
