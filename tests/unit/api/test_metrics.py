"""What is counted of rows that were planned, and of results that were held back."""

import re

import httpx
import numpy as np
import pytest

from service.api import dosing
from service.api.metrics import METHODS, count_request, count_rows, metrics_text
from service.main import create_app
from service.planning import rows
from service.planning.cautions import PROBLEMS
from service.planning.finished_can import FORWARD_CHECK_FAILED
from service.settings import Settings

REJECTED = rows.STATUSES.index("rejected")


def counted(name: str, **labels: str) -> float:
    inside = ",".join(f'{key}="{value}"' for key, value in sorted(labels.items()))
    wanted = rf"^{name}\{{{re.escape(inside)}\}} (\S+)$"
    found = re.search(wanted, metrics_text().decode(), re.MULTILINE)
    return float(found[1]) if found else 0.0


def planned(*problems: int) -> np.ndarray:
    results = rows.empty_results(len(problems))
    results["problem"] = problems
    results["status"] = [REJECTED if problem else 0 for problem in problems]
    return results


def test_rows_are_counted_by_status_and_code_and_checks_that_failed_apart() -> None:
    other = next(
        number
        for number, notice in enumerate(PROBLEMS)
        if number and number != FORWARD_CHECK_FAILED and notice.code
    )
    code = PROBLEMS[other].code
    watched = (
        ("velamen_rows_total", {"status": rows.STATUSES[0]}),
        ("velamen_rows_total", {"status": "rejected"}),
        ("velamen_row_rejections_total", {"code": code}),
        ("velamen_row_rejections_total", {"code": "forward_check_failed"}),
        ("velamen_failed_checks_total", {"of": "row"}),
    )
    before = [counted(name, **labels) for name, labels in watched]
    count_rows(planned(0, other, FORWARD_CHECK_FAILED, other, 0), 0.5)
    count_rows(planned(FORWARD_CHECK_FAILED), 0.5)
    count_rows(planned(), 0.0)
    after = [counted(name, **labels) for name, labels in watched]
    gained = [later - earlier for earlier, later in zip(before, after, strict=True)]
    assert gained == [2.0, 4.0, 2.0, 2.0, 2.0]


def test_methods_that_callers_make_up_are_counted_together() -> None:
    for method in (*METHODS, "BREW", "STIR"):
        count_request("/test", method, 405, 0.0)
    labels = {"route": "/test", "status": "405"}
    assert counted("velamen_requests_total", method="other", **labels) == 2.0
    assert counted("velamen_requests_total", method="GET", **labels) == 1.0


@pytest.mark.anyio
async def test_answer_that_fails_its_check_is_held_back_and_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(dosing, "problem_of", lambda result: PROBLEMS[FORWARD_CHECK_FAILED])
    before = counted("velamen_failed_checks_total", of="answer")
    transport = httpx.ASGITransport(app=create_app(Settings()))
    async with httpx.AsyncClient(transport=transport, base_url="http://velamen.test") as client:
        body = {"product": "feed_20_20_20", "water": "rain", "volume_l": 10}
        response = await client.post("/v1/doses", json=body)
    assert response.status_code == 500
    assert response.json()["type"] == "/problems/failed_check"
    assert "product_mass_g" not in response.text
    assert counted("velamen_failed_checks_total", of="answer") == before + 1


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"
