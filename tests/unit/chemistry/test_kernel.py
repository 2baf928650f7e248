"""The compiled kernels on disk: never stale, and no need of a writable folder."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from service.chemistry.kernel import PACKAGE_FOLDER, source_stamp
from tests.read_only import read_only

CALLEE = """
from service.chemistry.kernel import kernel


@kernel
def factor(share: float) -> float:
    return {factor} * share
"""

CALLER = """
from service.chemistry.callee import factor
{decorator_import}


@{decorator}
def amount(share: float) -> float:
    return factor(share) + 1.0
"""

OURS = {"decorator_import": "from service.chemistry.kernel import kernel", "decorator": "kernel"}
PLAIN = {"decorator_import": "import numba", "decorator": "numba.njit(cache=True)"}

CALL = """
import json

from service.chemistry import kernel
from service.planning.caller import amount

value = amount(10.0)
print(json.dumps({
    "value": value,
    "cached": kernel.CACHED,
    "loaded": sum(amount.stats.cache_hits.values()),
}))
"""


def lay_package(root: Path, caller: dict[str, str]) -> None:
    """Make a package of two modules around the real decorator."""
    for name in ("chemistry", "planning", "reference", "units"):
        (root / "service" / name).mkdir(parents=True)
        (root / "service" / name / "__init__.py").touch()
    (root / "service" / "__init__.py").touch()
    shutil.copy(PACKAGE_FOLDER / "chemistry" / "kernel.py", root / "service" / "chemistry")
    (root / "service" / "planning" / "caller.py").write_text(CALLER.format_map(caller))
    write_callee(root, 2.0)


def write_callee(root: Path, factor: float) -> None:
    (root / "service" / "chemistry" / "callee.py").write_text(CALLEE.format(factor=factor))


def call(root: Path, kernels: Path, wrap: Sequence[str] = ()) -> dict[str, float]:
    """Call the two modules in a process of their own."""
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": "/nonexistent",
        "PYTHONPATH": str(root),
        "PYTHONDONTWRITEBYTECODE": "1",
        "VELAMEN_KERNELS": str(kernels),
    }
    command = [*wrap, sys.executable, "-W", "error", "-c", CALL]
    finished = subprocess.run(
        command, cwd=root, env=environment, capture_output=True, text=True, check=False
    )
    assert finished.returncode == 0, finished.stderr
    answer: dict[str, float] = json.loads(finished.stdout)
    return answer


def test_changed_callee_in_another_module_is_never_served_stale(tmp_path: Path) -> None:
    lay_package(tmp_path, OURS)
    kernels = tmp_path / "kernels"
    assert call(tmp_path, kernels) == {"value": 21.0, "cached": True, "loaded": 0}
    assert call(tmp_path, kernels) == {"value": 21.0, "cached": True, "loaded": 1}

    write_callee(tmp_path, 3.0)

    assert call(tmp_path, kernels) == {"value": 31.0, "cached": True, "loaded": 0}
    assert call(tmp_path, kernels) == {"value": 31.0, "cached": True, "loaded": 1}


def test_without_our_stamp_the_stale_kernel_would_be_served(tmp_path: Path) -> None:
    """The reason for the stamp; when this fails, numba looks at callees itself."""
    lay_package(tmp_path, PLAIN)
    module = tmp_path / "service" / "chemistry" / "kernel.py"
    text = module.read_text()
    ours = "    numba.config.CACHE_LOCATOR_CLASSES = "
    assert text.count(ours) == 1
    module.write_text(text.replace(ours, "    _ = "))
    kernels = tmp_path / "kernels"
    assert call(tmp_path, kernels)["value"] == 21.0

    write_callee(tmp_path, 3.0)

    assert call(tmp_path, kernels) == {"value": 21.0, "cached": True, "loaded": 1}


def test_prepared_kernels_are_loaded_from_a_read_only_folder(tmp_path: Path) -> None:
    lay_package(tmp_path, OURS)
    kernels = tmp_path / "kernels"
    call(tmp_path, kernels)
    before = sorted(kernels.rglob("*"))

    answer = call(tmp_path, kernels, read_only(tmp_path, []))

    assert answer == {"value": 21.0, "cached": True, "loaded": 1}
    assert sorted(kernels.rglob("*")) == before


def test_kernel_changed_after_preparing_is_compiled_in_memory(tmp_path: Path) -> None:
    lay_package(tmp_path, OURS)
    kernels = tmp_path / "kernels"
    call(tmp_path, kernels)
    write_callee(tmp_path, 3.0)

    answer = call(tmp_path, kernels, read_only(tmp_path, []))

    assert answer == {"value": 31.0, "cached": True, "loaded": 0}


def test_empty_read_only_folder_is_no_obstacle(tmp_path: Path) -> None:
    lay_package(tmp_path, OURS)
    kernels = tmp_path / "kernels"
    kernels.mkdir()

    answer = call(tmp_path, kernels, read_only(tmp_path, []))

    assert answer["value"] == 21.0
    assert not any(kernels.iterdir())


def test_missing_folder_that_cannot_be_made_leaves_kernels_in_memory(tmp_path: Path) -> None:
    lay_package(tmp_path, OURS)
    (tmp_path / "file").touch()

    answer = call(tmp_path, tmp_path / "file" / "kernels")

    assert answer == {"value": 21.0, "cached": False, "loaded": 0}


@pytest.mark.parametrize(
    "name", ["chemistry/new.py", "reference/tables/new.csv", "reference/new.toml", "units/new.py"]
)
def test_source_stamp_changes_with_every_source_and_table(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.parent.mkdir(parents=True)
    absent = source_stamp(tmp_path)
    path.write_text("value\n1\n")
    first = source_stamp(tmp_path)
    path.write_text("value\n2\n")
    second = source_stamp(tmp_path)
    path.rename(path.with_stem("renamed"))
    renamed = source_stamp(tmp_path)
    assert len({absent, first, second, renamed}) == 4


def test_source_stamp_does_not_change_with_what_no_kernel_reads(tmp_path: Path) -> None:
    before = source_stamp(tmp_path)
    (tmp_path / "api").mkdir()
    (tmp_path / "api" / "routes.py").write_text("pass\n")
    (tmp_path / "chemistry" / "__pycache__").mkdir(parents=True)
    (tmp_path / "chemistry" / "__pycache__" / "ph.pyc").write_bytes(b"code")
    assert source_stamp(tmp_path) == before
