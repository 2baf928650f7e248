"""
What is written to a connection in one turn of the event loop leaves in one piece.

The server writes head and body of an answer one after the other. Each on its own is a call of the
system and wakes the caller twice, which takes longer than a small answer.
"""

import asyncio
from typing import Any, Final

JOINED_BYTES: Final = 65_536
"""Up to so many bytes are copied together; more is handed over in pieces."""


class JoinedWrites:
    """
    A transport that holds what is written until the loop comes round.

    Parameters
    ----------
    transport : asyncio.Transport
        The transport of the connection.
    loop : asyncio.AbstractEventLoop
        Its loop.
    """

    def __init__(self, transport: asyncio.Transport, loop: asyncio.AbstractEventLoop) -> None:
        self.transport = transport
        self.loop = loop
        self.held: list[bytes] = []
        # What does not write is the transport's own, without a step in between.
        self.is_closing = transport.is_closing
        self.pause_reading = transport.pause_reading
        self.resume_reading = transport.resume_reading
        self.get_extra_info = transport.get_extra_info

    def write(self, data: Any) -> None:
        """Hold a piece."""
        if not self.held:
            self.loop.call_soon(self.flush)
        self.held.append(data)

    def flush(self) -> None:
        """Write what is held."""
        held = self.held
        if held:
            self.held = []
            if len(held) > 1 and sum(map(len, held)) > JOINED_BYTES:
                self.transport.writelines(held)
            else:
                self.transport.write(b"".join(held))

    def get_write_buffer_size(self) -> int:
        """Return how many bytes are still to be taken."""
        return self.transport.get_write_buffer_size() + sum(map(len, self.held))

    def close(self) -> None:
        """Close when everything is written."""
        self.flush()
        self.transport.close()

    def abort(self) -> None:
        """Close at once."""
        self.held = []
        self.transport.abort()

    def __getattr__(self, name: str) -> Any:
        """Return what else a transport has."""
        return getattr(self.transport, name)
