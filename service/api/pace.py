"""How many requests one caller may send in a minute, where an installation asks for a limit."""

import math
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.problems import instance_of, problem_response

WINDOW_SECONDS: Final = 60
MOST_CALLERS: Final = 10_000
"""Callers remembered at once; beyond this number the one that was silent longest is forgotten."""

UNCOUNTED: Final = ("/livez", "/readyz", "/metrics")
"""What watches over the process is never turned away."""


@dataclass(slots=True)
class Window:
    """The minute of one caller: when it ends, and how many requests it has had."""

    ends: float
    sent: int


class Pace:
    """
    Count the requests of each caller within a minute that begins with its first.

    Parameters
    ----------
    requests : int
        Requests of one caller in a minute.
    clock : callable
        Seconds that never go back.
    """

    def __init__(self, requests: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.requests = requests
        self.clock = clock
        self.windows: OrderedDict[str, Window] = OrderedDict()

    def count(self, caller: str) -> tuple[bool, int, int]:
        """
        Count one request.

        Returns
        -------
        allowed : bool
            Whether it is within the limit.
        left : int
            Requests left in this minute.
        seconds : int
            Seconds until the next minute of this caller, rounded up.
        """
        now = self.clock()
        window = self.windows.get(caller)
        if window is None or window.ends <= now:
            window = self.windows[caller] = Window(now + WINDOW_SECONDS, 0)
        self.windows.move_to_end(caller)
        if len(self.windows) > MOST_CALLERS:
            self.windows.popitem(last=False)
        window.sent += 1
        seconds = max(1, math.ceil(window.ends - now))
        return window.sent <= self.requests, max(0, self.requests - window.sent), seconds


class PacedCallers:
    """
    Answer 429 to a caller beyond its limit, and say in every answer how much of it is left.

    A caller is the name of its key, or its address where no keys are asked for. The headers are
    those of the draft standard of the IETF, "RateLimit header fields for HTTP"
    (draft-ietf-httpapi-ratelimit-headers-10).
    """

    def __init__(self, app: ASGIApp, pace: Pace) -> None:
        self.app = app
        self.pace = pace
        self.policy = f'"minute";q={pace.requests};w={WINDOW_SECONDS}'.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] in UNCOUNTED:
            await self.app(scope, receive, send)
            return
        allowed, left, seconds = self.pace.count(_caller_of(scope))
        own = (
            (b"ratelimit-policy", self.policy),
            (b"ratelimit", f'"minute";r={left};t={seconds}'.encode()),
        )

        async def send_with_pace(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *own]}
            await send(message)

        if allowed:
            await self.app(scope, receive, send_with_pace)
            return
        detail = (
            f"More than {self.pace.requests} requests came from this caller within a minute."
            f" Go on in {seconds} s; many rows go into one request to `/v1/doses/batch`."
        )
        headers = {"Retry-After": str(seconds)}
        refusal = problem_response("too_many_requests", detail, instance_of(scope), (), headers)
        await refusal(scope, receive, send_with_pace)


def _caller_of(scope: Scope) -> str:
    """Return who is counted; keys and addresses cannot be taken for one another."""
    key = scope.get("velamen.seen", {}).get("key")
    if key is not None:
        return f"key {key}"
    client = scope.get("client")
    return f"address {client[0]}" if client else "unknown"
