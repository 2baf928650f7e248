"""curl, alone and in the script for shells."""

import json
import os
import subprocess
from pathlib import Path

import pytest

from tests.running_service import get

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "examples/shell/one_can.sh"
ROUND = ROOT / "examples/glasshouse_round.csv"
CAN = "product=feed_15_5_15_ca_mg&water=rain&plants.size=large"


def run(*command: str, address: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        env={**os.environ, "VELAMEN_ADDRESS": address},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def asked_directly(address: str, rest: str) -> dict[str, object]:
    status, body = get(f"{address}/v1/doses?{CAN}&{rest}")
    assert status == 200
    return dict(json.loads(body))


def test_script_prints_the_grams_of_the_answer_and_nothing_else(address: str) -> None:
    finished = run("sh", str(SCRIPT), "10", "60", "22", address=address)
    assert finished.returncode == 0, finished.stderr
    whole = asked_directly(
        address, "volume_l=10&air.humidity_percent=60&air.temperature_celsius=22"
    )
    assert finished.stdout == f"{whole['product_mass_g']}\n"
    assert finished.stderr == ""


def test_script_takes_gallons_and_fahrenheit_as_they_are_said(address: str) -> None:
    finished = run("sh", str(SCRIPT), "5 gal", "60", "72 °F", address=address)
    assert finished.returncode == 0, finished.stderr
    metric = run("sh", str(SCRIPT), "18.927", "60", "22.2222", address=address)
    assert finished.stdout == metric.stdout


@pytest.mark.parametrize(
    ("litres", "says"),
    [("10,5", "decimal sign as a point"), ('10 "half"', "volume_l"), ("", "volume_l")],
)
def test_script_prints_no_number_but_the_reason_for_what_cannot_be_answered(
    address: str, litres: str, says: str
) -> None:
    finished = run("sh", str(SCRIPT), litres, "60", "22", address=address)
    assert finished.returncode == 1
    assert finished.stdout == ""
    assert finished.stderr.startswith("No dose (422): ")
    assert says in finished.stderr
    assert '"errors"' not in finished.stderr, "words are for reading, not JSON"


def test_script_fails_when_nobody_answers() -> None:
    finished = run("sh", str(SCRIPT), "10", "60", "22", address="http://127.0.0.1:9")
    assert finished.returncode != 0
    assert finished.stdout == ""


def test_curl_fails_with_the_problem_in_its_body(address: str) -> None:
    finished = run("curl", "-sS", "--fail-with-body", f"{address}/v1/doses?{CAN}&volume=10")
    assert finished.returncode == 22
    problem = json.loads(finished.stdout)
    assert "Did you mean `volume_l`" in problem["detail"]


def test_curl_sends_a_table_and_saves_a_workbook(address: str, tmp_path: Path) -> None:
    book = tmp_path / "doses.xlsx"
    finished = run(
        *("curl", "-sS", "--fail", "--data-binary", f"@{ROUND}", "-H", "Content-Type: text/csv"),
        *("-o", str(book), "-w", "%{content_type}", f"{address}/v1/doses/batch.xlsx"),
    )
    assert finished.returncode == 0, finished.stderr
    assert finished.stdout.endswith("spreadsheetml.sheet")
    assert book.read_bytes().startswith(b"PK")


def test_curl_asks_for_the_head_of_an_answer_without_its_body(address: str) -> None:
    finished = run("curl", "-sS", "--head", f"{address}/v1/doses?{CAN}&volume_l=10")
    assert finished.stdout.startswith("HTTP/1.1 200")
    assert "content-type: application/json" in finished.stdout.lower()
