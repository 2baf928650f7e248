"""Node-RED, headless: the flow of the examples, its buttons pressed over HTTP."""

import json
import os
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.running_service import get, post_json

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
FLOW = ROOT / "examples/node_red/flow.json"
PATIENCE_SECONDS = 60.0
BENCH = {
    "product": "feed_13_3_15_ca_mg",
    "water": "soft_tap",
    "volume_l": 10,
    "plants": {"profile": "moth_orchid", "size": "large", "count": 12},
    "air": {"humidity_percent": 60, "temperature_celsius": 22},
    "instruments": {"balance_resolution_g": 0.1},
}

Press = Callable[[str], dict[str, Any]]


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(what: Callable[[], bool], running: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not what():
        said = log.read_text(encoding="utf-8", errors="replace")
        assert running.poll() is None, said
        assert time.monotonic() < deadline, said
        time.sleep(0.05)


@pytest.fixture(scope="module")
def press(address: str, clients: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Press]:
    """Return a function that presses a button of the running flow and returns its card."""
    node = shutil.which("node")
    program = clients / "node_red/node_modules/node-red/red.js"
    assert node, "install Node.js"
    assert program.exists(), "sh .ci/set_up_clients.sh installs Node-RED"
    folder = tmp_path_factory.mktemp("node-red")
    card, log, port = folder / "card.jsonl", folder / "said", free_port()
    shutil.copy(FLOW, folder / "flow.json")
    (folder / "settings.js").write_text(
        "module.exports = {uiHost: '127.0.0.1', telemetry: {enabled: false}};\n", encoding="utf-8"
    )
    with log.open("wb") as said:
        running = subprocess.Popen(
            [
                *(node, str(program), "--userDir", str(folder)),
                *("--settings", str(folder / "settings.js"), "--port", str(port)),
                str(folder / "flow.json"),
            ],
            env={**os.environ, "VELAMEN_ADDRESS": address, "VELAMEN_CARD": str(card)},
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
        )

    def cards() -> list[str]:
        # What follows the last line feed is still being written.
        return card.read_text(encoding="utf-8").split("\n")[:-1] if card.exists() else []

    def pressed(button: str) -> dict[str, Any]:
        before = len(cards())
        request = urllib.request.Request(f"http://127.0.0.1:{port}/inject/{button}", data=b"")
        with urllib.request.urlopen(request, timeout=10) as answer:
            assert answer.status == 200
        wait_for(lambda: len(cards()) > before, running, log)
        return dict(json.loads(cards()[-1]))

    try:
        wait_for(lambda: "Started flows" in log.read_text(encoding="utf-8"), running, log)
        wait_for(lambda: get(f"http://127.0.0.1:{port}/flows")[0] == 200, running, log)
        yield pressed
    finally:
        running.terminate()
        running.wait(timeout=30)


def test_flow_writes_the_grams_of_the_answer(press: Press, address: str) -> None:
    card = press("velamen-now")
    status, answer = post_json(f"{address}/v1/doses", BENCH)
    assert status == 200
    assert card["outcome"] == "mix"
    assert card["grams"] == answer["product_mass_g"]
    assert card["ec_ms_per_cm"] == answer["predicted_ec_ms_per_cm"]
    assert f"{answer['product_mass_g']} g of feed" in card["words"]


def test_flow_has_no_grams_for_a_water_that_is_too_strong(press: Press, address: str) -> None:
    card = press("velamen-hard")
    _, answer = post_json(f"{address}/v1/doses", {**BENCH, "water": "softened_tap"})
    assert answer["status"] == "infeasible"
    assert card == {
        "outcome": "do_not_mix",
        "status": 200,
        "words": "These plants bear no feed with this water.",
    }


def test_flow_has_no_grams_but_the_reason_when_a_sensor_is_silent(press: Press) -> None:
    card = press("velamen-silent")
    assert card["outcome"] == "do_not_mix"
    assert card["status"] == 422
    assert "humidity_percent" in card["words"]
    assert "grams" not in card


def test_flow_asks_again_after_a_refusal(press: Press) -> None:
    first = press("velamen-now")
    assert press("velamen-silent")["outcome"] == "do_not_mix"
    assert press("velamen-now") == first
