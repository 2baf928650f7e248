"""LibreOffice Calc: the sheet of the examples, and the tables that the service answers."""

import csv
import json
import math
import re
import shutil
import subprocess
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from tests.running_service import get

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
SHEET = ROOT / "examples/spreadsheet/doses.fods"
ROUND = ROOT / "examples/glasshouse_round.csv"
READER = Path(__file__).with_name("calc_cells.py")
# The Python of the system has LibreOffice's bridge.
SYSTEM_PYTHON = "/usr/bin/python3"

ERROR_OF_A_FAILED_LINK = 519  # shown as #VALUE!
# Comma between cells, text in quotes, UTF-8, from line 1, English, values instead of what is shown.
WRITTEN_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,1033,true,false"
NUMBERS_OF_THE_ANSWER = ("product_mass_g", "predicted_ec_ms_per_cm", "predicted_ph")


def office(folder: Path, locale: str) -> list[str]:
    """
    Return the command of an office with a profile of its own, in the given country.

    Links of documents in the folder are updated, as after "Allow updating" in the window.
    """
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True)
    settings = (
        ("Office.Common/Security/Scripting", "SecureURL", f"<it>{folder.as_uri()}</it>"),
        ("Office.Calc/Content/Update", "Link", "0"),
        ("Setup/L10N", "ooSetupSystemLocale", locale),
    )
    items = "".join(
        f'<item oor:path="/org.openoffice.{path}"><prop oor:name="{name}" oor:op="fuse">'
        f"<value>{value}</value></prop></item>"
        for path, name, value in settings
    )
    (profile / "user/registrymodifications.xcu").write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<oor:items xmlns:oor="http://openoffice.org/2001/registry">{items}</oor:items>\n',
        encoding="utf-8",
    )
    program = shutil.which("soffice")
    assert program, "sh .ci/set_up_clients.sh installs LibreOffice Calc"
    return [program, "--headless", "--norestore", f"-env:UserInstallation={profile.as_uri()}"]


def cells(document: Path, locale: str = "en-US") -> dict[str, list[list[dict[str, Any]]]]:
    """Return what every sheet of a document holds, after its links have been followed."""
    pipe = f"velamen-{document.parent.name}"
    command = office(document.parent, locale)
    with subprocess.Popen([*command, f"--accept=pipe,name={pipe};urp"]) as running:
        try:
            read = subprocess.run(
                [SYSTEM_PYTHON, str(READER), pipe, str(document)],
                capture_output=True,
                text=True,
                timeout=120,
                check=False,
            )
            assert read.returncode == 0, read.stderr
            running.wait(timeout=30)
        finally:
            running.terminate()
    return dict(json.loads(read.stdout))


