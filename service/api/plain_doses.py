"""
Single doses on the short way: from the body to the bytes of the answer, with nothing in between.

It takes what is as plain as the rows of a batch are, and gives the bytes that the route gives,
which stays the one description of both. Everything else goes on to the route: other formats and
fields, texts with units, labels, and whatever is wrong.
"""

from typing import Any, Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.dosing import plan_filled
from service.api.formats.json import JSON
from service.api.json_body import parse_json
from service.api.plain_requests import plain_records
from service.api.problems import ProblemError, refusal_response
from service.api.routes.doses import dose_bytes
from service.planning.catalogue import Catalogue

PATH: Final = "/v1/doses"
PLAIN_TYPES: Final = (b"application/json", b"application/json; charset=utf-8")
ANY_TYPE: Final = (b"*/*", b"application/json")
HEADERS: Final = (
    (b"cache-control", b"no-store"),
    (b"content-type", JSON.encode()),
)


class PlainDoses:
    """
    Answer plain doses; hand everything else on.

    It stands innermost, so that limits, keys and counts are those of every request.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if not _may_be_plain(scope):
            await self.app(scope, receive, send)
            return
        messages: list[Message] = [await receive()]
        while messages[-1].get("more_body", False):
            messages.append(await receive())
        body = b"".join(message.get("body", b"") for message in messages)
        try:
            written = plain_answer(body, scope["app"].state.catalogue)
        except ProblemError as problem:
            scope["velamen.seen"]["route"] = PATH
            await refusal_response(problem, scope)(scope, receive, send)
            return
        if written is None:
            await self.app(scope, _replayed(messages, receive), send)
            return
        scope["velamen.seen"]["route"] = PATH
        length = (b"content-length", b"%d" % len(written))
        headers = [HEADERS[0], length, HEADERS[1]]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": written})


def plain_answer(body: bytes, catalogue: Catalogue) -> bytes | None:
    """
    Return the answer to a plain dose.

    Parameters
    ----------
    body : bytes
        The request.
    catalogue : Catalogue
        The catalogue of the installation.

    Returns
    -------
    bytes or None
        None for a body that the route has to answer, whether it is wrong or only not plain.

    Raises
    ------
    ProblemError
        If the dose has no answer.
    """
    try:
        value: Any = parse_json(body)
    except ProblemError:
        return None
    records = plain_records(value, catalogue)
    if records is None:
        return None
    return dose_bytes(value.get("id"), plan_filled(*records, catalogue))


def _may_be_plain(scope: Scope) -> bool:
    """Tell whether method, address and headers leave nothing to decide."""
    if scope["type"] != "http" or scope["path"] != PATH or scope["method"] != "POST":
        return False
    if scope["query_string"] or "velamen.format" in scope:
        return False
    typed = False
    for name, value in scope["headers"]:
        if name == b"content-type":
            if typed or value not in PLAIN_TYPES:
                return False
            typed = True
        elif name == b"accept":
            if value not in ANY_TYPE:
                return False
        elif name == b"content-encoding":
            return False
    return typed


def _replayed(messages: list[Message], receive: Receive) -> Receive:
    """Return what hands out messages again before it waits for others."""
    again = iter(messages)

    async def replay() -> Message:
        for message in again:
            return message
        return await receive()

    return replay
