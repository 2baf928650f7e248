"""Answers in pieces let go of what they are read from, whoever takes them."""

import asyncio
from collections.abc import Iterator

import pytest

from service.api.batch_answers import streamed

SCOPE = {"type": "http", "asgi": {"spec_version": "2.3"}, "method": "POST", "path": "/"}


def pieces() -> Iterator[bytes]:
    yield b"a"
    yield b"b"


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.mark.anyio
@pytest.mark.parametrize("taken", [0, 1, 2])
async def test_answer_whose_caller_leaves_lets_go_of_its_file(taken: int) -> None:
    closed: list[bool] = []
    response = streamed(pieces(), "csv", lambda: closed.append(True))
    left = asyncio.Event()
    sent = 0

    async def receive() -> dict[str, str]:
        await left.wait()
        return {"type": "http.disconnect"}

    async def send(message: dict[str, object]) -> None:
        nonlocal sent
        if sent == taken:
            left.set()
            await asyncio.sleep(60)
        sent += 1

    await response(SCOPE, receive, send)  # type: ignore[arg-type]
    assert closed == [True]


@pytest.mark.anyio
async def test_answer_that_is_taken_whole_lets_go_of_its_file() -> None:
    closed: list[bool] = []
    response = streamed(pieces(), "csv", lambda: closed.append(True))
    body = []

    async def receive() -> dict[str, str]:
        await asyncio.sleep(60)
        return {"type": "http.disconnect"}

    async def send(message: dict[str, object]) -> None:
        body.append(message.get("body", b""))

    await response(SCOPE, receive, send)  # type: ignore[arg-type]
    assert b"".join(body) == b"ab"  # type: ignore[arg-type]
    assert closed == [True]


def test_answer_that_cannot_begin_lets_go_of_its_file() -> None:
    closed: list[bool] = []

    def broken() -> Iterator[bytes]:
        raise OSError
        yield b""

    with pytest.raises(OSError):  # noqa: PT011
        streamed(broken(), "csv", lambda: closed.append(True))
    assert closed == [True]
