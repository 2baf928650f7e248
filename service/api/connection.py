"""
Connections: how many, how large and how slow headers may be, and how slowly answers are taken.

The server bounds none of this. A connection that has not sent its headers in time is answered 408
and closed, one that sends too much of them 413; one that takes nothing of its answer for as long as
a body may pause is cut. Beyond the number of connections that may be open a further one is answered
503 and closed. What is no HTTP is answered 400.
"""

import asyncio
from http import HTTPStatus
from typing import ClassVar, Final

from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from service.api.joined_writes import JoinedWrites
from service.api.limits import Limits
from service.api.middleware import Envelope
from service.api.observation import Observation
from service.api.problems import instance_of, problem_response
from service.api.provenance import versions

STATUS_LINES: Final = {
    status: f"HTTP/1.1 {status} {HTTPStatus(status).phrase}".encode() for status in (400, 408, 413)
}


class BoundedProtocol(HttpToolsProtocol):
    """The server's protocol with bounds on time; `bounded_protocol` sets them."""

    header_seconds: ClassVar[float]
    stall_seconds: ClassVar[float]
    header_bytes: ClassVar[int]
    most_waiting: ClassVar[int]
    most_open: ClassVar[int]
    full: ClassVar[Observation]
    """Answers in place of the application when too many connections are open."""
    waiting: ClassVar[dict["BoundedProtocol", None]]
    """Connections whose headers are still to come, the oldest first."""

    unfinished_bytes: int = 0
    """What has come of a request whose headers are not complete."""

    patience: asyncio.TimerHandle | None = None
    watch: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for headers; beyond the limit the oldest that waits gives way."""
        super().connection_made(JoinedWrites(transport, self.loop))  # type: ignore[arg-type]
        if len(self.waiting) >= self.most_waiting:
            next(iter(self.waiting))._give_up()
        self._wait_for_headers()

    def data_received(self, data: bytes) -> None:
        """Read on, and refuse headers that have no end."""
        super().data_received(data)
        if self.patience is None:
            self.unfinished_bytes = 0
            return
        self.unfinished_bytes += len(data)
        if self.unfinished_bytes > self.header_bytes:
            detail = (
                f"Address and headers of a request may have at most {self.header_bytes} bytes."
                " /v1/limits lists the limits."
            )
            self._refuse("too_large", detail)

    def send_400_response(self, msg: str) -> None:
        """Answer what is no HTTP."""
        self._refuse("unreadable_request", f"{msg} The connection ends.")

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
        if self.headers is None:
            self._stop_waiting()
            self.transport.close()
            return
        detail = f"The headers did not arrive within {self.header_seconds:g} seconds."
        self._refuse("request_timeout", detail)

    def _refuse(self, code: str, detail: str) -> None:
        """Answer a request that has no address yet with a problem, and close."""
        self._stop_waiting()
        if self.transport.is_closing():
            return
        answer = problem_response(code, detail, "/", (), {"Connection": "close"})
        head = [STATUS_LINES[answer.status_code]]
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
        header_bytes = limits.header_bytes
        stall_seconds = limits.body_seconds
        most_waiting = limits.bodies
        most_open = limits.open_connections
        full = refusing
        waiting: ClassVar[dict[BoundedProtocol, None]] = {}

    return InstalledProtocol
