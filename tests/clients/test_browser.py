"""Pages and pictures in Chromium: light and dark, phone and paper, keyboard, screen readers."""

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from service.api.schemas.programmes import PROGRAMME_EXAMPLES
from service.api.schemas.salt_outlooks import SALT_OUTLOOK_EXAMPLES
from service.api.schemas.stock_plans import STOCK_PLAN_EXAMPLES

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
RUNNER = Path(__file__).with_name("browser_run.js")
ROUND = (ROOT / "examples/glasshouse_round.csv").read_text(encoding="utf-8")

CAN = (
    "product=feed_15_5_15_ca_mg&volume_l=10&water=moderate_tap&plants.size=medium&units=us"
    "&target_ph=5.8&acid.kind=nitric&acid.percent=38"
    "&air.humidity_percent=55&air.temperature_celsius=22"
)
TABLE = {"body": ROUND, "kind": "text/csv"}
PAGES: dict[str, dict[str, Any]] = {
    "card": {"path": f"/v1/doses.html?{CAN}"},
    "cans": {"path": f"/v1/doses.html?{CAN}&instruments.largest_can_l=4"},
    "no_can": {"path": f"/v1/doses.html?{CAN}&plants.profile=disa".replace("moderate", "hard")},
    "round": {"path": "/v1/doses/batch.html", **TABLE},
    "mixes": {"path": "/v1/doses/batch.html?mixes.max_count=6", **TABLE},
    "labels": {"path": "/v1/stock-plans.html", "body": STOCK_PLAN_EXAMPLES["metric"][1]},
    "programme": {"path": "/v1/programmes.html", "body": PROGRAMME_EXAMPLES["metric"][1]},
    "working": {
        "path": f"/v1/doses/explain.html?{CAN}".replace("&units=us", ""),
        "full": False,
    },
    "source": {"path": "/v1/sources/laliberte-2009.html"},
    "trust": {"path": "/trust", "full": False},
    "start": {"path": "/?format=html"},
    "docs": {"path": "/docs", "full": False},
}
ONE_SHEET = ("card", "cans", "no_can")
PICTURES: dict[str, dict[str, Any]] = {
    "targets": {"path": "/v1/targets.svg?air.humidity_percent=55&air.temperature_celsius=22"},
    "titration": {
        "path": "/v1/ph-adjustments.svg?water=moderate_tap&volume_l=10&acid.kind=nitric"
        "&acid.percent=38&target_ph=6"
    },
    "salt": {"path": "/v1/salt-outlooks.svg", "body": SALT_OUTLOOK_EXAMPLES["metric"][1]},
    "tanks": {"path": "/v1/stock-plans.svg", "body": STOCK_PLAN_EXAMPLES["metric"][1]},
    "cold_tanks": {"path": "/v1/stock-plans.svg", "body": STOCK_PLAN_EXAMPLES["us"][1]},
}
PHONE = {"width": 390, "height": 844}
NARROWEST = {"width": 320, "height": 640, "look": False}
FAVICON = "Failed to load resource: the server responded with a status of 404 (Not Found)"


@pytest.fixture(scope="module")
def seen(
    address: str, clients: Path, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, dict[str, Any]]:
    """What Chromium found on every page, by page and manner."""
    views: list[dict[str, Any]] = []
    for name, page in PAGES.items():
        views += [
            {**page, "name": name, "print": name != "docs", "axe": True},
            {**page, "name": f"{name}-dark", "scheme": "dark", "axe": True},
            {**page, "name": f"{name}-phone", **PHONE},
            {**page, "name": f"{name}-narrow", **NARROWEST},
            {**page, "name": f"{name}-open", "open": True, **PHONE, "look": False},
        ]
    for name, picture in PICTURES.items():
        views += [
            {**picture, "name": name, "print": True},
            {**picture, "name": f"{name}-dark", "scheme": "dark"},
        ]
    views += [{**PAGES[name], "name": f"{name}-tab", "tab": True} for name in ("card", "start")]
    filled = {"air.humidity_percent": "70", "volume_l": "7"}
    views.append(
        {
            **PAGES["start"],
            "name": "start-typed",
            "type": filled,
            "enter": "volume_l",
            "frame": "card",
        }
    )
    folder = tmp_path_factory.mktemp("pages")
    finished = subprocess.run(
        ["node", str(RUNNER), str(clients / "browser")],
        input=json.dumps({"address": address, "folder": str(folder), "views": views}),
        capture_output=True,
        text=True,
        timeout=500,
        check=False,
    )
    assert finished.returncode == 0, finished.stderr
    return {view["name"]: view for view in json.loads(finished.stdout)}


