"""Pages and pictures: what they say, that nothing is sent back raw, that they need nothing else."""

import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import httpx
import pytest

from service.api.formats.mixing_card import PUBLISHED_WORDS
from service.reference.plants import plants

pytestmark = pytest.mark.anyio

CAN = {
    "product": "feed_15_5_15_ca_mg",
    "volume_l": "10",
    "water": "moderate_tap",
    "target_ph": "5.8",
    "acid.kind": "nitric",
    "acid.percent": "38",
    "air.humidity_percent": "55",
    "air.temperature_celsius": "22",
}
SVG = "{http://www.w3.org/2000/svg}"


class Balanced(HTMLParser):
    """Reads a page and notes elements that are not closed in order."""

    EMPTY = frozenset({"meta", "input", "br", "link", "img"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.unlabelled = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.links += [str(named[name]) for name in ("src", "href", "action") if name in named]
        if tag in ("input", "select") and "label" not in self.open:
            self.unlabelled += 1
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def read(page: str) -> Balanced:
    parser = Balanced()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return parser


async def test_the_card_has_the_amounts_of_the_answer_and_its_cautions(
    client: httpx.AsyncClient,
) -> None:
    whole = (await client.get("/v1/doses", params=CAN)).json()
    answer = await client.get("/v1/doses.html", params={**CAN, "units": "us"})
    assert answer.headers["content-type"].startswith("text/html")
    text = answer.text
    assert f"{whole['product_mass_g']:.4g} g" in text
    assert "2.6 US gal" in text
    assert f"{whole['predicted_ec_ms_per_cm']:.2f} mS/cm" in text
    danger = next(each for each in whole["cautions"] if each["severity"] == "danger")
    assert danger["message"].split(",")[0] in text
    page = read(text)
    assert page.unlabelled == 0
    assert [link for link in page.links if not link.startswith("/v1/doses/explain.html?")] == []
    assert text.count('type="checkbox"') == len(whole["steps"])


async def test_only_the_volume_of_a_can_is_said_in_gallons(client: httpx.AsyncClient) -> None:
    asked = {"product": "feed_13_3_15_ca_mg", "water": "hard_tap", "volume_l": "10", "units": "us"}
    asked |= {"air.humidity_percent": "60", "air.temperature_celsius": "22", "plants.size": "large"}
    page = (await client.get("/v1/doses.html", params={**asked, "target_ph": "6"})).text
    assert '<span class="amount">10 g</span>' in page
    assert '<span class="amount">10 L<small>2.6 US gal</small></span>' in page


def test_every_published_range_has_words_on_the_card() -> None:
    named = {name for plant in plants().values() for name in plant.ranges}
    assert named
    assert named <= set(PUBLISHED_WORDS)


async def test_the_card_of_a_can_that_must_not_be_mixed_says_so(client: httpx.AsyncClient) -> None:
    query = {**CAN, "water": "hard_tap", "plants.profile": "disa"}
    answer = await client.get("/v1/doses.html", params=query)
    assert answer.status_code == 200
    assert "Do not mix this can." in answer.text
    assert "What it will be" not in answer.text
    assert "checkbox" not in answer.text, "there is nothing to tick off"
    assert "pour acid into water" not in answer.text
    assert re.search(r"That is \d+ % at most", answer.text)


async def test_a_name_cannot_become_markup(client: httpx.AsyncClient) -> None:
    body = {
        "id": "<script>alert(1)</script>",
        "product": {
            "name": "<b>x</b>",
            "form": "solid",
            "label": {"nitrate_n_percent": 10, "k2o_percent": 10},
        },
        "volume_l": 10,
        "water": "rain",
    }
    answer = await client.post("/v1/doses.html", json=body)
    assert answer.status_code == 200
    assert "<script>" not in answer.text
    assert "<b>x" not in answer.text
    read(answer.text)


@pytest.mark.parametrize(
    ("path", "query", "words"),
    [
        (
            "targets",
            {"air.humidity_percent": "55", "air.temperature_celsius": "22"},
            "Today: 55 %",
        ),
        (
            "ph-adjustments",
            {
                **{k: CAN[k] for k in ("water", "volume_l", "acid.kind", "acid.percent")},
                "target_ph": "6",
            },
            "pH 6.0",
        ),
    ],
)
async def test_pictures_have_a_line_a_point_and_words_for_screen_readers(
    client: httpx.AsyncClient, path: str, query: dict[str, str], words: str
) -> None:
    answer = await client.get(f"/v1/{path}.svg", params=query)
    assert answer.headers["content-type"].startswith("image/svg+xml")
    picture = ElementTree.fromstring(answer.text)
    assert picture.get("role") == "img"
    assert picture.find(f"{SVG}title") is not None
    assert picture.find(f"{SVG}desc") is not None
    line = picture.find(f"{SVG}polyline")
    assert line is not None
    points = [tuple(map(float, each.split(","))) for each in line.get("points", "").split()]
    assert len(points) > 20
    dot = picture.find(f"{SVG}circle")
    assert dot is not None
    x, y = float(dot.get("cx", "nan")), float(dot.get("cy", "nan"))
    nearest = min(points, key=lambda point: abs(point[0] - x))
    assert abs(nearest[1] - y) < 12
    assert words in "".join(picture.itertext())


async def test_a_browser_gets_a_page_with_a_form_and_a_program_gets_json(
    client: httpx.AsyncClient,
) -> None:
    browser = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
    answer = await client.get("/", headers=browser)
    assert answer.headers["content-type"].startswith("text/html")
    page = read(answer.text)
    assert page.unlabelled == 0
    assert all(link.startswith("/") for link in page.links)
    for link in page.links:
        found = await client.get(link.replace("&amp;", "&"))
        assert found.status_code in (200, 422), link
    assert (await client.get("/")).headers["content-type"] == "application/json"


async def test_what_the_form_sends_first_is_answered_with_a_card(
    client: httpx.AsyncClient,
) -> None:
    text = (await client.get("/?format=html")).text
    query = dict(re.findall(r'<input[^>]* name="([^"]+)" value="([^"]+)"', text))
    for name, options in re.findall(r'<select name="([^"]+)">(.*?)</select>', text):
        chosen = re.search(r'value="([^"]+)" selected', options)
        assert chosen is not None, name
        query[name] = chosen.group(1)
    answer = await client.get("/v1/doses.html", params=query)
    assert answer.status_code == 200
    assert "What it will be" in answer.text


async def test_a_can_larger_than_the_largest_is_split_and_its_card_says_each(
    client: httpx.AsyncClient,
) -> None:
    query = {**CAN, "instruments.largest_can_l": "4"}
    whole = (await client.get("/v1/doses", params=query)).json()
    split = whole["split"]
    assert split["count"] == 3
    assert split["volume_l"] == pytest.approx(10 / 3, rel=1e-3)
    assert "larger_than_the_can" in [each["code"] for each in whole["cautions"]]
    card = (await client.get("/v1/doses.html", params=query)).text
    assert "3 cans of 3.333 L, each:" in card
    assert card.count('type="checkbox"') == len(split["steps"]) + 3
    assert (await client.get("/v1/doses", params=CAN)).json()["split"] is None


async def test_one_number_of_a_can_that_must_not_be_mixed_is_a_short_reason(
    client: httpx.AsyncClient,
) -> None:
    query = {**CAN, "water": "hard_tap", "plants.profile": "disa", "field": "product_mass_g"}
    answer = await client.get("/v1/doses.txt", params=query)
    assert answer.status_code == 422
    assert len(answer.content) <= 1024, "what a small board can hold"
    detail = answer.json()["detail"]
    assert detail.startswith("Nothing may be mixed as it was asked.")
    assert len(detail) <= 255, "what a state of home automation can hold"


async def test_tanks_are_drawn_and_stand_on_the_page_of_labels(client: httpx.AsyncClient) -> None:
    body = {
        "recipe": [
            {"product": "calcium_nitrate_tetrahydrate", "g_per_l": 0.35},
            {"product": "magnesium_sulfate_heptahydrate", "g_per_l": 0.15},
        ],
        "concentration_factor": 100,
        "tank_volume_l": 10,
    }
    answer = await client.post("/v1/stock-plans.svg", json=body)
    assert answer.headers["content-type"].startswith("image/svg+xml")
    picture = ElementTree.fromstring(answer.text)
    lines = [each for each in picture.iter(f"{SVG}polyline") if each.get("points")]
    assert len({each.get("stroke-dasharray") for each in lines}) == 2, "not by colour alone"
    words = " ".join(picture.itertext())
    assert "Temperature of the tank (°C)" in words
    assert "tank A" in words
    assert "tank B" in words
    page = (await client.post("/v1/stock-plans.html", json=body)).text
    assert answer.text.strip() in page


async def test_tanks_that_cannot_be_have_no_picture_but_a_reason(
    client: httpx.AsyncClient,
) -> None:
    body = {
        "recipe": [{"product": "potassium_sulfate", "g_per_l": 200}],
        "concentration_factor": 100,
        "tank_volume_l": 10,
    }
    answer = await client.post("/v1/stock-plans.svg", json=body)
    assert answer.status_code == 422


async def test_only_pages_may_bring_a_style_and_no_answer_a_script(
    client: httpx.AsyncClient,
) -> None:
    data = await client.get("/v1/doses", params=CAN)
    page = await client.get("/v1/doses.html", params=CAN)
    assert "style-src" not in data.headers["content-security-policy"]
    assert "style-src 'sha256-" in page.headers["content-security-policy"]
    for answer in (data, page):
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert "script-src" not in answer.headers["content-security-policy"]


async def test_names_of_a_working_break_after_their_parts_alone(client: httpx.AsyncClient) -> None:
    asked = {"product": "feed_13_3_15_ca_mg", "water": "rain", "volume_l": "10"}
    page = (await client.get("/v1/doses/explain.html", params=asked)).text
    assert '<td class="name">humidity_<wbr>percent</td>' in page
    assert ">wagner-<wbr>pruss-<wbr>2002</a>" in page
    assert 'href="/v1/sources/wagner-pruss-2002"' in page
