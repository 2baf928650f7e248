"""Bodies made to keep a reader busy: does the time grow with the size, or faster?"""

import gc
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from service.api.json_body import parse_json
from service.api.problems import ProblemError

SMALL: Final = 500_000
LARGE: Final = 4_000_000

BODIES: Final[dict[str, Callable[[int], bytes]]] = {
    "empty lists": lambda size: b"[" + b"[]," * (size // 3) + b"[]]",
    "brackets in a text": lambda size: b'["' + b"[" * size + b'"]',
    "escaped quotes in a text": lambda size: b'["' + b'\\"[' * (size // 3) + b'"]',
    "quotes alone": lambda size: b'"' * size,
}


def seconds_to_read(body: bytes) -> float:
    """The least of three, in processor time, with nothing of an earlier body left to clear up."""
    found = []
    for _ in range(3):
        gc.collect()
        started = time.process_time()
        with suppress(ProblemError):
            parse_json(body)
        found.append(time.process_time() - started)
    return min(found)


def main() -> None:
    """Print how much longer a body eight times as large takes; eight is in proportion."""
    print(f"Hostile bodies, {LARGE:,} bytes against {SMALL:,} (8 is in proportion)")
    for name, body in BODIES.items():
        small, large = seconds_to_read(body(SMALL)), seconds_to_read(body(LARGE))
        print(f"  {name:26}{large / max(small, 1e-9):6.1f} times, {large:.3f} s")


if __name__ == "__main__":
    main()
