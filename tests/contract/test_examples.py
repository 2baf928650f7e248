"""The examples run as they stand, end to end, as a stranger would run them."""

import csv
import io
import json
import os
import re
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from examples.mixing_sheet import problem_in_words
from tests.running_service import get, running_service

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
ROUND = EXAMPLES / "glasshouse_round.csv"

OWN_COLUMNS = ("bench", "note")

# Minis whose water alone is stronger than they bear.
TOO_STRONG_WATER = {"row-34", "row-35"}


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture(scope="module")
def asked() -> list[dict[str, str]]:
    return rows_of(ROUND.read_text(encoding="utf-8"))


def first_round(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the script from another folder, with the environment that runs this test."""
    return subprocess.run(
        ["sh", str(EXAMPLES / "first_round.sh"), *arguments],
        cwd=folder,
        env={**os.environ, "VELAMEN_VENV": sys.prefix},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def address_in(words: str) -> str:
    asked_at = re.search(r"^Asking (http://\S+)$", words, re.MULTILINE)
    assert asked_at, words
    return asked_at.group(1)


def test_first_round_prints_a_line_for_every_row_and_stops_the_service(
    tmp_path: Path, asked: list[dict[str, str]]
) -> None:
    finished = first_round(tmp_path)
    assert finished.returncode == 0, finished.stderr
    missing = [row["id"] for row in asked if not re.search(rf"\b{row['id']}\b", finished.stdout)]
    assert missing == []
    assert max(map(len, finished.stdout.splitlines())) <= 200, "too wide to read or print"
    assert not finished.stdout.lstrip().startswith("{"), "a table is for reading, not JSON"
    assert get(f"{address_in(finished.stderr)}/livez")[0] == 0
    assert list(tmp_path.iterdir()) == []


def test_first_round_stops_the_service_when_the_table_is_refused(tmp_path: Path) -> None:
    table = tmp_path / "wrong.csv"
    table.write_text("id,plants.sise\n1,large\n", encoding="utf-8")
    finished = first_round(tmp_path, str(table))
    assert finished.returncode != 0
    assert re.search(
        r"^  .*`plants\.sise`.*Did you mean `plants\.size`", finished.stderr, re.MULTILINE
    )
    assert '"errors"' not in finished.stderr, "words are for reading, not JSON"
    assert get(f"{address_in(finished.stderr)}/livez")[0] == 0


def test_client_prints_every_fault_of_a_problem_in_words() -> None:
    faults = [
        {"pointer": "#/rows/0/water", "code": "missing", "detail": "Water is missing."},
        {"parameter": "format", "code": "not_allowed", "detail": "No such format."},
        {"code": "unknown_column", "detail": "No such column."},
    ]
    problem = {"type": "/problems/x", "detail": "Three faults.", "errors": faults}
    said = problem_in_words(json.dumps(problem).encode())
    assert said.splitlines() == [
        "  #/rows/0/water: Water is missing.",
        "  format: No such format.",
        "  No such column.",
    ]
    assert problem_in_words(json.dumps({**problem, "errors": []}).encode()) == "  Three faults."
    assert problem_in_words(b"<html>bad gateway</html>") == "<html>bad gateway</html>"
    assert problem_in_words(b"[1]") == "[1]"


@pytest.fixture(scope="module")
def answered() -> Iterator[list[dict[str, str]]]:
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0"}
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as address:
        request = urllib.request.Request(
            f"{address}/v1/doses/batch",
            ROUND.read_bytes(),
            {"Content-Type": "text/csv", "Accept": "text/csv"},
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            yield rows_of(answer.read().decode("utf-8-sig"))


def test_round_covers_what_a_grower_meets(asked: list[dict[str, str]]) -> None:
    assert len(asked) >= 44
    assert len({row["id"] for row in asked}) == len(asked)
    assert {row["plants.size"] for row in asked} == {"large", "medium", "mini"}
    assert {row["plants.setup"] for row in asked} == {
        "wet_dry_pot",
        "semi_hydroponic_pot",
        "mount",
    }
    assert {row["plants.growth"] for row in asked} == {
        "active",
        "spike_initiation",
        "in_bloom",
        "resting",
    }
    assert {row["strength.basis"] for row in asked} == {
        "",
        "element",
        "product",
        "conductivity",
        "meter_ppm",
    }
    empty = [name for name in asked[0] if not any(row[name] for row in asked)]
    assert empty == []


def test_every_row_comes_back_in_order_with_the_growers_own_columns(
    asked: list[dict[str, str]], answered: list[dict[str, str]]
) -> None:
    assert [row["id"] for row in answered] == [row["id"] for row in asked]
    for name in OWN_COLUMNS:
        assert [row[name] for row in answered] == [row[name] for row in asked]


def test_no_row_is_malformed_and_only_strong_water_cannot_be_met(
    answered: list[dict[str, str]],
) -> None:
    assert [row["id"] for row in answered if row["status"] == "rejected"] == []
    assert {row["id"] for row in answered if row["status"] == "infeasible"} == TOO_STRONG_WATER


@pytest.mark.parametrize(("cans", "says"), [((), "The cans"), (("8",), "Mix in this order")])
def test_round_is_saved_as_a_page_to_print(
    tmp_path: Path, cans: tuple[str, ...], says: str
) -> None:
    environment = {**os.environ, "VELAMEN_HOST": "127.0.0.1", "VELAMEN_PORT": "0"}
    page = tmp_path / "sheet.html"
    with running_service([sys.executable, "-m", "service"], ROOT, environment) as address:

        def run(table: Path) -> subprocess.CompletedProcess[str]:
            return subprocess.run(
                ["sh", str(EXAMPLES / "paper/print_round.sh"), str(table), str(page), *cans],
                env={**os.environ, "VELAMEN_ADDRESS": address},
                stdin=subprocess.DEVNULL,
                capture_output=True,
                text=True,
                timeout=60,
                check=False,
            )

        finished = run(ROUND)
        assert finished.returncode == 0, finished.stderr
        text = page.read_text(encoding="utf-8")
        assert says in text
        assert text.rstrip().endswith("</html>")
        wrong = tmp_path / "wrong.csv"
        wrong.write_text("id,plants.sise\n1,large\n", encoding="utf-8")
        page.unlink()
        refused = run(wrong)
        assert refused.returncode == 1
        assert "plants.size" in refused.stderr
        assert sorted(each.name for each in tmp_path.iterdir()) == ["wrong.csv"]


def test_every_kind_of_user_has_a_folder_with_a_short_readme() -> None:
    for folder in (each for each in EXAMPLES.iterdir() if each.is_dir()):
        if folder.name.startswith(("_", ".")):
            continue
        lines = (folder / "README.md").read_text(encoding="utf-8").splitlines()
        assert 5 <= len(lines) <= 25, folder.name
