"""What belongs where, and what must not appear anywhere."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "Dockerfile",
    "service",
    "openapi",
    "tests",
    "examples",
}

LINE_LIMIT = 450

# A name that would fit any project tells a newcomer nothing.
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "common", "models", "core", "misc"}

# The patterns are broken up so that this file does not match itself.
MACHINE_PATHS = [
    r"(?<![\w.-])/(work|root)" + r"/",
    r"\.\./" + r"shared\b",
    r"/pyenv" + r"/",
]
REGISTRY_HOSTS = [
    r"py" + r"pi\.org",
    r"python" + r"hosted\.org",
    r"registry\." + r"npmjs",
    r"registry\." + r"yarnpkg",
    r"deb\." + r"debian\.org",
    r"--(extra-)?index" + r"-url[ =]",
]
UNFINISHED = [
    r"\bTO" + r"DO\b",
    r"\bFIX" + r"ME\b",
    r"\bX" + r"XX\b",
    r"mark\.(skip|skipif|x" + r"fail)\b",
    r"pytest\.(skip|x" + r"fail)\(",
    r"importor" + r"skip",
]
# Assets are other people's files, taken over whole; their words are not ours.
TAKEN_OVER = Path("service/api/assets")


def project_files() -> list[Path]:
    """Return what git tracks or would track, relative to the top level."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    files = [Path(name) for name in listed.split("\0") if name and (ROOT / name).is_file()]
    assert files, "git lists no file"
    return files


def matches(patterns: list[str], files: list[Path]) -> list[str]:
    found = []
    pattern = re.compile("|".join(patterns))
    for file in files:
        text = (ROOT / file).read_text(encoding="utf-8", errors="replace")
        for number, line in enumerate(text.splitlines(), 1):
            if hit := pattern.search(line):
                found.append(f"{file}:{number}: {hit.group()}")
    return found


def test_top_level_holds_nothing_that_does_not_belong() -> None:
    names = {file.parts[0] for file in project_files()}
    assert {name for name in names - TOP_LEVEL if not name.startswith(".")} == set()


@pytest.mark.parametrize("name", sorted(TOP_LEVEL))
def test_top_level_is_complete(name: str) -> None:
    assert name in {file.parts[0] for file in project_files()}


def test_no_code_file_is_too_long_to_read_in_one_go() -> None:
    too_long = [
        f"{file}: {count} lines"
        for file in project_files()
        if file.parts[0] in {"service", "tests", "examples", ".ci"}
        and file.suffix in {".py", ".sh"}
        and (count := len((ROOT / file).read_text(encoding="utf-8").splitlines())) > LINE_LIMIT
    ]
    assert too_long == []


def test_no_module_has_a_name_that_says_nothing() -> None:
    nameless = [
        str(file)
        for file in project_files()
        if file.parts[0] in {"service", "tests"}
        and EMPTY_NAMES & {file.stem, *(part for part in file.parts[:-1])}
    ]
    assert nameless == []


def test_no_file_names_a_path_of_one_machine() -> None:
    assert matches(MACHINE_PATHS, project_files()) == []


def test_no_file_names_a_package_registry() -> None:
    assert matches(REGISTRY_HOSTS, project_files()) == []


def test_no_file_leaves_work_for_later() -> None:
    ours = [file for file in project_files() if not file.is_relative_to(TAKEN_OVER)]
    assert matches(UNFINISHED, ours) == []


def required_packages() -> list[str]:
    """Return the names in the list of what the service runs on."""
    lines = (ROOT / ".ci" / "requirements.in").read_text(encoding="utf-8").splitlines()
    names = [re.split(r"[\[<>=!~; ]", line)[0] for line in lines if line[:1].isalpha()]
    assert names
    return names


def test_every_dependency_is_justified_for_developers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = re.search(
        r"^#+ (?:\d+\.? )?Dependencies\s*$(.*?)(?=^#{1,2} |\Z)", text, re.MULTILINE | re.DOTALL
    )
    assert section, "DEVELOPERS.md has no section Dependencies"
    lines = section.group(1).splitlines()
    unexplained = [
        name
        for name in required_packages()
        if not any(re.match(rf"[-*|\s`]*{re.escape(name)}\b.*\w{{3}}", line) for line in lines)
    ]
    assert unexplained == []


def test_declared_dependencies_are_those_that_are_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert sorted(project["project"]["dependencies"]) == sorted(required_packages())


@pytest.mark.parametrize("name", ["requirements", "requirements-test"])
def test_every_locked_package_carries_a_hash(name: str) -> None:
    text = (ROOT / ".ci" / f"{name}.txt").read_text(encoding="utf-8").replace("\\\n", "")
    requirements = [line for line in text.splitlines() if line[:1].isalpha()]
    assert requirements
    assert [line for line in requirements if "==" not in line or "--hash=sha256:" not in line] == []
    locked = {line.split("==")[0] for line in requirements}
    assert set(required_packages()) <= locked
