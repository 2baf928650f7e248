"""How many requests are worked on at once, and how long each may take."""

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest
from starlette.types import Message, Receive, Scope, Send

from service.api.admission import Admission, BatchQueue
from service.api.body_limit import BodyLimit
from service.api.limits import Limits
from service.api.problems import ProblemError

pytestmark = pytest.mark.anyio


@pytest.fixture(scope="session")
def anyio_backend() -> str:
    return "asyncio"


def limits(**changed: Any) -> Limits:
    usual = {"batch_rows": 10, "batch_bytes": 1_000, "body_seconds": 5.0, "connections": 2}
    return Limits(**{**usual, **changed})


class Caller:
    """One request, its body given piece by piece, and what was answered."""

    def __init__(self, path: str = "/v1/doses/batch", method: str = "POST") -> None:
        self.scope = {"type": "http", "method": method, "path": path, "headers": []}
        self.pieces: asyncio.Queue[Message] = asyncio.Queue()
        self.sent: list[Message] = []

    def give(self, body: bytes, *, more: bool = False) -> "Caller":
        self.pieces.put_nowait({"type": "http.request", "body": body, "more_body": more})
        return self

    async def send(self, message: Message) -> None:
        self.sent.append(message)

    def call(self, app: Callable[[Scope, Receive, Send], Any]) -> asyncio.Task[None]:
        return asyncio.ensure_future(app(self.scope, self.pieces.get, self.send))

    @property
    def status(self) -> int | None:
        return self.sent[0]["status"] if self.sent else None

    def header(self, name: str) -> str:
        return dict(self.sent[0]["headers"])[name.encode()].decode()

    @property
    def problem(self) -> dict[str, Any]:
        return dict(json.loads(self.sent[1]["body"]))


class Worker:
    """An application that reads the body, works until it is let go, and answers 200."""

    def __init__(self) -> None:
        self.let_go = asyncio.Event()
        self.working = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["method"] == "POST":
            try:
                while (await receive()).get("more_body"):
                    pass
            except ProblemError as problem:
                start = {"type": "http.response.start", "status": problem.status_code}
                await send({**start, "headers": _lines(problem)})
                await send({"type": "http.response.body", "body": b"{}"})
                return
        self.working += 1
        await self.let_go.wait()
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})


def _lines(problem: ProblemError) -> list[tuple[bytes, bytes]]:
    headers = problem.headers or {}
    return [(name.lower().encode(), value.encode()) for name, value in headers.items()]


async def settle() -> None:
    for _ in range(20):
        await asyncio.sleep(0)


async def test_batches_take_turns_and_what_does_not_fit_is_sent_away() -> None:
    worker = Worker()
    bounds = limits(batches=1, batches_waiting=1)
    app = Admission(worker, bounds, BatchQueue(bounds))
    callers = [Caller().give(b"x") for _ in range(3)]
    tasks = [caller.call(app) for caller in callers]
    await settle()
    assert worker.working == 1
    assert [caller.status for caller in callers] == [None, None, 503]
    assert int(callers[2].header("retry-after")) > 0
    single = Caller("/v1/doses").give(b"x")
    tasks.append(single.call(app))
    await settle()
    assert worker.working == 2, "a single dose does not wait for batches"
    worker.let_go.set()
    await asyncio.gather(*tasks)
    assert [caller.status for caller in callers] == [200, 200, 503]
    again = Caller().give(b"x")
    await again.call(app)
    assert again.status == 200


async def test_batch_that_waits_too_long_is_sent_away() -> None:
    worker = Worker()
    bounds = limits(batches=1, batches_waiting=4, batch_wait_seconds=0.05)
    app = Admission(worker, bounds, BatchQueue(bounds))
    first, second = Caller().give(b"x"), Caller().give(b"x")
    running = first.call(app)
    await settle()
    await second.call(app)
    assert (first.status, second.status) == (None, 503)
    worker.let_go.set()
    await running
    assert first.status == 200


async def test_body_that_is_incomplete_holds_no_place_among_the_batches() -> None:
    worker = Worker()
    worker.let_go.set()
    bounds = limits(batches=1, batches_waiting=0)
    app = BodyLimit(Admission(worker, bounds, BatchQueue(bounds)), bounds)
    slow = Caller().give(b"x", more=True)
    waiting = slow.call(app)
    await settle()
    whole = Caller().give(b"x")
    await whole.call(app)
    assert (whole.status, slow.status) == (200, None)
    slow.give(b"y")
    await waiting
    assert slow.status == 200


async def test_more_requests_than_are_served_are_sent_away_and_liveness_is_not() -> None:
    worker = Worker()
    bounds = limits(connections=1)
    app = Admission(worker, bounds, BatchQueue(bounds))
    busy = Caller("/v1/doses", "GET").call(app)
    await settle()
    refused = Caller("/v1/limits", "GET")
    await refused.call(app)
    assert refused.status == 503
    assert refused.header("retry-after").isdigit()
    assert refused.problem["type"] == "/problems/unavailable"
    alive = Caller("/livez", "GET")
    checking = alive.call(app)
    await settle()
    worker.let_go.set()
    await asyncio.gather(busy, checking)
    assert alive.status == 200


@pytest.mark.parametrize("path", ["/v1/doses", "/v1/doses/batch"])
async def test_work_that_takes_too_long_is_a_503_and_frees_its_place(path: str) -> None:
    worker = Worker()
    bounds = limits(request_seconds=0.05, batch_seconds=0.05, batches=1, connections=1)
    app = Admission(worker, bounds, BatchQueue(bounds))
    for _ in range(2):
        caller = Caller(path).give(b"x")
        await caller.call(app)
        assert caller.status == 503
        assert "0.05 seconds" in caller.problem["detail"]
    assert app.in_flight == 0
    assert app.batches.running == 0


async def test_body_that_drips_is_given_up_after_its_time() -> None:
    worker = Worker()
    worker.let_go.set()
    bounds = limits(body_seconds=0.1)
    app = BodyLimit(worker, bounds)
    caller = Caller()
    task = caller.call(app)
    for _ in range(30):
        caller.give(b"x", more=True)
        await asyncio.sleep(0.02)
        if task.done():
            break
    await task
    assert caller.status == 408


async def test_most_silent_body_gives_way_when_too_many_arrive() -> None:
    worker = Worker()
    worker.let_go.set()
    app = BodyLimit(worker, limits(bodies=2))
    callers = [Caller().give(b"x", more=True) for _ in range(2)]
    tasks = [caller.call(app) for caller in callers]
    await settle()
    callers[0].give(b"x", more=True)
    await settle()
    third = Caller().give(b"x", more=True)
    tasks.append(third.call(app))
    await settle()
    assert [caller.status for caller in [*callers, third]] == [None, 408, None]
    for caller in (callers[0], third):
        caller.give(b"y")
    await asyncio.gather(*tasks)
    assert [callers[0].status, third.status] == [200, 200]
    assert app.arriving == {}
