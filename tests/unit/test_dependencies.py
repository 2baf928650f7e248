"""What the service is built on: licences that allow it, a reason for each, a bill of all of it."""

import json
import re
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
ALLOWED = {
    *("MIT", "BSD-2-Clause", "BSD-3-Clause", "0BSD", "Zlib", "CC0-1.0", "Apache-2.0", "PSF-2.0"),
    *("Apache-2.0 WITH LLVM-exception", "BSD License", "MIT License", "Apache Software License"),
}
"""Licences that ask for no more than their own text; none of them reaches into what uses them."""


def locked(lock: str = "requirements.txt") -> dict[str, str]:
    text = (ROOT / ".ci" / lock).read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z0-9][a-z0-9._-]*)==(\S+)", text, re.MULTILINE))


@pytest.fixture(scope="module")
def bill(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    path = tmp_path_factory.mktemp("bill") / "bill.cdx.json"
    program = ROOT / ".ci" / "bill_of_materials.py"
    subprocess.run([sys.executable, program, path], check=True)
    return json.loads(path.read_text(encoding="utf-8"))


def licences(component: dict[str, Any]) -> set[str]:
    (stated,) = component["licenses"]
    text = stated.get("expression") or stated["license"]["name"]
    return set(re.split(r" (?:AND|OR) ", text))


def test_bill_has_every_locked_dependency_with_its_version(bill: dict[str, Any]) -> None:
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    listed = {each["name"]: each["version"] for each in bill["components"]}
    assert len(listed) == len(bill["components"])
    for name, pinned in locked().items():
        assert listed[name] == pinned == version(name)
    assert "pip" not in listed


@pytest.mark.parametrize("name", sorted(locked()))
def test_licence_of_every_dependency_is_one_that_is_allowed(
    bill: dict[str, Any], name: str
) -> None:
    (component,) = [each for each in bill["components"] if each["name"] == name]
    assert licences(component) <= ALLOWED


def test_every_direct_dependency_is_justified_in_one_line() -> None:
    lines = (ROOT / ".ci" / "requirements.in").read_text(encoding="utf-8").splitlines()
    direct = {line for line in lines if line and not line.startswith("#")}
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    justified = dict(re.findall(r"^\| `([a-z0-9-]+)` \| (\S.*\S) \|$", text, re.MULTILINE))
    assert direct == justified.keys() & direct
    assert all(len(justified[name]) > 5 for name in direct)


def test_everything_that_is_locked_has_a_sum() -> None:
    for lock in ("requirements.txt", "requirements-test.txt", "requirements-telemetry.txt"):
        text = (ROOT / ".ci" / lock).read_text(encoding="utf-8")
        blocks = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
        assert len(blocks) == len(locked(lock))
        assert all("--hash=sha256:" in block for block in blocks)
