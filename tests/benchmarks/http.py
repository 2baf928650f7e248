"""
Doses over HTTP against a service that only hands the same rows back, both in one run.

Run by hand: ``python -m tests.benchmarks.http [rows …]``. Only ratios mean anything, and of them
only those on cores that nobody else uses: a batch takes all of them, the echo one.
"""

import contextlib
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

import httpx
import psutil

ROWS = 100_000
SIZES = (1_000, 10_000, ROWS, 200_000)
GOAL = 0.6
ECHOED_MOST = ROWS
"""Rows beyond this are not sent to the echo: it needs some 3 kB of memory for each."""

REPEATS = 2
SINGLE_SECONDS = 5.0
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


@contextlib.contextmanager
def served(
    command: list[str], ready: str, **environment: str
) -> Iterator[tuple[httpx.Client, int]]:
    """Run a service on a free port; hand over a client and the process number."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
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
            for _ in range(300):
                with contextlib.suppress(httpx.TransportError):
                    if client.get(ready).status_code == httpx.codes.OK:
                        break
                time.sleep(0.2)
            else:
                raise RuntimeError(f"{command} did not become ready")
            yield client, process.pid
    finally:
        process.terminate()
        process.wait(timeout=30)


def batch_seconds(client: httpx.Client, path: str, body: bytes) -> float:
    """Return the best time of a few equal batches [s]."""
    best = float("inf")
    for _ in range(REPEATS):
        start = time.perf_counter()
        answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
        best = min(best, time.perf_counter() - start)
        answer.raise_for_status()
    return best


def singles_per_second(client: httpx.Client, path: str, bodies: list[bytes]) -> float:
    """Return how many requests one after the other a service answers in a second."""
    start = time.perf_counter()
    count = 0
    while time.perf_counter() - start < SINGLE_SECONDS:
        answer = client.post(
            path, content=bodies[count % len(bodies)], headers={"Content-Type": "application/json"}
        )
        answer.raise_for_status()
        count += 1
    return count / (time.perf_counter() - start)


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

    def percentile(self, share: float) -> float:
        """Return the time below which this share of the requests stayed [s]."""
        ordered = sorted(self.seconds)
        return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


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
    with served(echo_command, "/openapi.json") as (client, process):
        echoed, cost = {}, {}
        for size in sizes:
            if size <= ECHOED_MOST:
                before = cpu_seconds(process)
                echoed[size] = batch_seconds(client, "/batch", texts[size])
                cost[size] = (cpu_seconds(process) - before) / REPEATS
        echo_rate = singles_per_second(client, "/row", bodies)
    own_command = [sys.executable, "-m", "service"]
    with served(own_command, "/readyz", VELAMEN_HOST="127.0.0.1", VELAMEN_PORT="PORT") as (
        client,
        process,
    ):
        idle = megabytes(process)
        client.post("/v1/doses", content=bodies[0], headers={"Content-Type": "application/json"})
        rate = singles_per_second(client, "/v1/doses", bodies)
        print(
            f"one dose: {rate:.0f}/s, echo {echo_rate:.0f}/s, ratio {rate / echo_rate:.2f} (goal 1)"
        )
        for size in sizes:
            before = cpu_seconds(process)
            own = batch_seconds(client, "/v1/doses/batch", texts[size])
            spent = (cpu_seconds(process) - before) / REPEATS
            line = f"{size:7d} rows: {own:.3f} s, {size / own:.0f} rows/s, processor {spent:.2f} s"
            if size in echoed:
                line += f"; echo {echoed[size]:.3f} s, ratio {own / echoed[size]:.2f} (goal {GOAL})"
                line += f", of processor time {spent / max(cost[size], 1e-9):.2f}"
            print(line)
        largest = max(sizes)
        with Beside(str(client.base_url), process, small[:500]) as beside:
            batch_seconds(client, "/v1/doses/batch", texts[largest])
        print(
            f"beside {largest} rows: {len(beside.seconds)} small requests,"
            f" median {1e3 * beside.percentile(0.5):.1f} ms, p99"
            f" {1e3 * beside.percentile(0.99):.1f} ms (goal 50)"
        )
        print(f"memory of all processes: {idle:.0f} MB idle, {beside.most:.0f} MB beside the batch")


if __name__ == "__main__":
    main(tuple(map(int, sys.argv[1:])) or SIZES)
