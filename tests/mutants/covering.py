"""Which tests pass over which lines of the layers, without compiling."""

import json
import os
import subprocess
import sys
from collections.abc import Container
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import coverage
import pytest

ROOT: Final = Path(__file__).parents[2]

TESTS: Final = (
    "tests/unit/chemistry",
    "tests/unit/reference",
    "tests/unit/planning",
    "tests/published",
    "tests/properties",
    "tests/reference_engines",
)
PATIENCE_SECONDS: Final = 1_800
"""A file of tests that takes longer without compiling is no witness, whatever its tests."""


PYTEST_OPTIONS: Final = ("-p", "no:cacheprovider", "-W", "ignore::RuntimeWarning")
"""numpy warns of an overflow where compiled code goes on with infinity in silence."""


@dataclass(frozen=True)
class Witnesses:
    """Lines of each module with the tests that pass over them, and the seconds of each test."""

    tests: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]


def clone(folder: Path) -> Path:
    """Return a fresh clone of the last commit."""
    if not folder.exists():
        subprocess.run(["git", "clone", "--quiet", str(ROOT), str(folder)], check=True)
    return folder


def surroundings() -> dict[str, str]:
    """Return the environment of a run without compiling that leaves no bytecode behind."""
    return {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}


def lines_of_tests(folder: Path, workers: int) -> Witnesses:
    """Run every file of tests once under coverage; results are kept in `folder`."""
    kept = folder / "witnesses.json"
    if not kept.exists():
        kept.write_text(json.dumps(_collect(folder, workers)), encoding="utf-8")
    found = json.loads(kept.read_text(encoding="utf-8"))
    tests = {
        module: {int(line): names for line, names in lines.items()}
        for module, lines in found["tests"].items()
    }
    return Witnesses(tests, found["seconds"])


def _collect(folder: Path, workers: int) -> dict[str, Any]:
    work = clone(folder / "covered")
    tests: dict[str, dict[int, list[str]]] = {}
    seconds: dict[str, float] = {}
    files = [path for place in TESTS for path in sorted((work / place).glob("test_*.py"))]
    names = [path.relative_to(work).as_posix() for path in files]
    with ThreadPoolExecutor(workers) as threads:
        for data, passed in threads.map(lambda name: _watched(folder, work, name), names):
            seconds.update(passed)
            if passed:
                _add(data, work, tests, passed)
    return {"tests": tests, "seconds": seconds}


def _watched(folder: Path, work: Path, name: str) -> tuple[Path, dict[str, float]]:
    """Run a file of tests; return where its lines are and which tests passed, in how long."""
    place = folder / name.replace("/", ".")
    data, spent = place.with_suffix(".data"), place.with_suffix(".json")
    command = [
        *(sys.executable, "-m", "coverage", "run", "--include=service/*", f"--data-file={data}"),
        *("-m", "pytest", "-q", *PYTEST_OPTIONS, "-p", "tests.mutants.witness", name),
    ]
    try:
        done = subprocess.run(
            command,
            cwd=work,
            env={**surroundings(), "VELAMEN_WITNESS": str(spent)},
            capture_output=True,
            text=True,
            timeout=PATIENCE_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        print(f"  {name}: no witness, it takes over {PATIENCE_SECONDS} s", flush=True)
        return data, {}
    if done.returncode not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED):
        print(f"  {name}: no witness, it does not run without compiling\n{done.stdout[-500:]}")
        return data, {}
    return data, json.loads(spent.read_text(encoding="utf-8"))


def _add(
    data: Path, work: Path, tests: dict[str, dict[int, list[str]]], passed: Container[str]
) -> None:
    collected = coverage.CoverageData(str(data))
    collected.read()
    for measured in collected.measured_files():
        module = Path(measured).relative_to(work).as_posix()
        lines = tests.setdefault(module, {})
        for line, contexts in collected.contexts_by_lineno(measured).items():
            lines.setdefault(line, []).extend(name for name in contexts if name in passed)
