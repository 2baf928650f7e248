"""An answer that its own forward check does not confirm is not given, whoever asks for it."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
SINGLE = ("/v1/doses", "/v1/dilutions", "/v1/ph-adjustments", "/v1/recipes", "/v1/stock-plans")


@pytest.fixture(scope="module")
def said() -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.contract.unconfirmed"],
        cwd=ROOT,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def counted(text: str, name: str) -> float:
    (value,) = re.findall(rf"^{re.escape(name)} (\S+)$", text, re.MULTILINE)
    return float(value)


@pytest.mark.parametrize("path", SINGLE)
def test_single_answer_is_a_problem_and_nothing_of_it_is_given(
    said: dict[str, Any], path: str
) -> None:
    assert said["as they are"][path][0] == 200
    status, kind, problem = said["none left"][path]
    assert (status, kind) == (500, "application/problem+json")
    assert problem["type"] == "/problems/failed_check"
    assert not {"product_mass_g", "amounts", "tanks", "acid_volume_ml"} & problem.keys()


def test_row_of_a_batch_is_rejected(said: dict[str, Any]) -> None:
    status, _, answer = said["as they are"]["batch"]
    assert (status, answer["summary"]["ok"], answer["summary"]["rejected"]) == (200, 1, 1)
    status, _, answer = said["none left"]["batch"]
    assert (status, answer["summary"]["ok"], answer["summary"]["rejected"]) == (200, 0, 2)
    row = answer["rows"][0]
    assert (row["id"], row["status"]) == ("a", "rejected")
    assert [problem["code"] for problem in row["problems"]] == ["forward_check_failed"]
    assert row.get("product_mass_g") is None


def test_every_answer_that_is_held_back_is_counted(said: dict[str, Any]) -> None:
    before, after = (said[name]["metrics"] for name in ("as they are", "none left"))
    answers, rows = (f'velamen_failed_checks_total{{of="{of}"}}' for of in ("answer", "row"))
    assert (counted(before, answers), counted(before, rows)) == (0, 0)
    assert counted(after, answers) == len(SINGLE)
    # Doses and dilutions are rows of one.
    assert counted(after, rows) >= 1
    code = 'velamen_row_rejections_total{code="forward_check_failed"}'
    assert counted(after, code) == counted(after, rows)
