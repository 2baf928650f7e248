"""The set-up script: what it says when it cannot go on, and when it has nothing to do."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / ".ci" / "set_up.sh"


def set_up(folder: Path, *arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["/bin/sh", str(SCRIPT), *arguments],
        cwd=folder,
        env={"PATH": os.environ["PATH"], **variables},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


def digest_of(lock: str) -> str:
    return hashlib.sha256((ROOT / ".ci" / lock).read_bytes()).hexdigest()


@pytest.fixture
def environment(tmp_path: Path) -> Path:
    """Make an environment without pip: whoever tries to install into it fails."""
    folder = tmp_path / "environment"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", folder], check=True)
    return folder


def test_no_python_is_said_in_plain_words(tmp_path: Path) -> None:
    tools = tmp_path / "tools"
    tools.mkdir()
    for name in ("dirname", "cat", "rm"):
        (tools / name).symlink_to(str(shutil.which(name)))
    too_old = tools / "python3"
    too_old.write_text("#!/bin/sh\nexit 1\n")
    too_old.chmod(0o755)
    finished = set_up(tmp_path, "new", PATH=str(tools))
    assert finished.returncode == 1
    assert "no Python 3.11 or newer" in finished.stderr
    assert "VELAMEN_PYTHON" in finished.stderr
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("arguments", [("--runtme",), ("one", "two")])
def test_misspelt_call_changes_nothing(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    finished = set_up(tmp_path, *arguments)
    assert finished.returncode == 2
    assert arguments[-1] in finished.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("options", "installed"),
    [
        ((), "requirements-test.txt"),
        (("--runtime",), "requirements.txt"),
        (("--runtime",), "requirements-test.txt"),
    ],
)
def test_unchanged_lock_installs_nothing_from_any_folder(
    tmp_path: Path, environment: Path, options: tuple[str, ...], installed: str
) -> None:
    (environment / "installed-lock.sha256").write_text(digest_of(installed) + "\n")
    finished = set_up(tmp_path, *options, "--without-kernels", environment.name)
    assert finished.returncode == 0, finished.stderr
    assert finished.stdout == ""


def test_changed_lock_is_installed_and_a_failure_is_not_taken_for_done(
    tmp_path: Path, environment: Path
) -> None:
    stamp = environment / "installed-lock.sha256"
    stamp.write_text(digest_of("requirements.txt") + "\n")
    finished = set_up(tmp_path, "--without-kernels", str(environment))
    assert finished.returncode != 0
    assert "Installing requirements-test.txt" in finished.stdout
    assert not stamp.exists()
