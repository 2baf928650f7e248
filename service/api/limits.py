"""What one request may be at most; published at `/v1/limits` and in every refusal."""

from dataclasses import dataclass
from typing import Final

SINGLE_BODY_BYTES: Final = 256 * 1024
"""A request for one answer; the largest sensible one has some ten kilobytes."""


@dataclass(frozen=True)
class Limits:
    """The limits of this installation."""

    batch_rows: int
    batch_bytes: int
    body_seconds: float
    connections: int
    single_bytes: int = SINGLE_BODY_BYTES

    def bytes_for(self, path: str) -> int:
        """Return the largest body that a path takes."""
        if path.endswith("/batch"):
            return self.batch_bytes
        return min(self.single_bytes, self.batch_bytes)
