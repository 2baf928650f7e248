"""What surrounds every request: identity, headers, HEAD, format suffix."""

import logging
import re
import secrets
from typing import Final

from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.negotiation import split_suffix
from service.api.page_policy import policy_for
from service.api.problems import server_error_response

logger = logging.getLogger("service.middleware")

SANE_REQUEST_ID: Final = re.compile(rb"[A-Za-z0-9._:-]{1,64}")

FIXED_HEADERS: Final = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-frame-options", b"SAMEORIGIN"),
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
                headers.append((b"content-security-policy", policy_for(_content_type(headers))))
                _vary_by_accept(headers)
                message = {**message, "headers": headers}
            await send(message)

        try:
            await self.app(scope, receive, send_with_headers)
        except ClientDisconnect:
            # Nobody is left to answer, and a caller who leaves is no fault of the service.
            logger.info("caller left", extra={"fields": {"request_id": request_id}})
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


def _content_type(headers: list[tuple[bytes, bytes]]) -> bytes:
    return next((value for name, value in headers if name == b"content-type"), b"")


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
