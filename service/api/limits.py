"""What one request may be at most; published at `/v1/limits` and in every refusal."""

from dataclasses import dataclass
from typing import Final

SINGLE_BODY_BYTES: Final = 256 * 1024
"""A request for one answer; the largest sensible one has some ten kilobytes."""

SLOWEST_BYTES_PER_SECOND: Final = 16 * 1024
"""A body or an answer that moves slower than this uses up its time; our choice."""

CONNECTIONS_PER_REQUEST: Final = 4
"""Idle connections are kept open too; our choice."""

MEBIBYTE: Final = 1024 * 1024


@dataclass(frozen=True)
class TableLimits:
    """What a table may be at most, whatever its format; most of it bounds memory."""

    columns: int = 400
    heading_letters: int = 200
    cell_letters: int = 32_767
    """What a cell of a workbook holds; a table may be answered as one."""
    line_bytes: int = MEBIBYTE
    """One line of a CSV table or of newline-delimited JSON."""
    workbook_rows: int = 1_048_575
    """Rows of one sheet below its headings."""
    workbook_cells: int = 6_000_000
    """Rows times columns of the sheet that is read."""
    workbook_parts: int = 1_000
    """Files inside a workbook."""
    workbook_bytes: int = 512 * MEBIBYTE
    """All parts of a workbook, unpacked."""
    workbook_ratio: int = 200
    """How many times larger than packed a part may be; real sheets reach some forty."""
    workbook_memory_bytes: int = 1024 * MEBIBYTE
    """Address space of the process that reads a workbook."""
    workbook_seconds: int = 60
    """Processor time of that process."""


@dataclass(frozen=True)
class Limits:
    """The limits of this installation."""

    batch_rows: int
    batch_bytes: int
    body_seconds: float
    """Time for a body, beside that for its bytes at the slowest rate."""
    connections: int
    """Requests that are worked on at once."""
    header_seconds: float = 10.0
    header_bytes: int = 64 * 1024
    """Time for the headers of a request, and their bytes, its address included."""
    request_seconds: float = 20.0
    batch_seconds: float = 120.0
    """Time for the work on one request, and on one batch."""
    batches: int = 2
    batches_waiting: int = 64
    """Batches that are worked on at once, and that may wait for their turn."""
    batch_wait_seconds: float = 30.0
    bodies: int = 512
    """Bodies that arrive at once; the one that has been silent longest gives way to a new one."""
    requests_per_minute: int = 0
    """Requests of one key, or of one address where no keys are asked for; 0 for no limit."""
    single_bytes: int = SINGLE_BODY_BYTES
    table: TableLimits = TableLimits()

    @property
    def open_connections(self) -> int:
        """Return how many connections may be open, idle ones and slow ones among them."""
        return CONNECTIONS_PER_REQUEST * self.connections + 2 * self.bodies

    def bytes_for(self, path: str) -> int:
        """Return the largest body that a path takes."""
        if is_batch(path):
            return self.batch_bytes
        return min(self.single_bytes, self.batch_bytes)

    def seconds_for(self, path: str) -> float:
        """Return the longest work on a request to a path."""
        return self.batch_seconds if is_batch(path) else self.request_seconds


def is_batch(path: str) -> bool:
    """Tell whether a path, without its format suffix, takes many rows."""
    return path.endswith("/batch")
