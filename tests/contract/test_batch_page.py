"""The mixing sheet of a batch as a page: complete, safe, and the same numbers as the answer."""

import re
from html import unescape
from typing import Any

import httpx
import pytest

from service.api.formats.batch_sheet import MOST_PRINTED

pytestmark = pytest.mark.anyio

BODY: dict[str, Any] = {
    "defaults": {"product": "feed_13_3_15_ca_mg", "water": "rain", "plants": {"size": "large"}},
    "rows": [
        {"id": "north", "volume_l": 10},
        {"id": "<b>east</b>", "volume_l": 20, "air": {"humidity_percent": 80}},
        {"id": "weak", "volume_l": 2, "plants": {"size": "mini"}, "water": "softened_tap"},
        {"id": "wrong", "volume_l": "1,5"},
    ],
}


def words(page: str) -> str:
    """Return the text of a page as it is read, tags as spaces."""
    body = page.partition("</style>")[2]
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body)))


async def test_page_has_every_row_once_with_the_amounts_of_the_answer(
    client: httpx.AsyncClient,
) -> None:
    whole = (await client.post("/v1/doses/batch", json=BODY)).json()
    page = await client.post("/v1/doses/batch.html", json=BODY)
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    text = words(page.text)
    for row in whole["rows"][:2]:
        assert f"{row['product_mass_g']:g} g" in text
    assert "north: 10 L" in text
    assert "<b>east" not in page.text
    assert "weak Do not mix water too strong" in text
    assert "wrong Not read volume_l:" in text
    assert text.count("Keep products and cans from children") == 1
    assert page.text.count('type="checkbox"') == 2


async def test_rows_stand_under_the_can_that_they_take_from(client: httpx.AsyncClient) -> None:
    body = {**BODY, "rows": BODY["rows"][:2], "mixes": {"max_count": 1}}
    whole = (await client.post("/v1/doses/batch", json=body)).json()
    page = (await client.post("/v1/doses/batch.html", json=body)).text
    can = page[page.index('<article class="can">') : page.index("</article>")]
    text = words(f"</style>{can}")
    filling = whole["mixes"][0]["fillings"][0]
    assert f"{filling['additions'][0]['mass_g']:g} g" in text
    assert "north" in text
    assert "20 L" in text
    assert "Cans of their own" not in page


async def test_pages_are_for_paper_and_not_for_a_hundred_thousand_rows(
    client: httpx.AsyncClient,
) -> None:
    lines = "".join(f"{i},5\n" for i in range(MOST_PRINTED + 1))
    table = f"id,volume_l\n{lines}"
    answer = await client.post(
        "/v1/doses/batch.html", content=table, headers={"Content-Type": "text/csv"}
    )
    assert answer.status_code == 413
    assert answer.json()["errors"][0]["code"] == "too_many"
