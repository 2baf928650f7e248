"""
Print what to mix for one bench, or in words why not.

Needs httpx and nothing else::

    python examples/python/mix_for_bench.py http://127.0.0.1:8000 examples/python/bench.toml
"""

import sys
import tomllib
from pathlib import Path
from typing import Any

import httpx


class RefusedError(Exception):
    """The service refused the request; the message has a line for every fault."""


def ask(client: httpx.Client, bench: dict[str, Any]) -> dict[str, Any]:
    """Return the answer for a bench, `ok` or `infeasible`."""
    answer = client.post("/v1/doses", json=bench)
    if answer.is_success:
        return dict(answer.json())
    if answer.headers.get("content-type") == "application/problem+json":
        raise RefusedError(problem_in_words(answer.json()))
    # Something between here and the service answered in a form of its own.
    raise RefusedError(f"  HTTP status {answer.status_code}")


def problem_in_words(problem: dict[str, Any]) -> str:
    """Return a line for every fault: where it is, what is wrong, what would be right."""
    lines = []
    for fault in problem.get("errors") or [problem]:
        place = fault.get("pointer") or fault.get("parameter")
        line = f"{place}: {fault['detail']}" if place else fault["detail"]
        allowed = fault.get("allowed")
        if isinstance(allowed, list) and len(allowed) <= 8:
            line += f" Allowed: {', '.join(map(str, allowed))}."
        lines.append(f"  {line}")
    return "\n".join(lines)


def card_in_words(answer: dict[str, Any]) -> str:
    """Return the steps of the card and what to mind, or why there is no card."""
    lines = []
    if answer["status"] != "ok":
        lines.append("Do not mix this can.")
    for step in answer["steps"]:
        amount = f" [{step['quantity']:g} {step['unit']}]" if step["quantity"] is not None else ""
        lines.append(f"{step['order']}. {step['instruction']}{amount}")
    for caution in answer["cautions"]:
        lines.append(f"{caution['severity'].upper()}: {caution['message']}")
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Print the card for the two arguments, address and bench; 0 if there is something to mix."""
    if len(arguments) != 2:
        sys.stderr.write("Say: mix_for_bench.py ADDRESS BENCH.toml\n")
        return 2
    bench = tomllib.loads(Path(arguments[1]).read_text(encoding="utf-8"))
    try:
        with httpx.Client(base_url=arguments[0], timeout=10) as client:
            answer = ask(client, bench)
    except RefusedError as refused:
        sys.stderr.write(f"The service refused the bench:\n{refused}\n")
        return 1
    except httpx.TransportError as unreachable:
        sys.stderr.write(f"No answer from {arguments[0]}: {unreachable}\n")
        return 1
    sys.stdout.write(card_in_words(answer) + "\n")
    return 0 if answer["status"] == "ok" else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
