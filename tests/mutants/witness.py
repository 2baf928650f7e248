"""A pytest plugin that notes which test passes over which line, and how long each test takes."""

import json
import os
from collections import defaultdict
from pathlib import Path
from typing import Any

import coverage
import pytest

_SECONDS: defaultdict[str, float] = defaultdict(float)


def name_of(item_id: str) -> str:
    """Return the test without the case: all cases of a test are run together."""
    return item_id.partition("[")[0]


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Let what follows count for this test."""
    running: Any = coverage.Coverage.current()
    if running is not None:
        running.switch_context(name_of(item.nodeid))


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up the seconds of a test over its cases."""
    _SECONDS[name_of(report.nodeid)] += report.duration


def pytest_sessionfinish() -> None:
    """Leave the seconds where the caller asked for them."""
    Path(os.environ["VELAMEN_WITNESS"]).write_text(json.dumps(_SECONDS), encoding="utf-8")