@pytest.mark.parametrize("name", PAGES)
def test_page_is_whole_light_and_dark_on_a_phone_and_on_paper(
    seen: dict[str, dict[str, Any]], name: str
) -> None:
    for manner in ("", "-dark", "-phone", "-narrow", "-open"):
        view = seen[name + manner]
        assert view["status"] == 200
        assert view["needed"] <= view["width"], f"{name}{manner} is wider than its screen"
        assert view["clipped"] == []
        assert [each for each in view["said"] if each != FAVICON] == []
        assert view["elsewhere"] == []
    light, dark = (
        sum(map(int, re.findall(r"\d+", seen[each]["background"])[:3]))
        for each in (name, f"{name}-dark")
    )
    assert light > 600
    assert dark < 150
    if name != "docs":
        printed = seen[name]["printed"]
        assert printed["needed"] <= printed["width"]
        assert printed["clipped"] == []
        assert printed["background"] == "rgb(255, 255, 255)", "paper is white in dark rooms too"


@pytest.mark.parametrize("name", ONE_SHEET)
def test_card_takes_one_sheet_of_paper(seen: dict[str, dict[str, Any]], name: str) -> None:
    assert seen[name]["pages"] == 1


def test_rounds_take_few_sheets(seen: dict[str, dict[str, Any]]) -> None:
    assert 1 < seen["round"]["pages"] <= 8
    assert 1 < seen["mixes"]["pages"] <= 10


@pytest.mark.parametrize("name", PAGES)
def test_screen_reader_finds_its_way(seen: dict[str, dict[str, Any]], name: str) -> None:
    view = seen[name]
    assert view["lang"] == "en"
    assert view["title"]
    assert len(view["headings"]) == 1
    assert view["main"] == 1
    assert view["unlabelled"] == []
    assert view["unscoped"] == []
    for manner in ("", "-dark"):
        assert seen[name + manner]["violations"] == []


@pytest.mark.parametrize("name", ["card", "start"])
def test_keyboard_reaches_every_control_and_shows_where_it_is(
    seen: dict[str, dict[str, Any]], name: str
) -> None:
    view = seen[f"{name}-tab"]
    reached = [stop for stop in view["stops"] if stop["tag"] not in ("iframe", "body")]
    assert len(reached) >= view["controls"]
    assert all(stop["outlined"] and stop["visible"] for stop in reached)


def test_enter_sends_the_form_and_the_card_stands_beside_it(
    seen: dict[str, dict[str, Any]],
) -> None:
    typed = seen["start-typed"]["typed"]
    assert "air.humidity_percent=70" in typed["address"]
    assert "volume_l=7" in typed["address"]
    assert "Mixing card" in typed["text"]
    assert "What it will be" in typed["text"]


@pytest.mark.parametrize("name", PAGES)
def test_pages_may_run_nothing_and_load_nothing(seen: dict[str, dict[str, Any]], name: str) -> None:
    policy = seen[name]["headers"]["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "script-src" not in policy


@pytest.mark.parametrize("name", PICTURES)
def test_picture_is_legible_on_paper_and_in_the_dark(
    seen: dict[str, dict[str, Any]], name: str
) -> None:
    for view in (seen[name], seen[f"{name}-dark"]):
        assert view["status"] == 200
        assert view["role"] == "img"
        assert view["title"]
        assert len(view["description"]) > 20
        assert view["smallest"] >= 12
        assert view["outside"] == []
        assert view["touching"] == []
        assert "unsafe" not in view["headers"]["content-security-policy"]
    assert seen[name]["pages"] == 1
    assert seen[name]["ground"] != seen[f"{name}-dark"]["ground"]
    assert seen[name]["printed"]["ground"] == "rgb(255, 255, 255)"
