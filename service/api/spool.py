"""A request body in a file: received whole before it is answered, without being held in memory."""

import tempfile
from typing import IO, Any, Final

import anyio.to_thread
from starlette.requests import Request

PIECE_BYTES: Final = 1024 * 1024


async def spooled(request: Request) -> Any:
    """
    Return the body of a request as a file with a name, deleted when it is closed.

    A client that sends all of its body before it reads any of the answer would wait for ever for a
    service that answers while it still reads; so the body is taken in first.
    """
    file: IO[bytes] = tempfile.NamedTemporaryFile(prefix="velamen-body-")  # noqa: SIM115
    try:
        piece = bytearray()
        async for part in request.stream():
            piece += part
            if len(piece) >= PIECE_BYTES:
                await anyio.to_thread.run_sync(file.write, bytes(piece))
                piece.clear()
        file.write(piece)
        file.flush()
    except BaseException:
        file.close()
        raise
    return file
