"""Home Assistant: the configuration of the examples, loaded by its own integrations."""

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.running_service import post_json

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
CONFIGURATION = ROOT / "examples/home_automation/configuration.yaml"
PLAYER = Path(__file__).with_name("home_assistant_run.py")
ADDRESS = "http://127.0.0.1:8000"

HUMIDITY, TEMPERATURE = "sensor.glasshouse_humidity", "sensor.glasshouse_temperature"
ANSWER, GRAMS = "sensor.feed_answer", "sensor.feed_for_ten_litres"
CAN = {"product": "feed_13_3_15_ca_mg", "water": "soft_tap", "litres": 10}
STRONG_CAN = {**CAN, "water": "softened_tap"}
WRONG_CAN = {**CAN, "product": "feed_13_3_15"}
SCENE: list[dict[str, Any]] = [
    {"set": {HUMIDITY: "60", TEMPERATURE: "22"}, "until": {ANSWER: "ok"}},
    {"script": "mix_a_can", "data": CAN},
    {"set": {HUMIDITY: "unavailable"}, "until": {GRAMS: "unavailable"}},
    {"script": "mix_a_can", "data": CAN},
    {"set": {HUMIDITY: "40"}, "until": {ANSWER: "ok"}},
    {"script": "mix_a_can", "data": STRONG_CAN},
    {"script": "mix_a_can", "data": WRONG_CAN},
]


@pytest.fixture(scope="module")
def played(
    address: str, clients: Path, tmp_path_factory: pytest.TempPathFactory
) -> list[dict[str, Any]]:
    """Return what came of every step of the scene, played once."""
    python = clients / "home-assistant/bin/python"
    assert python.exists(), "sh .ci/set_up_clients.sh installs Home Assistant"
    folder = tmp_path_factory.mktemp("home-assistant")
    text = CONFIGURATION.read_text(encoding="utf-8")
    assert text.count(ADDRESS) == 2
    assert text.count("scan_interval: 600") == 1
    text = text.replace(ADDRESS, address).replace("scan_interval: 600", "scan_interval: 1")
    (folder / "configuration.yaml").write_text(text, encoding="utf-8")
    finished = subprocess.run(
        [str(python), str(PLAYER), str(folder)],
        input=json.dumps(SCENE),
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert finished.returncode == 0, finished.stderr
    return list(json.loads(finished.stdout)["played"])


def asked_directly(address: str, humidity: float, water: str = "soft_tap") -> dict[str, Any]:
    body = {
        "product": CAN["product"],
        "water": water,
        "volume_l": CAN["litres"],
        "plants": {"size": "large"},
        "air": {"humidity_percent": humidity, "temperature_celsius": 22},
    }
    status, answer = post_json(f"{address}/v1/doses", body)
    assert status == 200
    return answer


def test_sensor_shows_the_grams_of_the_answer(address: str, played: list[dict[str, Any]]) -> None:
    answer = asked_directly(address, 60)
    states = played[0]["states"]
    assert float(states[GRAMS]["state"]) == answer["product_mass_g"]
    assert states[GRAMS]["attributes"]["unit_of_measurement"] == "g"
    for name in ("predicted_ec_ms_per_cm", "predicted_ph", "binding_limit"):
        assert states[ANSWER]["attributes"][name] == answer[name]


def test_sensor_has_no_grams_while_the_hygrometer_is_silent(played: list[dict[str, Any]]) -> None:
    states = played[2]["states"]
    assert states[GRAMS]["state"] == "unavailable"
    assert "humidity_percent" in states[ANSWER]["state"]
    assert len(states[ANSWER]["state"]) <= 255
    assert "product_mass_g" not in states[ANSWER]["attributes"]


def test_sensor_follows_the_air_when_the_hygrometer_is_back(
    address: str, played: list[dict[str, Any]]
) -> None:
    grams = float(played[4]["states"][GRAMS]["state"])
    assert grams == asked_directly(address, 40)["product_mass_g"]
    assert grams < float(played[0]["states"][GRAMS]["state"]), "drier air, weaker feed"


def test_script_returns_the_card_of_a_can(address: str, played: list[dict[str, Any]]) -> None:
    answer = asked_directly(address, 60)
    card = played[1]["returned"]
    assert card["outcome"] == "mix"
    assert card["grams"] == answer["product_mass_g"]
    assert card["words"].startswith(f"{answer['product_mass_g']} g into 10 L.")


def test_script_returns_the_reason_when_the_hygrometer_is_silent(
    played: list[dict[str, Any]],
) -> None:
    card = played[3]["returned"]
    assert card["outcome"] == "do_not_mix"
    assert "humidity_percent" in card["words"]
    assert "grams" not in card


def test_script_has_no_grams_for_a_water_that_is_too_strong(
    address: str, played: list[dict[str, Any]]
) -> None:
    assert asked_directly(address, 40, "softened_tap")["status"] == "infeasible"
    assert played[5]["returned"] == {
        "outcome": "do_not_mix",
        "words": "These plants bear no feed with this water.",
    }


def test_script_says_what_a_misspelt_product_may_have_meant(played: list[dict[str, Any]]) -> None:
    card = played[6]["returned"]
    assert card["outcome"] == "do_not_mix"
    assert "feed_13_3_15_ca_mg" in card["words"]
