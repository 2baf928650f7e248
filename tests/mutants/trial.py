"""Make each change in a clone and run the tests that pass over the line."""

import json
import subprocess
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import Queue
from typing import Any, Final

from tests.mutants.covering import PYTEST_OPTIONS, Witnesses, clone, surroundings
from tests.mutants.sample import Change

MOST_SECONDS: Final = 60.0
"""Tests are run from the quickest on until they would take so long together."""

PATIENCE: Final = 4.0
"""A change that makes the tests take so many times longer counts as noticed."""


def run(
    changes: Sequence[Change], witnesses: Witnesses, layer: str, workers: int, folder: Path
) -> None:
    """Try every change; each result is one line of `{layer}.jsonl`."""
    clones: Queue[Path] = Queue()
    for number in range(workers):
        clones.put(clone(folder / f"clone{number}"))
    results = folder / f"{layer}.jsonl"
    done = results.read_text(encoding="utf-8").splitlines() if results.exists() else []
    known = {json.dumps(json.loads(line)["change"]) for line in done}

    def attempt(change: Change) -> dict[str, Any] | None:
        if json.dumps(vars(change)) in known:
            return None
        work = clones.get()
        try:
            return _attempt(change, witnesses, work)
        finally:
            clones.put(work)

    with ThreadPoolExecutor(workers) as pool, results.open("a", encoding="utf-8") as file:
        for result in pool.map(attempt, changes):
            if result is not None:
                file.write(json.dumps(result) + "\n")
                file.flush()


def tests_over(change: Change, witnesses: Witnesses) -> tuple[list[str], float]:
    """Return the tests that pass over the lines of a change, quickest first, and their seconds."""
    lines = witnesses.tests.get(change.module, {})
    within = range(change.line, change.last_line + 1)
    names = {name for line in within for name in lines.get(line, ())}
    if not names:
        # A line that is run at import: every test of the module may notice, and where the module
        # holds tables alone, every test of the layers.
        found = lines.values() if any(lines.values()) else _all_lines(witnesses)
        names = {name for names in found for name in names}
    chosen: list[str] = []
    seconds = 0.0
    for name in sorted(names, key=lambda one: witnesses.seconds.get(one, 0.0)):
        spent = witnesses.seconds.get(name, 0.0)
        if chosen and seconds + spent > MOST_SECONDS:
            break
        chosen.append(name)
        seconds += spent
    return chosen, seconds


def _all_lines(witnesses: Witnesses) -> Iterable[list[str]]:
    return (names for lines in witnesses.tests.values() for names in lines.values())


def _attempt(change: Change, witnesses: Witnesses, work: Path) -> dict[str, Any]:
    tests, seconds = tests_over(change, witnesses)
    path = work / change.module
    before = path.read_text(encoding="utf-8")
    result: dict[str, Any] = {"change": vars(change), "tests": len(tests)}
    try:
        subprocess.run(
            ["cosmic-ray", "apply", change.module, change.operator, str(change.occurrence)],
            cwd=work,
            check=True,
            capture_output=True,
        )
        result["difference"] = subprocess.run(
            ["git", "diff", "--unified=0", "--", change.module],
            cwd=work,
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        result["outcome"] = _outcome(tests, seconds, work)
    finally:
        path.write_text(before, encoding="utf-8")
    return result


def _outcome(tests: list[str], seconds: float, work: Path) -> str:
    if not tests:
        return "no test passes here"
    command = [sys.executable, "-m", "pytest", "-x", "-q", *PYTEST_OPTIONS, *tests]
    try:
        done = subprocess.run(
            command,
            cwd=work,
            env=surroundings(),
            capture_output=True,
            timeout=20.0 + PATIENCE * seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return "noticed: endless"
    return "survived" if done.returncode == 0 else "noticed"
