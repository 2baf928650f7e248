"""A client that costs next to nothing, so that what is measured is the service."""

import asyncio
import socket
import time
from collections.abc import Sequence

ROUND_SECONDS = 1.5


def request(path: str, body: bytes) -> bytes:
    """Return a request as it goes over the wire."""
    head = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


def missing(answer: bytes) -> int:
    """Return how many bytes of an answer are still to come; 1 while its head is not complete."""
    head, found, body = answer.partition(b"\r\n\r\n")
    if not found:
        return 1
    if b" 200 " not in head[:20]:
        raise RuntimeError(answer.decode())
    length = head.lower().split(b"content-length: ")[1].split(b"\r\n")[0]
    return int(length) - len(body)


def rate(port: int, path: str, bodies: Sequence[bytes], seconds: float = ROUND_SECONDS) -> float:
    """Return how many requests one after the other are answered in a second."""
    requests = [request(path, body) for body in bodies]
    count = 0
    with socket.create_connection(("127.0.0.1", port)) as connection:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        began = time.perf_counter()
        while time.perf_counter() - began < seconds:
            connection.sendall(requests[count % len(requests)])
            answer = connection.recv(65_536)
            while missing(answer):
                answer += connection.recv(65_536)
            count += 1
        return count / (time.perf_counter() - began)


def times_of_many(
    port: int, path: str, bodies: Sequence[bytes], clients: int, seconds: float
) -> list[float]:
    """Return how long each request took while so many clients ask without a pause [s], sorted."""
    requests = [request(path, body) for body in bodies]
    times: list[float] = []

    async def ask(first: int, ends: float) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        count = first
        while (began := time.perf_counter()) < ends:
            writer.write(requests[count % len(requests)])
            answer = await reader.read(65_536)
            while missing(answer):
                answer += await reader.read(65_536)
            times.append(time.perf_counter() - began)
            count += clients
        writer.close()

    async def ask_together() -> None:
        ends = time.perf_counter() + seconds
        await asyncio.gather(*(ask(first, ends) for first in range(clients)))

    asyncio.run(ask_together())
    return sorted(times)
