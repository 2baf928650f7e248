"""Writes of one turn of the loop leave in one piece, in their order, and none is lost."""

import asyncio
from typing import Any

from service.api.joined_writes import JOINED_BYTES, JoinedWrites


class Wire:
    """A transport that keeps what it was told."""

    def __init__(self) -> None:
        self.told: list[Any] = []

    def write(self, data: bytes) -> None:
        self.told.append(data)

    def writelines(self, pieces: list[bytes]) -> None:
        self.told.append(list(pieces))

    def close(self) -> None:
        self.told.append("close")

    def abort(self) -> None:
        self.told.append("abort")

    def get_write_buffer_size(self) -> int:
        return 5

    def is_closing(self) -> bool:
        return False

    pause_reading = resume_reading = get_extra_info = is_closing

    def set_protocol(self, protocol: object) -> None:
        self.told.append(protocol)


def told(*pieces: bytes, ending: str = "") -> list[Any]:
    """Return what the wire is told of pieces that are written in one turn."""
    wire = Wire()

    async def write() -> None:
        joined = JoinedWrites(wire, asyncio.get_running_loop())
        for piece in pieces:
            joined.write(piece)
        assert joined.get_write_buffer_size() == 5 + sum(map(len, pieces))
        if ending:
            getattr(joined, ending)()
        await asyncio.sleep(0)
        assert joined.get_write_buffer_size() == 5

    asyncio.run(write())
    return wire.told


def test_head_and_body_leave_together():
    assert told(b"head", b"", b"body") == [b"headbody"]


def test_a_large_body_is_not_copied_to_its_head():
    body = b"x" * JOINED_BYTES
    assert told(b"head", body) == [[b"head", body]]


def test_everything_is_written_before_the_connection_closes():
    assert told(b"last", b" words", ending="close") == [b"last words", "close"]


def test_a_connection_that_is_cut_writes_nothing_more():
    assert told(b"lost", ending="abort") == ["abort"]


def test_every_turn_has_a_piece_of_its_own():
    wire = Wire()

    async def write() -> None:
        joined = JoinedWrites(wire, asyncio.get_running_loop())
        joined.write(b"first")
        await asyncio.sleep(0)
        joined.write(b"second")
        await asyncio.sleep(0)
        joined.set_protocol("another")

    asyncio.run(write())
    assert wire.told == [b"first", b"second", "another"]
