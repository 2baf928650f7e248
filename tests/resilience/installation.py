"""The service that a part works on: started as its users do, and asked what it knows."""

import functools
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import httpx
import psutil

from tests.running_service import running_service

ROOT: Final = Path(__file__).resolve().parents[2]
PATIENCE_SECONDS: Final = 180.0
WARM: Final = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}


@dataclass(frozen=True)
class Installation:
    """A running service."""

    address: str
    process: psutil.Process

    def client(self) -> httpx.Client:
        """Return a client that waits for the largest batches."""
        return httpx.Client(base_url=self.address, timeout=PATIENCE_SECONDS)

    def listed(self, name: str) -> list[dict[str, Any]]:
        """Return one catalogue: `products`, `plants`, `waters` or `acids`."""
        with self.client() as client:
            answer = client.get(f"/v1/{name}")
            answer.raise_for_status()
            entries: list[dict[str, Any]] = answer.json()[name]
            return entries


@functools.cache
def prepare() -> None:
    """Compile the kernels ahead of the first request, as an installation does."""
    command = [sys.executable, "-m", "service", "prepare"]
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)


@contextmanager
def installation(**settings: str) -> Iterator[Installation]:
    """Run the service, with further variables of the environment, and warm it up."""
    prepare()
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0", **settings}
    before = {each.pid for each in psutil.Process().children()}
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as address:
        (process,) = (each for each in psutil.Process().children() if each.pid not in before)
        running = Installation(address, process)
        with running.client() as client:
            client.post("/v1/doses", json=WARM).raise_for_status()
            client.post("/v1/doses/batch", json={"rows": [WARM]}).raise_for_status()
        yield running
