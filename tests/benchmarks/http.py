"""
Doses over HTTP against a service that only hands the same rows back, both in one run.

Run by hand: ``python -m tests.benchmarks.http [rows]``. Only the ratios mean anything.
"""

import contextlib
import json
import os
import pathlib
import random
import socket
import subprocess
import sys
import time
from collections.abc import Iterator

import httpx

ROWS = 100_000
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


def peak_megabytes(process: int) -> float:
    """Return the largest resident memory that a process has had [MB]."""
    status = pathlib.Path(f"/proc/{process}/status").read_text(encoding="ascii")
    return next(
        int(line.split()[1]) / 1e3 for line in status.splitlines() if line.startswith("VmHWM")
    )


def main(count: int = ROWS) -> None:
    """Print both times and their ratio."""
    rng = random.Random(1)
    doses = [dose(number, rng) for number in range(count)]
    body = json.dumps({"rows": doses}).encode()
    bodies = [json.dumps(each).encode() for each in doses[:500]]
    echo_command = [sys.executable, "-m", "uvicorn", "tests.benchmarks.echo:app", "--port", "PORT"]
    with served(echo_command, "/openapi.json") as (client, _):
        echo = batch_seconds(client, "/batch", body)
        echo_rate = singles_per_second(client, "/row", bodies)
    own_command = [sys.executable, "-m", "service"]
    with served(own_command, "/readyz", VELAMEN_HOST="127.0.0.1", VELAMEN_PORT="PORT") as (
        client,
        process,
    ):
        idle = peak_megabytes(process)
        rate = singles_per_second(client, "/v1/doses", bodies)
        own = batch_seconds(client, "/v1/doses/batch", body)
        peak = peak_megabytes(process)
    print(f"{count} rows: {own:.2f} s, echo {echo:.2f} s, ratio {own / echo:.2f} (goal 0.60)")
    print(f"one dose: {rate:.0f}/s, echo {echo_rate:.0f}/s, ratio {rate / echo_rate:.2f} (goal 1)")
    print(f"resident memory: {idle:.0f} MB before, at most {peak:.0f} MB during the batch")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROWS)
