"""One line of log and one count for every request: who asked for what and how it went."""

import logging
import re
import secrets
import time
from typing import Any, Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.metrics import UNMATCHED, count_request
from service.api.negotiation import split_suffix

logger = logging.getLogger("service.requests")

TRACE_PARENT: Final = re.compile(
    rb"(?!ff)([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(?:-.*)?"
)
"""The header of W3C Trace Context: version, trace, parent, flags; later versions add parts."""

GONE: Final = 499
"""Counted where nobody waited for the answer any more, as proxies do."""

SILENT: Final = ("/livez", "/readyz", "/metrics")
"""Asked every few seconds; they are counted, and logged only when they fail."""


class Observation:
    """
    Count a request and log it once it is answered.

    The line has the request id, the caller's trace, method, route template, status, time and bytes;
    never a query, a body or a header as it came.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        seen: dict[str, Any] = {}
        scope = {**scope, "velamen.seen": seen}
        trace = _trace_of(scope)
        began = time.perf_counter()
        status, sent = GONE, 0

        async def send_and_see(message: Message) -> None:
            nonlocal status, sent
            if message["type"] == "http.response.start":
                status = message["status"]
                seen["request_id"] = _header(message, b"x-request-id")
                if trace:
                    line = f"00-{trace['trace_id']}-{trace['span_id']}-{trace['flags']}".encode()
                    headers = [*message.get("headers", ()), (b"traceresponse", line)]
                    message = {**message, "headers": headers}
            else:
                sent += len(message.get("body", b""))
            await send(message)

        try:
            await self.app(scope, receive, send_and_see)
        finally:
            seconds = time.perf_counter() - began
            route = str(seen.get("route") or _fixed_route(scope))
            count_request(route, scope["method"], status, seconds)
            if route not in SILENT or status >= 500:
                fields: dict[str, Any] = {
                    "request_id": seen.get("request_id", ""),
                    "method": scope["method"][:16],
                    "route": route,
                    "status": status,
                    "milliseconds": round(1000.0 * seconds, 2),
                    "bytes": sent,
                }
                fields |= {name: trace[name] for name in ("trace_id", "parent_id") if trace}
                if "key" in seen:
                    fields["key"] = seen["key"]
                _log(fields)


def _log(fields: dict[str, Any]) -> None:
    """Write a line; the logger's own way would search the stack for who called it."""
    if logger.isEnabledFor(logging.INFO):
        extra = {"fields": fields}
        record = logger.makeRecord(
            logger.name, logging.INFO, __file__, 0, "request", (), None, extra=extra
        )
        logger.handle(record)


class NotedRoute:
    """Stand innermost and note the template of the route that was found."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        try:
            await self.app(scope, receive, send)
        finally:
            route = scope.get("route")
            if route is not None and "velamen.seen" in scope:
                scope["velamen.seen"]["route"] = getattr(route, "path", UNMATCHED)


def _fixed_route(scope: Scope) -> str:
    """Return the route of a request that was refused before routing, if it has no parameters."""
    path, _ = split_suffix(scope["path"])
    routes = getattr(scope.get("app"), "routes", ())
    known = any(getattr(route, "path", None) == path for route in routes)
    return path if known and "{" not in path else UNMATCHED


def _header(message: Message, wanted: bytes) -> str:
    found = (value for name, value in message.get("headers", ()) if name == wanted)
    return next(found, b"").decode("latin-1")


def _trace_of(scope: Scope) -> dict[str, str]:
    """Return the trace that the caller is in, and a new span for this request."""
    for name, value in scope["headers"]:
        if name == b"traceparent":
            match = TRACE_PARENT.fullmatch(value.strip())
            longer = match is not None and match.end(4) != match.end()
            if match is None or (longer and match[1] == b"00"):
                return {}
            if not int(match[2], 16) or not int(match[3], 16):
                return {}
            return {
                "trace_id": match[2].decode(),
                "parent_id": match[3].decode(),
                "flags": match[4].decode(),
                "span_id": secrets.token_hex(8),
            }
    return {}
