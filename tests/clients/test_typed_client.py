"""A typed client, made from the committed OpenAPI document by a generator, does the main job."""

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.running_service import get, post_json

pytestmark = pytest.mark.client

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = ROOT / "openapi/openapi.json"
RUNNER = Path(__file__).with_name("typed_client_run.py")


@pytest.fixture(scope="module")
def generated(clients: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which the package of the client was made."""
    generator = clients / "typed-client/bin/openapi-python-client"
    assert generator.exists(), "sh .ci/set_up_clients.sh installs the generator"
    folder = tmp_path_factory.mktemp("typed-client")
    made = subprocess.run(
        [
            *(str(generator), "generate", "--path", str(DOCUMENT), "--meta", "none"),
            *("--output-path", str(folder / "velamen_client")),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    return folder


@pytest.fixture(scope="module")
def done(address: str, clients: Path, generated: Path) -> dict[str, Any]:
    run = subprocess.run(
        [str(clients / "typed-client/bin/python"), str(RUNNER), address],
        cwd=generated,
        env={"PYTHONPATH": str(generated)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return dict(json.loads(run.stdout))


def test_every_operation_of_the_document_has_its_function(generated: Path) -> None:
    paths = json.loads(DOCUMENT.read_text(encoding="utf-8"))["paths"]
    named = {operation["operationId"] for item in paths.values() for operation in item.values()}
    made = {path.stem for path in (generated / "velamen_client/api").glob("*/*.py")} - {"__init__"}
    assert made == named


def test_typed_answer_is_the_answer(address: str, done: dict[str, Any]) -> None:
    status, answer = post_json(f"{address}/v1/doses", done["asked"])
    assert status == 200
    assert done["posted"] == answer
    assert done["first_step"] == answer["steps"][0]["instruction"]


def test_typed_query_is_the_query(address: str, done: dict[str, Any]) -> None:
    _, body = get(f"{address}/v1/doses?product=feed_13_3_15_ca_mg&water=rain&volume_l=5")
    assert done["got"] == json.loads(body)


def test_refusal_is_a_typed_problem(done: dict[str, Any]) -> None:
    places = [fault["pointer"] for fault in done["refused"]["errors"]]
    assert "#/volume_l" in places
    assert re.search("volume", done["refused"]["detail"])
