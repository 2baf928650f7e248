"""A pytest plugin that notes which test passes over which line, and how long each test takes."""

import json
import os
import signal
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any, Final
from unittest import SkipTest

import coverage
import pytest

LONGEST_SECONDS: Final = 60
"""A test that takes longer without compiling is no witness; the others of its file are."""

_SECONDS: defaultdict[str, float] = defaultdict(float)
_DISMISSED: set[str] = set()


def name_of(item_id: str) -> str:
    """Return the test without the case: all cases of a test are run together."""
    return item_id.partition("[")[0]


def _too_long(_number: int, _frame: FrameType | None) -> None:
    raise SkipTest(f"takes over {LONGEST_SECONDS} s without compiling")


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Let what follows count for this test, or pass over it when one of its cases was too long."""
    if name_of(item.nodeid) in _DISMISSED:
        raise SkipTest("another case of it is no witness")
    running: Any = coverage.Coverage.current()
    if running is not None:
        running.switch_context(name_of(item.nodeid))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call() -> Iterator[None]:
    """End a test that takes too long."""
    before = signal.signal(signal.SIGALRM, _too_long)
    signal.alarm(LONGEST_SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up the seconds of a test over its cases; one that does not pass is no witness."""
    _SECONDS[name_of(report.nodeid)] += report.duration
    if not report.passed:
        _DISMISSED.add(name_of(report.nodeid))


def pytest_sessionfinish() -> None:
    """Leave the seconds of the witnesses where the caller asked for them."""
    witnesses = {name: spent for name, spent in _SECONDS.items() if name not in _DISMISSED}
    Path(os.environ["VELAMEN_WITNESS"]).write_text(json.dumps(witnesses), encoding="utf-8")
