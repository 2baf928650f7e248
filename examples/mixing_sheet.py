"""
Send a table of plant groups to the service and print the mixing sheet.

Standard library only, to show that a grower's script needs nothing else::

    python examples/mixing_sheet.py http://127.0.0.1:8000 examples/glasshouse_round.csv
"""

import json
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

PATIENCE_SECONDS = 90.0


def wait_until_ready(address: str) -> None:
    """Ask until the service says that it is ready."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < deadline:
        try:
            with urllib.request.urlopen(f"{address}/readyz", timeout=5):
                return
        except OSError:
            time.sleep(0.1)
    sys.exit(f"The service at {address} did not get ready.")


def mixing_sheet(address: str, rows: bytes) -> str:
    """Return the answer to a batch of rows as a table to read."""
    request = urllib.request.Request(
        f"{address}/v1/doses/batch",
        data=rows,
        headers={"Content-Type": "text/csv; charset=utf-8", "Accept": "text/plain"},
    )
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return str(answer.read().decode("utf-8"))
    except urllib.error.HTTPError as refused:
        with refused:
            problem = refused.read()
        sys.exit(f"The service refused the table ({refused.code}):\n{problem_in_words(problem)}")


def problem_in_words(body: bytes) -> str:
    """Return a problem document as lines to read: every fault with its place, or what is wrong."""
    try:
        problem = json.loads(body)
        faults = []
        for fault in problem["errors"]:
            place = fault.get("pointer") or fault.get("parameter")
            faults.append(f"  {place}: {fault['detail']}" if place else f"  {fault['detail']}")
        return "\n".join(faults or [f"  {problem['detail']}"])
    except (ValueError, KeyError, TypeError, AttributeError):
        # Something between here and the service answered in a form of its own.
        return body.decode("utf-8", "replace")


def main(arguments: list[str]) -> None:
    """Print the sheet for the two arguments: address and table."""
    if len(arguments) != 2:
        sys.exit("Say: mixing_sheet.py ADDRESS ROWS.csv")
    rows = Path(arguments[1]).read_bytes()
    address = arguments[0].rstrip("/")
    sys.stderr.write(f"Asking {address}\n")
    wait_until_ready(address)
    sys.stdout.write(mixing_sheet(address, rows).rstrip("\n") + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
