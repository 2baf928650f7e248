"""
Connections: how many, how long for the headers, and for an answer to be taken.

The server bounds neither time. A connection that has not sent its headers in time is answered 408
and closed; one that takes nothing of its answer for as long as a body may pause is cut. Beyond the
number of connections that may be open a further one is answered 503 and closed.
"""

import asyncio
from typing import ClassVar

from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from service.api.limits import Limits
from service.api.middleware import Envelope
from service.api.observation import Observation
from service.api.problems import instance_of, problem_response
from service.api.provenance import versions


class BoundedProtocol(HttpToolsProtocol):
    """The server's protocol with bounds on time; `bounded_protocol` sets them."""

    header_seconds: ClassVar[float]
    stall_seconds: ClassVar[float]
    most_waiting: ClassVar[int]
    most_open: ClassVar[int]
    full: ClassVar[Observation]
    """Answers in place of the application when too many connections are open."""
    waiting: ClassVar[dict["BoundedProtocol", None]]
    """Connections whose headers are still to come, the oldest first."""

    patience: asyncio.TimerHandle | None = None
    watch: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for headers; beyond the limit the oldest that waits gives way."""
        super().connection_made(transport)
        if len(self.waiting) >= self.most_waiting:
            next(iter(self.waiting))._give_up()
        self._wait_for_headers()

    def on_message_begin(self) -> None:
        """Begin to wait for the headers of a further request."""
        super().on_message_begin()
        if self.patience is None:
            self._wait_for_headers()

    def on_headers_complete(self) -> None:
        """Stop waiting, and serve the request or refuse it."""
        self._stop_waiting()
        served = self.app
        if len(self.connections) > self.most_open:
            self.app = self.full
        try:
            super().on_headers_complete()
        finally:
            self.app = served

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._stop_waiting()
        self._stop_watching()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Begin to watch whether anything of the answer is taken."""
        super().pause_writing()
        if self.watch is None:
            size = self.transport.get_write_buffer_size()
            self.watch = self.loop.call_later(self.stall_seconds, self._look, size)

    def resume_writing(self) -> None:
        """Stop watching."""
        self._stop_watching()
        super().resume_writing()

    def _wait_for_headers(self) -> None:
        self.waiting[self] = None
        self.patience = self.loop.call_later(self.header_seconds, self._give_up)

    def _stop_waiting(self) -> None:
        self.waiting.pop(self, None)
        if self.patience is not None:
            self.patience.cancel()
            self.patience = None

    def _stop_watching(self) -> None:
        if self.watch is not None:
            self.watch.cancel()
            self.watch = None

    def _give_up(self) -> None:
        """Answer 408 where a request has begun, and close."""
        self._stop_waiting()
        if self.transport.is_closing():
            return
        if self.headers is not None:
            detail = f"The headers did not arrive within {self.header_seconds:g} seconds."
            answer = problem_response("request_timeout", detail, "/", (), {"Connection": "close"})
            head = [b"HTTP/1.1 408 Request Timeout"]
            head += [name + b": " + value for name, value in answer.raw_headers]
            self.transport.write(b"\r\n".join(head) + b"\r\n\r\n" + bytes(answer.body))
        self.transport.close()

    def _look(self, before: int) -> None:
        """Cut the connection if nothing of the answer has been taken since the last look."""
        self.watch = None
        size = self.transport.get_write_buffer_size()
        if size >= before > 0:
            self.transport.abort()
        elif size > 0:
            self.watch = self.loop.call_later(self.stall_seconds, self._look, size)


class Full:
    """Answer 503 to every request."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        detail = f"{self.limits.open_connections} connections are open already."
        ending = {"Connection": "close"}
        response = problem_response("unavailable", detail, instance_of(scope), (), ending)
        await response(scope, receive, send)


def bounded_protocol(limits: Limits) -> type[BoundedProtocol]:
    """Return the protocol of an installation."""
    release = versions()
    refusing = Observation(Envelope(Full(limits), release.service, release.data))

    class InstalledProtocol(BoundedProtocol):
        header_seconds = limits.header_seconds
        stall_seconds = limits.body_seconds
        most_waiting = limits.bodies
        most_open = limits.open_connections
        full = refusing
        waiting: ClassVar[dict[BoundedProtocol, None]] = {}

    return InstalledProtocol
