"""What the contract tests share: the application in process, and a client for it."""

from collections.abc import AsyncIterator

import httpx
import pytest
from fastapi import FastAPI

from service.settings import Settings
from tests.contract.probe import probe_app


@pytest.fixture(scope="session")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="session")
def app() -> FastAPI:
    return probe_app(Settings(limit_body_seconds=0.2))


@pytest.fixture
async def client(app: FastAPI) -> AsyncIterator[httpx.AsyncClient]:
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as opened:
        yield opened
