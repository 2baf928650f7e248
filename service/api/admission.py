"""How many requests are worked on at once, how many batches, and how long each may take."""

import asyncio
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.body_limit import WITHOUT_BODY
from service.api.limits import SLOWEST_BYTES_PER_SECOND, Limits, is_batch
from service.api.metrics import BATCHES_IN_WORK, BATCHES_WAITING, IN_WORK
from service.api.problems import ProblemError, instance_of, problem_response

BATCH_RETRY_SECONDS: Final = 5
SMALL_ANSWER_BYTES: Final = 16_384
"""Smaller answers get no time of their own: the buffers of the system take them at once."""


class BatchQueue:
    """
    The batches that are worked on, and those that wait for their turn in the order of arrival.

    Parameters
    ----------
    limits : Limits
        How many of each, and how long one may wait.
    """

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.slots = asyncio.Semaphore(limits.batches)
        self.running = 0
        self.waiting = 0

    async def enter(self) -> None:
        """Wait for a turn; raise the 503 problem when the queue is full or too slow."""
        if self.running >= self.limits.batches and self.waiting >= self.limits.batches_waiting:
            raise self._refusal("and more wait already")
        self.waiting += 1
        BATCHES_WAITING.inc()
        try:
            async with asyncio.timeout(self.limits.batch_wait_seconds):
                await self.slots.acquire()
        except TimeoutError:
            raise self._refusal("and their end was not in sight") from None
        finally:
            self.waiting -= 1
            BATCHES_WAITING.dec()
        self.running += 1
        BATCHES_IN_WORK.inc()

    def leave(self) -> None:
        """Give the turn to the next."""
        self.running -= 1
        BATCHES_IN_WORK.dec()
        self.slots.release()

    def _refusal(self, why: str) -> ProblemError:
        detail = f"{self.limits.batches} batches are being computed {why}. Send it again later."
        return ProblemError("unavailable", detail, (), {"Retry-After": str(BATCH_RETRY_SECONDS)})


class Turn:
    """The place of one request among those that are worked on."""

    def __init__(self, admission: "Admission", path: str) -> None:
        self.admission = admission
        self.batch = is_batch(path)
        self.entered = False

    async def enter(self) -> None:
        """Begin; raise the 503 problem when there is no place."""
        if self.admission.in_flight >= self.admission.limits.connections:
            detail = f"{self.admission.limits.connections} requests are being served already."
            raise ProblemError("unavailable", detail)
        if self.batch:
            await self.admission.batches.enter()
        self.admission.in_flight += 1
        IN_WORK.inc()
        self.entered = True

    def leave(self) -> None:
        """End."""
        if self.entered:
            self.entered = False
            self.admission.in_flight -= 1
            IN_WORK.dec()
            if self.batch:
                self.admission.batches.leave()


class Admission:
    """
    Answer 503 at once when more is being worked on than this installation serves.

    A request counts from the moment at which its body is complete, so that clients that send slowly
    keep nobody from being served. From then on its time runs; an answer that is being sent has more
    time, by what its bytes take at the slowest rate.
    """

    ALWAYS_SERVED: Final = ("/livez", "/metrics")

    def __init__(self, app: ASGIApp, limits: Limits, batches: BatchQueue) -> None:
        self.app = app
        self.limits = limits
        self.batches = batches
        self.in_flight = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] in self.ALWAYS_SERVED:
            await self.app(scope, receive, send)
            return
        seconds = self.limits.seconds_for(scope["path"])
        time = asyncio.get_running_loop().time
        turn = Turn(self, scope["path"])
        sent, started, ends = 0, False, 0.0

        async def begin() -> None:
            nonlocal ends
            await turn.enter()
            ends = time() + seconds
            clock.reschedule(ends)

        async def receive_and_begin() -> Message:
            message = await receive()
            complete = message["type"] == "http.request" and not message.get("more_body", False)
            if complete and not turn.entered:
                await begin()
            return message

        async def send_in_time(message: Message) -> None:
            nonlocal sent, started
            started = True
            sent += len(message.get("body", b""))
            if turn.entered and sent >= SMALL_ANSWER_BYTES:
                clock.reschedule(ends + sent / SLOWEST_BYTES_PER_SECOND)
            await send(message)

        try:
            async with asyncio.timeout(None) as clock:
                if scope["method"] in WITHOUT_BODY:
                    await begin()
                    await self.app(scope, receive, send_in_time)
                else:
                    await self.app(scope, receive_and_begin, send_in_time)
        except ProblemError as problem:
            if started:
                raise
            await _answer(problem, scope, receive, send)
        except TimeoutError:
            if started or not clock.expired():
                raise
            detail = f"The answer took longer than {seconds:g} seconds. Send less at once."
            await _answer(ProblemError("unavailable", detail), scope, receive, send)
        finally:
            turn.leave()


async def _answer(problem: ProblemError, scope: Scope, receive: Receive, send: Send) -> None:
    response = problem_response(
        problem.code,
        str(problem.detail),
        instance_of(scope),
        problem.errors,
        dict(problem.headers or {}),
    )
    await response(scope, receive, send)
