"""Linters of other people on the committed contract: Redocly's strictest rules, and OWASP's."""

import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = ROOT / "openapi" / "openapi.json"
COMPOSED = {"oneOf", "anyOf", "allOf", "not"}


def run(clients: Path, rules: str, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a linter with the rules of this project, from where its own packages are found."""
    folder = clients / "contract"
    shutil.copy(ROOT / rules, folder / rules)
    return subprocess.run(
        [str(folder / "node_modules" / ".bin" / command[0]), *command[1:]],
        cwd=folder,
        env={"PATH": "/usr/local/bin:/usr/bin:/bin", "REDOCLY_TELEMETRY": "off", "HOME": "/tmp"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def test_redocly_has_nothing_to_say_by_its_strictest_rules(clients: Path) -> None:
    finished = run(
        clients, ".redocly.yaml", "redocly", "lint", "--config", ".redocly.yaml", str(DOCUMENT)
    )
    assert finished.returncode == 0, finished.stdout[-3000:] + finished.stderr[-2000:]


@pytest.fixture(scope="module")
def told(clients: Path) -> list[dict[str, Any]]:
    """What Spectral says of the contract."""
    arguments = ("lint", "-r", ".spectral.yaml", "-f", "json", "--quiet", str(DOCUMENT))
    finished = run(clients, ".spectral.yaml", "spectral", *arguments)
    assert finished.returncode in (0, 1), finished.stderr[-2000:]
    text = finished.stdout
    return list(json.loads(text[text.index("[") : text.rindex("]") + 1]))


def test_spectral_finds_no_error_by_its_own_rules_and_those_of_owasp(
    told: list[dict[str, Any]],
) -> None:
    assert [(each["code"], each["path"]) for each in told if each["severity"] == 0] == []


def references(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        for key, inner in node.items():
            if key == "$ref":
                yield str(inner).rpartition("/")[2]
            else:
                yield from references(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from references(inner)


def sent_schemas(document: dict[str, Any]) -> set[str]:
    """Return the names of the schemas that bodies and parameters reach."""
    waiting = [
        name
        for item in document["paths"].values()
        for operation in item.values()
        for part in ("requestBody", "parameters")
        for name in references(operation.get(part, {}))
    ]
    found: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(references(document["components"]["schemas"][name]))
    return found


def test_whatever_callers_send_is_bounded(told: list[dict[str, Any]]) -> None:
    document = json.loads(DOCUMENT.read_text(encoding="utf-8"))
    sent = sent_schemas(document)
    assert len(sent) > 40
    unbounded = []
    for each in told:
        path = [str(part) for part in each["path"]]
        of_schema = path[:2] == ["components", "schemas"] and path[2] in sent
        of_operation = path[0] == "paths" and ("requestBody" in path or "parameters" in path)
        # An alternative repeats a field whose bounds stand in the schema that it belongs to.
        repeated = of_schema and COMPOSED & set(path[3:])
        node: Any = document
        for part in path:
            node = node[int(part)] if isinstance(node, list) else node[part]
        chosen = isinstance(node, dict) and ("enum" in node or "const" in node)
        if (of_schema or of_operation) and not repeated and not chosen:
            unbounded.append((each["code"], "/".join(path)))
    assert unbounded == []
