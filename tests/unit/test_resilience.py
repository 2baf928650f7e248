"""The judges of the resilience run: the same seed gives the same rows, and faults are seen."""

import json
import random

import pytest

from tests.resilience.batch_bodies import csv_body, json_body, json_rows, ndjson_body, ndjson_rows
from tests.resilience.ceilings import Ceilings, Circumstances, printed_bound
from tests.resilience.dose_rows import OWN_LABELS, OWN_PROFILES, DoseRow, RowMaker
from tests.resilience.drawn_values import HOSTILE
from tests.resilience.outcome import Outcome, table
from tests.resilience.problem_documents import fault_of
from tests.resilience.row_check import RowCheck
from tests.resilience.table_bodies import workbook_body
from tests.resilience.wire import answers_in

PROBLEM = {
    "type": "/problems/invalid_request",
    "title": "Wrong",
    "status": 422,
    "detail": "Something is wrong.",
    "instance": "/v1/doses",
    "errors": [],
}
PROBLEM_TYPE = "application/problem+json"
BORNE = Ceilings(0.7, 100.0, 50.0, {"boron": 0.7})
FEED = {
    "key": "feed",
    "form": "solid",
    "density_kg_per_l": None,
    "label": {"basis": "mass", "ammonium_n_percent": 10.0, "b_percent": 0.1},
}
GOOD = {
    "status": "ok",
    "volume_l": 10.0,
    "product_mass_g": 3.0,
    "product_volume_ml": None,
    "binding_limit": "conductivity",
    "acid_volume_ml": 0.0,
    "acid_mass_g": 0.0,
    "predicted_ec_ms_per_cm": 0.7,
    "nitrogen_mg_per_l": 60.0,
    "cautions": [],
    "problems": [],
}


def rows_of(seed: int, count: int = 200) -> list[DoseRow]:
    maker = RowMaker(seed, ["urea", "feed_20_20_20"], [Circumstances({}, None)])
    return [maker.row(number) for number in range(count)]


def judged(**changed: object) -> str | None:
    sent = DoseRow({"product": "feed"}, BORNE)
    return RowCheck([FEED]).fault_of(sent, {**GOOD, **changed})


def test_rows_follow_from_the_seed_alone():
    assert json_body(rows_of(7)) == json_body(rows_of(7))
    assert json_body(rows_of(7)) != json_body(rows_of(8))


def test_rows_leave_what_they_are_drawn_from_as_it_was():
    before = repr((HOSTILE, OWN_LABELS, OWN_PROFILES))
    for row in rows_of(5, 3_000):
        row.nested()
    assert repr((HOSTILE, OWN_LABELS, OWN_PROFILES)) == before


def test_bodies_say_how_many_rows_are_answered():
    rows = rows_of(3)
    lines, answered = ndjson_body(rows, random.Random(3))
    assert len([line for line in lines.split(b"\n") if line.strip()]) == len(answered)
    assert len(answered) > len(rows), "broken lines are answered too"
    assert len(csv_body(rows)[1]) > 100


@pytest.mark.parametrize("seed", range(60))
def test_any_rows_can_be_written_as_a_workbook(seed):
    assert workbook_body(rows_of(seed, 12), random.Random(seed)).startswith(b"PK")


def test_good_row_passes():
    assert judged() is None


@pytest.mark.parametrize(
    ("changed", "phrase"),
    [
        ({"predicted_ec_ms_per_cm": 0.703}, "mS/cm above"),
        ({"nitrogen_mg_per_l": 100.3}, "nitrogen above"),
        ({"product_mass_g": 8.0}, "boron above"),
        ({"product_mass_g": 5.1}, "reduced_nitrogen above"),
        ({"product_mass_g": 101.0}, "g in 10.0 L"),
        ({"product_mass_g": -1.0}, "negative"),
        ({"predicted_ec_ms_per_cm": None}, "without a conductivity"),
        ({"volume_l": None}, "without a volume"),
        ({"status": "fine"}, "status"),
        ({"status": "rejected"}, "without a problem"),
        ({"status": "infeasible", "cautions": ["x"]}, "to pour"),
        ({"status": "infeasible", "product_mass_g": None}, "without a caution"),
    ],
)
def test_row_that_must_not_be_answered_is_seen(changed, phrase):
    if phrase == "boron above":
        strict = Ceilings(0.7, 100.0, 500.0, {"boron": 0.7})
        fault = RowCheck([FEED]).fault_of(DoseRow({"product": "feed"}, strict), GOOD | changed)
    else:
        fault = judged(**changed)
    assert fault is not None
    assert phrase in fault


def test_printed_figure_stands_for_half_a_unit_more():
    assert printed_bound(0.733, 3) == pytest.approx(0.7335)
    assert printed_bound(128.0, 3) == pytest.approx(128.5)
    assert printed_bound(0.0, 3) == 0.0


def test_answers_with_lost_rows_or_numbers_that_are_none_are_seen():
    rows = {"rows": [{"id": "a"}], "summary": {"total": 2}}
    with pytest.raises(ValueError, match="of 1 rows"):
        json_rows(json.dumps(rows).encode())
    with pytest.raises(ValueError, match="NaN"):
        ndjson_rows(b'{"volume_l": NaN}\n{"summary": {"total": 1}}\n')


@pytest.mark.parametrize(
    ("status", "media_type", "body"),
    [
        (422, "text/plain", b"wrong"),
        (422, PROBLEM_TYPE, b"wrong"),
        (422, PROBLEM_TYPE, json.dumps({**PROBLEM, "detail": ""}).encode()),
        (404, PROBLEM_TYPE, json.dumps(PROBLEM).encode()),
        (422, PROBLEM_TYPE, json.dumps({"status": 422}).encode()),
        (503, PROBLEM_TYPE, json.dumps({**PROBLEM, "status": 503}).encode()),
    ],
)
def test_refusal_that_is_no_problem_document_is_seen(status, media_type, body):
    assert fault_of(status, media_type, body) is not None


def test_refusals_and_failed_checks_are_no_faults():
    assert fault_of(422, PROBLEM_TYPE, json.dumps(PROBLEM).encode()) is None
    checked = {**PROBLEM, "status": 500, "type": "/problems/failed_check"}
    assert fault_of(500, PROBLEM_TYPE, json.dumps(checked).encode()) is None


def test_answers_on_one_connection_are_told_apart():
    one = b"HTTP/1.1 200 OK\r\nContent-Type: a/b\r\nContent-Length: 2\r\n\r\nhi"
    received = b"HTTP/1.1 100 Continue\r\n\r\n" + one + one.replace(b"200 OK", b"404 Not Found")
    assert answers_in(received) == [(200, "a/b", b"hi"), (404, "a/b", b"hi")]


def test_table_counts_every_fault():
    outcome = Outcome("part", "things")
    for number in range(50):
        outcome.count()
        outcome.fault(f"fault {number}")
    assert "| part | 50 things | 50 |" in table([outcome.finished()])
    assert len(outcome.faults) < 50
