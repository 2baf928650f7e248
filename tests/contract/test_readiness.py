"""Ready means ready: nothing is compiled for the first callers, and a known dose is known."""

import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from service.api.readiness import Readiness
from service.main import create_app
from service.settings import Settings

ROOT = Path(__file__).resolve().parents[2]


def first_requests() -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.contract.first_requests"],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_no_kernel_is_compiled_or_loaded_for_the_first_requests_of_every_kind() -> None:
    said = first_requests()
    assert said["ready"] == 200
    assert said["refused"] == []
    assert said["added"] == {}
    assert said["asked"] > 40
    assert sum(said["kernels"].values()) > 50


def client_of(app: FastAPI) -> httpx.AsyncClient:
    return httpx.AsyncClient(transport=httpx.ASGITransport(app=app), base_url="http://velamen.test")


@pytest.mark.anyio
async def test_while_kernels_are_prepared_the_service_lives_and_is_not_ready() -> None:
    app, go_on = create_app(Settings()), threading.Event()
    app.state.readiness = Readiness(prepare=lambda: go_on.wait(30))
    async with client_of(app) as client, app.router.lifespan_context(app):
        early = await client.get("/readyz")
        assert early.status_code == 503
        assert early.headers["retry-after"] == "1"
        assert early.json()["type"] == "/problems/unavailable"
        assert (await client.get("/livez")).status_code == 200
        go_on.set()
        app.state.readiness.begin().result(30)
        assert (await client.get("/readyz")).status_code == 200


@pytest.mark.anyio
async def test_service_that_cannot_be_prepared_never_gets_ready(
    caplog: pytest.LogCaptureFixture,
) -> None:
    def fail() -> None:
        raise RuntimeError("the known dose does not come out as known")

    app = create_app(Settings())
    app.state.readiness = Readiness(prepare=fail)
    async with client_of(app) as client:
        for _ in range(2):
            answer = await client.get("/readyz")
            assert answer.status_code == 503
            assert "own check" in answer.json()["detail"]
    assert "could not be prepared" in caplog.text


@pytest.mark.anyio
async def test_known_dose_is_computed_each_time_that_it_is_asked_for() -> None:
    results = [True, False, True]
    app = create_app(Settings())
    app.state.readiness = Readiness(prepare=lambda: None, check=lambda: results.pop(0))
    async with client_of(app) as client:
        assert [(await client.get("/readyz")).status_code for _ in range(3)] == [200, 503, 200]
