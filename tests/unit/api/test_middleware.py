"""What surrounds a request, where no client is left to look at it."""

import logging

import anyio
import pytest
from starlette.requests import ClientDisconnect
from starlette.types import Message, Receive, Scope, Send

from service.api.middleware import Envelope


def test_a_caller_who_leaves_is_noted_and_no_fault(caplog: pytest.LogCaptureFixture) -> None:
    async def left(scope: Scope, receive: Receive, send: Send) -> None:
        raise ClientDisconnect

    sent: list[Message] = []

    async def ask() -> None:
        async def receive() -> Message:
            return {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            sent.append(message)

        await Envelope(left, "1", "2")({"type": "http", "headers": []}, receive, send)

    with caplog.at_level(logging.INFO, "service"):
        anyio.run(ask)
    assert sent == []
    assert [(each.levelname, each.message) for each in caplog.records] == [("INFO", "caller left")]
