"""The script for spreadsheets, under Node, with a stand-in for the host that fetches for it."""

import json
import subprocess
from pathlib import Path

import pytest

from tests.running_service import get

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "examples/spreadsheet/apps_script.gs"
RUNNER = Path(__file__).with_name("apps_script_run.js")
CALLS = [
    ["feed_15_5_15_ca_mg", "rain", 10, 60, 22],
    ["feed_15_5_15_ca_mg", "softened_tap", 10, 60, 22],
    ["feed_15_5_15_ca_mg", "rain", "10,5", 60, 22],
    ["feed_15_5_15_ca_mg", "rain", "5 gal", 60, "72 °F"],
]


def test_function_returns_grams_or_throws_the_reason(address: str) -> None:
    run = subprocess.run(
        ["node", str(RUNNER), str(SCRIPT), address],
        input=json.dumps(CALLS),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    said = json.loads(run.stdout)
    status, body = get(said["asked"][0].replace("https://velamen.example", address))
    assert status == 200
    grams, too_strong, comma, gallons = said["answers"]
    assert grams == {"value": json.loads(body)["product_mass_g"]}
    assert too_strong == {"error": "No dose: infeasible"}
    assert "decimal sign as a point" in comma["error"]
    assert gallons["value"] > grams["value"]
    assert max(map(len, said["asked"])) < 2048
