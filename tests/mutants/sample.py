"""A random choice among all changes of one operator that cosmic-ray can make to a layer."""

import ast
import json
import random
import sqlite3
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.mutants.covering import clone

LAYERS: Final = ("chemistry", "planning")

LEFT_OUT: Final = {
    "core/RemoveDecorator": "without compiling the decorator of kernels does nothing",
}
"""Operators whose changes cannot be noticed, with the reason."""


@dataclass(frozen=True)
class Change:
    """One operator at one place."""

    module: str
    operator: str
    occurrence: int
    line: int
    last_line: int


def draw(layer: str, count: int, seed: int, folder: Path) -> list[Change]:
    """Return `count` changes of a layer, each as likely as any other."""
    work = clone(folder / "covered")
    session, configuration = folder / f"{layer}.sqlite", folder / f"{layer}.toml"
    modules = sorted(
        path.relative_to(work).as_posix() for path in work.glob(f"service/{layer}/*.py")
    )
    configuration.write_text(
        "[cosmic-ray]\n"
        f"module-path = {json.dumps(modules)}\n"
        'timeout = 1.0\nexcluded-modules = []\ntest-command = "false"\n'
        '[cosmic-ray.distributor]\nname = "local"\n',
        encoding="utf-8",
    )
    session.unlink(missing_ok=True)
    subprocess.run(["cosmic-ray", "init", str(configuration), str(session)], cwd=work, check=True)
    with sqlite3.connect(session) as opened:
        rows = opened.execute(
            "select module_path, operator_name, occurrence, start_pos_row, end_pos_row"
            " from mutation_specs order by 1, 2, 3"
        ).fetchall()
    annotated = {module: _annotation_lines(work / module) for module in modules}
    changes = [
        Change(*row)
        for row in rows
        if row[1] not in LEFT_OUT and not ("BitOr" in row[1] and row[3] in annotated[row[0]])
    ]
    print(f"{layer}: {len(changes):,} changes of {len(modules)} modules, {count} tried", flush=True)
    return random.Random(seed).sample(changes, min(count, len(changes)))


def _annotation_lines(path: Path) -> set[int]:
    """Return the lines of annotations: an `|` there is no operation."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        for name in ("annotation", "returns"):
            found = getattr(node, name, None)
            if isinstance(found, ast.expr):
                lines.update(range(found.lineno, (found.end_lineno or found.lineno) + 1))
    return lines
