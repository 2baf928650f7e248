"""The example of bulk work: columns over a cluster give the numbers that HTTP gives."""

import importlib.util
import math
import subprocess
import sys
from pathlib import Path

import httpx
import pyarrow.parquet as pq
import pytest

from service.api.batch import COLUMN_NAMES, FIGURES

pytestmark = pytest.mark.anyio

ROOT = Path(__file__).parents[2]
SCRIPT = ROOT / "examples" / "bulk_columns" / "plan_round.py"
ROWS, ROWS_AT_ONCE = 240, 100


def nested(row: dict[str, object]) -> dict[str, object]:
    result: dict[str, object] = {}
    for name, value in row.items():
        *parents, last = name.split(".")
        here = result
        for parent in parents:
            here = here.setdefault(parent, {})  # type: ignore[assignment]
        if value is not None:
            here[last] = value
    return result


async def test_columns_on_a_cluster_give_the_numbers_of_http(
    client: httpx.AsyncClient, tmp_path: Path
) -> None:
    target = tmp_path / "answered.parquet"
    command = [sys.executable, "-m", "examples.bulk_columns.plan_round"]
    done = subprocess.run(
        [*command, str(ROWS), str(target), str(ROWS_AT_ONCE)],
        cwd=ROOT,
        env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert f"of {ROWS} rows are to mix" in done.stdout
    answers = pq.read_table(target).to_pylist()
    spec = importlib.util.spec_from_file_location("plan_round", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    example = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(example)
    asked = [nested(row) for row in example.invented_round(ROWS).to_pylist()]
    served = (await client.post("/v1/doses/batch", json={"rows": asked})).json()["rows"]
    assert [row["id"] for row in served] == [row["id"] for row in answers]
    assert {row["status"] for row in served} == {"ok", "infeasible", "rejected"}
    for row, answer in zip(served, answers, strict=True):
        assert row["status"] == answer["status"]
        assert row["cautions"] == answer["cautions"].split()
        assert bool(row["problems"]) == bool(answer["problem"])
        for name in COLUMN_NAMES:
            value = answer[name]
            if name in FIGURES and value is not None:
                # Over HTTP a number has the figures that it is worth.
                digits = FIGURES[name].digits
                value = None if math.isnan(value) else float(f"{value:.{digits}g}")
            assert row[name] == value, (row["id"], name)
