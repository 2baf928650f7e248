"""httpx, alone and in the program for a bench."""

import subprocess
import sys
import tomllib
from pathlib import Path

import httpx
import pytest

pytestmark = pytest.mark.client

FOLDER = Path(__file__).resolve().parents[2] / "examples/python"
BENCH = FOLDER / "bench.toml"


def run(address: str, bench: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(FOLDER / "mix_for_bench.py"), address, str(bench)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def changed(folder: Path, old: str, new: str) -> Path:
    text = BENCH.read_text(encoding="utf-8")
    assert old in text
    bench = folder / "bench.toml"
    bench.write_text(text.replace(old, new), encoding="utf-8")
    return bench


def test_program_prints_every_step_and_every_caution_of_the_card(address: str) -> None:
    finished = run(address, BENCH)
    assert finished.returncode == 0, finished.stderr
    body = tomllib.loads(BENCH.read_text(encoding="utf-8"))
    with httpx.Client(base_url=address) as client:
        answer = client.post("/v1/doses", json=body).raise_for_status().json()
    assert answer["status"] == "ok"
    lines = finished.stdout.splitlines()
    assert len(lines) == len(answer["steps"]) + len(answer["cautions"])
    assert f"[{answer['product_mass_g']:g} g]" in finished.stdout
    for caution in answer["cautions"]:
        assert caution["message"] in finished.stdout


def test_program_says_not_to_mix_a_can_that_no_dose_makes_right(
    address: str, tmp_path: Path
) -> None:
    bench = changed(tmp_path, "sodium_mg_per_l = 11", "sodium_mg_per_l = 400")
    bench.write_text(
        bench.read_text(encoding="utf-8").replace(
            "chloride_mg_per_l = 16", "chloride_mg_per_l = 620"
        ),
        encoding="utf-8",
    )
    finished = run(address, bench)
    assert finished.returncode == 1
    assert finished.stdout.startswith("Do not mix this can.\n1. ")


def test_program_prints_every_fault_in_words(address: str, tmp_path: Path) -> None:
    bench = changed(tmp_path, 'size = "large"', 'size = "huge"\nsise = 1')
    finished = run(address, bench)
    assert finished.returncode == 1
    assert finished.stdout == ""
    assert "/plants/size: " in finished.stderr
    assert "Allowed: large, medium, mini." in finished.stderr
    assert "Did you mean `size`" in finished.stderr


def test_program_says_that_nobody_answers() -> None:
    finished = run("http://127.0.0.1:9", BENCH)
    assert finished.returncode == 1
    assert finished.stderr.startswith("No answer from http://127.0.0.1:9: ")


def test_one_connection_serves_many_requests(address: str) -> None:
    query = {"product": "feed_15_5_15_ca_mg", "water": "rain", "volume_l": "10"}
    with httpx.Client(base_url=address, limits=httpx.Limits(max_connections=1)) as client:
        ports = set()
        for litres in range(1, 21):
            answer = client.get("/v1/doses", params={**query, "volume_l": str(litres)})
            assert answer.json()["volume_l"] == litres
            stream = answer.extensions["network_stream"]
            ports.add(stream.get_extra_info("client_addr"))
    assert len(ports) == 1
