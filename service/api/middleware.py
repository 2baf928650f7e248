"""What surrounds every request: identity, headers, HEAD, format suffix, size of the body."""

import asyncio
import re
import secrets
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.limits import Limits
from service.api.negotiation import split_suffix
from service.api.problems import (
    FieldError,
    ProblemError,
    instance_of,
    problem_response,
    server_error_response,
)

SANE_REQUEST_ID: Final = re.compile(rb"[A-Za-z0-9._:-]{1,64}")

CONTENT_SECURITY_POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:;"
    " base-uri 'none'; form-action 'self'; frame-src 'self'; frame-ancestors 'self'"
)

FIXED_HEADERS: Final = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-frame-options", b"SAMEORIGIN"),
    (b"content-security-policy", CONTENT_SECURITY_POLICY.encode()),
    (b"cross-origin-resource-policy", b"cross-origin"),
    (b"link", b'</openapi.json>; rel="service-desc", </docs>; rel="service-doc"'),
)


class Envelope:
    """
    Give every answer its request id, its fixed headers and, when all else fails, its problem.

    It stands outermost, so that refusals of the middleware inside it and unforeseen exceptions
    carry the same headers as results do.
    """

    def __init__(self, app: ASGIApp, service_version: str, data_version: str) -> None:
        self.app = app
        self.versions = (
            (b"x-service-version", service_version.encode()),
            (b"x-data-version", data_version.encode()),
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id = _request_id(scope)
        scope["velamen.request_id"] = request_id
        own = ((b"x-request-id", request_id.encode()), *self.versions, *FIXED_HEADERS)
        started = False

        async def send_with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers: list[tuple[bytes, bytes]] = [*message.get("headers", ()), *own]
                _vary_by_accept(headers)
                message = {**message, "headers": headers}
            await send(message)

        try:
            await self.app(scope, receive, send_with_headers)
        except Exception as exception:
            response = server_error_response(scope, exception)
            if started:
                raise
            await response(scope, receive, send_with_headers)


def _request_id(scope: Scope) -> str:
    for name, value in scope["headers"]:
        if name == b"x-request-id":
            if SANE_REQUEST_ID.fullmatch(value):
                return str(value, "ascii")
            break
    return secrets.token_hex(8)


def _vary_by_accept(headers: list[tuple[bytes, bytes]]) -> None:
    """Name Accept in the Vary header, and everything in it once."""
    for position, (name, value) in enumerate(headers):
        if name == b"vary":
            parts = dict.fromkeys((b"Accept", *(part.strip() for part in value.split(b","))))
            headers[position] = (name, b", ".join(parts))
            return
    headers.append((b"vary", b"Accept"))


class HeadAsGet:
    """Answer HEAD with the headers of GET and no body, on every path that has a GET."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def send_without_body(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self.app({**scope, "method": "GET"}, receive, send_without_body)


class FormatSuffix:
    """Take `.csv` and its like off the path and note it, so that routes have one path each."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] == "http":
            stem, suffix = split_suffix(scope["path"])
            if suffix is not None:
                changed = {"path": stem, "velamen.path": scope["path"], "velamen.format": suffix}
                scope = {**scope, **changed}
        await self.app(scope, receive, send)


MOST_DISCARDED: Final = 16 * 1024 * 1024
"""
Bodies up to this many bytes above the limit are received and thrown away before they are refused.

A client that is still sending when the connection closes sees it broken, and no answer.
"""


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


class BodyLimit:
    """Refuse a body that is too large, announced or not, and one that does not arrive."""

    def __init__(self, app: ASGIApp, limits: Limits) -> None:
        self.app = app
        self.limits = limits

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD", "OPTIONS"):
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
        received = 0
        complete = False

        async def receive_within_limits() -> Message:
            nonlocal received, complete
            if complete:
                # Only the end of the connection is still to come; it may take its time.
                return await receive()
            try:
                async with asyncio.timeout(seconds):
                    message = await receive()
            except TimeoutError:
                raise ProblemError(
                    "request_timeout",
                    f"No part of the body arrived for {seconds:g} seconds.",
                    headers={"Connection": "close"},
                ) from None
            if message["type"] == "http.request":
                received += len(message.get("body", b""))
                complete = not message.get("more_body", False)
                if received > limit:
                    if not complete:
                        complete = True
                        received += await _discard_body(receive, seconds, MOST_DISCARDED)
                    raise too_large(limit, received)
            return message

        await self.app(scope, receive_within_limits, send)


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


class Busy:
    """Answer 503 at once when more requests are in flight than this installation serves."""

    ALWAYS_SERVED: Final = ("/livez",)

    def __init__(self, app: ASGIApp, limits: Limits) -> None:
        self.app = app
        self.limit = limits.connections
        self.in_flight = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] in self.ALWAYS_SERVED:
            await self.app(scope, receive, send)
            return
        if self.in_flight >= self.limit:
            detail = f"{self.limit} requests are being served already."
            response = problem_response("unavailable", detail, instance_of(scope))
            await response(scope, receive, send)
            return
        self.in_flight += 1
        try:
            await self.app(scope, receive, send)
        finally:
            self.in_flight -= 1
