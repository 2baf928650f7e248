"""
Doses over HTTP against a service that only hands the same rows back, both in one run.

Run by hand: ``python -m tests.benchmarks.http [rows …]``. Only ratios mean anything, and of them
only those on cores that nobody else uses: a batch takes all of them, the echo one.
"""

import contextlib
import csv
import io
import json
import os
import pathlib
import random
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass

import httpx
import psutil

from tests.benchmarks.lean_client import rate, times_of_many

ROWS = 100_000
SIZES = (1_000, 10_000, ROWS, 200_000)
GOAL = 0.6
ECHOED_MOST = ROWS
"""Rows beyond this are not sent to the echo: it needs some 3 kB of memory for each."""

REPEATS = 3
FEW_ROWS = 10_000
REPEATS_OF_FEW = 10
ROUNDS = 6
SINGLE_SECONDS = 4.0
CLIENTS = 16
MEDIA_TYPES = {
    "json": "application/json",
    "ndjson": "application/x-ndjson",
    "csv": "text/csv",
}
ROOT = pathlib.Path(__file__).parents[2]


def dose(number: int, rng: random.Random) -> dict:
    """Return a dose unlike every other: plants, air, water and volume are drawn."""
    return {
        "id": f"r{number}",
        "plants": {
            "profile": "moth_orchid",
            "size": rng.choice(["large", "medium", "mini"]),
            "setup": "wet_dry_pot",
            "growth": "active",
            "count": rng.randint(1, 40),
        },
        "air": {
            "humidity_percent": round(rng.uniform(40, 85), 2),
            "temperature_celsius": round(rng.uniform(18, 28), 2),
        },
        "product": "feed_13_3_15_ca_mg",
        "water": {
            "ph": round(rng.uniform(6.8, 7.8), 2),
            "alkalinity_mg_per_l_caco3": round(rng.uniform(30, 120), 1),
            "calcium_mg_per_l": round(rng.uniform(20, 60), 1),
            "magnesium_mg_per_l": round(rng.uniform(2, 10), 1),
            "sodium_mg_per_l": round(rng.uniform(2, 20), 1),
            "chloride_mg_per_l": round(rng.uniform(5, 30), 1),
            "sulfate_mg_per_l": round(rng.uniform(5, 30), 1),
        },
        "volume_l": round(rng.uniform(5, 30), 1),
    }


@dataclass(frozen=True)
class Served:
    """A service that runs: a client, its port, its process and how long it took to be ready."""

    client: httpx.Client
    port: int
    process: int
    ready_seconds: float


