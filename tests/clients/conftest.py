"""What the tests of client programs share: the service as its users run it, and the programs."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running_service import running_service

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0"}
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as found:
        yield found


@pytest.fixture(scope="session")
def clients() -> Path:
    """The folder that `.ci/set_up_clients.sh` fills."""
    folder = Path(os.environ.get("VELAMEN_CLIENTS", ROOT / ".clients"))
    assert folder.is_dir(), "sh .ci/set_up_clients.sh installs the client programs"
    return folder
