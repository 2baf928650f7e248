"""The bounds on a body: its size, the time that it takes to arrive, and how many arrive at once."""

import asyncio
import contextlib
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.limits import SLOWEST_BYTES_PER_SECOND, Limits
from service.api.problems import FieldError, ProblemError, instance_of, problem_response

WITHOUT_BODY: Final = ("GET", "HEAD", "OPTIONS")

MOST_DISCARDED: Final = 16 * 1024 * 1024
"""
Bodies up to this many bytes above the limit are received and thrown away before they are refused.

A client that is still sending when the connection closes sees it broken, and no answer.
"""


class BodyLimit:
    """
    Refuse a body that is too large, announced or not, and one that does not arrive in time.

    A body has `body_seconds`, and for its bytes what they take at the slowest rate; no single piece
    may take longer than `body_seconds`.
    """

    def __init__(self, app: ASGIApp, limits: Limits) -> None:
        self.app = app
        self.limits = limits
        self.arriving: dict[object, asyncio.Timeout] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["method"] in WITHOUT_BODY:
            await self.app(scope, receive, send)
            return
        limit = self.limits.bytes_for(scope["path"])
        announced = _announced_length(scope)
        if announced is not None and announced > limit:
            if announced <= limit + MOST_DISCARDED and not _waits_for_consent(scope):
                await _discard_body(receive, self.limits.body_seconds, announced)
            problem = too_large(limit, announced)
            response = problem_response(
                problem.code,
                str(problem.detail),
                instance_of(scope),
                problem.errors,
                problem.headers,
            )
            await response(scope, receive, send)
            return
        seconds = self.limits.body_seconds
        clock = asyncio.get_running_loop().time
        began = clock()
        body = object()
        received = 0
        complete = False

        async def receive_within_limits() -> Message:
            nonlocal received, complete
            if complete:
                # Only the end of the connection is still to come; it may take its time.
                return await receive()
            deadline = began + seconds + received / SLOWEST_BYTES_PER_SECOND
            try:
                async with asyncio.timeout_at(min(deadline, clock() + seconds)) as patience:
                    self._note_arriving(body, patience)
                    message = await receive()
            except TimeoutError:
                self.arriving.pop(body, None)
                raise _late(seconds) from None
            if message["type"] != "http.request":
                return message
            received += len(message.get("body", b""))
            complete = not message.get("more_body", False)
            if received > limit:
                if not complete:
                    complete = True
                    received += await _discard_body(receive, seconds, MOST_DISCARDED)
                raise too_large(limit, received)
            if complete:
                self.arriving.pop(body, None)
            return message

        try:
            await self.app(scope, receive_within_limits, send)
        finally:
            self.arriving.pop(body, None)

    def _note_arriving(self, body: object, patience: asyncio.Timeout) -> None:
        """Put a body behind those that have been silent longer; beyond the limit the first goes."""
        if self.arriving.pop(body, None) is None and len(self.arriving) >= self.limits.bodies:
            silent = self.arriving.pop(next(iter(self.arriving)))
            with contextlib.suppress(RuntimeError):
                # A piece of it has just come; then it is not waiting now.
                silent.reschedule(asyncio.get_running_loop().time())
        self.arriving[body] = patience


def _late(seconds: float) -> ProblemError:
    detail = (
        f"The body did not arrive within {seconds:g} seconds, and what its bytes may take beside"
        " them. /v1/limits lists the limits."
    )
    return ProblemError("request_timeout", detail, headers={"Connection": "close"})


async def _discard_body(receive: Receive, seconds: float, most: int) -> int:
    """Receive what is being sent up to a number of bytes, keep nothing, and count it."""
    received = 0
    try:
        async with asyncio.timeout(seconds):
            while received <= most:
                message = await receive()
                received += len(message.get("body", b""))
                if not message.get("more_body", False):
                    break
    except TimeoutError:
        pass
    return received


def _waits_for_consent(scope: Scope) -> bool:
    """Tell whether the client sends its body only when asked to; it then never sends it."""
    return any(name == b"expect" for name, _ in scope["headers"])


def _announced_length(scope: Scope) -> int | None:
    for name, value in scope["headers"]:
        if name == b"content-length":
            return int(value) if value.isdigit() and len(value) < 20 else None
    return None


def too_large(limit: int, received: int) -> ProblemError:
    """Return the problem of a body above the limit; the connection ends with it."""
    fault = FieldError(
        parameter="Content-Length",
        code="too_many",
        detail=f"The body may have at most {limit} bytes here. /v1/limits lists the limits.",
        received=received,
        allowed=f"at most {limit} bytes",
    )
    return ProblemError("too_large", fault.detail, [fault], {"Connection": "close"})