@contextlib.contextmanager
def served(command: list[str], ready: str, **environment: str) -> Iterator[Served]:
    """Run a service on a free port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    began = time.perf_counter()
    process = subprocess.Popen(
        [each.replace("PORT", port) for each in command],
        cwd=ROOT,
        env={
            **os.environ,
            **{key: value.replace("PORT", port) for key, value in environment.items()},
        },
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=600.0) as client:
            for _ in range(2_400):
                with contextlib.suppress(httpx.TransportError):
                    if client.get(ready).status_code == httpx.codes.OK:
                        break
                time.sleep(0.025)
            else:
                raise RuntimeError(f"{command} did not become ready")
            yield Served(client, int(port), process.pid, time.perf_counter() - began)
    finally:
        process.terminate()
        process.wait(timeout=30)


def batch_seconds(
    client: httpx.Client, path: str, body: bytes, media_type: str = "application/json"
) -> float:
    """Return the time of a batch, its answer received [s]."""
    start = time.perf_counter()
    answer = client.post(path, content=body, headers={"Content-Type": media_type})
    seconds = time.perf_counter() - start
    answer.raise_for_status()
    return seconds


def cpu_seconds(process: int) -> float:
    """Return the processor time that a process and its children have taken [s]."""
    parent = psutil.Process(process)
    family = [parent, *parent.children(recursive=True)]
    return sum(sum(each.cpu_times()[:2]) for each in family)


def megabytes(process: int) -> float:
    """Return the resident memory of a process and its children [MB]."""
    parent = psutil.Process(process)
    return sum(each.memory_info().rss for each in (parent, *parent.children(recursive=True))) / 1e6


class Beside:
    """Small requests and a look at the memory, again and again while a batch is computed."""

    def __init__(self, base: str, process: int, bodies: list[bytes]) -> None:
        self.base, self.process, self.bodies = base, process, bodies
        self.seconds: list[float] = []
        self.most = 0.0
        self.ended = threading.Event()
        self.threads = [threading.Thread(target=self._ask), threading.Thread(target=self._watch)]

    def __enter__(self) -> "Beside":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.ended.set()
        for thread in self.threads:
            thread.join()

    def _ask(self) -> None:
        headers = {"Content-Type": "application/json"}
        with httpx.Client(base_url=self.base, timeout=600.0) as client:
            while not self.ended.is_set():
                body = self.bodies[len(self.seconds) % len(self.bodies)]
                start = time.perf_counter()
                client.post("/v1/targets", content=body, headers=headers).raise_for_status()
                self.seconds.append(time.perf_counter() - start)
                time.sleep(0.005)

    def _watch(self) -> None:
        while not self.ended.is_set():
            self.most = max(self.most, megabytes(self.process))
            time.sleep(0.02)


def percentile(ordered: list[float], share: float) -> float:
    """Return the time below which this share of the requests stayed [s]."""
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def report_singles(own: Served, echo: Served, bodies: list[bytes]) -> None:
    """Print the rates of single doses and echoes in turns, and the times of many clients."""
    pairs = []
    for _ in range(ROUNDS):
        echoed = rate(echo.port, "/row", bodies)
        pairs.append((rate(own.port, "/v1/doses", bodies), echoed))
    mine, theirs = (max(each) for each in zip(*pairs, strict=True))
    before, count = (
        cpu_seconds(own.process),
        SINGLE_SECONDS * rate(own.port, "/v1/doses", bodies, SINGLE_SECONDS),
    )
    spent = (cpu_seconds(own.process) - before) / count
    before, count = (
        cpu_seconds(echo.process),
        SINGLE_SECONDS * rate(echo.port, "/row", bodies, SINGLE_SECONDS),
    )
    echo_spent = (cpu_seconds(echo.process) - before) / count
    print(
        f"one dose: {mine:.0f}/s, echo {theirs:.0f}/s, ratio {mine / theirs:.2f} (goal 1);"
        f" processor {1e6 * spent:.0f} us, echo {1e6 * echo_spent:.0f} us"
    )
    for name, port, path in (("one dose", own.port, "/v1/doses"), ("echo", echo.port, "/row")):
        times = times_of_many(port, path, bodies, CLIENTS, SINGLE_SECONDS)
        median, late = percentile(times, 0.5), percentile(times, 0.99)
        print(
            f"{name}, {CLIENTS} clients: median {1e3 * median:.1f} ms, p99 {1e3 * late:.1f} ms,"
            f" {late / median:.1f} times the median (goal 10)"
        )


def report_batches(own: Served, echo: Served, texts: dict[int, bytes]) -> None:
    """Print the times of batches and of their echo in turns."""
    for size, text in texts.items():
        mine, theirs, spent, echo_spent = [], [], [], []
        for _ in range(REPEATS if size > FEW_ROWS else REPEATS_OF_FEW):
            if size <= ECHOED_MOST:
                before = cpu_seconds(echo.process)
                theirs.append(batch_seconds(echo.client, "/batch", text))
                echo_spent.append(cpu_seconds(echo.process) - before)
            before = cpu_seconds(own.process)
            mine.append(batch_seconds(own.client, "/v1/doses/batch", text))
            spent.append(cpu_seconds(own.process) - before)
        best = min(mine)
        line = f"{size:7d} rows: {best:.3f} s, {1e6 * best / size:.1f} us a row, processor"
        line += f" {1e6 * min(spent) / size:.1f} us a row"
        if theirs:
            line += f"; echo {min(theirs):.3f} s, ratio {best / min(theirs):.2f} (goal {GOAL}),"
            line += f" of processor time {min(spent) / max(min(echo_spent), 1e-9):.2f}"
        print(line)


def report_tables(own: Served, doses: list[dict]) -> None:
    """Print what other formats take against JSON."""
    bodies = {
        "json": json.dumps({"rows": doses}).encode(),
        "ndjson": b"\n".join(json.dumps(each).encode() for each in doses),
        "csv": as_csv(doses),
    }
    taken: dict[str, float] = {}
    for _ in range(REPEATS):
        for name, body in bodies.items():
            seconds = batch_seconds(own.client, "/v1/doses/batch", body, MEDIA_TYPES[name])
            taken[name] = min(seconds, taken.get(name, seconds))
    for name in ("ndjson", "csv"):
        ratio = taken[name] / taken["json"]
        print(f"{len(doses)} rows as {name}: {taken[name]:.2f} s, {ratio:.1f} times JSON (goal 2)")


def as_csv(doses: list[dict]) -> bytes:
    """Return doses as a table with dotted headings."""
    rows = [
        {
            f"{name}.{inner}" if isinstance(value, dict) else name: each
            for name, value in dose.items()
            for inner, each in (value.items() if isinstance(value, dict) else [("", value)])
        }
        for dose in doses
    ]
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    return text.getvalue().encode()


def main(sizes: tuple[int, ...] = SIZES) -> None:
    """Print times, rates and ratios."""
    rng = random.Random(1)
    doses = [dose(number, rng) for number in range(max(sizes))]
    texts = {size: json.dumps({"rows": doses[:size]}).encode() for size in sizes}
    bodies = [json.dumps(each).encode() for each in doses[:500]]
    small = [
        json.dumps({name: each[name] for name in ("plants", "air")}).encode() for each in doses
    ]
    echo_command = [sys.executable, "-m", "uvicorn", "tests.benchmarks.echo:app", "--port", "PORT"]
    own_command = [os.environ.get("OWN", sys.executable), "-m", "service"]
    place = {"VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "PORT"}
    with served(own_command, "/readyz", **place):
        # The first start may read files from a disk.
        pass
    with (
        served(echo_command, "/openapi.json") as echo,
        served(own_command, "/readyz", **place) as own,
    ):
        print(f"start: ready after {own.ready_seconds:.1f} s (goal 2)")
        idle = megabytes(own.process)
        report_singles(own, echo, bodies)
        report_batches(own, echo, texts)
        largest = max(sizes)
        with Beside(str(own.client.base_url), own.process, small[:500]) as beside:
            batch_seconds(own.client, "/v1/doses/batch", texts[largest])
        times = sorted(beside.seconds)
        print(
            f"beside {largest} rows: {len(times)} small requests,"
            f" median {1e3 * percentile(times, 0.5):.1f} ms, p99"
            f" {1e3 * percentile(times, 0.99):.1f} ms (goal 50)"
        )
        print(
            f"memory of all processes: {idle:.0f} MB idle (goal 250), {beside.most:.0f} MB beside"
            " the batch (goal 1200)"
        )
        report_tables(own, doses[: min(ROWS, largest)])


if __name__ == "__main__":
    main(tuple(map(int, sys.argv[1:])) or SIZES)
