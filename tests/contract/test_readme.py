"""The request in the README gives the answer that the README prints."""

import json
import re
from pathlib import Path

import httpx
import pytest

README = Path(__file__).resolve().parents[2] / "README.md"


def request_and_answer() -> tuple[dict[str, object], dict[str, object]]:
    text = README.read_text(encoding="utf-8")
    asked = re.search(r"/v1/doses -H '[^']*' -d '(\{.*?\})'\n```", text, re.DOTALL)
    printed = re.search(r"```json\n(\{.*?\})\n```", text, re.DOTALL)
    assert asked is not None
    assert printed is not None
    return json.loads(asked[1]), json.loads(printed[1])


@pytest.mark.anyio
async def test_request_of_the_readme_gives_what_it_prints(client: httpx.AsyncClient) -> None:
    asked, printed = request_and_answer()
    response = await client.post("/v1/doses", json=asked)
    assert response.status_code == 200, response.text
    answer = response.json()
    assert {name: answer[name] for name in printed} == printed


def test_readme_names_the_two_commands() -> None:
    text = README.read_text(encoding="utf-8")
    assert "sh tests/run.sh" in text
    assert "sh examples/first_round.sh" in text


@pytest.mark.anyio
async def test_labelled_product_of_the_readme_is_answered(client: httpx.AsyncClient) -> None:
    text = README.read_text(encoding="utf-8")
    bodies = re.findall(r"```json\n(\{.*?\})\n```", text, re.DOTALL)
    asked = next(body for body in bodies if '"label"' in body)
    response = await client.post("/v1/doses", json=json.loads(asked))
    assert response.status_code == 200, response.text
    answer = response.json()
    assert answer["status"] == "ok"
    assert answer["product_volume_ml"] > 0