def converted(table: Path, *options: str) -> str:
    """Return a table after Calc has opened it and written it as CSV, texts in quotes."""
    written = table.parent / "written"
    finished = subprocess.run(
        [
            *office(table.parent, "en-US"),
            *options,
            *("--convert-to", WRITTEN_CSV, "--outdir", str(written), str(table)),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    made = written / f"{table.stem}.csv"
    assert made.exists(), finished.stdout + finished.stderr
    return made.read_text(encoding="utf-8")


def answered_round(address: str, rest: str) -> bytes:
    request = urllib.request.Request(
        f"{address}/v1/doses/batch{rest}", ROUND.read_bytes(), {"Content-Type": "text/csv"}
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        return bytes(answer.read())


@pytest.fixture(scope="module")
def rows(address: str) -> list[dict[str, Any]]:
    return list(json.loads(answered_round(address, ".json"))["rows"])


@pytest.mark.parametrize("locale", ["en-US", "de-DE"])
def test_sheet_of_the_examples_shows_what_the_service_answers(
    address: str, tmp_path: Path, locale: str
) -> None:
    sheet = tmp_path / "doses.fods"
    text = SHEET.read_text(encoding="utf-8")
    assert text.count("http://127.0.0.1:8000") == 1, "the address stands in one cell"
    sheet.write_text(text.replace("http://127.0.0.1:8000", address), encoding="utf-8")
    read = cells(sheet, locale)["Doses"]
    assert read[3][3]["text"] == ("12,5" if locale == "de-DE" else "12.5")
    states = []
    for _, product, water, litres, humidity, temperature, grams, _, ec, ph, status in read[3:]:
        query = {
            "product": product["text"],
            "water": water["text"],
            "plants.size": "large",
            "volume_l": litres["number"],
            "air.humidity_percent": humidity["number"],
            "air.temperature_celsius": temperature["number"],
        }
        code, body = get(f"{address}/v1/doses?{urllib.parse.urlencode(query)}")
        assert code == 200
        answer = json.loads(body)
        states.append(answer["status"])
        assert status["text"] == answer["status"]
        assert ec["number"] == answer["predicted_ec_ms_per_cm"]
        assert ph["number"] == answer["predicted_ph"]
        if answer["status"] == "ok":
            assert grams["error"] == 0
            assert grams["number"] == answer["product_mass_g"]
        else:
            assert grams["error"] == ERROR_OF_A_FAILED_LINK, "an error, never a zero"
    assert states == ["ok", "ok", "ok", "infeasible"]


def cells_as_written(line: str) -> list[str]:
    """Return the cells of a line with their quotes, which tell a text from a number."""
    return re.findall(r'(?:^|(?<=,))("(?:[^"]|"")*"|[^,]*)', line)


def compare(text: str, rows: list[dict[str, Any]]) -> None:
    heading, *lines = [cells_as_written(line) for line in text.splitlines()]
    opened = [dict(zip(heading, line, strict=True)) for line in lines]
    assert [row['"id"'] for row in opened] == [f'"{row["id"]}"' for row in rows]
    for name in NUMBERS_OF_THE_ANSWER:
        # A number that was taken for a text stands in quotes, and is no number here.
        assert [float(row[f'"{name}"'] or "nan") for row in opened] == pytest.approx(
            [math.nan if row[name] is None else row[name] for row in rows], rel=1e-12, nan_ok=True
        )


def test_calc_reads_our_csv_as_numbers(
    address: str, tmp_path: Path, rows: list[dict[str, Any]]
) -> None:
    table = tmp_path / "doses.csv"
    table.write_bytes(answered_round(address, ".csv"))
    compare(converted(table, "--infilter=CSV:44,34,76,1,,1033"), rows)


def test_calc_in_germany_reads_our_csv_with_decimal_commas(
    address: str, tmp_path: Path, rows: list[dict[str, Any]]
) -> None:
    table = tmp_path / "doses.csv"
    heading, *lines = csv.reader(ROUND.read_text(encoding="utf-8").splitlines())
    # The round as a grower in Germany would save it: semicolons and decimal commas.
    local = [[re.sub(r"^(\d+)\.(\d+)", r"\1,\2", cell) for cell in line] for line in lines]
    assert local != lines
    body = tmp_path / "round.csv"
    with body.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened, delimiter=";").writerows([heading, *local])
    request = urllib.request.Request(
        f"{address}/v1/doses/batch.csv?dialect=excel-eu",
        body.read_bytes(),
        {"Content-Type": "text/csv"},
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        table.write_bytes(answer.read())
    assert ";" in table.read_text(encoding="utf-8-sig").splitlines()[0]
    compare(converted(table, "--infilter=CSV:59,34,76,1,,1031"), rows)


def test_calc_reads_our_workbook_as_numbers(
    address: str, tmp_path: Path, rows: list[dict[str, Any]]
) -> None:
    table = tmp_path / "doses.xlsx"
    table.write_bytes(answered_round(address, ".xlsx"))
    compare(converted(table), rows)


def test_service_reads_a_workbook_that_calc_has_saved(
    address: str, tmp_path: Path, rows: list[dict[str, Any]]
) -> None:
    table = tmp_path / "round.csv"
    table.write_bytes(ROUND.read_bytes())
    subprocess.run(
        [
            *office(tmp_path, "en-US"),
            "--infilter=CSV:44,34,76,1,,1033",
            *("--convert-to", "xlsx", "--outdir", str(tmp_path), str(table)),
        ],
        capture_output=True,
        timeout=120,
        check=True,
    )
    request = urllib.request.Request(
        f"{address}/v1/doses/batch.json",
        (tmp_path / "round.xlsx").read_bytes(),
        {"Content-Type": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"},
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        again = json.load(answer)["rows"]
    for name in ("id", "status", *NUMBERS_OF_THE_ANSWER):
        assert [row[name] for row in again] == [row[name] for row in rows]
